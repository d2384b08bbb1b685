package norm

import (
	"math"
	"strings"
	"testing"

	"gaitwright/gait/clip"
	"gaitwright/gait/measure"

	"pgregory.net/rapid"
)

func TestBuiltInIsSound(t *testing.T) {
	rows := BuiltIn().Rows
	if len(rows) < 30 {
		t.Fatalf("only %d rows", len(rows))
	}
	for _, r := range rows {
		low, high := r.Range()
		if !(low < high) {
			t.Errorf("%s: %v to %v is no range", r.ID, low, high)
		}
		if len(r.Source) < 10 || r.Sample == "" || r.Method == "" {
			t.Errorf("%s lacks a source, sample or method", r.ID)
		}
	}
}

// What is written is read again as it was, views and open ends included.
func TestMarshalRoundTrip(t *testing.T) {
	for name, data := range Files() {
		a, err := Parse(data)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		text, err := a.Marshal()
		if err != nil {
			t.Fatal(err)
		}
		b, err := Parse(text)
		if err != nil {
			t.Fatalf("%s written: %v", name, err)
		}
		for i := range a.Rows {
			p, q := a.Rows[i], b.Rows[i]
			pl, ph := p.Range()
			ql, qh := q.Range()
			if p.ID != q.ID || pl != ql || ph != qh || len(p.Views) != len(q.Views) || p.SpeedText() != q.SpeedText() || p.Contested != q.Contested {
				t.Errorf("%s came back as %+v", p.ID, q)
			}
		}
	}
}

const ownRow = `
name: mine
rows:
  - {id: step-rate-college-4.6, measure: step_rate, low: 170, high: 190, unit: steps/min, source: my own club, sample: 20 runners, method: counted, tag: computed, confidence: high}
hide: [trunk-lean-3.4, no-such-row]
`

func TestOwnRowsReplaceAndHide(t *testing.T) {
	own, err := Parse([]byte(ownRow))
	if err != nil {
		t.Fatal(err)
	}
	got := BuiltIn().With(own)
	if n := len(got.Rows); n != len(BuiltIn().Rows)-1 {
		t.Errorf("%d rows, want one replaced and one hidden of %d", n, len(BuiltIn().Rows))
	}
	if rows := got.Lookup("step_rate", Conditions{}); len(rows) != 1 || !rows[0].Own {
		t.Errorf("with no speed known: %+v", rows)
	}
	if rows := got.Lookup("step_rate", Conditions{SpeedMPS: 4.6}); len(rows) < 2 || !rows[0].Own {
		t.Errorf("own row does not come first: %+v", rows)
	}
	if rows := got.Lookup("trunk_lean", Conditions{SpeedMPS: 3.4}); len(rows) != 0 {
		t.Errorf("a hidden row was found: %+v", rows)
	}
	if u := BuiltIn().Unknown(own); len(u) != 1 || u[0] != "no-such-row" {
		t.Errorf("unknown ids: %v", u)
	}
}

func TestLookupKeepsConditions(t *testing.T) {
	table := BuiltIn()
	if rows := table.Lookup("shank_angle_at_contact", Conditions{}); len(rows) != 0 {
		t.Errorf("a range of low confidence was given as a norm: %+v", rows)
	}
	if rows := table.Lookup("hip_adduction", Conditions{View: clip.Rear, SpeedMPS: 4, Sex: "female"}); len(rows) != 0 {
		t.Errorf("three-dimensional ranges were given for a film: %+v", rows)
	}
	find := func(rows []Row, id string) bool {
		for _, r := range rows {
			if r.ID == id {
				return true
			}
		}
		return false
	}
	women := table.Lookup("hip_adduction", Conditions{View: clip.Spatial, SpeedMPS: 4, Sex: "female"})
	if !find(women, "hip-adduction-women") || find(women, "hip-adduction-men") {
		t.Errorf("women: %+v", women)
	}
	if unknown := table.Lookup("hip_adduction", Conditions{View: clip.Spatial}); find(unknown, "hip-adduction-women") || find(unknown, "hip-adduction-men") {
		t.Errorf("sex not known: %+v", unknown)
	}
	if rows := table.Lookup("trunk_lean", Conditions{View: clip.Rear, SpeedMPS: 3.4}); len(rows) != 0 {
		t.Errorf("forward lean from behind: %+v", rows)
	}
	if rows := table.Lookup("trunk_lean", Conditions{View: clip.LeftSide, SpeedMPS: 5}); len(rows) != 0 {
		t.Errorf("lean at 5 m/s from 3.4: %+v", rows)
	}
}

