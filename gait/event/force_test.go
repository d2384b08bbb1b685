package event_test

import (
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gaitwright/gait/body"
	"gaitwright/gait/event"
	"gaitwright/gait/track"
	"gaitwright/internal/c3d"
	"gaitwright/internal/markerset"
)

// shared returns the path of an open data file kept beside the repository and
// skips the test where it is absent.
func shared(tb testing.TB, elem ...string) string {
	tb.Helper()
	root := os.Getenv("GAITWRIGHT_SHARED")
	if root == "" {
		root = filepath.Join("..", "..", "..", "shared")
	}
	path := filepath.Join(append([]string{root, "data"}, elem...)...)
	if _, err := os.Stat(path); err != nil {
		tb.Skipf("open data file %s is not here", filepath.Join(elem...))
	}
	return path
}

func points(f *c3d.File) markerset.Points {
	p := markerset.Points{TimeS: f.TimeS()}
	for _, m := range f.Points {
		p.Markers = append(p.Markers, markerset.Marker(m))
	}
	return p
}

// trial is a laboratory file turned to landmarks and forces in runner space.
type trial struct {
	file  *c3d.File
	run   *markerset.Result
	force event.Force
}

func openTrial(tb testing.TB, run, standing string) trial {
	tb.Helper()
	f, err := c3d.Open(shared(tb, run))
	if err != nil {
		tb.Fatal(err)
	}
	s, err := c3d.Open(shared(tb, standing))
	if err != nil {
		tb.Fatal(err)
	}
	set, ok := markerset.Detect(f.Labels())
	if !ok {
		tb.Fatalf("%s: no marker set knows %v", run, f.Labels())
	}
	still := points(s)
	res, err := markerset.Apply(set, points(f), &still, markerset.Options{UpHint: f.UpHint})
	if err != nil {
		tb.Fatal(err)
	}
	plates, err := f.Plates()
	if err != nil {
		tb.Fatal(err)
	}
	out := trial{file: f, run: res}
	for _, p := range plates {
		out.force.RateHz = p.RateHz
		q := event.Plate{}
		for i, c := range p.Corners {
			v := res.Axes.Turn(c)
			q.Corners[i] = [2]float64{v[0], v[2]}
		}
		for k := range p.ForceN {
			q.VerticalN = append(q.VerticalN, res.Axes.Turn(p.ForceN[k])[1])
			c := res.Axes.Turn(p.CentreM[k])
			q.CentreX, q.CentreZ = append(q.CentreX, c[0]), append(q.CentreZ, c[2])
		}
		out.force.Plates = append(out.force.Plates, q)
	}
	return out
}

// summary is the mean step rate, in steps a minute, and the mean and standard
// deviation of contact time, in ms.
func summary(c []event.Contact) (rate, mean, sd float64) {
	n := float64(len(c))
	for _, x := range c {
		mean += 1000 * x.DurationS() / n
	}
	for _, x := range c {
		sd += (1000*x.DurationS() - mean) * (1000*x.DurationS() - mean) / (n - 1)
	}
	return 60 * (n - 1) / (c[len(c)-1].InitialContactS - c[0].InitialContactS), mean, math.Sqrt(sd)
}

// checkAlternating wants left and right in turn, without doubt and without a gap.
func checkAlternating(t *testing.T, name string, c []event.Contact) {
	t.Helper()
	for i, x := range c {
		if x.Doubt != "" {
			t.Errorf("%s: contact %d is in doubt: %s", name, i, x.Doubt)
		}
		if i > 0 && x.Side == c[i-1].Side {
			t.Errorf("%s: contacts %d and %d are both %v", name, i-1, i, x.Side)
		}
		if i > 1 {
			step, before := x.InitialContactS-c[i-1].InitialContactS, c[i-1].InitialContactS-c[i-2].InitialContactS
			if step > 1.3*before || step < before/1.3 {
				t.Errorf("%s: step %d lasts %.3f s after one of %.3f s", name, i, step, before)
			}
		}
	}
}

