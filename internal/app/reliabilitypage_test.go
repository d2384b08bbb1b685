package app

import (
	"math"
	"testing"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
	"gaitwright/gait/norm"
	"gaitwright/gait/track"
)

// The ranges here are invented.
const inventedNorms = `name: own
rows:
- {id: a, measure: step_rate, speed_mps: {low: 3, high: 4}, low: 160, high: 180, n: 6, unit: steps/min, source: invented, sample: six invented runners, method: invented, tag: common practice, confidence: medium}
- {id: b, measure: contact_time, high: 0.3, unit: s, source: invented, sample: invented, method: invented, tag: common practice, confidence: medium}
`

func TestPageRange(t *testing.T) {
	table, err := norm.Parse([]byte(inventedNorms))
	if err != nil {
		t.Fatal(err)
	}
	rate := func(v, sem float64) measure.Measure {
		return measure.Measure{Name: "step_rate", Side: body.NoSide, Unit: "steps/min", Value: v, SEM: sem}
	}
	at := norm.Conditions{View: clip.LeftSide, SpeedMPS: 3.5}
	for _, tt := range []struct {
		m    measure.Measure
		want string
	}{
		{rate(170, 1), "inside"}, {rate(179, 1), "at the border"}, {rate(155, 1), "below"}, {rate(190, 1), "above"}, {rate(190, math.NaN()), "cannot be said"},
	} {
		r := pageRange(table, tt.m, at)
		if r == nil || r.Verdict != tt.want || *r.Low != 160 || *r.High != 180 || r.People != 6 || r.Speed != "3-4" || (r.Reason != "") != (tt.want == "cannot be said") {
			t.Errorf("%v ± %v: %+v, want %s", tt.m.Value, tt.m.SEM, r, tt.want)
		}
	}
	if r := pageRange(table, measure.Measure{Name: "contact_time", Side: body.Left, Unit: "s", Value: 0.2, SEM: 0.01}, at); r == nil || r.Low != nil || *r.High != 0.3 || r.Speed != "" || r.Verdict != "inside" {
		t.Errorf("open end: %+v", r)
	}
	for name, r := range map[string]*PageRange{
		"another speed": pageRange(table, rate(170, 1), norm.Conditions{View: clip.LeftSide, SpeedMPS: 5}), "no range": pageRange(table, measure.Measure{Name: "flight_time", Value: 0.1}, at),
		"withheld": pageRange(table, rate(math.NaN(), 1), at),
	} {
		if r != nil {
			t.Errorf("%s: %+v", name, r)
		}
	}
}

// A kept result carries ranges to the page, and says so where the user's own file
// of them is spoiled.
func TestResultCarriesRanges(t *testing.T) {
	st, err := OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	empty := track.Track{}
	s := &Session{Created: time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC), Clips: []*Clip{{Info: clip.Info{View: clip.LeftSide, FrameRateHz: 240, BeltSpeedMPS: 3.5}, Track: &empty,
		Measures: []measure.Measure{{Name: "step_rate", Side: body.NoSide, Unit: "steps/min", Value: 170, SEM: 1, Strides: 9}}}}}
	if err := st.Save(s); err != nil {
		t.Fatal(err)
	}
	t.Setenv("GAITWRIGHT_NORMS", write(t, "norms.yaml", inventedNorms))
	p, err := st.Result(s.ID)
	if err != nil {
		t.Fatal(err)
	}
	if r := p.Clips[0].Measures[0].Range; r == nil || !r.Own || r.Verdict != "inside" || len(p.Notes) != 0 {
		t.Errorf("%+v, notes %v", r, p.Notes)
	}
	t.Setenv("GAITWRIGHT_NORMS", write(t, "norms.yaml", "rows: 3"))
	p, err = st.Result(s.ID)
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Notes) != 1 || p.Clips[0].Measures[0].Range == nil {
		t.Errorf("notes %v", p.Notes)
	}
}
