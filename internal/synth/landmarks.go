package synth

import (
	"math"
	"math/rand/v2"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/track"
)

// Clock returns even frame times from 0, rateHz frames a second for so many
// seconds.
func Clock(rateHz, seconds float64) []float64 {
	t := make([]float64, int(math.Round(rateHz*seconds)))
	for i := range t {
		t[i] = float64(i) / rateHz
	}
	return t
}

// UnevenClock is Clock with frames that come early or late, as phones record
// them: uniformly up to jitter (a share of the frame interval below 0.5), and
// now and then one frame left out.
func UnevenClock(rateHz, seconds, jitter, dropped float64, seed uint64) []float64 {
	rng := rand.New(rand.NewPCG(seed, 77))
	var t []float64
	for i := range int(math.Round(rateHz * seconds)) {
		j := (2*rng.Float64() - 1) * jitter
		if rng.Float64() < dropped && i > 0 {
			continue
		}
		t = append(t, max(0, float64(i)+j)/rateHz)
	}
	return t
}

// Spatial returns the exact landmarks in runner space, metres, at the given
// times (s, increasing, from 0 to the runner's duration): pose landmarks and
// stickers.
func (r *Runner) Spatial(timeS []float64) *track.Track {
	out := track.New(track.Runner, track.Metre, append([]float64(nil), timeS...))
	for l := range body.NumLandmarks {
		out.Paths[l] = &track.Path{Origin: track.Synthetic, X: make([]float64, len(timeS)), Y: make([]float64, len(timeS)), Z: make([]float64, len(timeS))}
	}
	for i, t := range timeS {
		p := r.At(t)
		for l, v := range p.landmarks() {
			q := out.Paths[l]
			q.X[i], q.Y[i], q.Z[i] = v.X, v.Y, v.Z
		}
	}
	return out
}

// Track returns the exact landmarks as the camera sees them, in pixels: all pose
// landmarks, and the stickers that face the camera. Confidence falls where a
// limb or the trunk hides a point.
func (r *Runner) Track(timeS []float64, cam Camera) *track.Track {
	out := track.New(track.Picture, track.Pixel, append([]float64(nil), timeS...))
	n := len(timeS)
	for l := range body.NumLandmarks {
		if faces(cam.View, l) {
			out.Paths[l] = &track.Path{Origin: track.Synthetic, X: make([]float64, n), Y: make([]float64, n), Confidence: make([]float64, n)}
		}
	}
	eye := cam.lens()
	for i, t := range timeS {
		p := r.At(t)
		hides := p.solids()
		for l, v := range p.landmarks() {
			q := out.Paths[l]
			if q == nil {
				continue
			}
			x, y, depth := eye.project(v)
			if depth <= 0.05 {
				x, y = math.NaN(), math.NaN()
			}
			q.X[i], q.Y[i] = x, y
			q.Confidence[i] = confidence(&eye, v, body.Landmark(l), hides)
		}
	}
	return out
}

// faces tells whether a landmark can be given from a view: every pose landmark,
// and stickers on the side turned to the camera.
func faces(v clip.View, l body.Landmark) bool {
	if l < body.NumPose {
		return true
	}
	switch v {
	case clip.LeftSide:
		return l.Side() != body.Right
	case clip.RightSide:
		return l.Side() != body.Left
	}
	inFront := false
	switch l.On(body.Left) {
	case body.LeftASIS, body.LeftMT1, body.LeftMT5:
		inFront = true
	}
	return inFront == (v == clip.Front)
}

// WithoutStickers returns the track with the pose landmarks alone.
func WithoutStickers(t *track.Track) *track.Track {
	c := t.Clone()
	for l := body.NumPose; l < body.NumLandmarks; l++ {
		c.Paths[l] = nil
	}
	return c
}

// Noise is random error of landmarks.
type Noise struct {
	SD float64 // of each axis, in the track's unit
	// HiddenFactor multiplies SD by 1 where a point is in full sight, up to
	// itself where it is hidden (confidence 0); 0 stands for 1.
	HiddenFactor float64
	// Autocorrelation from one frame to the next, 0 (white) to below 1. The SD
	// stays.
	Autocorrelation float64
	Seed            uint64
}

// Noisy returns the track with noise added to every landmark.
func Noisy(t *track.Track, n Noise) *track.Track {
	c := t.Clone()
	hidden := n.HiddenFactor
	if hidden == 0 {
		hidden = 1
	}
	keep := math.Sqrt(1 - n.Autocorrelation*n.Autocorrelation)
	for l, p := range c.Paths {
		if p == nil {
			continue
		}
		for a, axis := range [...][]float64{p.X, p.Y, p.Z} {
			rng := rand.New(rand.NewPCG(n.Seed, uint64(l)<<2|uint64(a)))
			e := rng.NormFloat64()
			for i := range axis {
				if i > 0 {
					e = n.Autocorrelation*e + keep*rng.NormFloat64()
				}
				conf := min(1, p.ConfidenceAt(i))
				axis[i] += n.SD * (1 + (hidden-1)*(1-conf)) * e
			}
		}
	}
	return c
}

// solid is a part of the body thick enough to hide what lies behind it.
type solid struct {
	a, b   Vec
	radius float64
	owns   [3]body.Landmark // which lie on it and are not hidden by it
}

func (p *Posture) solids() []solid {
	k := p.heightM / 1.75
	out := []solid{
		{p.mid, p.neck, 0.125 * k, [3]body.Landmark{}},
		{p.skull.add(Vec{Y: -0.03 * k}), p.skull.add(Vec{Y: 0.05 * k}), 0.085 * k, [3]body.Landmark{}},
	}
	for i, s := range body.Sides {
		l, a := &p.legs[i], &p.arms[i]
		on := func(ls ...body.Landmark) (o [3]body.Landmark) {
			for j, x := range ls {
				o[j] = x.On(s)
			}
			return o
		}
		out = append(out,
			solid{l.hip, l.knee, 0.070 * k, on(body.LeftHip, body.LeftKnee)},
			solid{l.knee, l.ankle, 0.048 * k, on(body.LeftKnee, body.LeftAnkle, body.LeftHeel)},
			solid{a.shoulder, a.elbow, 0.042 * k, on(body.LeftShoulder, body.LeftElbow)},
			solid{a.elbow, a.wrist, 0.034 * k, on(body.LeftElbow, body.LeftWrist)})
	}
	return out
}

// confidence is 0.97 in full sight and 0.4 behind another part of the body, with
// a soft edge (both invented).
func confidence(eye *lens, v Vec, l body.Landmark, hides []solid) float64 {
	const seen, hidden, soft = 0.97, 0.40, 0.03
	ray := v.sub(eye.Position)
	far := ray.norm()
	ray = ray.mul(1 / far)
	cover := 0.0
	for _, h := range hides {
		if l != body.Nose && (l == h.owns[0] || l == h.owns[1] || l == h.owns[2]) {
			continue
		}
		// Closest approach of the ray and the axis of the solid.
		axis := h.b.sub(h.a)
		toA := h.a.sub(eye.Position)
		aa, ar, at := axis.dot(axis), axis.dot(ray), axis.dot(toA)
		u := max(0, min(1, (ar*ray.dot(toA)-at)/(aa-ar*ar)))
		q := toA.add(axis.mul(u))
		depth := q.dot(ray)
		if depth > far-0.6*h.radius {
			continue
		}
		miss := q.sub(ray.mul(depth)).norm()
		cover = max(cover, min(1, (h.radius-miss)/soft+0.5))
	}
	return seen - (seen-hidden)*max(0, cover)
}
