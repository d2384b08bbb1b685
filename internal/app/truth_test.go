package app

import (
	"context"
	"math"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
	"gaitwright/gait/track"
	"gaitwright/internal/synth"
)

// plainRunner is an ordinary synthetic runner, the two legs not alike.
func plainRunner() synth.Params {
	p := synth.NewParams(1.74, 3, 0)
	p.Variation = synth.Usual()
	p.PelvicDropDeg = synth.Sided{Left: 3, Right: 6}
	p.FootAngleAtContactDeg = synth.Sided{Left: 12, Right: 15}
	p.KneeValgusDeg = synth.Sided{Left: 1, Right: 6}
	p.DurationS = 9
	p.Seed = 4
	return p
}

// finished films a runner without a film and carries the landmarks through the
// whole path; change alters the raw track first.
func finished(t *testing.T, p synth.Params, view clip.View, q TruthRequest, change func(*track.Track)) *Clip {
	t.Helper()
	runner, err := synth.New(p)
	if err != nil {
		t.Fatal(err)
	}
	if q.RateHz == 0 {
		q.RateHz = 120
	}
	if q.WidthPX == 0 {
		q.WidthPX, q.HeightPX = 720, 1280
	}
	q.Seconds = 8
	r := &Request{SpeedMPS: p.SpeedMPS, Runner: RunnerFacts{HeightM: p.HeightM, LegLengthM: p.LegLengthM, MassKG: p.MassKG, Sex: "male"}}
	st := &Studio{}
	c, _, err := st.syntheticClip(context.Background(), runner, view, q, r, NoProgress{})
	if err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(c.Raw)
	}
	if _, err := c.finish(r, nil, 0, nil); err != nil {
		t.Fatal(err)
	}
	return c
}

func valueOf(c *Clip, name string, s body.Side) measure.Measure {
	for _, m := range c.Measures {
		if m.Name == name && m.Side == s {
			return m
		}
	}
	return measure.Measure{Value: math.NaN(), SEM: math.NaN()}
}

// same holds all measures of two clips against each other, within a share of the
// value and a hundredth of the difference worth resolving.
func same(t *testing.T, what string, a, b *Clip, other func(body.Side) body.Side, within float64) {
	t.Helper()
	given := 0
	for _, m := range a.Measures {
		n := valueOf(b, m.Name, other(m.Side))
		d, _ := measure.Lookup(m.Name)
		if m.Withheld() != n.Withheld() {
			t.Errorf("%s: %s %s: %v became %v (%s%s)", what, m.Name, m.Side, m.Value, n.Value, m.Reason, n.Reason)
			continue
		}
		if m.Withheld() {
			continue
		}
		given++
		want := n.Value
		if other(body.Left) == body.Right && signedByFoot[m.Name] {
			want = -want
		}
		if math.Abs(m.Value-want) > within*(math.Abs(want)+d.Worth) {
			t.Errorf("%s: %s %s: %v became %v", what, m.Name, m.Side, m.Value, n.Value)
		}
	}
	if given < 8 {
		t.Errorf("%s: only %d measures are given", what, given)
	}
}

// signedByFoot are the measures of both feet that tell left from right by their sign.
var signedByFoot = map[string]bool{"step_time_asymmetry": true, "contact_time_asymmetry": true}

func itself(s body.Side) body.Side { return s }

func exchanged(s body.Side) body.Side {
	if s == body.NoSide {
		return s
	}
	return s.Other()
}

func TestMirroredRunnerSwapsLeftAndRight(t *testing.T) {
	p := plainRunner()
	for _, v := range [][2]clip.View{{clip.LeftSide, clip.RightSide}, {clip.Rear, clip.Rear}} {
		same(t, "mirrored, "+v[0].String(), finished(t, p, v[0], TruthRequest{}, nil), finished(t, p.Mirror(), v[1], TruthRequest{}, nil), exchanged, 1e-6)
	}
}

func TestPathDoesNotCareWhereOrWhenOrHowLarge(t *testing.T) {
	p := plainRunner()
	for _, view := range []clip.View{clip.LeftSide, clip.Rear} {
		plain := finished(t, p, view, TruthRequest{}, nil)
		later := finished(t, p, view, TruthRequest{}, func(t *track.Track) {
			for i := range t.TimeS {
				t.TimeS[i] += 3.25
			}
		})
		same(t, "3.25 s later, "+view.String(), plain, later, itself, 1e-6)
		if d := later.Contacts.Contacts[3].InitialContactS - plain.Contacts.Contacts[3].InitialContactS; math.Abs(d-3.25) > 1e-6 {
			t.Errorf("%s: contacts moved by %v s, the clock by 3.25", view, d)
		}
		same(t, "elsewhere in the picture, "+view.String(), plain, finished(t, p, view, TruthRequest{}, func(t *track.Track) {
			for _, p := range t.Paths {
				if p == nil {
					continue
				}
				for i := range p.X {
					p.X[i] += 77
					p.Y[i] -= 31
				}
			}
		}), itself, 1e-6)
		same(t, "twice as large, "+view.String(), plain, finished(t, p, view, TruthRequest{WidthPX: 1440, HeightPX: 2560}, nil), itself, 1e-6)
	}
}