// Step rate by height. The middle of each row is worked out here anew from the
// figures its method names: 172.6 ± 8.8 at 1.763 ± 0.103 m (Heiderscheit 2011,
// M-med: from memory) and r = -0.40 at 3.3 m/s (Luedke 2021, J Strength Cond Res
// 35:1141-1148, S). The range is what height can tell at best, ± 15 steps/min
// (computed, C), and the steeper fall of Burns 2019 (S: -12.3 for 10 cm) is named
// as contested.
func TestStepRateByHeight(t *testing.T) {
	const r, sd = -0.40, 8.8
	perMetre := r * sd / 0.103
	previous := math.Inf(1)
	for _, height := range []float64{1.60, 1.70, 1.80, 1.90} {
		rows := BuiltIn().Lookup("step_rate", Conditions{View: clip.LeftSide, SpeedMPS: 2.9, HeightM: height})
		if len(rows) == 0 || rows[0].HeightM == nil {
			t.Fatalf("%v m: %+v", height, rows)
		}
		row := rows[0]
		if want := 172.6 + perMetre*(height-1.763); math.Abs(*row.Mean-want) > 0.06 {
			t.Errorf("%v m: mean %v, worked out %v", height, *row.Mean, want)
		}
		if want := sd * math.Sqrt(1-r*r); math.Abs(*row.SD-want) > 0.06 {
			t.Errorf("%v m: SD %v, worked out %v", height, *row.SD, want)
		}
		low, high := row.Range()
		if half := (high - low) / 2; half < 15 || half > 17 {
			t.Errorf("%v m: ± %v", height, half)
		}
		if !(*row.Mean < previous) {
			t.Errorf("taller runners take as many steps: %v at %v m", *row.Mean, height)
		}
		if !strings.Contains(row.Contested, "12.3") || row.Tag != FromMemory {
			t.Errorf("%s does not say what is contested, or where it is from", row.ID)
		}
		previous = *row.Mean
	}
	if rows := BuiltIn().Lookup("step_rate", Conditions{SpeedMPS: 2.9}); len(rows) == 0 || rows[0].HeightM != nil {
		t.Errorf("height not known: %+v", rows)
	}
}

// Figures whose source was not seen or is unsure are listed, and no norm: step
// width, pelvic tilt, side lean, shank angle (M-low), and the trade's 180 steps.
func TestUnsureFiguresAreNoNorm(t *testing.T) {
	unsure := map[string]bool{"step-width-preferred": true, "pelvic-tilt-usual": true, "lateral-trunk-lean-usual": true, "shank-angle-usual": true, "step-rate-180": true}
	for _, r := range BuiltIn().Rows {
		if unsure[r.ID] == r.Usable() {
			t.Errorf("%s: usable %v", r.ID, r.Usable())
		}
		delete(unsure, r.ID)
	}
	if len(unsure) > 0 {
		t.Errorf("not listed: %v", unsure)
	}
}

func num(v float64) *float64 { return &v }

