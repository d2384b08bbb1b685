package app

import (
	"context"
	"flag"
	"math"
	"slices"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
	"gaitwright/gait/track"
	"gaitwright/internal/synth"
	"gaitwright/num/signal"

	"pgregory.net/rapid"
)

// drawnRunner is a synthetic runner whose legs are not alike, and how he is seen.
type drawnRunner struct {
	heightM, speedMPS               float64
	dropDeg, kneeInwardDeg, footDeg float64 // drop and knee of the right, foot angle of the left
	seed                            uint64
	rateHz, noisePX                 float64
}

// anyRunner draws a synthetic runner, with noise on the landmarks, seen from a view.
func anyRunner(t *rapid.T, view clip.View) (*Clip, *Request) {
	d := drawnRunner{
		heightM:       rapid.Float64Range(1.5, 1.95).Draw(t, "height"),
		speedMPS:      rapid.Float64Range(2.5, 4.5).Draw(t, "speed"),
		dropDeg:       rapid.Float64Range(3, 8).Draw(t, "drop"),
		kneeInwardDeg: rapid.Float64Range(-2, 6).Draw(t, "knee inward"),
		footDeg:       rapid.Float64Range(4, 16).Draw(t, "foot angle"),
		seed:          rapid.Uint64Range(1, 1000).Draw(t, "seed"),
		rateHz:        rapid.SampledFrom([]float64{60, 120}).Draw(t, "rate"),
		noisePX:       rapid.SampledFrom([]float64{0, 1}).Draw(t, "noise"),
	}
	return d.film(t, view)
}

// tester is what a drawn runner's film needs of a test.
type tester interface {
	Skip(...any)
	Fatal(...any)
}

func (d drawnRunner) film(t tester, view clip.View) (*Clip, *Request) {
	p := synth.NewParams(d.heightM, d.speedMPS, 0)
	p.Variation = synth.Usual()
	p.PelvicDropDeg = synth.Sided{Left: 3, Right: d.dropDeg}
	p.KneeValgusDeg = synth.Sided{Left: 1, Right: d.kneeInwardDeg}
	p.FootAngleAtContactDeg = synth.Sided{Left: d.footDeg, Right: 12}
	p.DurationS, p.Seed = 7, d.seed
	runner, err := synth.New(p)
	if err != nil {
		t.Skip(err)
	}
	q := TruthRequest{RateHz: d.rateHz, WidthPX: 720, HeightPX: 1280, Seconds: 6, NoisePX: d.noisePX, Seed: p.Seed}
	r := &Request{SpeedMPS: p.SpeedMPS, Runner: RunnerFacts{HeightM: p.HeightM, LegLengthM: p.LegLengthM, MassKG: p.MassKG, Sex: "male"}}
	st := &Studio{}
	c, _, err := st.syntheticClip(context.Background(), runner, view, q, r, NoProgress{})
	if err != nil {
		t.Fatal(err)
	}
	return c, r
}

// through carries a copy of the clip's raw landmarks through the whole path, with
// its view and after a change of them.
func through(t tester, c *Clip, r *Request, view clip.View, change func(*track.Track)) *Clip {
	d := *c
	d.Raw, d.Info.View = c.Raw.Clone(), view
	change(d.Raw)
	if _, err := d.finish(r, nil, 0, nil); err != nil {
		t.Skip(err)
	}
	return &d
}

// each hands every measure that either clip gives to check, with the other's.
func each(t *rapid.T, a, b *Clip, other func(body.Side) body.Side, check func(d measure.Definition, m, n measure.Measure)) {
	given := 0
	for _, m := range a.Measures {
		n := valueOf(b, m.Name, other(m.Side))
		if m.Withheld() != n.Withheld() {
			t.Fatalf("%s %s: %v became %v (%s%s)", m.Name, m.Side, m.Value, n.Value, m.Reason, n.Reason)
		}
		if m.Withheld() {
			continue
		}
		given++
		d, _ := measure.Lookup(m.Name)
		check(d, m, n)
	}
	if given < 6 {
		t.Fatalf("only %d measures are given", given)
	}
}

