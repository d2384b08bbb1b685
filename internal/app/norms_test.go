package app_test

import (
	"bytes"
	"context"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
	"gaitwright/gait/norm"
	"gaitwright/internal/app"
)

// The embedded ranges of the open treadmill data are those that the program
// computes from the data today: means within a quarter of the standard deviation
// between people, which leaves room for small changes of the measures. One of the
// three speeds is tried.
func TestOpenTreadmillRangesAreCurrent(t *testing.T) {
	if testing.Short() {
		t.Skip("six marker files are measured")
	}
	dir := sharedData(t, "rbds")
	files, err := filepath.Glob(filepath.Join(dir, "RBDS*runT35.c3d"))
	if err != nil || len(files) != 6 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	st, err := app.OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	got, _, err := st.ComputeNorms(context.Background(), app.NormsRequest{Files: files, Person: app.DefaultPerson, Name: "open-treadmill", Source: "x"}, app.NoProgress{})
	if err != nil {
		t.Fatal(err)
	}
	kept := map[string]norm.Row{}
	for _, r := range norm.BuiltIn().Rows {
		if strings.HasPrefix(r.ID, "open-treadmill-") && strings.HasSuffix(r.ID, "-3.5") {
			kept[r.ID] = r
		}
	}
	if len(kept) < 30 {
		t.Fatalf("only %d rows are embedded", len(kept))
	}
	for _, r := range got.Rows {
		k, ok := kept[r.ID]
		if !ok {
			t.Errorf("%s is not embedded", r.ID)
			continue
		}
		delete(kept, r.ID)
		if math.Abs(*r.Mean-*k.Mean) > 0.25**k.SD || *r.SD / *k.SD > 1.35 || *k.SD / *r.SD > 1.35 || r.N != k.N {
			t.Errorf("%s: %g ± %g of %d now, %g ± %g of %d kept", r.ID, *r.Mean, *r.SD, r.N, *k.Mean, *k.SD, k.N)
		}
	}
	for id := range kept {
		t.Errorf("%s is embedded, but no longer computed", id)
	}
}

// All 26 runners of the set by force alone (50 N): mean step rate 162, 171, 184 a
// minute and mean contact 269, 224, 194 ms. Six of them lie near.
func TestOpenTreadmillRangesAgainstAllRunners(t *testing.T) {
	for _, tt := range []struct {
		speed, stepRate, contact float64
	}{{2.5, 162, 0.269}, {3.5, 171, 0.224}, {4.5, 184, 0.194}} {
		for name, want := range map[string]float64{"step_rate": tt.stepRate, "contact_time": tt.contact} {
			rows := norm.BuiltIn().Lookup(name, norm.Conditions{View: clip.Spatial, SpeedMPS: tt.speed})
			found := false
			for _, r := range rows {
				if strings.HasPrefix(r.ID, "open-treadmill-") {
					found = true
					// The mean of six of the 26 spreads by SD·√(1/6-1/26).
					if d := math.Abs(*r.Mean - want); d > 2**r.SD*math.Sqrt(1./6-1./26) {
						t.Errorf("%s: mean %g, all runners %g", r.ID, *r.Mean, want)
					}
				}
			}
			if !found {
				t.Errorf("no row for %s at %v m/s", name, tt.speed)
			}
		}
	}
}

func TestNormsOfOwnFile(t *testing.T) {
	file := filepath.Join(t.TempDir(), "norms.yaml")
	t.Setenv("GAITWRIGHT_NORMS", file)
	table, _, err := app.Norms("")
	if err != nil || len(table.Rows) != len(norm.BuiltIn().Rows) {
		t.Fatalf("without a file: %v", err)
	}
	if _, _, err := app.Norms(file); err == nil || !strings.Contains(err.Error(), file) {
		t.Errorf("a file named and absent: %v", err)
	}
	shown, err := app.ShowNorms()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, []byte(shown), 0o644); err != nil {
		t.Fatal(err)
	}
	// What --show prints is itself sound, and replaces every row.
	text, err := app.CheckNorms(file)
	if err != nil || !strings.Contains(text, "is sound") {
		t.Errorf("%s %v", text, err)
	}
	table, _, err = app.Norms("")
	if err != nil || len(table.Rows) != len(norm.BuiltIn().Rows) || !table.Rows[0].Own {
		t.Errorf("own rows did not replace the built-in ones: %v", err)
	}
	if err := os.WriteFile(file, bytes.Repeat([]byte("x"), norm.MaxBytes+1), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, _, err := app.Norms(""); app.KindOf(err) != app.KindUsage {
		t.Errorf("a huge file: %v", err)
	}
}

func TestRangeTable(t *testing.T) {
	s := &app.Session{Clips: []*app.Clip{{Info: clip.Info{View: clip.Spatial, BeltSpeedMPS: 3.4}, Measures: []measure.Measure{
		{Name: "trunk_lean", Unit: "deg", Value: 30, SEM: 1},
		{Name: "overstride", Unit: "m", Value: math.NaN(), SEM: math.NaN()},
		{Name: "elbow_angle", Unit: "deg", Value: 90, SEM: 1},
	}}}}
	tables := s.RangeTable(norm.BuiltIn())
	if len(tables) != 1 || len(tables[0]) != 1 {
		t.Fatalf("%+v", tables)
	}
	// Teng & Powers 2014: 7.3 ± 3.6 degrees of 24; one more runner within
	// ± 2.0687·3.6·√(25/24) = 7.6.
	if l := tables[0][0]; l.Verdict != "above" || l.Range != "-0.3 to 14.9" || !strings.Contains(l.Source, "Teng & Powers 2014") {
		t.Errorf("%+v", l)
	}
}