func TestLookupGoesInAStraightLine(t *testing.T) {
	row := func(id string, speed, mean, sd float64) Row {
		return Row{ID: id, Measure: "step_rate", SpeedMPS: &Span{num(speed), num(speed)}, Mean: num(mean), SD: num(sd), N: 6,
			Unit: "steps/min", Source: "s", Sample: "p", Confidence: High}
	}
	table := &Table{Rows: []Row{row("a", 2.5, 160, 8), row("b", 3.5, 170, 6), row("c", 4.5, 190, 4)}}
	rows := table.Lookup("step_rate", Conditions{SpeedMPS: 3})
	if len(rows) != 1 || *rows[0].Mean != 165 || *rows[0].SD != 7 || !strings.Contains(rows[0].Note, "2.5 and 3.5") {
		t.Errorf("half way: %+v", rows)
	}
	if rows := table.Lookup("step_rate", Conditions{SpeedMPS: 3.5}); len(rows) != 1 || rows[0].ID != "b" {
		t.Errorf("at a row's own speed: %+v", rows)
	}
	for _, v := range []float64{2, 5, 0} {
		if rows := table.Lookup("step_rate", Conditions{SpeedMPS: v}); len(rows) != 0 {
			t.Errorf("beyond the speeds, at %v m/s: %+v", v, rows)
		}
	}
}

func TestCompare(t *testing.T) {
	r := Row{Measure: "step_rate", Low: num(160), High: num(180), Confidence: High}
	nan := math.NaN()
	for _, tt := range []struct {
		value, sem, bias float64
		want             Verdict
	}{
		{170, 1, 0, Inside}, {161, 1, 0, AtBorder}, {159, 1, 0, AtBorder}, {157, 1, 0, Below}, {183, 1, 0, Above}, {181, 1, 0, AtBorder},
		{183, 1, 2, AtBorder}, // read high by 2: the truth may be 181 ± 1.96
		{183, 1, -2, Above}, {158, 0.5, -2, AtBorder}, {nan, nan, 0, Unknown}, {170, nan, 0, Unknown}, {170, 20, 0, AtBorder},
	} {
		got := Compare(measure.Measure{Name: "step_rate", Value: tt.value, SEM: tt.sem, Bias: tt.bias}, r)
		if got.Verdict != tt.want {
			t.Errorf("%v ± %v, bias %v: %v, want %v", tt.value, tt.sem, tt.bias, got.Verdict, tt.want)
		}
		if (got.Verdict == Unknown) != (got.Reason != "") {
			t.Errorf("%v: verdict %v with the reason %q", tt.value, got.Verdict, got.Reason)
		}
	}
	if got := Compare(measure.Measure{Name: "stride_time", Value: 170, SEM: 1}, r); got.Verdict != Unknown {
		t.Errorf("another measure was compared: %v", got.Verdict)
	}
	low := r
	low.Confidence = Low
	if got := Compare(measure.Measure{Name: "step_rate", Value: 100, SEM: 1}, low); got.Verdict != Unknown {
		t.Errorf("a range of low confidence gave %v", got.Verdict)
	}
	open := Row{Measure: "step_rate", Low: num(160), Confidence: High}
	if got := Compare(measure.Measure{Name: "step_rate", Value: 500, SEM: 1}, open); got.Verdict != Inside {
		t.Errorf("open end: %v", got.Verdict)
	}
}

// More error never turns "at the border" into "outside", and a value inside and
// outside at once does not exist.
func TestCompareProperties(t *testing.T) {
	r := Row{Measure: "step_rate", Low: num(160), High: num(180), Confidence: High}
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(100, 240).Draw(t, "value")
		a := rapid.Float64Range(0.01, 20).Draw(t, "error")
		b := a + rapid.Float64Range(0, 20).Draw(t, "more")
		bias := rapid.Float64Range(-5, 5).Draw(t, "bias")
		sure := Compare(measure.Measure{Name: "step_rate", Value: v, SEM: a, Bias: bias}, r).Verdict
		less := Compare(measure.Measure{Name: "step_rate", Value: v, SEM: b, Bias: bias}, r).Verdict
		if less != sure && less != AtBorder {
			t.Fatalf("%v: %v with error %v, %v with %v", v, sure, a, less, b)
		}
		if sure == Below && v >= 160 || sure == Above && v <= 180 || sure == Inside && (v < 160 || v > 180) {
			t.Fatalf("%v is called %v", v, sure)
		}
	})
}

