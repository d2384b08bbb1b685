package exam

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gaitwright/gait/body"
	"gaitwright/gait/track"
	"gaitwright/num/agree"
)

// Low is the lowest point of one repetition of a squat or step-down, as filmed
// from the front.
type Low struct {
	TimeS float64 // on the track's clock
	// AngleDeg is the frontal-plane angle of the standing leg, the angle between
	// the lines hip–knee and knee–ankle in the picture, knee inward positive, as the
	// mean of 0.1 s around the lowest point.
	AngleDeg float64
	// DepthPercent is how much nearer the hip came to the ankle, in percent of its
	// height when standing.
	DepthPercent float64
}

// Lows is what FromFront found.
type Lows struct {
	Lows []Low
	// NoiseDeg is the standard error of one angle from the trembling of the
	// landmarks alone: the SD of what smoothing takes away, over the root of the
	// frames averaged. What the landmarks have wrong as a whole is not in it.
	NoiseDeg float64
	// Cut counts repetitions that the clip cuts off; they are left out.
	Cut int
	// Lifted counts the times when hip and ankle came nearer because the foot was
	// lifted, as in running; they are left out.
	Lifted int
}

// Bounds of a repetition: it begins when the hip has come nearer to the ankle by
// leastDip of its standing height (a knee bent by some 40 degrees, by the cosine
// of half the bend with thigh and shank alike) and ends when it is back within
// backUp.
const (
	leastDip  = 0.06
	backUp    = 0.03
	leastRepS = 0.3
	// A foot is lifted where more than this share of the way by which hip and ankle
	// came nearer is the ankle's.
	liftedShare = 0.5
	aroundLowS  = 0.05
)

// FromFront reads the frontal-plane angle of a squat or step-down on one leg from
// a picture track filmed from the front, at the lowest point of each repetition.
// smooth is raw smoothed; both have the same frames. The error says what in the
// clip forbids it.
func FromFront(raw, smooth *track.Track, side body.Side) (Lows, error) {
	other := body.Left
	if side == body.Left {
		other = body.Right
	}
	hip, knee, ankle := body.LeftHip.On(side), body.LeftKnee.On(side), body.LeftAnkle.On(side)
	free := body.LeftAnkle.On(other)
	switch {
	case side != body.Left && side != body.Right:
		return Lows{}, errors.New("say which leg stands, left or right")
	case smooth.Space != track.Picture || raw.Frames() != smooth.Frames():
		return Lows{}, errors.New("the angle is read from a film, in the plane of the picture")
	case !smooth.Has(hip, knee, ankle, free, body.LeftHip.On(other)):
		return Lows{}, errors.New("hips, knees and ankles were not all seen: film the whole runner from the front")
	}
	n := smooth.Frames()
	seen := func(i int) bool {
		return smooth.Paths[hip].Seen(i) && smooth.Paths[knee].Seen(i) && smooth.Paths[ankle].Seen(i)
	}
	height, across := make([]float64, n), make([]float64, 0, n)
	var known []float64
	for i := range height {
		height[i] = math.NaN()
		if seen(i) {
			height[i] = smooth.Paths[ankle].Y[i] - smooth.Paths[hip].Y[i]
			known = append(known, height[i])
		}
		if smooth.Paths[body.LeftHip].Seen(i) && smooth.Paths[body.RightHip].Seen(i) {
			across = append(across, smooth.Paths[body.LeftHip].X[i]-smooth.Paths[body.RightHip].X[i])
		}
	}
	if len(known) < n/2 || len(known) < 10 || len(across) == 0 {
		return Lows{}, errors.New("the leg was seen in too few frames: film the whole runner from the front, in even light")
	}
	slices.Sort(known)
	stand := known[len(known)*9/10]
	if !(stand > 0) {
		return Lows{}, errors.New("the ankle lies above the hip in the picture: turn the film upright")
	}
	if agree.MeanOf(across).Value <= 0 {
		return Lows{}, errors.New("the left hip is at the left of the picture, so this was filmed from behind: film from the front")
	}
	if s, f := travel(smooth.Paths[ankle]), travel(smooth.Paths[free]); s > 0.03*stand && s > 1.5*f {
		return Lows{}, fmt.Errorf("the %s foot moves more than the %s one, so the runner stands on the %s leg: choose that side", side, other, other)
	}
	angle := func(t *track.Track, i int) float64 {
		h, k, a := t.Paths[hip], t.Paths[knee], t.Paths[ankle]
		// From the front the runner's left is at the right of the picture.
		inward := 1.0
		if side == body.Left {
			inward = -1
		}
		lean := func(p, q *track.Path) float64 { return math.Atan2(inward*(q.X[i]-p.X[i]), q.Y[i]-p.Y[i]) }
		return (lean(h, k) - lean(k, a)) * 180 / math.Pi
	}
	// The ankle is lowest, and so farthest down the picture, with the foot on the floor.
	var ground []float64
	for i, y := range smooth.Paths[ankle].Y {
		if seen(i) {
			ground = append(ground, y)
		}
	}
	slices.Sort(ground)
	floor := ground[len(ground)*9/10]
	out := Lows{NoiseDeg: math.NaN()}
	var shakes []float64
	var frames float64
	for i := 0; i < n; i++ {
		if !(height[i] < stand*(1-leastDip)) {
			continue
		}
		low, end := i, i
		for end < n && !(height[end] > stand*(1-backUp)) {
			if height[end] < height[low] {
				low = end
			}
			end++
		}
		switch {
		case i == 0 || end == n:
			out.Cut++
		case floor-smooth.Paths[ankle].Y[low] > liftedShare*(stand-height[low]):
			out.Lifted++
		case smooth.TimeS[end-1]-smooth.TimeS[i] >= leastRepS:
			var around []float64
			for k := i; k < end; k++ {
				if !seen(k) {
					continue
				}
				if math.Abs(smooth.TimeS[k]-smooth.TimeS[low]) <= aroundLowS {
					around = append(around, angle(smooth, k))
				}
				if shake := angle(raw, k) - angle(smooth, k); !math.IsNaN(shake) {
					shakes = append(shakes, shake)
				}
			}
			frames += float64(len(around))
			out.Lows = append(out.Lows, Low{TimeS: smooth.TimeS[low], AngleDeg: agree.MeanOf(around).Value, DepthPercent: 100 * (1 - height[low]/stand)})
		}
		i = end
	}
	if len(out.Lows) == 0 {
		if out.Lifted > 0 {
			return out, fmt.Errorf("the %s foot is lifted from the floor %d time(s), as in running, and no squat on that leg was found: choose the leg that stands, or film the test itself", side, out.Lifted)
		}
		if out.Cut > 0 {
			return out, errors.New("the film begins or ends within the only repetition: start filming before it and stop after it")
		}
		return out, fmt.Errorf("no repetition was found in which the hip sank by %.0f %% of its height: bend deeper, or film the whole of it", 100*leastDip)
	}
	// A film so slow that smoothing takes nothing away does not tell it.
	if shake := agree.MeanOf(shakes).SD; len(shakes) > 2 && shake > 0 {
		out.NoiseDeg = shake / math.Sqrt(frames/float64(len(out.Lows)))
	}
	return out, nil
}

// travel is the SD of where a point is, in both axes together.
func travel(p *track.Path) float64 {
	sd := func(v []float64) float64 {
		var known []float64
		for _, x := range v {
			if !math.IsNaN(x) {
				known = append(known, x)
			}
		}
		return agree.MeanOf(known).SD
	}
	return math.Hypot(sd(p.X), sd(p.Y))
}
