package synth

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gaitwright/gait/body"
	"gaitwright/gait/track"
)

func mustNew(t testing.TB, p Params) *Runner {
	t.Helper()
	r, err := New(p)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// landings are runners who land on heel, whole foot and forefoot, and the
// demonstration with its variation.
func landings() map[string]Params {
	out := map[string]Params{"demo": Demo()}
	for name, angle := range map[string]float64{"rearfoot": 18, "midfoot": 2, "forefoot": -9} {
		p := NewParams(1.78, 3.4, 0)
		p.FootAngleAtContactDeg = Both(angle)
		if angle < 0 {
			p.OverstrideM = Both(0.6 * p.OverstrideM.Left)
		}
		out[name] = p
	}
	p := NewParams(1.66, 4.2, 0)
	p.FootAngleAtContactDeg, p.OverstrideM, p.DutyFactor = Both(-5), Both(0.17), Both(0.27)
	p.Variation, p.Seed = Usual(), 3
	out["fast forefoot"] = p
	for name, p := range out {
		p.DurationS = 6
		out[name] = p
	}
	return out
}

// onBelt returns the place of the outsole that stands on the belt.
func (g *footing) onBelt(t float64) Vec {
	pose := g.pose(t)
	gx, gy := g.yielding(t)
	f := g.shoe.tip
	if g.onHeel(t) {
		f = g.shoe.edge
	}
	// The sole yields between the body of the shoe and the belt.
	return pose.point(f, 0, 0).sub(Vec{gx.v, gy.v, 0})
}

func TestStanceFootStandsOnTheBelt(t *testing.T) {
	for name, p := range landings() {
		r := mustNew(t, p)
		for k := range r.footings {
			g := &r.footings[k]
			const n = 60
			var before Vec
			for i := range n {
				// Up to the last instant before toe-off; the heel and the tip are two
				// places of the shoe, each of which has to stand.
				at := g.fall.contactS + g.fall.stanceS()*(float64(i)+0.5)/n
				v := g.onBelt(at)
				if math.Abs(v.Y) > 1e-9 {
					t.Fatalf("%s: the standing part of contact %d is at height %g m", name, k, v.Y)
				}
				v.X += p.SpeedMPS * (at - g.fall.contactS)
				if i > 0 && g.onHeel(at) == g.onHeel(at-g.fall.stanceS()/n) {
					if d := v.sub(before).norm(); d > 1e-9 {
						t.Fatalf("%s: contact %d slips by %g m", name, k, d)
					}
				}
				before = v
			}
		}
	}
}

// TestFlatFootTravelsAtBeltSpeed looks at the landmarks, as a clip does, in the
// part of stance in which the sole is flat and loaded.
func TestFlatFootTravelsAtBeltSpeed(t *testing.T) {
	p := Demo()
	r := mustNew(t, p)
	for k := 8; k < 20; k++ {
		g := &r.footings[k]
		a, b := math.Max(g.landS, g.fall.contactS+g.giveS)+1e-6, g.riseS-1e-6
		s := r.Spatial([]float64{a, b})
		for _, l := range []body.Landmark{body.LeftHeel, body.LeftToe, body.LeftAnkle, body.LeftMT5} {
			q := s.Paths[l.On(g.fall.side)]
			speed := (q.X[1] - q.X[0]) / (b - a)
			if math.Abs(speed+p.SpeedMPS) > 1e-9 || math.Abs(q.Y[1]-q.Y[0]) > 1e-9 {
				t.Errorf("contact %d: %s travels at %.12f m/s on a belt of %g m/s", k, l, speed, p.SpeedMPS)
			}
		}
	}
}

func TestFootNeverSinksIntoTheBelt(t *testing.T) {
	for name, p := range landings() {
		r := mustNew(t, p)
		low := 0.0
		for i := range 24000 {
			at := 0.1 + float64(i)*0.00024
			st := r.At(at)
			sag := r.sag(at)
			for j := range st.legs {
				f := &st.legs[j].foot
				g := &r.footings[r.fallOf(j, at)]
				for _, part := range [...]float64{f.shoe.edge, f.shoe.ball, f.shoe.tip} {
					y := f.point(part, 0, 0).Y
					// The heel of the drawn sole hangs while it is unloaded.
					if part == f.shoe.edge && g.fall.footAngle > 0 {
						y -= sag[j]
					}
					low = min(low, y)
				}
			}
		}
		if low < -1e-9 {
			t.Errorf("%s: the sole sinks %g m into the belt", name, -low)
		}
	}
}

// TestMovementIsSmooth compares value, speed and acceleration of every landmark
// just before and just after each contact and toe-off.
func TestMovementIsSmooth(t *testing.T) {
	for name, p := range landings() {
		r := mustNew(t, p)
		const h = 2e-5
		for k := 8; k < 16; k++ {
			f := &r.falls[k]
			for _, at := range []float64{f.contactS, f.toeOffS} {
				s := r.Spatial([]float64{at - 3*h, at - 2*h, at - h, at - 1e-12, at + 1e-12, at + h, at + 2*h, at + 3*h})
				for l, q := range s.Paths {
					for axis, v := range [...][]float64{q.X, q.Y, q.Z} {
						jump := v[4] - v[3]
						v0, v1 := (3*v[3]-4*v[2]+v[1])/(2*h), (-3*v[4]+4*v[5]-v[6])/(2*h)
						a0, a1 := (2*v[3]-5*v[2]+4*v[1]-v[0])/(h*h), (2*v[4]-5*v[5]+4*v[6]-v[7])/(h*h)
						if math.Abs(jump) > 1e-9 || math.Abs(v1-v0) > 1e-3 || math.Abs(a1-a0) > 2 {
							t.Fatalf("%s: %s axis %d at %.4f s (contact %v): place jumps %.2g m, speed %.2g m/s, acceleration %.2g m/s² (from %.1f)",
								name, body.Landmark(l), axis, at, at == f.contactS, jump, v1-v0, a1-a0, a0)
						}
					}
				}
			}
		}
	}
}

// TestDerivatives holds the derivatives that join stance and swing against
// differences.
func TestDerivatives(t *testing.T) {
	r := mustNew(t, Demo())
	g := &r.footings[9]
	const h = 1e-4
	for _, share := range []float64{0.05, 0.3, 0.6, 0.9} {
		at := g.fall.contactS + share*g.fall.stanceS()
		get := func(t float64) [5]jet {
			a, b, c, d, e := r.jointsIn(g, t)
			return [5]jet{a, b, c, d, e}
		}
		lo, mid, hi := get(at-h), get(at), get(at+h)
		for i := range mid {
			d, dd := (hi[i].v-lo[i].v)/(2*h), (hi[i].d-lo[i].d)/(2*h)
			if math.Abs(d-mid[i].d) > 2e-3 || math.Abs(dd-mid[i].dd) > 0.5 {
				t.Errorf("joint %d at %.0f %% of stance: speed %.5f by difference %.5f, acceleration %.3f by difference %.3f", i, 100*share, mid[i].d, d, mid[i].dd, dd)
			}
		}
	}
}

// TestLandingLooksLikeALanding: the heel still moves against the belt at contact
// and stops within some hundredths of a second, with several g.
func TestLandingLooksLikeALanding(t *testing.T) {
	p := NewParams(1.75, 3.5, 0)
	r := mustNew(t, p)
	f := &r.falls[10]
	heel := body.LeftHeel.On(f.side)
	const h = 1e-4
	var most float64
	for i := range 400 {
		at := f.contactS + float64(i)*h
		s := r.Spatial([]float64{at - h, at, at + h}).Paths[heel].Y
		most = max(most, (s[0]-2*s[1]+s[2])/(h*h))
	}
	s := r.Spatial([]float64{f.contactS - h, f.contactS + h}).Paths[heel]
	down, forward := -(s.Y[1]-s.Y[0])/(2*h), (s.X[1]-s.X[0])/(2*h)+p.SpeedMPS
	if down < 0.4 || down > 1.2 || forward < 0.8 || most < 25 || most > 200 {
		t.Errorf("at contact the heel goes down at %.2f m/s and forward against the belt at %.2f m/s, then brakes with %.0f m/s²", down, forward, most)
	}
}

func TestFlightIsFreeFall(t *testing.T) {
	r := mustNew(t, Demo())
	for k := 5; k < 25; k++ {
		for _, u := range []float64{0.1, 0.5, 0.9} {
			at := r.falls[k].toeOffS + u*(r.falls[k+1].contactS-r.falls[k].toeOffS)
			if a := r.pelvis(at).y.dd; a != -gravityMPS2 {
				t.Fatalf("in flight the hips accelerate with %g m/s²", a)
			}
		}
	}
}

// TestExcursion checks height from times against published arithmetic: the fall
// in stance by Morin et al. 2005, J Appl Biomech 21:167-180 (worked values), and
// the flight's g·tf²/8.
func TestExcursion(t *testing.T) {
	for _, c := range []struct{ tc, tf, fall float64 }{
		{0.250, 0.100, 0.05997}, {0.220, 0.120, 0.05744}, {0.260, 0.080, 0.05513},
		{0.190, 0.140, 0.05363}, {0.2788, 0.1036, 0.07114}, {0.2244, 0.1260, 0.06102},
	} {
		want := c.fall + gravityMPS2*c.tf*c.tf/8
		if got := excursion(c.tc, c.tf, 0); math.Abs(got-want) > 2e-5 {
			t.Errorf("contact %.4f s, flight %.4f s: %.5f m, want %.5f", c.tc, c.tf, got, want)
		}
	}
	p := NewParams(1.75, 3.5, 0)
	p.VerticalOscillationM = 0.085
	if got, _ := mustNew(t, p).Truth(0, 10, HipPoints).Value("vertical_oscillation", body.NoSide); math.Abs(got-0.085) > 2e-4 {
		t.Errorf("vertical oscillation %.4f m, asked for 0.085", got)
	}
	p.VerticalOscillationM = 0.2
	if _, err := New(p); err == nil || !strings.Contains(err.Error(), "vertical oscillation") {
		t.Errorf("an impossible vertical oscillation gives %v", err)
	}
}

// TestParametersComeOut: without variation the truth repeats what was asked for.
func TestParametersComeOut(t *testing.T) {
	p := NewParams(1.78, 3.3, 168)
	p.DutyFactor = Sided{0.35, 0.33}
	p.FootAngleAtContactDeg = Sided{14, 10}
	p.OverstrideM = Sided{0.17, 0.21}
	p.KneeFlexionAtContactDeg = Sided{13, 17}
	p.KneeValgusDeg = Sided{-2, 9}
	p.PelvicDropDeg = Sided{3, 7}
	p.SwingKneeFlexionDeg = Sided{96, 104}
	p.StepWidthM = -0.02
	p.HeelWhipDeg = Sided{6, -9}
	p.StepTimeSkew = 0.04
	p.TrunkLeanDeg = 9
	p.DurationS = 12
	truth := mustNew(t, p).Truth(0, 12, HipPoints)
	step := 60.0 / 168
	for _, c := range []struct {
		name        string
		side        body.Side
		want, slack float64
	}{
		{"step_rate", body.NoSide, 168, 0.3},
		{"contact_time", body.Left, 2 * step * 0.35, 1e-9},
		{"contact_time", body.Right, 2 * step * 0.33, 1e-9},
		{"duty_factor", body.Left, 0.35, 1e-9},
		{"step_time_asymmetry", body.NoSide, 4, 1e-9}, // the right step ends the longer interval
		{"step_length", body.Right, 3.3 * step * 1.02, 1e-9},
		{"foot_angle_at_contact", body.Left, 14, 0.1}, // the toe-out shortens the line seen from the side
		{"foot_angle_at_contact", body.Right, 10, 0.1},
		{"overstride", body.Left, 0.17, 1e-9},
		{"overstride", body.Right, 0.21, 1e-9},
		{"knee_flexion_at_contact", body.Left, 13, 0.6}, // in space against in the sagittal plane
		{"knee_flexion_at_contact", body.Right, 17, 0.6},
		{"knee_frontal_angle", body.Left, -2, 0.4}, // mean of a fifth of stance against its peak
		{"knee_frontal_angle", body.Right, 9, 0.6},
		{"pelvic_drop", body.Left, 3, 0.1},
		{"pelvic_drop", body.Right, 7, 0.1},
		{"knee_flexion_peak_swing", body.Left, 96, 1.5},
		{"step_width", body.NoSide, -0.02, 1e-4},
		{"heel_whip", body.Left, 6, 1},
		{"heel_whip", body.Right, -9, 1},
		{"crossover_share", body.NoSide, 100, 0},
		{"trunk_lean", body.NoSide, 9, 1.3},
	} {
		got, ok := truth.Value(c.name, c.side)
		if !ok || !(math.Abs(got-c.want) <= c.slack) {
			t.Errorf("%s %s is %.5f, want %.5f ± %g", c.name, c.side, got, c.want, c.slack)
		}
	}
}

// TestFaultsShow: each fault of the demonstration is in its truth.
func TestFaultsShow(t *testing.T) {
	p := Demo()
	truth := mustNew(t, p).Truth(0, 20, HipPoints)
	plain := NewParams(p.HeightM, p.SpeedMPS, 0)
	usual := mustNew(t, plain).Truth(0, 20, HipPoints)
	get := func(tr *Truth, name string, s body.Side) float64 {
		v, ok := tr.Value(name, s)
		if !ok {
			t.Fatalf("no %s", name)
		}
		return v
	}
	if d := get(truth, "knee_frontal_angle", DemoSideWithFault) - get(truth, "knee_frontal_angle", DemoSideWithFault.Other()); d < 6 {
		t.Errorf("the knees differ by %.1f°", d)
	}
	if d := get(usual, "step_rate", body.NoSide) - get(truth, "step_rate", body.NoSide); d < 10 {
		t.Errorf("the step rate is only %.0f below the usual one", d)
	}
	if d := get(truth, "overstride", body.Left) - get(usual, "overstride", body.Left); d < 0.04 {
		t.Errorf("the heel lands only %.3f m farther ahead than usual", d)
	}
	if d := get(truth, "thigh_angle_at_toe_off", body.Right) - get(usual, "thigh_angle_at_toe_off", body.Right); d < 2 {
		t.Errorf("the thigh is only %.1f° less far behind than usual", d)
	}
}

func TestMirroredRunnerSwapsSides(t *testing.T) {
	p := Demo()
	r, m := mustNew(t, p), mustNew(t, p.Mirror())
	times := Clock(97, 5)
	want, got := r.Spatial(times).Mirror(0), m.Spatial(times)
	for l := range want.Paths {
		a, b := want.Paths[l], got.Paths[l]
		for i := range times {
			if d := math.Abs(a.X[i]-b.X[i]) + math.Abs(a.Y[i]-b.Y[i]) + math.Abs(a.Z[i]-b.Z[i]); d > 1e-9 {
				t.Fatalf("%s of the mirrored runner is %g m off in frame %d", body.Landmark(l), d, i)
			}
		}
	}
	a, b := r.Truth(0, 8, Spines), m.Truth(0, 8, Spines)
	for _, e := range a.All() {
		v, ok := b.Value(e.Name, e.Side.Other())
		want := e.Value
		if strings.HasSuffix(e.Name, "asymmetry") {
			want = -want
		}
		if !ok || math.Abs(v-want) > 1e-6*math.Max(1, math.Abs(want)) {
			t.Errorf("%s %s is %.6f, mirrored %.6f", e.Name, e.Side, want, v)
		}
	}
}

func TestSeedDecides(t *testing.T) {
	p := Demo()
	a, b := mustNew(t, p), mustNew(t, p)
	p.Seed++
	c := mustNew(t, p)
	p.Seed--
	p.Variation.KneeValgusDeg = 0
	d := mustNew(t, p)
	times := Clock(30, 4)
	x, y, z, w := a.Spatial(times).Paths[body.LeftToe].X, b.Spatial(times).Paths[body.LeftToe].X, c.Spatial(times).Paths[body.LeftToe].X, d.Spatial(times).Paths[body.LeftToe].X
	same, differ := true, false
	for i := range times {
		same = same && x[i] == y[i] && math.Abs(x[i]-w[i]) < 1e-12
		differ = differ || x[i] != z[i]
	}
	if !same || !differ {
		t.Errorf("same seed same movement: %v; other seed other movement: %v", same, differ)
	}
}

// TestVariation: the spread asked for is the spread of the footfalls, and
// neighbours resemble each other as asked.
func TestVariation(t *testing.T) {
	p := NewParams(1.75, 3, 0)
	p.Variation = Variation{OverstrideM: 0.01, Autocorrelation: 0.6}
	p.DurationS = 900
	falls := schedule(&p)
	var v []float64
	for _, f := range falls {
		if f.side == body.Left {
			v = append(v, f.over)
		}
	}
	mean, sd := meanSD(v)
	var lag float64
	for i := 1; i < len(v); i++ {
		lag += (v[i] - mean) * (v[i-1] - mean) / (sd * sd) / float64(len(v)-1)
	}
	// 1,200 strides: the standard error of the spread is about 3 %, clipping at
	// 2.5 SD takes 2 % more.
	if math.Abs(sd-0.01) > 0.001 || math.Abs(lag-0.6) > 0.08 || math.Abs(mean-p.OverstrideM.Left) > 0.002 {
		t.Errorf("%d strides: mean %.4f, SD %.4f, lag-1 correlation %.2f", len(v), mean, sd, lag)
	}
}

func TestBadParametersAreNamed(t *testing.T) {
	for _, c := range []struct {
		change func(p *Params)
		say    string
	}{
		{func(p *Params) { p.HeightM = 17.5 }, "height"},
		{func(p *Params) { p.SpeedMPS = math.NaN() }, "belt speed"},
		{func(p *Params) { p.DutyFactor.Left = 0.6 }, "duty factor"},
		{func(p *Params) { p.DutyFactor = Both(0.49); p.Variation.StepTimeS = 0.02 }, "flight"},
		{func(p *Params) { p.Variation.OverstrideM = -1 }, "variation"},
		{func(p *Params) { p.HipExtensionShiftDeg.Right = 10 }, "hip extension"},
		{func(p *Params) { p.SpeedMPS, p.StepRateSPM = 7.5, 130 }, "reach"},
		{func(p *Params) { p.DurationS = 0 }, "duration"},
	} {
		p := NewParams(1.75, 3.2, 0)
		c.change(&p)
		if _, err := New(p); err == nil || !strings.Contains(err.Error(), c.say) {
			t.Errorf("expected an error about %s, got %v", c.say, err)
		}
	}
}

// TestUsualRunners: over ordinary speeds, step rates and statures the defaults
// with usual variation are a runner.
func TestUsualRunners(t *testing.T) {
	for _, speed := range []float64{2.5, 3, 3.5, 4, 5} {
		for _, rate := range []float64{0, 155, 170, 185} {
			for _, height := range []float64{1.6, 1.75, 1.9} {
				p := NewParams(height, speed, rate)
				p.Variation, p.DurationS = Usual(), 10
				if _, err := New(p); err != nil {
					t.Errorf("%.2f m at %.1f m/s and %.0f steps/min: %v", height, speed, p.StepRateSPM, err)
				}
			}
		}
	}
}

// TestAnyRunner: whatever the parameters, there is either a clear error or a
// runner without gaps whose legs keep their length.
func TestAnyRunner(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		between := func(name string, lo, hi float64) float64 { return rapid.Float64Range(lo, hi).Draw(t, name) }
		p := NewParams(between("height", 1.5, 2), between("speed", 2.2, 5.5), between("rate", 150, 195))
		p.DurationS = 2
		p.FootAngleAtContactDeg = Sided{between("foot left", -12, 25), between("foot right", -12, 25)}
		p.OverstrideM.Left += between("over", -0.06, 0.06)
		p.KneeFlexionAtContactDeg.Right = between("knee", 8, 25)
		p.HipExtensionShiftDeg.Left = between("hip", -8, 1)
		p.KneeValgusDeg.Right = between("valgus", -6, 12)
		p.PelvicDropDeg.Left = between("drop", -2, 10)
		p.HeelWhipDeg.Left = between("whip", -15, 15)
		p.StepWidthM = between("width", -0.05, 0.15)
		p.Seed = rapid.Uint64().Draw(t, "seed")
		p.Variation = Usual()
		r, err := New(p)
		if err != nil {
			if len(err.Error()) < 40 {
				t.Fatalf("an error that says little: %v", err)
			}
			t.Skip(err)
		}
		s := r.Spatial(Clock(30, 2))
		if err := s.Validate(); err != nil {
			t.Fatal(err)
		}
		for l, q := range s.Paths {
			for i := range q.X {
				if !q.Seen(i) {
					t.Fatalf("%s is missing in frame %d", body.Landmark(l), i)
				}
			}
		}
		for _, side := range body.Sides {
			for i := range s.TimeS {
				if d := math.Abs(gap(s, i, body.LeftHip.On(side), body.LeftKnee.On(side)) - r.thigh); d > 1e-6 {
					t.Fatalf("the %s thigh is %g m off its length in frame %d", side, d, i)
				}
				if d := math.Abs(gap(s, i, body.LeftKnee.On(side), body.LeftAnkle.On(side)) - r.shank); d > 1e-6 {
					t.Fatalf("the %s shank is %g m off its length in frame %d", side, d, i)
				}
			}
		}
	})
}

func gap(s *track.Track, i int, a, b body.Landmark) float64 {
	p, q := s.Paths[a], s.Paths[b]
	return Vec{p.X[i] - q.X[i], p.Y[i] - q.Y[i], p.Z[i] - q.Z[i]}.norm()
}

func BenchmarkPosture(b *testing.B) {
	r := mustNew(b, Demo())
	for i := 0; b.Loop(); i++ {
		r.At(float64(i%2000) * 0.01)
	}
}

func BenchmarkNew(b *testing.B) {
	p := Demo()
	for b.Loop() {
		if _, err := New(p); err != nil {
			b.Fatal(err)
		}
	}
}