func TestComputeCountsPersons(t *testing.T) {
	var trials []Trial
	for i, v := range []float64{150, 160, 170, 180, 190} {
		person := string(rune('a' + i))
		m := []measure.Measure{{Name: "step_rate", Value: v},
			{Name: "knee_flexion_at_contact", Side: 1, Value: v - 140}, {Name: "knee_flexion_at_contact", Side: 2, Value: v - 150}}
		trials = append(trials, Trial{Person: person, View: clip.Spatial, SpeedMPS: 3.5, Measures: m}, Trial{Person: person, View: clip.Spatial, SpeedMPS: 3.54, Measures: m})
	}
	trials = append(trials, Trial{Person: "f", SpeedMPS: 4.5, Measures: trials[0].Measures}) // alone at its speed
	rows := Compute(trials, Origin{ID: "x", Confidence: Medium})
	if len(rows) != 2 {
		t.Fatalf("%d rows: %+v", len(rows), rows)
	}
	// Mean 170, SD √250 of 150…190; left and right are one person's mean.
	if r := rows[0]; *r.Mean != 170 || math.Abs(*r.SD-15.81) > 0.005 || r.N != 5 || !r.SpeedMPS.Holds(3.52) || r.SpeedMPS.Holds(4) {
		t.Errorf("step rate: %+v", r)
	}
	if r := rows[1]; *r.Mean != 25 || r.N != 5 {
		t.Errorf("knee: %+v", r)
	}
}

func TestParseRefuses(t *testing.T) {
	row := func(fields string) string {
		return "name: x\nrows:\n  - {id: a, measure: step_rate, unit: steps/min, source: s, sample: s, method: m, tag: seen, confidence: high, " + fields + "}\n"
	}
	if _, err := Parse([]byte(row("low: 1"))); err != nil {
		t.Fatalf("the sound one: %v", err)
	}
	for _, tt := range []struct{ text, want string }{
		{"", "here stands nothing"}, {"name: x", "neither rows nor hide"}, {"[1,", "YAML"}, {"name: &a x\nrows: []", "anchors"},
		{row("mean: 3"), "either mean and sd"}, {row("low: 1, mean: 3, sd: 1"), "either mean and sd"}, {row("low: 3, high: 1"), "less than high"},
		{row("low: 1, sped: 3"), "sped"}, {row("low: 1, speed_mps: {low: 30}"), "cannot be right"}, {row("low: 1, height_m: {low: 178}"), "cannot be right"},
		{row("low: one"), "rows, entry 1, low: here stands a text; a number is wanted"}, {strings.Replace(row("low: 1"), "step_rate", "cadence", 1), "not known"},
		{strings.Replace(row("low: 1"), "steps/min", "s", 1), "convert"}, {strings.Replace(row("low: 1"), "step_rate, unit: steps/min", "trunk_lean, views: [rear], unit: deg", 1), "not seen from"},
		{row("low: 1") + strings.SplitN(row("low: 2"), "rows:\n", 2)[1], "twice"}, {strings.Repeat("#", MaxBytes+1), "too many"},
	} {
		if _, err := Parse([]byte(tt.text)); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%.80q: %v, want %q", tt.text, err, tt.want)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(ownRow))
	f.Add([]byte("name: x\nrows:\n  - {}\n"))
	f.Add([]byte("{"))
	f.Fuzz(func(t *testing.T, data []byte) {
		table, err := Parse(data)
		if err != nil {
			return
		}
		for _, r := range table.Rows {
			r.Range()
			r.SpeedText()
			table.Lookup(r.Measure, Conditions{SpeedMPS: 3, HeightM: 1.7, Sex: "male"})
		}
	})
}