// TestForceRunner001 holds check values 16 and 17 (computed from the open file):
// 156.89 and 171.2 steps a minute, contact 278.8 ± 5.3 and 224.4 ms at 50 N, 293.7,
// 292.1 and 260.3 ms at 10, 20 and 100 N (C). Those were taken from the unsmoothed force; the
// 50 Hz low-pass here shortens a contact by up to 3 ms. The file begins and ends
// in a contact, so 77 of its 78 initial contacts have both ends.
func TestForceRunner001(t *testing.T) {
	slow := openTrial(t, "rbds/RBDS001runT25.c3d", "rbds/RBDS001static.c3d")
	for threshold, want := range map[float64]float64{20: 292.1, 50: 278.8, 100: 260.3} {
		s, err := event.ForceContacts(slow.force, slow.run.Track, event.ForceOptions{ThresholdN: threshold})
		if err != nil {
			t.Fatal(err)
		}
		rate, mean, sd := summary(s.Contacts)
		t.Logf("2.5 m/s, %3g N: %d contacts, %.2f steps a minute, contact %.1f ± %.1f ms", threshold, len(s.Contacts), rate, mean, sd)
		if len(s.Contacts) != 77 || math.Abs(rate-156.89) > 0.1 || math.Abs(mean-want) > 3 || math.Abs(sd-5.3) > 0.7 {
			t.Errorf("at %g N: %d contacts, %.2f a minute, %.1f ± %.1f ms, want %.1f", threshold, len(s.Contacts), rate, mean, sd, want)
		}
		checkAlternating(t, "001 at 2.5 m/s", s.Contacts)
	}
	s, err := event.ForceContacts(slow.force, slow.run.Track, event.ForceOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if s.Method != event.FromForce {
		t.Errorf("method %q", s.Method)
	}
	if v := beltSpeed(slow.run, s.Contacts); math.Abs(v-2.5155) > 0.005 {
		t.Errorf("belt speed from the mid-stance fifth metatarsal: %.4f m/s, want 2.5155", v)
	} else {
		t.Logf("belt speed %.4f m/s", v)
	}
	fast := openTrial(t, "rbds/RBDS001runT35.c3d", "rbds/RBDS001static.c3d")
	if s, err = event.ForceContacts(fast.force, fast.run.Track, event.ForceOptions{}); err != nil {
		t.Fatal(err)
	}
	rate, mean, sd := summary(s.Contacts)
	t.Logf("3.5 m/s,  50 N: %d contacts, %.2f steps a minute, contact %.1f ± %.1f ms", len(s.Contacts), rate, mean, sd)
	if math.Abs(rate-171.2) > 0.1 || math.Abs(mean-224.4) > 2 {
		t.Errorf("at 3.5 m/s: %.2f a minute, %.1f ms", rate, mean)
	}
}

// beltSpeed is the mean backward speed of the fifth metatarsal over the middle two
// fifths of each contact, m/s.
func beltSpeed(r *markerset.Result, contacts []event.Contact) float64 {
	sum := 0.0
	for _, c := range contacts {
		x := r.Track.Paths[body.LeftMT5.On(c.Side)].X
		from := int(math.Round((c.InitialContactS + 0.3*c.DurationS()) * r.Track.RateHz()))
		to := int(math.Round((c.InitialContactS + 0.7*c.DurationS()) * r.Track.RateHz()))
		sum += (x[from] - x[to]) / float64(to-from) * r.Track.RateHz()
	}
	return sum / float64(len(contacts))
}

// TestForceEveryRunner: all 18 open treadmill files alternate left and right
// without a missed or extra contact.
func TestForceEveryRunner(t *testing.T) {
	if testing.Short() {
		t.Skip("reads 18 long files")
	}
	for _, runner := range []string{"001", "010", "012", "019", "026", "028"} {
		for _, speed := range []string{"25", "35", "45"} {
			name := "rbds/RBDS" + runner + "runT" + speed + ".c3d"
			tr := openTrial(t, name, "rbds/RBDS"+runner+"static.c3d")
			s, err := event.ForceContacts(tr.force, tr.run.Track, event.ForceOptions{})
			if err != nil {
				t.Fatal(err)
			}
			checkAlternating(t, name, s.Contacts)
			if got, all := len(s.Contacts), s.Contacts[len(s.Contacts)-1].ToeOffS-s.Contacts[0].InitialContactS; all < 29 {
				t.Errorf("%s: %d contacts cover %.1f of 30 s", name, got, all)
			}
		}
	}
}

// TestForceAgainstLaboratoryEvents: the overground file carries its laboratory's
// own foot strikes and offs, marked near the first and the last trace of force.
// Each contact at 20 N lies within 10 ms of them; at 50 N the long last push makes
// the toe-off up to 13 ms earlier.
func TestForceAgainstLaboratoryEvents(t *testing.T) {
	tr := openTrial(t, "dorn2012/JA1Gait21.c3d", "dorn2012/JA1Static05.c3d")
	nearest := func(c event.Contact, label string, at float64) float64 {
		best := math.Inf(1)
		for _, e := range tr.file.Events {
			if e.Label == label && strings.EqualFold(e.Context, c.Side.String()) && math.Abs(at-e.TimeS) < math.Abs(best) {
				best = at - e.TimeS
			}
		}
		return 1000 * best
	}
	for threshold, boundMS := range map[float64]float64{20: 10, 50: 15} {
		s, err := event.ForceContacts(tr.force, tr.run.Track, event.ForceOptions{ThresholdN: threshold})
		if err != nil {
			t.Fatal(err)
		}
		if len(s.Contacts) != 5 {
			t.Errorf("%d contacts, want the 5 whole ones", len(s.Contacts))
		}
		checkAlternating(t, "overground", s.Contacts)
		for _, c := range s.Contacts {
			strike, off := nearest(c, "Foot Strike", c.InitialContactS), nearest(c, "Foot Off", c.ToeOffS)
			t.Logf("%g N, %-5v at %.3f s: contact %+.1f ms, toe-off %+.1f ms from the laboratory's event", threshold, c.Side, c.InitialContactS, strike, off)
			if math.Abs(strike) > boundMS || math.Abs(off) > boundMS {
				t.Errorf("%g N, %v at %.3f s: %+.1f and %+.1f ms from the laboratory's events", threshold, c.Side, c.InitialContactS, strike, off)
			}
		}
	}
}

// paced is an invented run: contacts of half-sine force, 1500 N high and stanceS
// long, one every stepS from firstS on, the feet at ±0.05 m and the swinging foot
// 0.3 m above.
func paced(firstS, stepS, stanceS, driftN float64) (event.Force, *track.Track) {
	const rate, seconds = 1000.0, 4
	f := event.Force{RateHz: rate, Plates: []event.Plate{{}}}
	p := &f.Plates[0]
	t := track.New(track.Runner, track.Metre, nil)
	var left, right track.Path
	for k := range int(rate * seconds) {
		at := float64(k) / rate
		n := math.Floor((at - firstS) / stepS)
		phase := at - firstS - n*stepS
		force := driftN * at / seconds
		if phase < stanceS {
			force += 1500 * math.Sin(math.Pi*phase/stanceS)
		}
		p.VerticalN = append(p.VerticalN, force)
		if k%5 > 0 {
			continue
		}
		t.TimeS = append(t.TimeS, at)
		leftUp, rightUp := 0.0, 0.3
		if math.Mod(n, 2) != 0 {
			leftUp, rightUp = 0.3, 0
		}
		for foot, y := range map[*track.Path]float64{&left: leftUp, &right: rightUp} {
			z := 0.05
			if foot == &left {
				z = -0.05
			}
			foot.X, foot.Y, foot.Z = append(foot.X, 0.3), append(foot.Y, y), append(foot.Z, z)
		}
	}
	t.Paths[body.LeftMT5], t.Paths[body.RightMT5] = &left, &right
	return f, t
}

// TestForceTimesOfKnownContacts: whatever the rhythm and the platform's drift, the
// crossings of the threshold come out within 1 ms of where the half-sine has them.
func TestForceTimesOfKnownContacts(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		first := rapid.Float64Range(0.05, 0.2).Draw(r, "first")
		stance := rapid.Float64Range(0.15, 0.28).Draw(r, "stance")
		step := stance + rapid.Float64Range(0.06, 0.15).Draw(r, "flight")
		drift := rapid.Float64Range(-40, 40).Draw(r, "drift")
		f, tr := paced(first, step, stance, drift)
		s, err := event.ForceContacts(f, tr, event.ForceOptions{})
		if err != nil {
			r.Fatal(err)
		}
		edge := stance / math.Pi * math.Asin(50.0/1500) // from the foot's touch to 50 N
		i := 0
		for n := 0; first+float64(n)*step+stance < 3.99; n++ {
			at := first + float64(n)*step
			if i >= len(s.Contacts) {
				r.Fatalf("contact %d at %.3f s is missing", n, at)
			}
			c := s.Contacts[i]
			i++
			// The low-pass of 50 Hz rounds the corner where force begins.
			if math.Abs(c.InitialContactS-at-edge) > 0.0025 || math.Abs(c.ToeOffS-(at+stance-edge)) > 0.0025 {
				r.Fatalf("contact %d from %.4f to %.4f s, want %.4f to %.4f", n, c.InitialContactS, c.ToeOffS, at+edge, at+stance-edge)
			}
			want := body.Left
			if n%2 == 1 {
				want = body.Right
			}
			if c.Side != want || c.Doubt != "" {
				r.Fatalf("contact %d is %v (%s), want %v", n, c.Side, c.Doubt, want)
			}
			if !(c.InitialContactSDS > 0 && c.InitialContactSDS < 0.005) {
				r.Fatalf("contact %d has an error of %g s", n, c.InitialContactSDS)
			}
		}
	})
}

