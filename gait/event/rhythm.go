package event

import (
	"fmt"
	"math"
	"slices"

	"gaitwright/gait/body"
	"gaitwright/num/signal"
)

// Limits of rhythm, in strides of the clip's median length. A stride differs
// from the next by about 2 % (runner 001 of the open data: 1.8 % a step), so that
// these leave no room for a miscount and much for a stumble.
const (
	doubleStride = 0.6  // two contacts of one foot nearer than this are one too many
	missedStride = 1.55 // farther apart than this, one is missing
	strideOff    = 0.2  // a stride this far from the median is doubted
)

// medianStride returns the median time between contacts of the same foot;
// strides longer than a miss would make are left out.
func medianStride(c []Contact) float64 {
	var d []float64
	for _, side := range body.Sides {
		last := math.NaN()
		for _, k := range c {
			if k.Side == side {
				if v := k.InitialContactS - last; !math.IsNaN(v) {
					d = append(d, v)
				}
				last = k.InitialContactS
			}
		}
	}
	if len(d) == 0 {
		return math.NaN()
	}
	// Misses only lengthen and doubles only shorten; the lower quartile and up to
	// half as much again holds single strides.
	q := signal.Quantile(d, 0.25)
	return signal.Median(slices.DeleteFunc(d, func(v float64) bool { return v > 1.5*q || v < 0.5*q }))
}

// mendRhythm takes out contacts too many, looks again where one is missing, and
// doubts what is left out of rhythm. What it did it notes.
func (s *Series) mendRhythm(l *limbs, tables *tableSet, frameS float64) {
	stride := medianStride(s.Contacts)
	if math.IsNaN(stride) {
		return
	}
	if n := s.dropDoubles(stride); n > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf("%s too many for the rhythm %s left out", countContacts(n), wasWere(n)))
	}
	added, missing := s.addMissed(l, tables, frameS, stride)
	if added > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf("%s %s added where the rhythm asked for one and the landmarks agreed", countContacts(added), wasWere(added)))
	}
	if missing > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf("the rhythm says that %s %s not found; the landmarks are too poor there", countContacts(missing), wasWere(missing)))
	}
	s.doubtRhythm(stride)
}

func wasWere(n int) string {
	if n == 1 {
		return "was"
	}
	return "were"
}

// dropDoubles leaves out the worse of two contacts of one foot that lie too near
// each other: the one whose times before and after fit the stride worse.
func (s *Series) dropDoubles(stride float64) (dropped int) {
	for {
		worst := -1
		for _, side := range body.Sides {
			of := indicesOf(s.Contacts, side)
			for j := 1; j < len(of) && worst < 0; j++ {
				a, b := of[j-1], of[j]
				if s.Contacts[b].InitialContactS-s.Contacts[a].InitialContactS >= doubleStride*stride {
					continue
				}
				worst = b
				if misfit(s.Contacts, of, j-1, j, stride) > misfit(s.Contacts, of, j, j-1, stride) {
					worst = a
				}
			}
		}
		if worst < 0 {
			return dropped
		}
		s.Contacts = slices.Delete(s.Contacts, worst, worst+1)
		dropped++
	}
}

// misfit is how badly contact of[j] fits whole strides to its neighbours, the
// contact of[skip] left out.
func misfit(c []Contact, of []int, j, skip int, stride float64) float64 {
	sum, n := 0.0, 0.0
	for _, step := range [2]int{-1, 1} {
		k := j + step
		if k == skip {
			k += step
		}
		if k < 0 || k >= len(of) {
			continue
		}
		d := math.Abs(c[of[k]].InitialContactS-c[of[j]].InitialContactS) / stride
		sum += math.Abs(d - math.Max(1, math.Round(d)))
		n++
	}
	if n == 0 {
		return 0
	}
	return sum / n
}

func indicesOf(c []Contact, side body.Side) []int {
	var out []int
	for i := range c {
		if c[i].Side == side {
			out = append(out, i)
		}
	}
	return out
}

// addMissed asks the witnesses again where one foot's contacts lie two or more
// strides apart, about where the rhythm puts the missing ones.
func (s *Series) addMissed(l *limbs, tables *tableSet, frameS, stride float64) (added, missing int) {
	for _, side := range body.Sides {
		g := l.legs[side]
		own := s.Of(side)
		if g == nil || len(own) < 2 {
			continue
		}
		for i := 1; i < len(own); i++ {
			a, b := own[i-1], own[i]
			gap := b.InitialContactS - a.InitialContactS
			if gap < missedStride*stride {
				continue
			}
			n := int(math.Round(gap / stride))
			for k := 1; k < n; k++ {
				u := float64(k) / float64(n)
				guess := Contact{Side: side,
					InitialContactS: a.InitialContactS + u*gap,
					ToeOffS:         a.ToeOffS + u*(b.ToeOffS-a.ToeOffS)}
				if c, ok := g.second(tables, guess, stride, frameS); ok {
					s.Contacts = append(s.Contacts, c)
					added++
				} else {
					missing++
				}
			}
		}
	}
	sortContacts(s.Contacts)
	return added, missing
}

// second looks for one contact about a guess. Two witnesses must speak on each
// of its moments, and the outcome lie within a fifth of a stride of the guess.
func (g *leg) second(tables *tableSet, guess Contact, stride, frameS float64) (Contact, bool) {
	// The mean places of the anchors by the learned rules.
	c := cycle{aheadS: guess.InitialContactS - aheadBeforeContactS, behindS: guess.ToeOffS + behindAfterToeOffS,
		midS: guess.InitialContactS + 0.5*guess.DurationS()}
	var v [2]verdict
	for _, m := range [2]Moment{TouchDown, LiftOff} {
		v[m] = tables.of[m].judge(g.hear(m, []cycle{c}))[0]
		if v[m].heard < 2 {
			return Contact{}, false
		}
	}
	out, ok := makeContact(g.side, v[TouchDown], v[LiftOff], frameS)
	if !ok || math.Abs(out.InitialContactS-guess.InitialContactS) > strideOff*stride || math.Abs(out.ToeOffS-guess.ToeOffS) > strideOff*stride {
		return Contact{}, false
	}
	out.Doubt = "rhythm: a contact added where one was missing"
	return out, true
}

// doubtRhythm marks contacts whose stride before and after are both far from the
// median, and contacts of one foot in a row in less than a stride.
func (s *Series) doubtRhythm(stride float64) {
	both := len(s.Of(body.Left)) > 0 && len(s.Of(body.Right)) > 0
	for _, side := range body.Sides {
		of := indicesOf(s.Contacts, side)
		for j, i := range of {
			off := func(k int) bool {
				if k < 0 || k >= len(of) {
					return false
				}
				d := math.Abs(s.Contacts[of[k]].InitialContactS-s.Contacts[i].InitialContactS) / stride
				return math.Abs(d-math.Max(1, math.Round(d))) > strideOff
			}
			if (off(j-1) || j == 0) && (off(j+1) || j == len(of)-1) && len(of) > 2 && s.Contacts[i].Doubt == "" {
				s.Contacts[i].Doubt = "rhythm: out of step with its neighbours"
			}
		}
	}
	for i := 1; both && i < len(s.Contacts); i++ {
		a, b := s.Contacts[i-1], &s.Contacts[i]
		if a.Side == b.Side && b.InitialContactS-a.InitialContactS < (1-strideOff)*stride && b.Doubt == "" {
			b.Doubt = "rhythm: two contacts of one foot in a row"
		}
	}
}