// At half and twice the frame rate the same runner gives the same values within
// three of the errors stated, and a coarser clock states no smaller an error of
// the times.
func TestFrameRateMovesNothingBeyondItsError(t *testing.T) {
	p := plainRunner()
	usual := finished(t, p, clip.LeftSide, TruthRequest{}, nil)
	for _, hz := range []float64{60, 240} {
		c := finished(t, p, clip.LeftSide, TruthRequest{RateHz: hz}, nil)
		for _, name := range []string{"step_rate", "stride_time", "contact_time", "overstride", "shank_angle_at_contact", "knee_flexion_at_contact", "hip_extension_at_toe_off"} {
			for _, s := range []body.Side{body.NoSide, body.Left, body.Right} {
				a, b := valueOf(usual, name, s), valueOf(c, name, s)
				if math.IsNaN(a.Value) {
					continue
				}
				if math.Abs(a.Value-b.Value) > 3*math.Max(a.SEM, b.SEM) {
					t.Errorf("%s %s: %v ± %v at 120, %v ± %v at %g frames a second", name, s, a.Value, a.SEM, b.Value, b.SEM, hz)
				}
			}
		}
	}
}

// Random error of the landmarks widens the spread between strides, from which the
// error of a mean is stated, and moves the mean of several takes by less than
// that error.
func TestNoiseWidensTheErrorAndMovesNoMean(t *testing.T) {
	p := plainRunner()
	for _, k := range []struct {
		view  clip.View
		names []string
	}{
		{clip.LeftSide, []string{"shank_angle_at_contact", "knee_flexion_peak_stance", "knee_flexion_at_contact", "foot_angle_at_contact", "ankle_dorsiflexion_peak"}},
		{clip.Rear, []string{"knee_frontal_angle", "thigh_adduction"}},
	} {
		exact := finished(t, p, k.view, TruthRequest{}, nil)
		var takes []*Clip
		for seed := range uint64(6) {
			takes = append(takes, finished(t, p, k.view, TruthRequest{NoisePX: 1.5, Seed: 10 + seed}, nil))
		}
		wider, n := 0.0, 0.0
		for _, name := range k.names {
			for _, s := range body.Sides {
				a := valueOf(exact, name, s)
				value, strides := 0.0, 0.0
				for _, c := range takes {
					m := valueOf(c, name, s)
					value += m.Value / float64(len(takes))
					strides += m.SD / float64(len(takes))
				}
				d, _ := measure.Lookup(name)
				t.Logf("%s %s: %.2f, spread %.2f; with noise %.2f, spread %.2f (± %.2f stated)", name, s, a.Value, a.SD, value, strides, a.SEM)
				if !(strides > 0.9*a.SD) {
					t.Errorf("%s %s: noise narrows the spread between strides: %v to %v", name, s, a.SD, strides)
				}
				wider, n = wider+strides/a.SD, n+1
				if !(math.Abs(value-a.Value) < math.Max(2*a.SEM, d.Worth)) {
					t.Errorf("%s %s: noise moves the mean from %v to %v", name, s, a.Value, value)
				}
			}
		}
		if !(wider/n > 1.02) {
			t.Errorf("%s: with noise the strides spread %.2f times as wide", k.view, wider/n)
		}
	}
}

// A side camera 20 degrees off square is noticed, either way, and telling the
// program of it takes a good part of its error away: 3.6 to 2.3 degrees of knee
// flexion in swing.
func TestTurnedCameraIsNoticedAndCorrected(t *testing.T) {
	p := plainRunner()
	runner, err := synth.New(p)
	if err != nil {
		t.Fatal(err)
	}
	square := finished(t, p, clip.LeftSide, TruthRequest{}, nil)
	if square.Info.OffSquareDeg != 0 {
		t.Errorf("a square camera is said to stand %.0f° off", square.Info.OffSquareDeg)
	}
	without, with := 0.0, 0.0
	for _, yaw := range []float64{-20, 20} {
		seen := finished(t, p, clip.LeftSide, TruthRequest{YawDeg: yaw}, nil)
		// Carried to the right of a left-side picture the camera stands behind.
		if off := seen.Info.OffSquareDeg; math.Abs(off+yaw) > 6 {
			t.Errorf("a camera %g° off is said to stand %.0f° off", -yaw, off)
		}
		const name = "knee_flexion_peak_swing"
		truth := runner.Truth(0, 8, synth.HipPoints)
		st := &Studio{}
		r := &Request{SpeedMPS: p.SpeedMPS, YawDeg: -yaw, CameraDistanceM: demoFilm.DistanceM, Runner: RunnerFacts{HeightM: p.HeightM, LegLengthM: p.LegLengthM}}
		c, _, err := st.syntheticClip(context.Background(), runner, clip.LeftSide, TruthRequest{YawDeg: yaw, RateHz: 120, Seconds: 8, WidthPX: 720, HeightPX: 1280}, r, NoProgress{})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := c.finish(r, nil, 0, nil); err != nil {
			t.Fatal(err)
		}
		for _, s := range body.Sides {
			want, _ := truth.Value(name, s)
			raw, told := valueOf(seen, name, s).Value-want, valueOf(c, name, s).Value-want
			t.Logf("turned %+g°, %s: %+.1f° off, told %+.1f°", yaw, s, raw, told)
			without, with = without+raw*raw/4, with+told*told/4
		}
	}
	if without, with = math.Sqrt(without), math.Sqrt(with); !(with < 0.75*without) {
		t.Errorf("%.1f° off without, %.1f° with the turn given", without, with)
	}
}
