package sticker

import "math"

// keepApart takes away the samples of two paths where they lie within half a
// diameter of each other: one of them is on the other's sticker, and a frame does
// not tell which. Clicked samples stay. Two points that were clicked on the same
// mark are the same mark, and both stay.
func keepApart(paths []Path) {
	var gone [][2]int
	for a := range paths {
		for b := range a {
			met, same := meetings(paths[a], paths[b])
			if same {
				continue
			}
			for _, i := range met {
				gone = append(gone, [2]int{a, i}, [2]int{b, i})
			}
		}
	}
	for _, g := range gone {
		if s := &paths[g[0]].Samples[g[1]]; s.State != Clicked {
			*s = missing
		}
	}
}

// meetings returns the frames in which two paths are at one place, and whether
// they were clicked there.
func meetings(p, q Path) (frames []int, same bool) {
	near := 0.5 * min(p.DiameterPX, q.DiameterPX)
	for i, s := range p.Samples {
		r := q.Samples[i]
		if s.Seen() && r.Seen() && math.Hypot(s.XPX-r.XPX, s.YPX-r.YPX) < near {
			frames = append(frames, i)
			same = same || s.State == Clicked || r.State == Clicked
		}
	}
	return frames, same
}
