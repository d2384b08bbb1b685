package measure

import (
	"fmt"
	"math"

	"gaitwright/gait/body"
	"gaitwright/num/kept"
)

// segment is a part of the body with its share of the mass and the place of its
// centre between two points.
type segment struct {
	mass [2]float64 // share of body mass: male, female
	at   [2]float64 // centre of mass from the proximal end, as a share of the length
}

// Segment masses and centres by de Leva (1996, J Biomech 29:1223-1230), the rows
// whose end points a camera sees: trunk 3 (middle of the shoulders to middle of
// the hips), arm and leg between joint centres, foot heel to toe tip. The printed
// shares sum to 1.0000 (men) and 0.9999 (women), so they are divided by their
// sum. The head's centre is taken at the ear canals (Dempster's head and neck,
// in Winter 2009, puts it there).
var (
	headSegment     = segment{mass: [2]float64{0.0694, 0.0668}}
	trunkSegment    = segment{mass: [2]float64{0.4346, 0.4257}, at: [2]float64{0.4310, 0.3782}}
	upperArmSegment = segment{mass: [2]float64{0.0271, 0.0255}, at: [2]float64{0.5772, 0.5754}}
	forearmSegment  = segment{mass: [2]float64{0.0162, 0.0138}, at: [2]float64{0.4574, 0.4559}}
	handSegment     = segment{mass: [2]float64{0.0061, 0.0056}, at: [2]float64{0.7900, 0.7474}}
	thighSegment    = segment{mass: [2]float64{0.1416, 0.1478}, at: [2]float64{0.4095, 0.3612}}
	shankSegment    = segment{mass: [2]float64{0.0433, 0.0481}, at: [2]float64{0.4395, 0.4352}}
	footSegment     = segment{mass: [2]float64{0.0137, 0.0129}, at: [2]float64{0.4415, 0.4014}}
)

// pick returns a table's male, female or, where the sex is not known, mean
// figure.
func (r Runner) pick(v [2]float64) float64 {
	switch {
	case !r.SexKnown:
		return (v[0] + v[1]) / 2
	case r.Female:
		return v[1]
	}
	return v[0]
}

// massSum is what the segments' shares add up to.
func massSum(r Runner) float64 {
	total := r.pick(headSegment.mass) + r.pick(trunkSegment.mass)
	for _, s := range []segment{upperArmSegment, forearmSegment, handSegment, thighSegment, shankSegment, footSegment} {
		total += 2 * r.pick(s.mass)
	}
	return total
}

// centreOfMass is sumOfMasses, kept by the points it rests on.
func (f *figure) centreOfMass(r Runner, of func(body.Landmark) []float64, toe [3][]float64) []float64 {
	how := "mass"
	if r.SexKnown {
		how = fmt.Sprint("mass, female ", r.Female)
	}
	from := [][]float64{of(body.Nose), toe[body.Left], toe[body.Right]}
	for _, l := range [...]body.Landmark{body.LeftEar, body.LeftShoulder, body.LeftElbow, body.LeftWrist, body.LeftIndexKnuckle, body.LeftLittleKnuckle,
		body.LeftHip, body.LeftKnee, body.LeftAnkle, body.LeftHeel} {
		from = append(from, of(l), of(l.On(body.Right)))
	}
	return kept.Of(f.lines, how, func() []float64 { return f.sumOfMasses(r, of, toe) }, from...)
}

