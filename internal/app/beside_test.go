package app

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/event"
	"gaitwright/internal/store"
)

// strideRun draws a clock and the contacts of both feet on it.
func strideRun(t *rapid.T, name string) (clock []float64, contacts event.Series) {
	rate := rapid.Float64Range(25, 240).Draw(t, name+" rate")
	strideS := rapid.Float64Range(0.55, 0.9).Draw(t, name+" stride")
	start := rapid.Float64Range(-0.3, 0.3).Draw(t, name+" start")
	for i := range int(4 * rate) {
		clock = append(clock, start+float64(i)/rate)
	}
	at := start + rapid.Float64Range(0.01, 0.5).Draw(t, name+" first")
	for k := range 8 {
		jitter := rapid.Float64Range(-0.01, 0.01).Draw(t, name+" jitter")
		side := body.Sides[k%2]
		ic := at + float64(k)*strideS/2 + jitter
		contacts.Contacts = append(contacts.Contacts, event.Contact{Side: side, InitialContactS: ic, ToeOffS: ic + 0.38*strideS})
	}
	return clock, contacts
}

func flipped(s event.Series) event.Series {
	s.Contacts = slices.Clone(s.Contacts)
	for i := range s.Contacts {
		s.Contacts[i].Side = s.Contacts[i].Side.Other()
	}
	return s
}

// TestPairingByPhase: what is shown together is the same part of both strides to
// half a frame of each, whatever the frame rates; no frame of the finer clip is
// passed by; a mirrored runner's other foot gives the same pairs; and exchanging the
// two clips exchanges their frames.
func TestPairingByPhase(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		clockA, a := strideRun(t, "a")
		clockB, b := strideRun(t, "b")
		side := body.Sides[rapid.IntRange(0, 1).Draw(t, "side")]
		sa, sb := stridesOf(a, side, clockA), stridesOf(b, side, clockB)
		if len(sa) == 0 || len(sb) == 0 {
			t.Fatalf("no strides in %v, %v", a.Contacts, b.Contacts)
		}
		i, j := rapid.IntRange(0, len(sa)-1).Draw(t, "i"), rapid.IntRange(0, len(sb)-1).Draw(t, "j")
		pairs := pairUp(clockA, sa[i], clockB, sb[j])
		half := func(clock []float64, s stride) float64 { return (clock[1] - clock[0]) / 2 / s.durationS() }
		for _, p := range pairs {
			if d := math.Abs(sa[i].phase(clockA[p.A]) - p.Phase); d > half(clockA, sa[i])+1e-5 {
				t.Fatalf("phase %g: the frame of A is at %g", p.Phase, sa[i].phase(clockA[p.A]))
			}
			if d := math.Abs(sb[j].phase(clockB[p.B]) - p.Phase); d > half(clockB, sb[j])+1e-5 {
				t.Fatalf("phase %g: the frame of B is at %g", p.Phase, sb[j].phase(clockB[p.B]))
			}
		}
		if n := max(framesIn(clockA, sa[i]), framesIn(clockB, sb[j])); len(pairs) != n || pairs[0].Phase != 0 {
			t.Fatalf("%d steps of %d frames, the first at %g", len(pairs), n, pairs[0].Phase)
		}
		for k := 1; k < len(pairs); k++ {
			if da, db := pairs[k].A-pairs[k-1].A, pairs[k].B-pairs[k-1].B; da < 0 || db < 0 || da > 2 || db > 2 {
				t.Fatalf("step %d goes on by %d and %d frames", k, da, db)
			}
		}
		mirror := side.Other()
		if got := pairUp(clockA, stridesOf(flipped(a), mirror, clockA)[i], clockB, stridesOf(flipped(b), mirror, clockB)[j]); !slices.Equal(got, pairs) {
			t.Fatal("the mirrored runner is paired otherwise")
		}
		for k, p := range pairUp(clockB, sb[j], clockA, sa[i]) {
			if p.A != pairs[k].B || p.B != pairs[k].A {
				t.Fatalf("step %d exchanged: %+v, was %+v", k, p, pairs[k])
			}
		}
	})
}

// TestStrideWithAMissingContactIsLeftOut: where a contact was missed, what would be
// one stride of double length is none.
func TestStrideWithAMissingContactIsLeftOut(t *testing.T) {
	var s event.Series
	for _, ic := range []float64{0.1, 0.8, 1.5, 2.9, 3.6} { // 2.2 is missing
		s.Contacts = append(s.Contacts, event.Contact{Side: body.Left, InitialContactS: ic, ToeOffS: ic + 0.25})
	}
	clock := make([]float64, 400)
	for i := range clock {
		clock[i] = float64(i) / 100
	}
	got := stridesOf(s, body.Left, clock)
	if len(got) != 3 || got[2].fromS != 2.9 {
		t.Errorf("%+v", got)
	}
	if n := len(stridesOf(s, body.Left, clock[:350])); n != 2 {
		t.Errorf("%d strides where the film ends before the last contact", n)
	}
	if n := len(stridesOf(s, body.Right, clock)); n != 0 {
		t.Errorf("%d strides of a foot without contacts", n)
	}
}

