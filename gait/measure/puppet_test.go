package measure

import (
	"math"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/event"
	"gaitwright/gait/track"
)

// puppet is a stick figure whose every angle is known: it does not run as people
// do, but each quantity measured has an exact answer.
type puppet struct {
	rateHz, seconds float64
	strideS, duty   float64
	rightLate       float64 // share of the stride by which the right contact is later than half
	origin          track.Origin
	noise           func() float64 // added to every coordinate, metres; nil for none
	noiseM          float64
	shiftS          float64 // added to the clock
	at              [3]float64
	scale           float64 // of all lengths; 0 means 1
	drop            [3]float64
	valgus          [3]float64
	thighIn         [3]float64
	width           float64
	footAtContact   [3]float64
	footOffset      float64 // of the heel-toe line when flat
	lean, leanRight float64
	whip            [3]float64
}

func plainPuppet() puppet {
	return puppet{
		rateHz: 240, seconds: 12, strideS: 0.72, duty: 0.36, origin: track.Synthetic,
		drop: [3]float64{0, 4, 6}, valgus: [3]float64{0, 3, 5}, thighIn: [3]float64{0, 7, 9}, width: 0.05,
		footAtContact: [3]float64{0, 14, 11}, footOffset: -9, lean: 7, leanRight: 1.5, whip: [3]float64{0, 6, -4},
	}
}

// Segment lengths of the puppet, metres.
const (
	puppetThigh, puppetShank, puppetFoot, puppetTrunk = 0.42, 0.43, 0.20, 0.50
	puppetHips, puppetShoulders                       = 0.20, 0.36
	puppetRise                                        = 0.08
)

// bump is a smooth hill of height 1 over the shares from a to b of a cycle, 0
// outside.
func bump(phase, a, b float64) float64 {
	if phase <= a || phase >= b {
		return 0
	}
	return (1 - math.Cos(2*math.Pi*(phase-a)/(b-a))) / 2
}

// phase is the share of the side's own stride at time t, 0 at contact.
func (p puppet) phase(s body.Side, t float64) float64 {
	x := t / p.strideS
	if s == body.Right {
		x -= 0.5 + p.rightLate
	}
	return x - math.Floor(x)
}

// The puppet's angles in degrees at a share of its stride.
func (p puppet) thigh(phase float64) float64 { return 5 + 25*math.Cos(2*math.Pi*phase) }
func (p puppet) kneeFlexion(phase float64) float64 {
	return 12 + 30*(bump(phase, -0.05, 0.35)+bump(phase-1, -0.05, 0.35)) + 85*bump(phase, 0.4, 0.95)
}
func (p puppet) foot(s body.Side, phase float64) float64 {
	// Falls from the angle at contact to flat within a tenth of the stride, lies
	// flat, and from a quarter of the stride on points down until late swing.
	switch {
	case phase < 0.06:
		return p.footAtContact[s] * (1 + math.Cos(math.Pi*phase/0.06)) / 2
	case phase < 0.2:
		return 0
	case phase < 0.5:
		return -80 * (1 - math.Cos(math.Pi*(phase-0.2)/0.3)) / 2
	case phase < 0.95:
		return -80 + (80+p.footAtContact[s])*(1-math.Cos(math.Pi*(phase-0.5)/0.45))/2
	}
	return p.footAtContact[s]
}
func (p puppet) turn(s body.Side, phase float64) float64 {
	return p.whip[s] * bump(phase, p.duty, p.duty+0.24*(1-p.duty)/1)
}
func (p puppet) height(t float64) float64 {
	// Two rises a stride: lowest in mid-stance.
	return 0.92 - puppetRise/2*math.Cos(4*math.Pi*(t/p.strideS-p.duty/2))
}

