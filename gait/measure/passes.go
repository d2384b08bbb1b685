package measure

import (
	"math"
	"slices"

	"gaitwright/gait/body"
	"gaitwright/gait/event"
	"gaitwright/num/signal"
)

// pass is one contact with its neighbours in time; a neighbour that is missing,
// doubtful or out of rhythm is NaN. Times are seconds on the clip's clock.
type pass struct {
	side   body.Side
	ic, to float64
	prev   float64 // the other foot's contact before this one
	next   float64 // the other foot's contact after this one
	stride float64 // this foot's next contact
	icSD   float64
	toSD   float64
}

func (p pass) contactS() float64 { return p.to - p.ic }
func (p pass) strideS() float64  { return p.stride - p.ic }
func (p pass) flightS() float64  { return p.next - p.to }
func (p pass) stepS() float64    { return p.ic - p.prev } // the step that this contact ends

// during returns the time at a fraction of stance, 0 contact to 1 toe-off.
func (p pass) during(fraction float64) float64 { return p.ic + fraction*p.contactS() }

// A step or stride is in rhythm when it lies within these shares of the median
// one: a missed or doubled contact makes it double or half.
const (
	shortest = 0.65
	longest  = 1.4
)

// passesOf orders the contacts and joins neighbours. Doubtful contacts that the
// analyst has not edited are left out, and so are the steps and strides that
// need them; dropped counts them.
func passesOf(s event.Series) (passes []pass, dropped int) {
	contacts := slices.Clone(s.Contacts)
	slices.SortStableFunc(contacts, func(a, b event.Contact) int {
		switch {
		case a.InitialContactS < b.InitialContactS:
			return -1
		case a.InitialContactS > b.InitialContactS:
			return 1
		}
		return 0
	})
	sound := func(i int) bool {
		c := contacts[i]
		return (c.Doubt == "" || c.Edited) && c.Side != body.NoSide && c.ToeOffS > c.InitialContactS
	}
	// Halfway between the two feet's usual steps, however unlike they are.
	var steps [3][]float64
	for i := 1; i < len(contacts); i++ {
		if s := contacts[i].Side; s != contacts[i-1].Side {
			steps[s] = append(steps[s], contacts[i].InitialContactS-contacts[i-1].InitialContactS)
		}
	}
	typical := median([]float64{median(steps[body.Left]), median(steps[body.Right])})
	inRhythm := func(d, expected float64) bool { return d > shortest*expected && d < longest*expected }
	for i, c := range contacts {
		if !sound(i) {
			dropped++
			continue
		}
		p := pass{side: c.Side, ic: c.InitialContactS, to: c.ToeOffS, icSD: c.InitialContactSDS, toSD: c.ToeOffSDS,
			prev: math.NaN(), next: math.NaN(), stride: math.NaN()}
		if i > 0 && sound(i-1) && contacts[i-1].Side != c.Side && inRhythm(c.InitialContactS-contacts[i-1].InitialContactS, typical) {
			p.prev = contacts[i-1].InitialContactS
		}
		if i+1 < len(contacts) && sound(i+1) && contacts[i+1].Side != c.Side && inRhythm(contacts[i+1].InitialContactS-c.InitialContactS, typical) {
			p.next = contacts[i+1].InitialContactS
			if i+2 < len(contacts) && sound(i+2) && contacts[i+2].Side == c.Side && inRhythm(contacts[i+2].InitialContactS-c.InitialContactS, 2*typical) {
				p.stride = contacts[i+2].InitialContactS
			}
		}
		passes = append(passes, p)
	}
	return passes, dropped
}

// median returns the median of the values that are not NaN, or NaN for none.
func median(v []float64) float64 { return signal.Median(v) }

// wild is how many robust standard deviations (1.4826 median absolute
// deviations) from the median a stride's value may lie before it is left out.
const wild = 4

// dropWild replaces wild values by NaN and says how many they were. Fewer than
// six values are all kept: too few to tell what is wild.
func dropWild(v []float64) (kept []float64, dropped int) { return dropWildOfFeet(v, nil) }

// dropWildOfFeet is dropWild for values of both feet: how far each lies from the
// median of its own foot's. Where left and right differ lastingly, neither is wild.
// feet says whose each value is; nil for values of one foot or none.
func dropWildOfFeet(v []float64, feet []body.Side) (kept []float64, dropped int) {
	kept = slices.Clone(v)
	n := 0
	for _, x := range v {
		if !math.IsNaN(x) {
			n++
		}
	}
	if n < 6 {
		return kept, 0
	}
	d := make([]float64, len(v))
	if feet == nil {
		centre := median(v)
		for i, x := range v {
			d[i] = math.Abs(x - centre)
		}
	} else {
		own := make([]float64, 0, len(v))
		for _, s := range body.Sides {
			own = own[:0]
			for i, x := range v {
				if feet[i] == s {
					own = append(own, x)
				}
			}
			centre := median(own)
			for i, x := range v {
				if feet[i] == s {
					d[i] = math.Abs(x - centre)
				}
			}
		}
	}
	limit := wild * 1.4826 * median(d)
	if limit == 0 {
		return kept, 0
	}
	for i := range kept {
		if d[i] > limit {
			kept[i] = math.NaN()
			dropped++
		}
	}
	return kept, dropped
}