func TestPairingOfAResult(t *testing.T) {
	t.Parallel()
	st, s := atBench(t)
	p, err := st.Pairing(PageShown{s.ID, 0, 0}, PageShown{s.ID, 1, 1}, "left")
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Steps) < 60 || len(p.A.Strides) < 6 || p.A.LegPX == nil || p.B.LegPX == nil {
		t.Errorf("%d steps, %d strides, legs %v %v", len(p.Steps), len(p.A.Strides), p.A.LegPX, p.B.LegPX)
	}
	if !slices.Contains(p.Notes, "view") {
		t.Errorf("side and rear view are compared without a word: %v", p.Notes)
	}
	// The leg is as long as the body is made: 720 × 1280 frames the runner in both.
	c := s.Clips[0]
	if want := *p.A.LegPX / c.Info.Scale.PixelsPerM; math.Abs(want-0.49*s.Runner.HeightM) > 0.06*s.Runner.HeightM {
		t.Errorf("a leg of %.3f m at a height of %.2f m", want, s.Runner.HeightM)
	}
	for name, ask := range map[string]struct {
		a, b PageShown
		foot string
	}{
		"no foot":      {PageShown{s.ID, 0, 0}, PageShown{s.ID, 0, 1}, "both"},
		"no clip":      {PageShown{s.ID, 7, 0}, PageShown{s.ID, 0, 1}, "left"},
		"no stride":    {PageShown{s.ID, 0, 99}, PageShown{s.ID, 0, 1}, "left"},
		"stride below": {PageShown{s.ID, 0, -1}, PageShown{s.ID, 0, 1}, "left"},
		"no result":    {PageShown{"01ARZ3NDEKTSV4RRFFQ69G5FAV", 0, 0}, PageShown{s.ID, 0, 1}, "left"},
	} {
		var p *Problem
		if _, err := st.Pairing(ask.a, ask.b, ask.foot); !errors.As(err, &p) || p.Kind != KindUsage {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestBesideListsTheRunnersVisits: results of this visit come first, those of the
// runner's other visits after, and those of no one else.
func TestBesideListsTheRunnersVisits(t *testing.T) {
	t.Parallel()
	st, s := atBench(t)
	out, err := st.BesideResult(t.Context(), s.ID)
	if err != nil || len(out.Results) != 1 || out.Results[0].Result != s.ID || len(out.Results[0].Views) != 2 {
		t.Fatalf("%+v, %v", out, err)
	}
	kept, err := st.records()
	if err != nil {
		t.Fatal(err)
	}
	var visits []store.Visit
	err = kept.Change(context.Background(), store.Deed{What: "made"}, func(w store.Writer) error {
		for _, name := range []string{"One", "Other"} {
			r := store.Runner{Name: name}
			if err := w.PutRunner(&r); err != nil {
				return err
			}
			for k := range 2 {
				v := store.Visit{RunnerID: r.ID, Date: st.now().AddDate(0, -k, 0)}
				if err := w.PutVisit(&v); err != nil {
					return err
				}
				res := store.Result{VisitID: v.ID, Runner: name, Hash: "", Summary: rawJSON(resultLine{PageSummary: PageSummary{Views: []string{"left"}}})}
				if err := w.PutResult(&res); err != nil {
					return err
				}
				visits = append(visits, v)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	out, err = st.BesideVisit(t.Context(), visits[1].ID)
	if err != nil || len(out.Results) != 2 || !out.Results[0].Here || out.Results[0].Visit != visits[1].ID || out.Results[1].Visit != visits[0].ID || out.Runner != "One" {
		t.Errorf("%+v, %v", out, err)
	}
	if _, err := st.BesideVisit(t.Context(), "01ARZ3NDEKTSV4RRFFQ69G5FAV"); err == nil {
		t.Error("a visit that is not there has results")
	}
}

func TestCompareNotes(t *testing.T) {
	a, b := &Clip{Info: clip.Info{View: clip.LeftSide, BeltSpeedMPS: 3}}, &Clip{Info: clip.Info{View: clip.LeftSide, BeltSpeedMPS: 3.05}}
	if n := compareNotes(a, b, stride{}, stride{}); len(n) != 0 {
		t.Errorf("alike, yet %v", n)
	}
	b.Info.BeltSpeedMPS = 3.3
	b.Info.YawDeg = 9
	if n := compareNotes(a, b, stride{doubt: true}, stride{}); !slices.Equal(n, []string{"speed", "camera", "doubt"}) {
		t.Errorf("%v", n)
	}
	b.Info.BeltSpeedMPS = 0
	if n := compareNotes(a, b, stride{}, stride{}); !slices.Contains(n, "speed_unknown") {
		t.Errorf("%v", n)
	}
}
