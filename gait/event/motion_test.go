package event_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/event"
	"gaitwright/gait/track"
	"pgregory.net/rapid"
)

// stick is an invented runner of two-segment legs whose contacts are known: the
// foot is carried back at belt speed while it is on the ground and swings forward
// on a smooth curve, the hip falls and rises as under a half-sine force.
type stick struct {
	rateHz    float64
	durationS float64
	speedMPS  float64
	strideS   float64
	contactS  float64
	travels   bool // overground
	noiseM    float64
}

const (
	thighM = 0.44
	shankM = 0.43
	ankleM = 0.09
)

func jog() stick {
	return stick{rateHz: 120, durationS: 12, speedMPS: 3.3, strideS: 0.71, contactS: 0.235}
}

// quintic runs from 0 to 1 with the given end slopes, per unit of u.
func quintic(u, from, to, slopeFrom, slopeTo float64) float64 {
	d := to - from
	c3 := 10*d - 6*slopeFrom - 4*slopeTo
	c4 := -15*d + 8*slopeFrom + 7*slopeTo
	c5 := 6*d - 3*slopeFrom - 3*slopeTo
	return from + slopeFrom*u + c3*u*u*u + c4*u*u*u*u + c5*u*u*u*u*u
}

func bump(u float64) float64 {
	if u <= 0 || u >= 1 {
		return 0
	}
	s := math.Sin(math.Pi * u)
	return s * s * s
}

func (k stick) track() (*track.Track, []event.Contact) {
	r := rand.New(rand.NewPCG(4, 2))
	n := int(k.durationS*k.rateHz) + 1
	t := track.New(track.Runner, track.Metre, make([]float64, n))
	path := func(l body.Landmark) *track.Path {
		if t.Paths[l] == nil {
			t.Paths[l] = &track.Path{Origin: track.Synthetic, X: make([]float64, n), Y: make([]float64, n)}
		}
		return t.Paths[l]
	}
	ahead := k.speedMPS * k.contactS * 0.45
	var truth []event.Contact
	for i := range n {
		at := float64(i) / k.rateHz
		t.TimeS[i] = at
		// The hip: in flight a parabola, in contact a half-sine of force; both
		// steps alike. Walkers just rise and fall.
		step := k.strideS / 2
		u := math.Mod(at/step+10, 1) * step // time since the last contact of either foot
		hipY := thighM + shankM + ankleM - 0.07
		if k.contactS < step {
			tc := k.contactS
			f := step / tc * math.Pi / 2 // peak force in body weights
			v0 := -9.81 * (step - tc) / 2
			if u < tc {
				w := math.Pi / tc
				hipY += v0*u - 9.81*u*u/2 + 9.81*f/(w*w)*(w*u-math.Sin(w*u))
			} else {
				s := u - tc
				hipY += -v0*s - 9.81*s*s/2
			}
		} else {
			hipY += 0.02 * math.Cos(2*math.Pi*u/step)
		}
		hipX := 0.02 * math.Sin(4*math.Pi*at/k.strideS)
		for _, side := range body.Sides {
			phase := at
			if side == body.Right {
				phase += step
			}
			p := math.Mod(phase+10*k.strideS, k.strideS)
			var ax, ay, pitch float64
			if p < k.contactS {
				s := p / k.contactS
				ax = ahead - k.speedMPS*p
				rise := math.Max(0, (s-0.55)/0.45)
				ay = ankleM + 0.09*rise*rise*rise
				ax += 0.05 * rise * rise * rise
				pitch = -0.9 * rise * rise * rise
			} else {
				d := k.strideS - k.contactS
				s := (p - k.contactS) / d
				ax = quintic(s, ahead-k.speedMPS*k.contactS+0.05, ahead, (-k.speedMPS+0.05*3/0.45/k.contactS)*d, -k.speedMPS*d)
				ay = quintic(s, ankleM+0.09, ankleM, 0.09*3/0.45/k.contactS*d, -0.9*d) + 0.22*bump(s)
				pitch = quintic(s, -0.9, 0, -0.9*3/0.45/k.contactS*d, 0) + 0.15*bump(2*s-1)
			}
			// Knee by the two circles about hip and ankle, bent forward.
			dx, dy := ax-hipX, ay-hipY
			dist := math.Min(math.Hypot(dx, dy), thighM+shankM-1e-3)
			cos := (thighM*thighM + dist*dist - shankM*shankM) / (2 * thighM * dist)
			dir := math.Atan2(dy, dx) + math.Acos(math.Max(-1, math.Min(1, cos)))
			put := func(l body.Landmark, x, y float64) {
				q := path(l.On(side))
				q.X[i] = x + k.noiseM*r.NormFloat64()
				q.Y[i] = y + k.noiseM*r.NormFloat64()
				if k.travels {
					q.X[i] += k.speedMPS * at
				}
			}
			sin, cosP := math.Sincos(pitch)
			put(body.LeftHip, hipX, hipY)
			put(body.LeftKnee, hipX+thighM*math.Cos(dir), hipY+thighM*math.Sin(dir))
			put(body.LeftAnkle, ax, ay)
			put(body.LeftHeel, ax-0.05*cosP+0.05*sin, ay-0.05*sin-0.05*cosP)
			put(body.LeftToe, ax+0.18*cosP+0.07*sin, ay+0.18*sin-0.07*cosP)
		}
	}
	for at := 0.0; at < k.durationS; at += k.strideS {
		truth = append(truth,
			event.Contact{Side: body.Left, InitialContactS: at, ToeOffS: at + k.contactS},
			event.Contact{Side: body.Right, InitialContactS: at + k.strideS/2, ToeOffS: at + k.strideS/2 + k.contactS})
	}
	return t, slices.DeleteFunc(truth, func(c event.Contact) bool { return c.ToeOffS > k.durationS })
}

