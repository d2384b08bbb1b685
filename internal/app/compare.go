package app

import (
	"math"

	"gaitwright/gait/body"
	"gaitwright/gait/event"
	"gaitwright/num/signal"
)

// pairWithinS is how near two contacts of one foot must be to be the same one.
const pairWithinS = 0.12

// ContactComparison holds contacts found by motion against those by force.
type ContactComparison struct {
	File           string
	Rows           []ComparisonRow
	MotionStepRate float64 // steps a minute, over the contacts that both have
	ForceStepRate  float64
	Missed, Extra  int // by motion, within the part that both cover
}

// ComparisonRow is the error of one quantity: motion minus force.
type ComparisonRow struct {
	What       string
	BiasS, SDS float64
	Pairs      int
}

// ContactComparisons compares, for each clip that has both, the contacts by
// motion with those by force.
func (s *Session) ContactComparisons() []ContactComparison {
	var out []ContactComparison
	for _, c := range s.Clips {
		if c.Other == nil || len(c.Other.Contacts) == 0 {
			continue
		}
		motion, force := c.Contacts, *c.Other
		if motion.Method == event.FromForce {
			motion, force = force, motion
		}
		k := CompareContacts(motion, force)
		k.File = c.name()
		out = append(out, k)
	}
	return out
}

// CompareContacts holds one series against another that is taken as true.
func CompareContacts(found, truth event.Series) ContactComparison {
	var contact, off, duration []float64
	var pairs [2][]event.Contact // found and true, in step
	used := make([]bool, len(found.Contacts))
	out := ContactComparison{MotionStepRate: math.NaN(), ForceStepRate: math.NaN()}
	if len(found.Contacts) == 0 || len(truth.Contacts) == 0 {
		return out
	}
	from := math.Max(found.Contacts[0].InitialContactS, truth.Contacts[0].InitialContactS) - pairWithinS
	to := math.Min(found.Contacts[len(found.Contacts)-1].ToeOffS, truth.Contacts[len(truth.Contacts)-1].ToeOffS) + pairWithinS
	inside := func(c event.Contact) bool { return c.InitialContactS >= from && c.ToeOffS <= to }
	for _, t := range truth.Contacts {
		best, at := pairWithinS, -1
		for i, f := range found.Contacts {
			if d := math.Abs(f.InitialContactS - t.InitialContactS); f.Side == t.Side && !used[i] && d < best {
				best, at = d, i
			}
		}
		if at < 0 {
			if inside(t) {
				out.Missed++
			}
			continue
		}
		used[at] = true
		f := found.Contacts[at]
		pairs[0], pairs[1] = append(pairs[0], f), append(pairs[1], t)
		contact = append(contact, f.InitialContactS-t.InitialContactS)
		off = append(off, f.ToeOffS-t.ToeOffS)
		duration = append(duration, f.DurationS()-t.DurationS())
	}
	out.MotionStepRate, out.ForceStepRate = stepRate(pairs[0]), stepRate(pairs[1])
	for i, u := range used {
		if !u && inside(found.Contacts[i]) {
			out.Extra++
		}
	}
	for _, q := range []struct {
		what string
		v    []float64
	}{{"initial contact", contact}, {"toe-off", off}, {"contact time", duration}} {
		mean, sd, n := signal.MeanSD(q.v)
		out.Rows = append(out.Rows, ComparisonRow{What: q.what, BiasS: mean, SDS: sd, Pairs: n})
	}
	return out
}

// stepRate is the steps a minute of both feet over the whole series, NaN for
// fewer than two contacts or where a foot's contacts are missing.
func stepRate(c []event.Contact) float64 {
	if len(c) < 2 {
		return math.NaN()
	}
	steps := 0
	for i := 1; i < len(c); i++ {
		steps++
		if c[i].Side == c[i-1].Side && c[i].Side != body.NoSide {
			steps++ // the other foot's contact between them is missing
		}
	}
	return 60 * float64(steps) / (c[len(c)-1].InitialContactS - c[0].InitialContactS)
}
