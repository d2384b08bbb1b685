package event

import (
	"math"

	"gaitwright/gait/body"
	"gaitwright/num/signal"
)

// From behind or in front, forward is not seen, and which ankle is the lower in
// the picture is no guide to contact: a foot carried half a metre nearer to a
// camera at hip height sinks by as much as early swing lifts it. Two things the
// camera's place does not change. The trunk is lowest near the middle of every
// stance, and by then the swinging ankle hangs far above the standing one. So
// steps are told from the pelvis's rise and fall, and sides from the ankles at
// its lowest points.

// step is one stance as seen from behind or in front: the lowest point of the
// pelvis and the foot that stands.
type step struct {
	midS float64
	side body.Side
}

// stepping is the rhythm of a clip in which forward is not seen.
type stepping struct {
	steps   []step
	strideS float64 // usual time of a stride
	// agreement is how far the sides by the ankles alternate as steps must, from
	// 0 (by chance) to 1.
	agreement float64
}

// Limits of steps from behind; lengths in leg lengths, times in usual steps.
const (
	leastBounce   = 0.015 // rise and fall of the pelvis
	leastApart    = 0.6   // two lowest points nearer than this are one too many
	chainGap      = 0.25  // a gap this far from whole steps ends a chain
	longestGap    = 3.4   // and so does one longer than this
	standsLower   = 0.03  // by which the standing ankle is plainly the lower
	sidesAgree    = 0.5   // below this left and right cannot be told
	sideReachS    = 0.03  // about the lowest point, in which the ankles are compared
	midShare      = 0.155 // of a stride from contact to the lowest point
	contactShare  = 0.326 // of a stride the contact lasts; 18 runs, SD 0.033
	heightWidensS = 0.025 // windows about such anchors are wider by this on both sides
)

// stepping finds the steps from the heights of pelvis and ankles alone.
func (l *limbs) stepping() *stepping {
	if l.fromBehind != nil {
		return l.fromBehind
	}
	l.fromBehind = &stepping{}
	left, right := l.legs[body.Left], l.legs[body.Right]
	if left == nil || right == nil {
		return l.fromBehind
	}
	s := l.fromBehind
	trunk := left.derived(pelvisY, 0, cycleCutoffHz)
	lows := signal.Valleys(trunk, leastBounce*l.length)
	usual := usualGap(timesOf(lows, l.timeS))
	if math.IsNaN(usual) {
		return s
	}
	lows = thinned(lows, l.timeS, leastApart*usual)
	mids := timesOf(lows, l.timeS)
	usual = usualGap(mids)
	s.strideS = 2 * usual
	over := sum(left.derived(ankleY, 0, cycleCutoffHz), -1, right.derived(ankleY, 0, cycleCutoffHz))
	lift := make([]float64, len(mids)) // of the left ankle over the right one, leg lengths
	for i, m := range mids {
		lift[i] = l.mean(over, m-sideReachS, m+sideReachS) / l.length
	}
	agree, all := 0.0, 0.0
	for from := 0; from < len(mids); {
		// A chain of steps that follow each other by whole steps, and which of
		// its feet lands first.
		number := []int{0}
		to := from + 1
		for ; to < len(mids); to++ {
			gap := (mids[to] - mids[to-1]) / usual
			n := math.Round(gap)
			if gap > longestGap || math.Abs(gap-n) > chainGap*n {
				break
			}
			number = append(number, number[len(number)-1]+int(n))
		}
		vote := 0.0
		for k, n := range number {
			if v := lift[from+k]; !math.IsNaN(v) {
				vote += v * float64(1-2*(n%2))
				all += math.Abs(v)
			}
		}
		agree += math.Abs(vote)
		for k, n := range number {
			up := vote * float64(1-2*(n%2)) // above 0 where the left foot swings
			if v := lift[from+k]; math.IsNaN(v) || v*up < 0 && math.Abs(v) > standsLower {
				continue // the ankles gainsay the rhythm
			}
			side := body.Left
			if up > 0 {
				side = body.Right
			}
			s.steps = append(s.steps, step{mids[from+k], side})
		}
		from = to
	}
	if all > 0 {
		s.agreement = agree / all
	}
	if s.agreement < sidesAgree {
		s.steps = nil
	}
	return s
}

// usualGap is the median time between neighbours, first without those that are
// plainly too long.
func usualGap(at []float64) float64 {
	gaps := make([]float64, 0, len(at))
	for i := 1; i < len(at); i++ {
		gaps = append(gaps, at[i]-at[i-1])
	}
	q := signal.Median(gaps)
	kept := gaps[:0]
	for _, g := range gaps {
		if g < 1.5*q && g > 0.6*q {
			kept = append(kept, g)
		}
	}
	return signal.Median(kept)
}

// thinned leaves out the higher of two lowest points that lie nearer together
// than apartS.
func thinned(lows []signal.Peak, timeS []float64, apartS float64) []signal.Peak {
	var out []signal.Peak
	for _, p := range lows {
		n := len(out)
		switch {
		case n == 0 || p.At(timeS)-out[n-1].At(timeS) >= apartS:
			out = append(out, p)
		case p.Value < out[n-1].Value:
			out[n-1] = p
		}
	}
	return out
}

// mean is the mean of z from lo to hi, NaN where it is missing.
func (l *limbs) mean(z []float64, lo, hi float64) float64 {
	a, b := l.index(lo, hi)
	total := 0.0
	for i := a; i <= b; i++ {
		total += z[i]
	}
	return total / float64(b-a+1)
}

// usualUnevenS is the standard deviation of a runner's own step times (about 2 %:
// runner 001 of the open data).
const usualUnevenS = 0.006

// raiseErrors raises the random errors of contacts found from heights alone to
// what the unevenness of the steps shows beyond a runner's own. Of three contacts
// in a row the middle one's distance from halfway has six times the variance of
// one time's error, and twice that of a step.
func (s *Series) raiseErrors() {
	moments := [2]func(*Contact) (timeS float64, sdS *float64){
		func(c *Contact) (float64, *float64) { return c.InitialContactS, &c.InitialContactSDS },
		func(c *Contact) (float64, *float64) { return c.ToeOffS, &c.ToeOffSDS },
	}
	for _, of := range moments {
		var off [3][]float64
		for i := 1; i+1 < len(s.Contacts); i++ {
			a, b, c := &s.Contacts[i-1], &s.Contacts[i], &s.Contacts[i+1]
			before, _ := of(a)
			at, _ := of(b)
			after, _ := of(c)
			if a.Side == c.Side && a.Side != b.Side {
				off[b.Side] = append(off[b.Side], before-2*at+after)
			}
		}
		// Each side by itself: unequal steps of left and right are no error.
		left, right := signal.MAD(off[body.Left]), signal.MAD(off[body.Right])
		variance := ((left*left+right*right)/2 - 2*usualUnevenS*usualUnevenS) / 6
		if !(variance > 0) || len(off[body.Left]) < 3 || len(off[body.Right]) < 3 {
			continue
		}
		for i := range s.Contacts {
			_, sd := of(&s.Contacts[i])
			*sd = math.Max(*sd, math.Sqrt(variance))
		}
	}
}

// cyclesByHeight finds the strides of a leg from heights alone.
func (g *leg) cyclesByHeight() []cycle {
	s := g.of.stepping()
	var out []cycle
	for _, p := range s.steps {
		if p.side == g.side {
			contact := p.midS - midShare*s.strideS
			out = append(out, cycle{aheadS: contact - aheadBeforeContactS, behindS: contact + contactShare*s.strideS + behindAfterToeOffS, midS: p.midS})
		}
	}
	return out
}