func find(t testing.TB, tr *track.Track, opt event.MotionOptions) event.Series {
	t.Helper()
	s, err := event.MotionContacts(tr, opt)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// inner leaves out what lies near the clip's ends.
func inner(c []event.Contact, durationS float64) []event.Contact {
	return slices.DeleteFunc(slices.Clone(c), func(k event.Contact) bool {
		return k.InitialContactS < 0.5 || k.ToeOffS > durationS-0.5
	})
}

// between returns the contacts that begin between two steps of the clip, so that a
// few milliseconds of lateness put none in or out.
func (k stick) between(c []event.Contact) []event.Contact {
	step := k.strideS / 2
	from, to := 2.5*step, (math.Floor(k.durationS/step)-2.5)*step
	return slices.DeleteFunc(slices.Clone(c), func(c event.Contact) bool { return c.InitialContactS < from || c.InitialContactS > to })
}

// An invented runner has invented lateness too, so the times are only asked to be
// near; count, side and rhythm must be right at every speed and frame rate.
func TestInventedRunner(t *testing.T) {
	for _, speed := range []struct{ v, stride, contact float64 }{{2, 0.78, 0.30}, {3.3, 0.71, 0.235}, {5, 0.62, 0.18}, {7, 0.52, 0.135}} {
		for _, rate := range []float64{25, 30, 60, 120, 250} {
			for _, travels := range []bool{false, true} {
				k := stick{rateHz: rate, durationS: 12, speedMPS: speed.v, strideS: speed.stride, contactS: speed.contact, travels: travels}
				tr, truth := k.track()
				surface := clip.Treadmill
				if travels {
					surface = clip.Overground
				}
				got, want := k.between(find(t, tr, event.MotionOptions{Surface: surface}).Contacts), k.between(truth)
				if len(got) != len(want) {
					t.Errorf("%g m/s, %g Hz, overground %v: %d contacts, want %d", speed.v, rate, travels, len(got), len(want))
					continue
				}
				// Its foot leaves without the whip of a real one: what the rules
				// say of its toe-off lies up to 0.1 s apart.
				for i := range got {
					if got[i].Side != want[i].Side || math.Abs(got[i].InitialContactS-want[i].InitialContactS) > 0.04 || math.Abs(got[i].ToeOffS-want[i].ToeOffS) > 0.06 {
						t.Errorf("%g m/s, %g Hz: %s %.3f-%.3f, want %s %.3f-%.3f", speed.v, rate,
							got[i].Side, got[i].InitialContactS, got[i].ToeOffS, want[i].Side, want[i].InitialContactS, want[i].ToeOffS)
						break
					}
				}
				n := len(got) - 1
				stepRate := 60 * float64(n) / (got[n].InitialContactS - got[0].InitialContactS)
				if d := stepRate - 120/k.strideS; math.Abs(d) > 0.5 {
					t.Errorf("%g m/s, %g Hz: step rate off by %.2f a minute", speed.v, rate, d)
				}
			}
		}
	}
}

func sameTimes(t interface {
	Helper()
	Fatalf(string, ...any)
}, what string, a, b []event.Contact, swap bool, tol float64) {
	t.Helper()
	if len(a) != len(b) {
		t.Fatalf("%s: %d contacts against %d", what, len(a), len(b))
	}
	for i := range a {
		side := a[i].Side
		if swap {
			side = side.Other()
		}
		if side != b[i].Side || math.Abs(a[i].InitialContactS-b[i].InitialContactS) > tol || math.Abs(a[i].ToeOffS-b[i].ToeOffS) > tol {
			t.Fatalf("%s: contact %d is %+v against %+v", what, i, a[i], b[i])
		}
	}
}

// Neither scale nor place nor the name of a side changes a time; a later clock
// moves all times with it.
func TestTimesDoNotDependOnPlace(t *testing.T) {
	k := jog()
	k.durationS = 5
	k.noiseM = 0.002
	tr, _ := k.track()
	base := find(t, tr, event.MotionOptions{}).Contacts
	sameTimes(t, "mirrored", base, find(t, tr.Mirror(0), event.MotionOptions{}).Contacts, true, 0)
	rapid.Check(t, func(t *rapid.T) {
		scale := rapid.Float64Range(0.05, 900).Draw(t, "scale")
		dx := rapid.Float64Range(-500, 500).Draw(t, "dx")
		dy := rapid.Float64Range(-500, 500).Draw(t, "dy")
		later := rapid.Float64Range(0, 100).Draw(t, "later")
		moved := tr.Clone()
		moved.Unit = track.Pixel
		for i := range moved.TimeS {
			moved.TimeS[i] += later
		}
		for _, p := range moved.Paths {
			if p == nil {
				continue
			}
			for i := range p.X {
				p.X[i] = scale*p.X[i] + dx
				p.Y[i] = scale*p.Y[i] + dy
			}
		}
		s, err := event.MotionContacts(moved, event.MotionOptions{})
		if err != nil {
			t.Fatal(err)
		}
		for i := range s.Contacts {
			s.Contacts[i].InitialContactS -= later
			s.Contacts[i].ToeOffS -= later
		}
		// Third derivatives magnify rounding: ten microseconds.
		sameTimes(t, "moved", base, s.Contacts, false, 1e-6)
	})
}

// A belt that carries the runner differs from a road under him only by the
// clock's constant.
func TestOvergroundIsTheSameRun(t *testing.T) {
	k := jog()
	on, _ := k.track()
	k.travels = true
	over, _ := k.track()
	a := find(t, on, event.MotionOptions{}).Contacts
	b := find(t, over, event.MotionOptions{Surface: clip.Overground}).Contacts
	for i := range b {
		b[i].InitialContactS -= event.OvergroundS
		b[i].ToeOffS -= event.OvergroundS
	}
	sameTimes(t, "overground", inner(a, 12), inner(b, 12), false, 1e-4)
}

func TestRearView(t *testing.T) {
	tr, truth := jog().track()
	for _, p := range tr.Paths {
		if p != nil {
			p.Z, p.X = p.X, nil
		}
	}
	s := find(t, tr, event.MotionOptions{View: clip.Rear})
	got, want := inner(s.Contacts, 12), inner(truth, 12)
	if len(got) != len(want) {
		t.Fatalf("%d contacts, want %d", len(got), len(want))
	}
	for i := range got {
		if got[i].Side != want[i].Side || math.Abs(got[i].InitialContactS-want[i].InitialContactS) > 0.05 {
			t.Errorf("%+v, want %+v", got[i], want[i])
		}
	}
	if len(s.Notes) == 0 {
		t.Error("a rear view's times are rough, and nothing says so")
	}
}

// Only some landmarks: what is there must do.
func TestFewLandmarks(t *testing.T) {
	for _, keep := range [][]body.Landmark{
		{body.LeftHip, body.LeftAnkle},
		{body.LeftHip, body.LeftHeel, body.LeftToe},
		{body.LeftHip, body.LeftKnee, body.LeftAnkle},
	} {
		tr, truth := jog().track()
		for l := range tr.Paths {
			if !slices.Contains(keep, body.Landmark(l).On(body.Left)) {
				tr.Paths[l] = nil
			}
		}
		s, err := event.MotionContacts(tr, event.MotionOptions{})
		if err != nil {
			t.Errorf("with %v: %v", keep, err)
			continue
		}
		got, want := inner(s.Contacts, 12), inner(truth, 12)
		if len(got) != len(want) {
			t.Errorf("with %v: %d contacts, want %d", keep, len(got), len(want))
		}
	}
}

// One leg hidden for the length of a stride: the rest is found, and the clip says
// what is missing.
func TestHiddenLeg(t *testing.T) {
	k := jog()
	tr, truth := k.track()
	for l, p := range tr.Paths {
		if body.Landmark(l).Side() != body.Right || p == nil {
			continue
		}
		for i := range p.X {
			if tr.TimeS[i] > 5 && tr.TimeS[i] < 5.6 {
				p.X[i], p.Y[i] = math.NaN(), math.NaN()
			}
		}
	}
	s := find(t, tr, event.MotionOptions{})
	if d := len(inner(truth, 12)) - len(inner(s.Contacts, 12)); d < 0 || d > 1 {
		t.Errorf("%d contacts missing, want 0 or 1", d)
	}
	doubt := slices.ContainsFunc(s.Contacts, func(c event.Contact) bool { return c.Doubt != "" })
	if len(s.Notes) == 0 && !doubt {
		t.Error("nothing says that a leg was hidden")
	}
	for i := range tr.TimeS {
		if p := tr.Paths[body.LeftAnkle]; tr.TimeS[i] > 8.50 && tr.TimeS[i] < 8.56 {
			p.X[i], p.Y[i] = math.NaN(), math.NaN()
		}
	}
	for _, c := range find(t, tr, event.MotionOptions{}).Contacts {
		near := math.Abs(c.InitialContactS-8.53) < 0.03 || math.Abs(c.ToeOffS-8.53) < 0.03
		if missing := strings.HasPrefix(c.Doubt, "landmark missing"); c.Side == body.Left && near && !missing {
			t.Errorf("nothing doubts %+v", c)
		}
	}
	if one := find(t, onlyLeft(tr), event.MotionOptions{}); len(one.Of(body.Right)) > 0 || len(one.Notes) == 0 {
		t.Error("a leg that was never seen must have no contacts, and a note")
	}
}

// Frames are missing from the clip for a second: nothing is invented there.
func TestMissingFrames(t *testing.T) {
	tr, truth := jog().track()
	a, b := tr.Slice(0, 600), tr.Slice(720, tr.Frames()) // 5 to 6 s
	for l, p := range a.Paths {
		if p != nil {
			p.X = append(p.X, b.Paths[l].X...)
			p.Y = append(p.Y, b.Paths[l].Y...)
		}
	}
	a.TimeS = append(a.TimeS, b.TimeS...)
	s := find(t, a, event.MotionOptions{})
	for _, c := range s.Contacts {
		if c.InitialContactS > 5.02 && c.ToeOffS < 5.98 {
			t.Errorf("a contact at %.2f s, where there are no frames", c.InitialContactS)
		}
	}
	outside := func(c []event.Contact) int {
		n := 0
		for _, k := range inner(c, 12) {
			if k.ToeOffS < 4.7 || k.InitialContactS > 6.4 {
				n++
			}
		}
		return n
	}
	if g, w := outside(s.Contacts), outside(truth); g != w {
		t.Errorf("%d contacts beside the hole, want %d", g, w)
	}
}

func onlyLeft(t *track.Track) *track.Track {
	c := t.Clone()
	for l := range c.Paths {
		if body.Landmark(l).Side() == body.Right {
			c.Paths[l] = nil
		}
	}
	return c
}

func TestRefusals(t *testing.T) {
	walk := stick{rateHz: 120, durationS: 12, speedMPS: 1.4, strideS: 1.08, contactS: 0.66}
	walking, _ := walk.track()
	running, _ := jog().track()
	standing := running.Clone()
	for _, p := range standing.Paths {
		for i := range standing.TimeS {
			if p != nil {
				p.X[i], p.Y[i] = p.X[0], p.Y[0]
			}
		}
	}
	noFeet := running.Clone()
	for _, l := range []body.Landmark{body.LeftAnkle, body.LeftHeel, body.LeftToe} {
		noFeet.Paths[l], noFeet.Paths[l.Mirror()] = nil, nil
	}
	noHips := running.Clone()
	noHips.Paths[body.LeftHip], noHips.Paths[body.RightHip] = nil, nil
	picture := running.Clone()
	picture.Space = track.Picture
	slow := track.New(track.Runner, track.Metre, []float64{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11})
	slow.Paths = running.Slice(0, 12).Paths
	for name, c := range map[string]struct {
		t    *track.Track
		says string
	}{
		"nothing":   {nil, "frames"},
		"still":     {running.Slice(0, 1), "still"},
		"one step":  {running.Slice(0, 40), "fewer than two strides"},
		"standing":  {standing, "fewer than two strides"},
		"walking":   {walking, "walking"},
		"no feet":   {noFeet, "ankle"},
		"no hips":   {noHips, "hips"},
		"picture":   {picture, "runner space"},
		"one a sec": {slow, "frames a second"},
	} {
		_, err := event.MotionContacts(c.t, event.MotionOptions{})
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want something about %q", name, err, c.says)
		}
	}
}

