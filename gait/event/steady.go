package event

import (
	"errors"
	"math"

	"gaitwright/gait/body"
	"gaitwright/gait/track"
	"gaitwright/num/signal"
)

// steadyStride is how far a stride time may lie from the median of the clip and
// belong to the steady part: three times the step variation of a runner at
// constant speed (about 2 %: runner 001 of the open data) would still do.
const steadyStride = 0.07

// Steady returns the part of the clip, seconds on its clock, in which the runner
// keeps a steady rhythm: the longest run of contacts whose stride times stay
// within 7 % of the median, reaching to the clip's ends where nothing unsteady
// lies before or after. Stepping onto a belt, speeding up and slowing down are
// thus left out. With too few contacts it is the whole clip.
func Steady(s Series, t *track.Track) (fromS, toS float64) {
	if t == nil || t.Frames() == 0 {
		return 0, 0
	}
	fromS, toS = t.TimeS[0], t.TimeS[t.Frames()-1]
	stride := medianStride(s.Contacts)
	n := len(s.Contacts)
	if n < leastContacts || math.IsNaN(stride) {
		return fromS, toS
	}
	// A contact is steady where the stride it begins, or else the one it ends,
	// has the usual length.
	steady := make([]bool, n)
	last := [3]int{-1, -1, -1}
	for i, c := range s.Contacts {
		if k := last[c.Side]; k >= 0 {
			d := c.InitialContactS - s.Contacts[k].InitialContactS
			strides := math.Max(1, math.Round(d/stride))
			if math.Abs(d/strides/stride-1) <= steadyStride {
				steady[k], steady[i] = true, true
			}
		}
		last[c.Side] = i
	}
	bestFrom, bestTo := 0, 0
	for i := 0; i < n; i++ {
		j := i
		for j < n && steady[j] {
			j++
		}
		if j-i > bestTo-bestFrom {
			bestFrom, bestTo = i, j
		}
		if j > i {
			i = j
		}
	}
	if bestTo-bestFrom < leastContacts {
		return fromS, toS
	}
	first, final := s.Contacts[bestFrom], s.Contacts[bestTo-1]
	if begins := first.InitialContactS; bestFrom > 0 || begins-fromS > 1.5*stride {
		fromS = math.Max(fromS, begins-0.02)
	}
	if ends := final.ToeOffS; bestTo < n || toS-ends > 1.5*stride {
		toS = math.Min(toS, ends+0.02)
	}
	return fromS, toS
}

// StanceSpeed returns how fast the ground carries the standing foot backward, in
// track units a second: the belt's speed on a treadmill. In each contact a
// straight line is fitted to the forefoot's path between 30 and 50 % of the
// contact, where the foot lies flat (of the pose model's rougher heel, 15 to 60 %);
// the median over contacts is taken. sd is the standard error of that median. Where the foot stands still because the runner
// travels, the runner's travel during the contacts is returned instead.
func StanceSpeed(t *track.Track, s Series) (speed, sd float64, err error) {
	var feet, trunk []float64
	points, begin, end := standingPoints(t)
	for _, c := range s.Contacts {
		from, to := c.InitialContactS+begin*c.DurationS(), c.InitialContactS+end*c.DurationS()
		for _, l := range points {
			if v, ok := slope(t, l.On(c.Side), from, to); ok {
				feet = append(feet, -v)
				break
			}
		}
		for _, l := range []body.Landmark{body.Sacrum, body.LeftHip, body.RightHip, body.LeftASIS, body.RightASIS} {
			if v, ok := slope(t, l, c.InitialContactS, c.ToeOffS); ok {
				trunk = append(trunk, v)
				break
			}
		}
	}
	if len(feet) == 0 {
		return 0, 0, errors.New("the speed of the standing foot cannot be told: no forefoot, heel or ankle was followed forward and back through a contact")
	}
	speed = signal.Median(feet)
	n := float64(len(feet))
	if travel := signal.Median(trunk); travel > 3*math.Abs(speed) {
		speed, feet, n = travel, trunk, float64(len(trunk))
	}
	// The median of normal values spreads 1.2533 times as much as their mean.
	return speed, 1.2533 * signal.MAD(feet) / math.Sqrt(n), nil
}

// standingPoints are the points of the foot that show the ground's speed, best
// first, and the part of the contact over which they do. The pose model's toe
// creeps along the shoe while the foot stands: on rendered clips of two runners
// its speed was 5 to 9 % too high, and the heel's within 4 %; so there the heel
// comes first.
func standingPoints(t *track.Track) (points []body.Landmark, begin, end float64) {
	if originOfFeet(t) == track.PoseModel {
		return []body.Landmark{body.LeftHeel, body.LeftAnkle, body.LeftToe}, 0.15, 0.6
	}
	return []body.Landmark{body.LeftMT5, body.LeftMT1, body.LeftToe, body.LeftHeel, body.LeftAnkle}, 0.3, 0.5
}

// slopePoints is how many places of a path, read between frames, a slope is
// fitted to.
const slopePoints = 9

// slope fits a line to the forward path of a landmark between two times.
func slope(t *track.Track, l body.Landmark, from, to float64) (perS float64, ok bool) {
	p := t.Paths[l]
	if p == nil || p.X == nil || !(to > from) {
		return 0, false
	}
	var sux, suu float64
	for k := range slopePoints {
		u := float64(k)/(slopePoints-1) - 0.5
		x := signal.At(t.TimeS, p.X, from+(u+0.5)*(to-from))
		sux += u * x
		suu += u * u
	}
	v := sux / suu / (to - from)
	return v, !math.IsNaN(v)
}
