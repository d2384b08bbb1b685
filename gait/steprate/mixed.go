package steprate

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// OfRunner is what is looked at to tell whether runs are of one runner.
type OfRunner struct {
	Start     time.Time
	Seconds   float64
	DistanceM float64
	Segments  []Segment
	// Device is a mark of the watch, empty where the file does not say.
	Device string
	Name   string // how the run is called in words
}

// Doubt says why a run may not be this runner's, or is one counted already.
type Doubt struct {
	// Twice is the index of the run that it is another file of, -1 for none.
	Twice int
	Text  string // empty for no doubt
	// Kind is "same", "overlap", "apart" or "level"; Other names the run it is
	// about, By is how many steps a minute or seconds it is about.
	Kind  string
	Other string
	By    float64
}

// How far runs of one runner may differ at equal speed, steps a minute (own
// reading: about four times what runs of one runner differ by, and more than a
// ramp asks for in two months).
const mixedRate = 8

// How far two recordings of one run may differ, steps a minute; more are two runners
// who ran together (own reading: twice what a watch reads off).
const sameRate = 4

// Mixed looks for files of another runner, or of the same run twice: runs that
// overlap in time, and step rates at equal speed that fall apart into two groups
// which take turns.
func Mixed(runs []OfRunner) []Doubt {
	out := make([]Doubt, len(runs))
	order := make([]int, len(runs))
	for i := range runs {
		out[i].Twice = -1
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return runs[a].Start.Compare(runs[b].Start) })
	end := func(i int) time.Time {
		return runs[i].Start.Add(time.Duration(runs[i].Seconds * float64(time.Second)))
	}
	for k, i := range order {
		// A few neighbours are enough: a run lasts hours.
		for _, j := range order[max(0, k-8):k] {
			shared := min(end(i).Unix(), end(j).Unix()) - runs[i].Start.Unix()
			if shared < 60 || out[i].Text != "" || out[j].Twice >= 0 {
				continue
			}
			a, b := runs[j], runs[i]
			if b.Start.Sub(a.Start) < 5*time.Minute && near(a.Seconds, b.Seconds, 0.05) && near(a.DistanceM, b.DistanceM, 0.05) && !(math.Abs(meanRate(a.Segments)-meanRate(b.Segments)) > sameRate) {
				less, more := i, j
				if steadyTime(b.Segments) > steadyTime(a.Segments) {
					less, more = j, i
				}
				out[less] = Doubt{Kind: "same", Other: runs[more].Name, Twice: more, Text: fmt.Sprintf("The same run as %s, in another file: it is counted once.", runs[more].Name)}
				continue
			}
			text := "It overlaps %s by %s: one runner cannot have run both, so one of them is another's."
			out[i] = Doubt{Kind: "overlap", Other: runs[j].Name, By: float64(shared), Twice: -1, Text: fmt.Sprintf(text, runs[j].Name, spanText(float64(shared)))}
			if out[j].Text == "" {
				out[j] = Doubt{Kind: "overlap", Other: runs[i].Name, By: float64(shared), Twice: -1, Text: fmt.Sprintf(text, runs[i].Name, spanText(float64(shared)))}
			}
		}
	}
	apart(runs, order, out)
	return out
}

func near(a, b, share float64) bool {
	return math.Abs(a-b) <= share*math.Max(math.Abs(a), math.Abs(b))
}

func steadyTime(segments []Segment) (s float64) {
	for _, x := range segments {
		s += x.Seconds
	}
	return s
}

// meanRate is the step rate of steady parts by their time; NaN for none.
func meanRate(segments []Segment) float64 {
	sum := 0.0
	for _, x := range segments {
		sum += x.Seconds * x.PerMin
	}
	return sum / steadyTime(segments)
}