// The message counts in words that agree with the number.
func TestFewContactsInWords(t *testing.T) {
	running, _ := jog().track()
	seen := map[string]bool{}
	for n := 30; n < 160; n += 5 {
		_, err := event.MotionContacts(running.Slice(0, n), event.MotionOptions{})
		if err == nil {
			continue
		}
		for _, words := range []string{"no contacts were found", "1 contact was found", "2 contacts were found", "3 contacts were found"} {
			if strings.Contains(err.Error(), words) {
				seen[words] = true
			}
		}
		if strings.Contains(err.Error(), "1 contact were") {
			t.Errorf("%d frames: %v", n, err)
		}
	}
	if !seen["1 contact was found"] || len(seen) < 3 {
		t.Errorf("only %v were said", seen)
	}
}

// Whatever holes and jumps the landmarks have, there is an answer or an error.
func TestHostileTracks(t *testing.T) {
	base, _ := jog().track()
	rapid.Check(t, func(t *rapid.T) {
		tr := base.Slice(0, rapid.IntRange(1, 600).Draw(t, "frames"))
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 3))
		holes := rapid.Float64Range(0, 1).Draw(t, "holes")
		jumps := rapid.Float64Range(0, 0.3).Draw(t, "jumps")
		for l, p := range tr.Paths {
			if p == nil {
				continue
			}
			if r.Float64() < 0.15 {
				tr.Paths[l] = nil
				continue
			}
			for i := range p.X {
				switch v := r.Float64(); {
				case v < holes*holes:
					p.X[i], p.Y[i] = math.NaN(), math.NaN()
				case v < holes*holes+jumps:
					p.X[i] += 3 * r.NormFloat64()
				}
			}
			if r.Float64() < 0.1 {
				p.X = nil
			}
		}
		s, err := event.MotionContacts(tr, event.MotionOptions{})
		if err != nil {
			return
		}
		for i, c := range s.Contacts {
			if !(c.ToeOffS > c.InitialContactS) || math.IsNaN(c.InitialContactSDS+c.ToeOffSDS) {
				t.Fatalf("contact %d: %+v", i, c)
			}
			if i > 0 && c.InitialContactS < s.Contacts[i-1].InitialContactS {
				t.Fatal("contacts are out of order")
			}
		}
		event.Steady(s, tr)
		_, _, _ = event.StanceSpeed(tr, s)
	})
}

