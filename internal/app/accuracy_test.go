package app

import (
	"bytes"
	"context"
	"errors"
	"math"
	"strings"
	"testing"
)

func TestContactBars(t *testing.T) {
	good := func() ContactTrial {
		return ContactTrial{ContactComparison: ContactComparison{MotionStepRate: 160.1, ForceStepRate: 160, Rows: []ComparisonRow{
			{"initial contact", -0.005, 0.008, 40}, {"toe-off", 0.008, 0.010, 40}, {"contact time", 0.010, 0.012, 40}}}}
	}
	for _, k := range []struct {
		fails  string
		change func(*ContactTrial)
	}{
		{"", func(*ContactTrial) {}},
		{"missed", func(c *ContactTrial) { c.Missed = 1 }},
		{"extra", func(c *ContactTrial) { c.Extra = 1 }},
		{"contact bias", func(c *ContactTrial) { c.Rows[0].BiasS = 0.0051 }},
		{"contact SD", func(c *ContactTrial) { c.Rows[0].SDS = 0.0081 }},
		{"toe-off bias", func(c *ContactTrial) { c.Rows[1].BiasS = -0.0081 }},
		{"toe-off SD", func(c *ContactTrial) { c.Rows[1].SDS = math.NaN() }},
		{"contact time", func(c *ContactTrial) { c.Rows[2].BiasS = 0.0101 }},
		{"step rate", func(c *ContactTrial) { c.MotionStepRate = 159.7 }},
		{"nothing to compare", func(c *ContactTrial) { c.Rows = nil }},
	} {
		c := good()
		k.change(&c)
		c.judge()
		if got := strings.Join(c.Fails, ", "); got != k.fails {
			t.Errorf("judged %q, want %q", got, k.fails)
		}
	}
}

// The whole account on two runners a condition: every table has its figures, and
// a folder without force is refused.
func TestAccuracyIsWhole(t *testing.T) {
	if testing.Short() {
		t.Skip("runs through the grid")
	}
	t.Parallel()
	st := &Studio{}
	var b bytes.Buffer
	if err := st.WriteAccuracy(context.Background(), &b, AccuracyRequest{Runners: 2, Command: "gaitwright accuracy"}, NoProgress{}); err != nil {
		t.Fatal(err)
	}
	text := b.String()
	for _, want := range []string{"| Step rate | steps/min |", "| Contact time | s | withheld |", "- Pelvic drop: ", "No recordings with force", "## Not tested"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is missing", want)
		}
	}
	for _, no := range []string{"NaN", "%!", "<no value>"} {
		if strings.Contains(text, no) {
			t.Errorf("%q is in it", no)
		}
	}
	_, err := st.ContactTrials(context.Background(), t.TempDir(), NoProgress{})
	var p *Problem
	if !errors.As(err, &p) || p.Kind != KindNoResult {
		t.Errorf("an empty folder gives %v", err)
	}
}

func TestGridFiles(t *testing.T) {
	cells := []GridCell{{Factor: "usual", Level: "so", Rows: []GridRow{{View: "left", Name: "step_rate", Title: "Step rate", Unit: "steps/min", Bias: 0.25, SD: math.NaN(), Stated: 0.5, Covered: 1, Values: 1}}}}
	for name, want := range map[string]string{
		"a.csv":  "usual,so,left,step_rate,steps/min,0.25,,0.5,1,1,0\n",
		"a.json": "\"sd\": null",
		"a.md":   "| Step rate | steps/min | 0.5 | 100 % | 0.2 ± - |",
	} {
		var b bytes.Buffer
		if err := WriteGrid(&b, name, GridRequest{Runners: 2, Seconds: 8}, cells); err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(b.String(), want) {
			t.Errorf("%s: %q is missing in\n%s", name, want, b.String())
		}
	}
}
