package track

import (
	"math"
	"sync"

	"gaitwright/gait/body"
	"gaitwright/num/signal"
)

// The pose network's idea of a hip, a heel or a toe is not the anatomical point:
// its hip rides on the surface of the thigh, its toe lies behind the tip of the
// shoe. Seen from the side the difference turns with the segment, and makes knee
// flexion read 4 to 7 degrees too small. Anatomical takes the mean difference
// away.
//
// A difference is modelled as a fixed part and parts that turn with the segments
// beside the point, in leg lengths (thigh plus shank in the picture):
//
//	forward, up = Σ coefficient · basis
//	hip    basis 1, sin t, cos t
//	knee   basis 1, sin t, cos t, sin s, cos s
//	ankle  basis 1, sin s, cos s
//	foot   basis 1, sin f, cos f, sin s, cos s
//
// with t and s the directions of thigh and shank from straight down, forward
// positive, and f the direction of the heel-toe line from level, toes up
// positive. Heel and toe move together, by the heel's difference: moving each by
// its own makes the foot's angle worse.
//
// The coefficients were fitted by ridge regression to the full model's raw
// landmarks on rendered clips of two real runners' measured motion at 3.5 m/s
// (Fukuchi, Fukuchi & Duarte 2017, PeerJ 5:e3298), both legs together. Fitted on
// one runner and tried on the other the bias of knee flexion falls from -3.5 to
// -6.8 degrees to between -1.4 and +0.7, of the thigh from -2.2 to -5.1 to
// between -0.9 and +0.3. But those two wear one drawn body. On an independently
// drawn one, the synthetic runner, the difference is another: there the whole
// correction makes knee flexion at contact read 4 to 7 degrees too large, where
// the raw landmarks are right to 2. One drawn body is worth as much as the other,
// so half of the difference is taken away, which serves both alike; what remains
// is an error between bodies and is counted in the error of each measure.
type difference struct {
	point       body.Landmark // left; the right is the same
	forward, up []float64
}

var differences = [...]difference{
	{body.LeftHip, []float64{-.0810, -.1039, .0699}, []float64{.1030, -.0033, -.0866}},
	{body.LeftKnee, []float64{-.0399, -.0086, .0358, -.0243, .0086}, []float64{.0813, -.0209, -.0662, .0489, -.0081}},
	{body.LeftAnkle, []float64{-.0270, -.0158, .0188}, []float64{.0059, .0150, -.0062}},
	{body.LeftHeel, []float64{-.0148, .0227, -.0546, -.0038, .0201}, []float64{-.0251, -.1123, .0166, .0356, -.0197}},
}

// ofLeg are the points of the left leg that are moved.
var ofLeg = [...]body.Landmark{body.LeftHip, body.LeftKnee, body.LeftAnkle, body.LeftHeel, body.LeftToe}

// shared is the part of the difference that two drawn bodies have in common.
const shared = 0.5

// Anatomical returns a copy of a side view in runner space in which the pose
// model's landmarks of the legs stand where the anatomical points are, as far as
// the mean difference is known. Paths of another origin stay as they are.
func Anatomical(t *Track) *Track { return AnatomicalAgain(t, nil, nil) }

// AnatomicalAgain is Anatomical for a track of which an earlier form, before, on the
// same clock gave was: a leg whose paths are still the same ones is shared with it. Both
// may be nil.
func AnatomicalAgain(t, before, was *Track) *Track {
	out := New(t.Space, t.Unit, t.TimeS)
	out.Paths = t.Paths
	var legs sync.WaitGroup
	for _, s := range body.Sides {
		again := before != nil
		for _, l := range ofLeg {
			again = again && t.Paths[l.On(s)] == before.Paths[l.On(s)]
		}
		for _, l := range ofLeg {
			if again {
				out.Paths[l.On(s)] = was.Paths[l.On(s)]
			} else {
				out.Paths[l.On(s)] = t.Paths[l.On(s)].Clone()
			}
		}
		if !again {
			legs.Go(func() { out.standAnatomical(t, s) })
		}
	}
	legs.Wait()
	return out
}

// standAnatomical moves the points of one leg of a copy of t, whose legs share no
// memory.
func (out *Track) standAnatomical(t *Track, s body.Side) {
	l := func(l body.Landmark) *Path { return t.Paths[l.On(s)] }
	hip, knee, ankle, heel, toe := l(body.LeftHip), l(body.LeftKnee), l(body.LeftAnkle), l(body.LeftHeel), l(body.LeftToe)
	leg := sideLegLength(hip, knee, ankle)
	if !(leg > 0) {
		return
	}
	for i := range t.TimeS {
		tilt := func(a, b *Path) (sin, cos float64) {
			dx, dy := b.X[i]-a.X[i], a.Y[i]-b.Y[i]
			n := math.Hypot(dx, dy)
			return dx / n, dy / n
		}
		if !(hip.Seen(i) && knee.Seen(i) && ankle.Seen(i)) {
			continue
		}
		sinT, cosT := tilt(hip, knee)
		sinS, cosS := tilt(knee, ankle)
		thigh := [...]float64{1, sinT, cosT, sinS, cosS}
		shank := [...]float64{1, sinS, cosS}
		var foot [5]float64
		footSeen := heel.Seen(i) && toe.Seen(i)
		if footSeen {
			n := math.Hypot(toe.X[i]-heel.X[i], toe.Y[i]-heel.Y[i])
			foot = [...]float64{1, (toe.Y[i] - heel.Y[i]) / n, (toe.X[i] - heel.X[i]) / n, sinS, cosS}
		}
		for _, d := range differences {
			basis := thigh[:]
			switch d.point {
			case body.LeftAnkle:
				basis = shank[:]
			case body.LeftHeel:
				if !footSeen {
					continue
				}
				basis = foot[:]
			}
			forward, up := 0.0, 0.0
			for k := range d.forward {
				forward += shared * leg * d.forward[k] * basis[k]
				up += shared * leg * d.up[k] * basis[k]
			}
			move := func(l body.Landmark) {
				if p := out.Paths[l.On(s)]; p.Origin == PoseModel {
					p.X[i] += forward
					p.Y[i] += up
				}
			}
			move(d.point)
			if d.point == body.LeftHeel {
				move(body.LeftToe)
			}
		}
	}
}

// sideLegLength is the median of thigh plus shank of one leg; 0 where they were
// never seen together on both axes.
func sideLegLength(hip, knee, ankle *Path) float64 {
	if hip == nil || knee == nil || ankle == nil || hip.X == nil || knee.X == nil || ankle.X == nil {
		return 0
	}
	v := make([]float64, 0, len(hip.X))
	for i := range hip.X {
		if hip.Seen(i) && knee.Seen(i) && ankle.Seen(i) {
			v = append(v, distance(hip, knee, i)+distance(knee, ankle, i))
		}
	}
	if len(v) == 0 {
		return 0
	}
	return signal.MedianInPlace(v)
}