func TestStanceSpeedAndSteady(t *testing.T) {
	k := jog()
	tr, _ := k.track()
	s := find(t, tr, event.MotionOptions{})
	if v, sd, err := event.StanceSpeed(tr, s); err != nil || math.Abs(v-k.speedMPS) > 0.05 || sd > 0.01 {
		t.Errorf("belt speed %.3f ± %.3f (%v), want %.2f", v, sd, err, k.speedMPS)
	}
	if from, to := event.Steady(s, tr); from != 0 || to < 11.99 {
		t.Errorf("steady from %.2f to %.2f, want all of it", from, to)
	}
	k.travels = true
	over, _ := k.track()
	s = find(t, over, event.MotionOptions{Surface: clip.Overground})
	if v, _, err := event.StanceSpeed(over, s); err != nil || math.Abs(v-k.speedMPS) > 0.1 {
		t.Errorf("travel %.3f (%v), want %.2f", v, err, k.speedMPS)
	}
	// The belt speeds up in the first four seconds.
	var c []event.Contact
	side, at, step := body.Left, 0.2, 0.55
	for at < 11.5 {
		c = append(c, event.Contact{Side: side, InitialContactS: at, ToeOffS: at + 0.25})
		at += step
		step = math.Max(0.35, step-0.02)
		side = side.Other()
	}
	from, to := event.Steady(event.Series{Contacts: c}, tr)
	if from < 3 || from > 5.5 || to < 11 {
		t.Errorf("steady from %.2f to %.2f, want from about 4.5 to the end", from, to)
	}
	if from, to := event.Steady(event.Series{}, tr); from != 0 || to < 11.99 {
		t.Error("without contacts the whole clip is steady")
	}
}