// sumOfMasses returns one coordinate of the whole body's centre of mass frame
// by frame, nil where a landmark for it has no path. The hand is taken between
// wrist and knuckles, or at the wrist where there are none, the head at the ears,
// or at the nose where there are none. In frames where an
// elbow or wrist was not seen, as the far arm's often is not from the side, that
// part's mass is taken at the shoulder: 5 % of the body at most, a hand's
// breadth from where it swings.
func (f *figure) sumOfMasses(r Runner, of func(body.Landmark) []float64, toe [3][]float64) []float64 {
	pair := func(l body.Landmark) []float64 { return f.middle(of(l), of(l.On(body.Right))) }
	// arm is pair with the shoulder where the landmark is missing.
	arm := func(l body.Landmark) []float64 {
		var sides [2][]float64
		for k, s := range body.Sides {
			own, shoulder := of(l.On(s)), of(body.LeftShoulder.On(s))
			if own == nil || shoulder == nil {
				return nil
			}
			sides[k] = f.join("or", func(a, b float64) float64 {
				if math.IsNaN(a) {
					return b
				}
				return a
			}, own, shoulder)
		}
		return f.middle(sides[0], sides[1])
	}
	head, shoulders, hips := pair(body.LeftEar), pair(body.LeftShoulder), pair(body.LeftHip)
	if head == nil {
		head = of(body.Nose)
	}
	elbows, wrists := arm(body.LeftElbow), arm(body.LeftWrist)
	knuckles := f.middle(arm(body.LeftIndexKnuckle), arm(body.LeftLittleKnuckle))
	if knuckles == nil {
		knuckles = wrists
	}
	total := make([]float64, f.t.Frames())
	ok := true
	// Left and right are averaged first, so that exchanging them changes no bit.
	add := func(s segment, weight float64, from, to []float64) {
		if from == nil || to == nil {
			ok = false
			return
		}
		m, at := weight*r.pick(s.mass), r.pick(s.at)
		for i := range total {
			total[i] += m * (from[i] + at*(to[i]-from[i]))
		}
	}
	add(headSegment, 1, head, head)
	add(trunkSegment, 1, shoulders, hips)
	add(upperArmSegment, 2, shoulders, elbows)
	add(forearmSegment, 2, elbows, wrists)
	add(handSegment, 2, wrists, knuckles)
	add(thighSegment, 2, hips, pair(body.LeftKnee))
	add(shankSegment, 2, pair(body.LeftKnee), pair(body.LeftAnkle))
	add(footSegment, 2, pair(body.LeftHeel), f.middle(toe[body.Left], toe[body.Right]))
	if !ok {
		return nil
	}
	whole := massSum(r)
	for i := range total {
		total[i] /= whole
	}
	return total
}

// Leg length as a share of stature, and of thigh plus shank, by the segment
// lengths of Drillis & Contini (1966, in Winter 2009; from memory): hip 0.530 H,
// thigh 0.245 H, shank 0.246 H.
const (
	legOfHeight     = 0.530
	legOfSegments   = 0.530 / (0.245 + 0.246)
	legOfHeightSD   = 0.035 // individual spread, share of the length (same)
	legOfSegmentsSD = 0.035
)

// legLength returns the leg length in metres with its relative standard
// deviation: measured, else from the height, else 0.
func (r Runner) legLength() (m, relativeSD float64, from string) {
	switch {
	case r.LegLengthM > 0:
		return r.LegLengthM, 0.01, "measured leg length"
	case r.HeightM > 0:
		return legOfHeight * r.HeightM, legOfHeightSD, "leg length from height (0.53 H)"
	}
	return 0, 0, ""
}

// legInTrack returns the leg's length in the track's own unit from the median
// lengths of thigh and shank, NaN where they were not seen.
func (f *figure) legInTrack() float64 {
	length := func(from, to body.Landmark) float64 {
		var sides [2]float64
		for k, s := range body.Sides {
			a, b := from.On(s), to.On(s)
			if f.x(a) == nil || f.x(b) == nil {
				return math.NaN()
			}
			sides[k] = kept.Of(f.lines, "length", func() float64 {
				dx, dy := combine(func(p, q float64) float64 { return q - p }, f.x(a), f.x(b)), combine(func(p, q float64) float64 { return q - p }, f.y(a), f.y(b))
				return median(combine(math.Hypot, dx, dy))
			}, f.x(a), f.x(b), f.y(a), f.y(b))
		}
		return (sides[0] + sides[1]) / 2
	}
	return legOfSegments * (length(body.LeftHip, body.LeftKnee) + length(body.LeftKnee, body.LeftAnkle))
}
