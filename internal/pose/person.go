package pose

import (
	"fmt"
	"math"

	"gaitwright/gait/body"
)

// A Person is somebody followed through the clip.
type Person struct {
	ID    int    // from 0, in order of appearance
	First int    // position in the clip's frames of the first of Poses
	Poses []Pose // one a frame from First on; Found is false where not seen

	bornS    float64
	seenS    float64 // when last seen with certainty
	live     bool    // has a region that the next frame can use
	followed bool    // its landmarks are sought in each frame
	region   Region  // where to look next, or where last seen
	velX     float64 // of the region's centre, pixels a frame, smoothed
	velY     float64
	colour   colour
	strange  int     // frames on end in which the colour was another's
	strangeS float64 // when that began
	weightS  float64 // seconds seen, weighted by nearness to the centre
	recentS  float64 // the same, fading with the past
	frames   int     // frames seen
}

// Seen returns the number of frames in which the person was found.
func (p *Person) Seen() int { return p.frames }

// At returns the person's pose in frame i of the clip.
func (p *Person) At(i int) Pose {
	if i < p.First || i >= p.First+len(p.Poses) {
		return nobody()
	}
	return p.Poses[i-p.First]
}

// add sets the pose of frame i, the newest, and marks frames left out as not
// seen.
func (p *Person) add(i int, pose Pose) {
	if i < p.First+len(p.Poses) {
		p.Poses[i-p.First] = pose
		return
	}
	for p.First+len(p.Poses) < i {
		p.Poses = append(p.Poses, nobody())
	}
	p.Poses = append(p.Poses, pose)
}

// A colour is the mean red, green and blue of a person's trunk, 0 to 1. It tells
// people in different shirts apart; for people dressed alike it says nothing.
type colour struct {
	rgb   [3]float64
	known bool
}

// strangeColour is the distance between two trunk colours from which on they
// are taken for two people's.
const strangeColour = 0.22

func (c colour) distance(o colour) float64 {
	if !c.known || !o.known {
		return 0
	}
	return math.Hypot(math.Hypot(c.rgb[0]-o.rgb[0], c.rgb[1]-o.rgb[1]), c.rgb[2]-o.rgb[2])
}

// blend moves the colour toward another by the given share.
func (c *colour) blend(o colour, share float64) {
	if !o.known {
		return
	}
	if !c.known {
		*c = o
		return
	}
	for k := range c.rgb {
		c.rgb[k] += share * (o.rgb[k] - c.rgb[k])
	}
}

// trunkColour averages the picture over a narrow strip from the shoulders' middle
// to the hips' middle.
func trunkColour(f Frame, p *Pose) colour {
	mid := func(a, b body.Landmark) (x, y float64) { return (p.X[a] + p.X[b]) / 2, (p.Y[a] + p.Y[b]) / 2 }
	sx, sy := mid(body.LeftShoulder, body.RightShoulder)
	hx, hy := mid(body.LeftHip, body.RightHip)
	dx, dy := hx-sx, hy-sy
	var sum [3]float64
	n := 0
	const along, across = 9, 5
	for i := range along {
		for j := range across {
			u := 0.15 + 0.6*float64(i)/(along-1)
			v := 0.12 * (2*float64(j)/(across-1) - 1)
			x, y := int(sx+u*dx-v*dy), int(sy+u*dy+v*dx)
			if x < 0 || y < 0 || x >= f.Width || y >= f.Height {
				continue
			}
			px := f.RGB[3*(y*f.Width+x):]
			for k := range sum {
				sum[k] += float64(px[k]) / 255
			}
			n++
		}
	}
	if n < along*across/2 {
		return colour{}
	}
	for k := range sum {
		sum[k] /= float64(n)
	}
	return colour{rgb: sum, known: true}
}

// centreWeight is 1 for a person in the middle of the picture and as tall as it,
// and falls toward the sides and for people far away.
func centreWeight(r Region, width, height int) float64 {
	d := (r.X - float64(width)/2) / float64(width)
	return math.Exp(-d*d/(2*0.2*0.2)) * min(1, r.SidePX/float64(height))
}

// describe says where a person is, for notes.
func (p *Person) describe(width int) string {
	where := "in the middle"
	switch f := p.region.X / float64(width); {
	case f < 1.0/3:
		where = "on the left"
	case f > 2.0/3:
		where = "on the right"
	}
	return fmt.Sprintf("a person %s of the picture, seen in %d frames", where, p.frames)
}
