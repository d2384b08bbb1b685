package app_test

import (
	"encoding/json"
	"flag"
	"math"
	"os"
	"path/filepath"
	"testing"
)

var update = flag.Bool("update", false, "write the golden files anew")

// goldenTolerance is how far a measure of the synthetic runner may lie from the
// golden file, relative to its size: room for the fused multiply-add that some
// processors (arm64) use and others (amd64) do not, and for nothing else.
const goldenTolerance = 1e-6

// goldenMeasure is one line of the golden file.
type goldenMeasure struct {
	View, Name, Side string
	Value, SD, SEM   *float64
	Strides          int
}

// TestNumbersOfTheSyntheticRunner holds every number of the chain, from exact
// landmarks to measures, against a golden file, to find changes that were not
// meant.
func TestNumbersOfTheSyntheticRunner(t *testing.T) {
	s := measureSynthetic(t, openStudio(t))
	var got []goldenMeasure
	for _, c := range s.Document().Clips {
		for _, m := range c.Measures {
			if m.Value != nil {
				got = append(got, goldenMeasure{c.View, m.Name, m.Side, m.Value, m.SD, m.SEM, m.Strides})
			}
		}
	}
	path := filepath.Join("testdata", "synthetic.golden.json")
	if *update {
		b, err := json.MarshalIndent(got, "", " ")
		if err != nil {
			t.Fatal(err)
		}
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, append(b, '\n'), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var want []goldenMeasure
	if err := json.Unmarshal(b, &want); err != nil {
		t.Fatal(err)
	}
	if len(got) != len(want) {
		t.Fatalf("%d measures, the golden file has %d (-update writes it anew)", len(got), len(want))
	}
	for i, g := range got {
		w := want[i]
		if g.View != w.View || g.Name != w.Name || g.Side != w.Side || g.Strides != w.Strides {
			t.Errorf("line %d is %s %s %s of %d strides, golden %s %s %s of %d", i, g.View, g.Name, g.Side, g.Strides, w.View, w.Name, w.Side, w.Strides)
			continue
		}
		for _, q := range []struct {
			what   string
			got, w *float64
		}{{"value", g.Value, w.Value}, {"SD", g.SD, w.SD}, {"SEM", g.SEM, w.SEM}} {
			switch {
			case (q.got == nil) != (q.w == nil):
				t.Errorf("%s %s %s: %s is %v, golden %v", g.View, g.Name, g.Side, q.what, q.got, q.w)
			// The document rounds to five digits after the point.
			case q.got != nil && math.Abs(*q.got-*q.w) > goldenTolerance*math.Max(1, math.Abs(*q.w))+1.01e-5:
				t.Errorf("%s %s %s: %s is %v, golden %v (-update writes it anew)", g.View, g.Name, g.Side, q.what, *q.got, *q.w)
			}
		}
	}
}
