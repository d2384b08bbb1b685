package app

import (
	"context"
	"math"
	"os"
	"testing"

	"gaitwright/internal/pose"
)

func needPose(t *testing.T) {
	t.Helper()
	if err := pose.Locate("").Ready(pose.Full); err != nil {
		t.Skip("the pose model is not installed: ", err)
	}
}

// held logs a bench's rows and holds its coverage against a bar.
func (b *FilmBench) held(t *testing.T, atLeast float64) {
	t.Helper()
	for _, r := range b.Rows() {
		t.Logf("%-5s %-30s %-5s %+8.3f ± %7.3f, stated %7.3f, within %d of %d, withheld %d", r.View, r.Name, r.Side, r.Bias, r.SD, r.Stated, r.Within, r.Values, r.Withheld)
	}
	in, n := b.Cover()
	t.Logf("%d of %d values within 1.96 times their stated error", in, n)
	if share := float64(in) / float64(n); !(share >= atLeast) {
		t.Errorf("%d of %d values lie within 1.96 times their stated error, fewer than %.0f %%", in, n, 100*atLeast)
	}
}

// One invented runner on film, through the whole program: what it states of its
// errors covers most of them. Single runners differ, so the bar is lower than for
// many; those are tried by TestFilmsOfManyRunners.
func TestFilmOfOneRunner(t *testing.T) {
	if testing.Short() {
		t.Skip("renders a film and follows it")
	}
	needPose(t)
	t.Parallel()
	k := filmCases(1, 200)[0]
	k.request.RateHz, k.request.Seconds, k.request.WidthPX, k.request.HeightPX = 60, 5, 432, 768
	st := &Studio{}
	r, err := st.truthOf(context.Background(), k.params, k.request, NoProgress{})
	if err != nil {
		t.Fatal(err)
	}
	b := &FilmBench{Runners: []*TruthResult{r}}
	b.held(t, 0.85)
	if _, n := b.Cover(); n < 40 {
		t.Errorf("only %d values were given", n)
	}
	for _, c := range r.Contacts {
		if c.Missed+c.Extra > 0 {
			t.Errorf("%s: %d contacts missed, %d extra", c.View, c.Missed, c.Extra)
		}
	}
}

// Invented runners of other builds, clothes, speeds and frame rates: at least 90 of
// 100 values within 1.96 times their stated error, and no measure with all of them
// outside. Those of the first part set the errors of package measure, together with
// the clips of TestClipsAreCovered; those of the second did not, and are the films of
// docs/accuracy.md. It takes some twenty minutes: set GAITWRIGHT_LONG=1.
func TestFilmsOfManyRunners(t *testing.T) {
	if os.Getenv("GAITWRIGHT_LONG") == "" {
		t.Skip("takes some twenty minutes: set GAITWRIGHT_LONG=1")
	}
	needPose(t)
	st := &Studio{}
	try := func(name string, films func() (*FilmBench, error)) {
		t.Run(name, func(t *testing.T) {
			b, err := films()
			if err != nil {
				t.Fatal(err)
			}
			b.held(t, 0.90)
			for _, name := range b.Outside(3) {
				t.Errorf("%s: all values are outside", name)
			}
			for _, r := range b.Runners {
				for _, c := range r.Contacts {
					for _, row := range c.Rows {
						t.Logf("%.3g m/s %s %s: %+.1f ± %.1f ms", r.Request.SpeedMPS, c.View, row.What, 1000*row.BiasS, 1000*row.SDS)
					}
				}
			}
		})
	}
	try("set the errors", func() (*FilmBench, error) {
		return st.filmAll(context.Background(), filmCases(8, 1000), "", NoProgress{})
	})
	try("strangers", func() (*FilmBench, error) { return st.FilmBench(context.Background(), 6, "", NoProgress{}) })
}

// The sums of a bench, by hand: two runners, three values within of four, one
// measure all outside.
func TestFilmBenchSums(t *testing.T) {
	row := func(name string, truth, measured, sem float64) TruthRow {
		return TruthRow{View: "left", Name: name, True: truth, Measured: measured, SEM: sem}
	}
	b := &FilmBench{Runners: []*TruthResult{
		{Measures: []TruthRow{row("step_rate", 160, 161, 1), row("trunk_lean", 5, 15, 2), row("contact_time", 0.25, math.NaN(), math.NaN())}},
		{Measures: []TruthRow{row("step_rate", 170, 169, 1), row("trunk_lean", 5, 5, 2)}},
		{Measures: []TruthRow{row("vertical_oscillation", 0.09, 0.11, 0.005)}},
	}}
	if in, n := b.Cover(); in != 3 || n != 5 {
		t.Errorf("%d of %d are within, want 3 of 5", in, n)
	}
	if out := b.Outside(1); len(out) != 1 || out[0] != "vertical_oscillation both" {
		t.Errorf("all outside: %q", out)
	}
	rows := b.Rows()
	if rows[0].Name != "step_rate" || rows[0].Bias != 0 || math.Abs(rows[0].SD-math.Sqrt2) > 1e-12 || rows[1].Name != "contact_time" || rows[1].Withheld != 1 || rows[1].Values != 0 {
		t.Errorf("rows %+v", rows)
	}
}