// fewer makes rapid draw as many cases as the whole path has time for.
func fewer(t *testing.T, cases string) {
	checks := flag.Lookup("rapid.checks")
	if before := checks.Value.String(); before == checks.DefValue {
		_ = checks.Value.Set(cases)
		t.Cleanup(func() { _ = checks.Value.Set(before) })
	}
}

func unchanged(*track.Track) {}

// everyPoint lets a function change each landmark's across and up coordinate.
func everyPoint(f func(x, y float64) (float64, float64)) func(*track.Track) {
	return func(t *track.Track) {
		for _, p := range t.Paths {
			if p == nil {
				continue
			}
			for i := range p.X {
				p.X[i], p.Y[i] = f(p.X[i], p.Y[i])
			}
		}
	}
}

// A picture mirrored at x = 0, left and right landmarks exchanged, gives every
// measure with left and right exchanged, its spread and error too: to the last bit
// but for what a sum in another order rounds, a thousand-millionth of the value.
func TestMirroredPictureSwapsLeftAndRight(t *testing.T) {
	fewer(t, "20")
	rapid.Check(t, func(t *rapid.T) {
		views := rapid.SampledFrom([][2]clip.View{{clip.LeftSide, clip.RightSide}, {clip.Rear, clip.Rear}}).Draw(t, "views")
		c, r := anyRunner(t, views[0])
		plain := through(t, c, r, views[0], unchanged)
		mirrored := through(t, c, r, views[1], func(k *track.Track) { *k = *k.Mirror(0) })
		each(t, plain, mirrored, exchanged, func(d measure.Definition, m, n measure.Measure) {
			want := n.Value
			if signedByFoot[m.Name] {
				want = -want
			}
			for _, v := range [][2]float64{{m.Value, want}, {m.SD, n.SD}, {m.SEM, n.SEM}} {
				if v[0] != v[1] && !(math.IsNaN(v[0]) && math.IsNaN(v[1])) && !(math.Abs(v[0]-v[1]) <= 1e-9*(math.Abs(v[0])+d.Worth)) {
					t.Fatalf("%s %s: %v became %v", m.Name, m.Side, v[0], v[1])
				}
			}
		})
	})
}

// Another place in the picture and another moment on the clock change nothing, and
// a picture twice as fine neither, its lengths taken from the runner's height. What
// is left is rounding: a millionth.
func TestPlaceMomentAndFinenessDoNotMatter(t *testing.T) {
	fewer(t, "20")
	rapid.Check(t, func(t *rapid.T) {
		view := rapid.SampledFrom([]clip.View{clip.LeftSide, clip.Rear}).Draw(t, "view")
		c, r := anyRunner(t, view)
		dx, dy := rapid.Float64Range(-300, 300).Draw(t, "dx"), rapid.Float64Range(-300, 300).Draw(t, "dy")
		later := rapid.Float64Range(0, 50).Draw(t, "later")
		fine := rapid.SampledFrom([]float64{1, 2}).Draw(t, "fineness")
		plain := through(t, c, r, view, unchanged)
		c.Info.WidthPX, c.Info.HeightPX = int(fine)*c.Info.WidthPX, int(fine)*c.Info.HeightPX
		moved := through(t, c, r, view, func(k *track.Track) {
			for i := range k.TimeS {
				k.TimeS[i] += later
			}
			everyPoint(func(x, y float64) (float64, float64) { return fine*x + dx, fine*y + dy })(k)
		})
		each(t, plain, moved, itself, func(d measure.Definition, m, n measure.Measure) {
			if math.Abs(m.Value-n.Value) > 1e-6*(math.Abs(m.Value)+d.Worth) {
				t.Fatalf("%s %s: %v became %v", m.Name, m.Side, m.Value, n.Value)
			}
		})
	})
}