// TestForceOfAPlatformNotSetToZero: a constant offset of either sign, larger than
// the threshold, changes no contact by more than 2 ms and is told.
func TestForceOfAPlatformNotSetToZero(t *testing.T) {
	f, tr := paced(0.1, 0.35, 0.25, 0)
	want, err := event.ForceContacts(f, tr, event.ForceOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for _, offset := range []float64{-180, -60, 60, 180} {
		g, _ := paced(0.1, 0.35, 0.25, 0)
		for k := range g.Plates[0].VerticalN {
			g.Plates[0].VerticalN[k] += offset
		}
		got, err := event.ForceContacts(g, tr, event.ForceOptions{})
		if err != nil {
			t.Fatalf("%+g N: %v", offset, err)
		}
		if len(got.Contacts) != len(want.Contacts) || !strings.Contains(strings.Join(got.Notes, " "), "unloaded") {
			t.Fatalf("%+g N: %d contacts, want %d; notes %q", offset, len(got.Contacts), len(want.Contacts), got.Notes)
		}
		for i, c := range got.Contacts {
			if d := c.InitialContactS - want.Contacts[i].InitialContactS; math.Abs(d) > 0.002 {
				t.Errorf("%+g N: contact %d moved by %.1f ms", offset, i, 1000*d)
			}
		}
	}
}

// TestForceLeavesOutCutContacts: a contact that the file's start or end cuts is
// none.
func TestForceLeavesOutCutContacts(t *testing.T) {
	f, tr := paced(-0.1, 0.36, 0.25, 0) // stands at 0 s; 3.86 to 4.11 s is cut
	s, err := event.ForceContacts(f, tr, event.ForceOptions{})
	if err != nil {
		t.Fatal(err)
	}
	first, last := s.Contacts[0], s.Contacts[len(s.Contacts)-1]
	if math.Abs(first.InitialContactS-0.26) > 0.01 || math.Abs(last.InitialContactS-3.50) > 0.01 {
		t.Errorf("contacts from %.3f to %.3f s", first.InitialContactS, last.InitialContactS)
	}
}

// TestForceLeavesOutContactsBesideThePlate: with the corners known, a foot that
// stands partly beside the platforms gives no contact.
func TestForceLeavesOutContactsBesideThePlate(t *testing.T) {
	f, tr := paced(0.1, 0.35, 0.25, 0)
	f.Plates[0].Corners = [4][2]float64{{0, -0.2}, {0.6, -0.2}, {0.6, 0.03}, {0, 0.03}} // the right foot is at 0.05
	s, err := event.ForceContacts(f, tr, event.ForceOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Of(body.Right)) != 0 || len(s.Of(body.Left)) == 0 || !strings.Contains(strings.Join(s.Notes, " "), "beside") {
		t.Errorf("%d right and %d left contacts, notes %q", len(s.Of(body.Right)), len(s.Of(body.Left)), s.Notes)
	}
}

// TestForceSumsPlates: a foot that lands over two plates is one contact.
func TestForceSumsPlates(t *testing.T) {
	f, tr := paced(0.1, 0.35, 0.25, 0)
	whole, err := event.ForceContacts(f, tr, event.ForceOptions{})
	if err != nil {
		t.Fatal(err)
	}
	half := f.Plates[0].VerticalN
	one, two := make([]float64, len(half)), make([]float64, len(half))
	for k, v := range half {
		one[k], two[k] = 0.3*v, 0.7*v
	}
	f.Plates = []event.Plate{{VerticalN: one}, {VerticalN: two}}
	split, err := event.ForceContacts(f, tr, event.ForceOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if len(whole.Contacts) != len(split.Contacts) {
		t.Fatalf("%d contacts over two plates, %d over one", len(split.Contacts), len(whole.Contacts))
	}
	for i := range whole.Contacts {
		if d := whole.Contacts[i].InitialContactS - split.Contacts[i].InitialContactS; math.Abs(d) > 1e-6 {
			t.Errorf("contact %d moved by %g s", i, d)
		}
	}
}

func TestForceRefusesWithAReason(t *testing.T) {
	f, tr := paced(0.1, 0.35, 0.25, 0)
	with := func(change func(*event.Force)) event.Force {
		g := f
		g.Plates = []event.Plate{f.Plates[0]}
		change(&g)
		return g
	}
	for name, c := range map[string]struct {
		force event.Force
		track *track.Track
		opt   event.ForceOptions
		want  string
	}{
		"no plates":    {event.Force{RateHz: 1000}, tr, event.ForceOptions{}, "no force platform"},
		"no load":      {with(func(g *event.Force) { g.Plates[0].VerticalN = make([]float64, 4000) }), tr, event.ForceOptions{}, "no contact"},
		"not a number": {with(func(g *event.Force) { g.Plates[0].VerticalN = []float64{1, math.NaN()} }), tr, event.ForceOptions{}, "no number"},
		"uneven":       {with(func(g *event.Force) { g.Plates = append(g.Plates, event.Plate{VerticalN: []float64{1}}) }), tr, event.ForceOptions{}, "another number"},
		"rate":         {with(func(g *event.Force) { g.RateHz = math.NaN() }), tr, event.ForceOptions{}, "times a second"},
		"threshold":    {f, tr, event.ForceOptions{ThresholdN: 1e6}, "threshold"},
		"no feet":      {f, track.New(track.Runner, track.Metre, tr.TimeS), event.ForceOptions{}, "landmarks of both feet"},
		"no track":     {f, nil, event.ForceOptions{}, "landmarks of both feet"},
	} {
		if _, err := event.ForceContacts(c.force, c.track, c.opt); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
	}
}

func BenchmarkForceContacts(b *testing.B) {
	tr := openTrial(b, "rbds/RBDS001runT35.c3d", "rbds/RBDS001static.c3d")
	for b.Loop() {
		if _, err := event.ForceContacts(tr.force, tr.run.Track, event.ForceOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}

// Check value 16 (C): contact of runner 001 at 2.5 m/s is 293.7, 292.1, 278.8 and
// 260.3 ms at 10, 20, 50 and 100 N. Here from the force as it stands in the file,
// crossings interpolated, the contacts cut by its ends left out: it agrees to a
// sample and a quarter (4.2 ms at 300 Hz; how the value treats the crossing and the
// platform's drift is not known). ForceContacts frees the force of drift and smooths
// it, which lets the foot of the curve begin earlier: 301.3 ms at 10 N.
func TestRawForceRunner001(t *testing.T) {
	slow := openTrial(t, "rbds/RBDS001runT25.c3d", "rbds/RBDS001static.c3d")
	sum := make([]float64, len(slow.force.Plates[0].VerticalN))
	for _, p := range slow.force.Plates {
		for i, v := range p.VerticalN {
			sum[i] += v
		}
	}
	for threshold, want := range map[float64]float64{10: 293.7, 20: 292.1, 50: 278.8, 100: 260.3} {
		down, total, n := math.NaN(), 0.0, 0
		for i := 1; i < len(sum); i++ {
			at := float64(i-1) + (threshold-sum[i-1])/(sum[i]-sum[i-1])
			switch {
			case sum[i-1] < threshold && sum[i] >= threshold:
				down = at
			case sum[i-1] >= threshold && sum[i] < threshold && at-down > 0.1*slow.force.RateHz:
				total, n = total+at-down, n+1
			}
		}
		mean := 1000 * total / float64(n) / slow.force.RateHz
		t.Logf("%3g N: %d contacts of %.1f ms", threshold, n, mean)
		if n < 76 || n > 78 || math.Abs(mean-want) > 4.2 {
			t.Errorf("at %g N: %d contacts of %.1f ms, want %.1f", threshold, n, mean, want)
		}
	}
}

// Force has no direction in time: run backward, every toe-off is an initial contact
// of the same foot and the other way round, at the same moments, to a microsecond
// (the filter rounds otherwise). Motion has a direction: its rules look for a foot
// that brakes and one that pushes.
func TestForceRunBackward(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		stance := rapid.Float64Range(0.15, 0.28).Draw(r, "stance")
		f, tr := paced(rapid.Float64Range(0.05, 0.2).Draw(r, "first"), stance+rapid.Float64Range(0.06, 0.15).Draw(r, "flight"), stance, 0)
		forward, err := event.ForceContacts(f, tr, event.ForceOptions{})
		if err != nil {
			r.Fatal(err)
		}
		last := f.StartS + float64(len(f.Plates[0].VerticalN)-1)/f.RateHz
		for _, p := range f.Plates {
			slices.Reverse(p.VerticalN)
		}
		clock := slices.Clone(tr.TimeS)
		for i := range tr.TimeS {
			tr.TimeS[i] = last - clock[len(clock)-1-i]
		}
		for _, p := range tr.Paths {
			if p != nil {
				slices.Reverse(p.X)
				slices.Reverse(p.Y)
				slices.Reverse(p.Z)
			}
		}
		backward, err := event.ForceContacts(f, tr, event.ForceOptions{})
		if err != nil {
			r.Fatal(err)
		}
		if len(backward.Contacts) != len(forward.Contacts) {
			r.Fatalf("%d contacts forward, %d backward", len(forward.Contacts), len(backward.Contacts))
		}
		for i, c := range forward.Contacts {
			b := backward.Contacts[len(backward.Contacts)-1-i]
			if b.Side != c.Side || math.Abs(b.InitialContactS-(last-c.ToeOffS)) > 1e-6 || math.Abs(b.ToeOffS-(last-c.InitialContactS)) > 1e-6 {
				r.Fatalf("contact %d, %v from %.6f to %.6f s, became %v from %.6f to %.6f", i, c.Side, c.InitialContactS, c.ToeOffS, b.Side, last-b.ToeOffS, last-b.InitialContactS)
			}
		}
	})
}