// track builds the figure in all three axes.
func (p puppet) track() *track.Track {
	n := int(p.seconds * p.rateHz)
	times := make([]float64, n)
	for i := range times {
		times[i] = float64(i)/p.rateHz + p.shiftS
	}
	t := track.New(track.Runner, track.Metre, times)
	scale := p.scale
	if scale == 0 {
		scale = 1
	}
	set := func(l body.Landmark, i int, x, y, z float64) {
		if t.Paths[l] == nil {
			t.Paths[l] = &track.Path{Origin: p.origin, X: make([]float64, n), Y: make([]float64, n), Z: make([]float64, n)}
		}
		if p.noise != nil {
			x, y, z = x+p.noiseM*p.noise(), y+p.noiseM*p.noise(), z+p.noiseM*p.noise()
		}
		t.Paths[l].X[i], t.Paths[l].Y[i], t.Paths[l].Z[i] = scale*x+p.at[0], scale*y+p.at[1], scale*z+p.at[2]
	}
	tan := func(deg float64) float64 { return math.Tan(deg / degPerRad) }
	for i := range times {
		now := times[i] - p.shiftS
		y := p.height(now)
		// Which foot's stance decides which hip is high.
		high := 0.0
		for _, s := range body.Sides {
			high += -s.Sign() * p.drop[s] * bump(p.phase(s, now), 0, p.duty)
		}
		tilt := puppetHips * tan(high) / 2
		sinLean, cosLean := math.Sincos(p.lean / degPerRad)
		shoulderX, shoulderY := puppetTrunk*sinLean, y+puppetTrunk*cosLean
		shoulderZ := puppetTrunk * cosLean * tan(p.leanRight)
		for _, s := range body.Sides {
			phase := p.phase(s, now)
			thigh := p.thigh(phase)
			shank := thigh - p.kneeFlexion(phase)
			foot := p.foot(s, phase) + p.footOffset
			hx, hy, hz := 0.0, y-s.Sign()*tilt, s.Sign()*puppetHips/2
			set(body.LeftHip.On(s), i, hx, hy, hz)
			sin, cos := math.Sincos(thigh / degPerRad)
			kx, ky := hx+puppetThigh*sin, hy-puppetThigh*cos
			kz := hz - s.Sign()*(hy-ky)*tan(p.thighIn[s])
			set(body.LeftKnee.On(s), i, kx, ky, kz)
			sin, cos = math.Sincos(shank / degPerRad)
			ax, ay := kx+puppetShank*sin, ky-puppetShank*cos
			az := kz - s.Sign()*(ky-ay)*tan(p.thighIn[s]-p.valgus[s])
			set(body.LeftAnkle.On(s), i, ax, ay, az)
			// Heels at a known width, whatever the leg does.
			heelX, heelY, heelZ := ax-0.05, ay-0.05, s.Sign()*p.width/2
			set(body.LeftHeel.On(s), i, heelX, heelY, heelZ)
			sin, cos = math.Sincos(foot / degPerRad)
			toeX, toeY := heelX+puppetFoot*cos, heelY+puppetFoot*sin
			toeZ := heelZ + s.Sign()*(heelY-toeY)*tan(p.turn(s, phase))
			set(body.LeftToe.On(s), i, toeX, toeY, toeZ)
			sz := shoulderZ + s.Sign()*puppetShoulders/2
			set(body.LeftShoulder.On(s), i, shoulderX, shoulderY, sz)
			// Upper arm straight down, forearm straight ahead: elbow at 90°.
			set(body.LeftElbow.On(s), i, shoulderX, shoulderY-0.3, sz)
			set(body.LeftWrist.On(s), i, shoulderX+0.25, shoulderY-0.3, sz-s.Sign()*(0.10+0.05*math.Cos(2*math.Pi*phase)))
			set(body.LeftEar.On(s), i, shoulderX+0.02, shoulderY+0.25, shoulderZ+s.Sign()*0.08)
		}
	}
	return t
}

// contacts are the puppet's exact contacts.
func (p puppet) contacts() event.Series {
	var out event.Series
	for k := 0; ; k++ {
		for _, s := range body.Sides {
			ic := float64(k) * p.strideS
			if s == body.Right {
				ic += (0.5 + p.rightLate) * p.strideS
			}
			to := ic + p.duty*p.strideS
			if to >= p.seconds-1/p.rateHz {
				out.Method = event.FromMotion
				return out
			}
			out.Contacts = append(out.Contacts, event.Contact{Side: s, InitialContactS: ic + p.shiftS, ToeOffS: to + p.shiftS})
		}
	}
}

func (p puppet) input(view clip.View) Input {
	t := p.track()
	for _, path := range t.Paths {
		if path == nil {
			continue
		}
		if !view.Frontal() {
			path.Z = nil
		}
		if !view.Sagittal() {
			path.X = nil
		}
	}
	return Input{
		Info:  clip.Info{View: view, FrameRateHz: p.rateHz, BeltSpeedMPS: 3, Scale: clip.Scale{PixelsPerM: 500, Source: clip.ScaleFromStick}},
		Track: t, Contacts: p.contacts(), Origin: p.origin,
		Runner: Runner{HeightM: 1.75, MassKG: 70},
	}
}

// of finds a measure.
func (o Output) of(name string, s body.Side) Measure {
	for _, m := range o.Measures {
		if m.Name == name && m.Side == s {
			return m
		}
	}
	return Measure{Name: name, Value: math.NaN(), Reason: "not in the output"}
}

// newNoise returns a repeatable source of about normal numbers with SD 1.
func newNoise(seed uint64) func() float64 {
	s := seed
	return func() float64 {
		sum := -6.0
		for range 12 {
			s = s*6364136223846793005 + 1442695040888963407
			sum += float64(s>>11) / (1 << 53)
		}
		return sum
	}
}