// apart finds step rates that fall into two groups. Where the groups take turns in
// time the smaller one is in doubt; a single change to another level is what a
// runner can do, except a large one of the last run alone.
func apart(runs []OfRunner, order []int, out []Doubt) {
	type level struct {
		run  int
		rate float64
	}
	var all []Segment
	var at []level
	for _, i := range order {
		if out[i].Twice >= 0 || len(runs[i].Segments) == 0 {
			continue
		}
		for _, s := range runs[i].Segments {
			s.Run = i
			all = append(all, s)
		}
	}
	line, err := FitRate(within(all))
	if err != nil {
		return
	}
	for _, i := range order {
		f, err := line.Like(runs[i].Segments)
		if out[i].Twice >= 0 || err != nil {
			continue
		}
		// Brought to the common speed by the slope within runs, which a mixed lot
		// does not bend.
		at = append(at, level{i, f.Rate - line.Slope*(f.AtSpeedMPS-line.AtSpeedMPS)})
	}
	if len(at) < 4 {
		return
	}
	sorted := slices.Clone(at)
	slices.SortFunc(sorted, func(a, b level) int {
		if a.rate < b.rate {
			return -1
		}
		return 1
	})
	cut, gap := 0.0, 0.0
	for k := 1; k < len(sorted); k++ {
		if g := sorted[k].rate - sorted[k-1].rate; g > gap {
			gap, cut = g, (sorted[k].rate+sorted[k-1].rate)/2
		}
	}
	if gap < mixedRate {
		return
	}
	turns, highs := 0, 0
	for k, l := range at {
		if l.rate > cut {
			highs++
		}
		if k > 0 && (l.rate > cut) != (at[k-1].rate > cut) {
			turns++
		}
	}
	fewHigh := highs*2 < len(at)
	few := min(highs, len(at)-highs)
	if turns < 2 && !(turns == 1 && few == 1 && gap >= 1.5*mixedRate) {
		return
	}
	means := [2]float64{}
	counts := [2]int{}
	for _, l := range at {
		g := 0
		if l.rate > cut {
			g = 1
		}
		means[g] += l.rate
		counts[g]++
	}
	for g := range means {
		means[g] /= float64(counts[g])
	}
	devices := map[string]bool{}
	for _, l := range at {
		if (l.rate > cut) != fewHigh {
			devices[runs[l.run].Device] = true
		}
	}
	for _, l := range at {
		high := l.rate > cut
		if 2*highs != len(at) && high != fewHigh || out[l.run].Text != "" {
			continue
		}
		way, d := "slower", means[1]-l.rate
		if high {
			way, d = "quicker", l.rate-means[0]
		}
		text := fmt.Sprintf("At equal speed its steps are %.0f a minute %s than those of the other runs, and the two kinds take turns: is it another runner's file, or another watch?", d, way)
		if turns < 2 {
			text = fmt.Sprintf("At equal speed its steps are %.0f a minute %s than those of all runs before: is it another runner's file, or another watch?", d, way)
		}
		if dev := runs[l.run].Device; dev != "" && !devices[dev] && 2*highs != len(at) {
			text += " It does come from another watch."
		}
		kind := "apart"
		if turns < 2 {
			kind = "level"
		}
		if !high {
			d = -d
		}
		out[l.run] = Doubt{Kind: kind, By: d, Twice: -1, Text: text}
	}
}

// within gives the segments with their rates and speeds about the mean of their
// own run, all runs brought to one height, so that a line through them has the
// slope within runs alone.
func within(segments []Segment) []Segment {
	mean := map[int]*sums{}
	var all sums
	for _, s := range segments {
		if mean[s.Run] == nil {
			mean[s.Run] = &sums{}
		}
		mean[s.Run].add(s.Seconds, s.SpeedMPS, s.PerMin)
		all.add(s.Seconds, s.SpeedMPS, s.PerMin)
	}
	out := slices.Clone(segments)
	for i := range out {
		m := mean[out[i].Run]
		out[i].SpeedMPS += all.x/all.w - m.x/m.w
		out[i].PerMin += all.y/all.w - m.y/m.w
	}
	return out
}