// A film from behind run backward has the same rhythm. The contacts by motion do
// not exchange their roles with the toe-offs as those by force do, since their rules
// look for a foot that lands; but the two ways the first and the last contact differ
// by 25 ms at most each, and a step at either end may be counted one way alone: over
// the 5 s or so between them less than 1.5 % of the steps a minute.
func TestRhythmHasNoDirectionInTime(t *testing.T) {
	fewer(t, "20")
	rapid.Check(t, func(t *rapid.T) {
		c, r := anyRunner(t, clip.Rear)
		plain, back := bothWays(t, c, r)
		if a, b := valueOf(plain, "step_rate", body.NoSide).Value, valueOf(back, "step_rate", body.NoSide).Value; !(math.Abs(a-b) < 0.015*a) {
			t.Fatalf("%.2f steps a minute forward, %.2f backward", a, b)
		}
	})
}

// bothWays works out a film from behind run forward and backward.
func bothWays(t tester, c *Clip, r *Request) (forward, backward *Clip) {
	return through(t, c, r, clip.Rear, unchanged), through(t, c, r, clip.Rear, func(k *track.Track) {
		last, clock := k.TimeS[len(k.TimeS)-1], slices.Clone(k.TimeS)
		for i := range k.TimeS {
			k.TimeS[i] = last - clock[len(clock)-1-i]
		}
		for _, p := range k.Paths {
			if p != nil {
				for _, v := range [][]float64{p.X, p.Y, p.Z, p.Confidence} {
					slices.Reverse(v)
				}
			}
		}
	})
}

// Films whose rhythm had a direction, or would have without one of the rules against
// it: run backward the rules for the ankle take now one crest and now another, and of
// one foot they once prevailed over those for the pelvis, so that it landed 50 ms
// early and its steps were 100 ms longer than the other's. In truth both feet's steps
// are alike; in films that are read well they differ by 30 ms at most.
func TestRhythmOfFilmsOnceMisread(t *testing.T) {
	for name, d := range map[string]drawnRunner{
		"steps of one foot left out":               {heightM: 1.8609, speedMPS: 4.4917, dropDeg: 3.945, kneeInwardDeg: -1.01, footDeg: 13.34, seed: 0x15a, rateHz: 60},
		"rules leap in either half":                {heightM: 1.8308, speedMPS: 4.4442, dropDeg: 7.0754, kneeInwardDeg: 4.9993, footDeg: 5.2161, seed: 832, rateHz: 120, noisePX: 1},
		"three rules of six leap together":         {heightM: 1.9183, speedMPS: 4.2093, dropDeg: 6.7881, kneeInwardDeg: 5.1466, footDeg: 15.8571, seed: 873, rateHz: 120},
		"one foot in two minds, landmarks tremble": {heightM: 1.9475, speedMPS: 4.37, dropDeg: 5.1546, kneeInwardDeg: 0.2357, footDeg: 13.7563, seed: 837, rateHz: 60, noisePX: 1},
		"wild steps of one foot":                   {heightM: 1.8938, speedMPS: 2.7056, dropDeg: 3.7359, kneeInwardDeg: 4.2317, footDeg: 14.2916, seed: 195, rateHz: 60, noisePX: 1},
		"one contact off makes two steps off":      {heightM: 1.7240878328930194, speedMPS: 2.515625, dropDeg: 6.317160740960389, kneeInwardDeg: 1.390625, footDeg: 5.65625, seed: 2, rateHz: 60, noisePX: 1},
	} {
		t.Run(name, func(t *testing.T) {
			c, r := d.film(t, clip.Rear)
			plain, back := bothWays(t, c, r)
			a, b := valueOf(plain, "step_rate", body.NoSide).Value, valueOf(back, "step_rate", body.NoSide).Value
			if !(math.Abs(a-b) < 0.015*a) {
				t.Errorf("%.2f steps a minute forward, %.2f backward", a, b)
			}
			for way, film := range map[string]*Clip{"forward": plain, "backward": back} {
				var steps [3][]float64
				for i, k := range film.Contacts.Contacts[1:] {
					steps[k.Side] = append(steps[k.Side], 1000*(k.InitialContactS-film.Contacts.Contacts[i].InitialContactS))
				}
				if left, right := signal.Median(steps[body.Left]), signal.Median(steps[body.Right]); !(math.Abs(left-right) < 40) {
					t.Errorf("%s: left steps of %.0f ms, right steps of %.0f ms", way, left, right)
				}
			}
		})
	}
}