func TestMerge(t *testing.T) {
	fresh := event.Series{Method: event.FromMotion, Notes: []string{"n"}, Contacts: []event.Contact{
		{Side: body.Left, InitialContactS: 1, ToeOffS: 1.25},
		{Side: body.Right, InitialContactS: 1.35, ToeOffS: 1.6},
		{Side: body.Left, InitialContactS: 1.7, ToeOffS: 1.95},
	}}
	edited := []event.Contact{{Side: body.Left, InitialContactS: 1.68, ToeOffS: 1.9}, {Side: body.Right, InitialContactS: 2.05, ToeOffS: 2.3}}
	got := event.Merge(edited, fresh)
	if len(got.Contacts) != 4 || got.Contacts[2].InitialContactS != 1.68 || !got.Contacts[2].Edited || !got.Contacts[3].Edited || got.Contacts[0].Edited {
		t.Errorf("%+v", got.Contacts)
	}
	if again := event.Merge(edited, got); len(again.Contacts) != 4 {
		t.Errorf("merging twice changed the number: %+v", again.Contacts)
	}
	if len(fresh.Contacts) != 3 || fresh.Contacts[2].InitialContactS != 1.7 {
		t.Error("the fresh series was changed")
	}
}

func TestPlausibleSlowdowns(t *testing.T) {
	for _, c := range []struct {
		rate float64
		want float64 // likeliest; 0 where none
	}{{22, 8}, {43, 4}, {86, 2}, {165, 0}, {180, 0}, {130, 0}, {5, 0}, {math.NaN(), 0}, {33, 5}} {
		got := event.PlausibleSlowdowns(c.rate)
		if c.want == 0 != (len(got) == 0) || len(got) > 0 && got[0] != c.want {
			t.Errorf("%g steps a minute: %v, want %g first", c.rate, got, c.want)
		}
	}
	if got := event.PlausibleSlowdowns(172); len(got) > 0 {
		t.Error("172 steps a minute is running")
	}
}

func BenchmarkMotionContacts30s240Hz(b *testing.B) {
	k := jog()
	k.rateHz, k.durationS, k.noiseM = 240, 30, 0.002
	tr, _ := k.track()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := event.MotionContacts(tr, event.MotionOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}
