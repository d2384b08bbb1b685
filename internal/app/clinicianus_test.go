package app

import (
	"bytes"
	"math"
	"regexp"
	"strings"
	"testing"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
	"gaitwright/internal/render"
)

// TestMetricTextInUSUnits holds sentences against the definitions: a mile is 1609.344 m,
// an inch 0.0254 m, a foot 0.3048 m and a pound 0.45359237 kg, all of them exactly
// (international yard and pound agreement, 1959).
func TestMetricTextInUSUnits(t *testing.T) {
	for _, x := range []struct{ language, from, want string }{
		{"en", "10.8 km/h", "6.7 mph"},
		{"en", "Belt 3.00 m/s; given", "Belt 6.7 mph; given"},
		{"en", "2.803 ± 0.012 m/s", "6.270 ± 0.027 mph"},
		{"en", "36 people at 2.40 to 3.60 m/s", "36 people at 5.4 to 8.1 mph"},
		{"en", "5:33 min/km", "8:56 min/mile"},
		{"en", "40 km a week", "24.9 miles a week"},
		{"en", "longest 16.09344 km", "longest 10.00000 miles"},
		{"en", "100 kg", "220 lb"},
		{"en", "Step width, left is -0.043 ± 0.004 m, beyond 0.051 m by more than its error", "Step width, left is -1.69 ± 0.16 in, beyond 2.01 in by more than its error"},
		{"en", "The camera stood only 3.2 m away: film from 4 m or more.", "The camera stood only 10.5 ft away: film from 13 ft or more."},
		{"en", "on a 20 cm step, 2.54 mm", "on a 7.9 in step, 0.1000 in"},
		{"en", "8.2 kN/m and 1.40 Nm/kg, 3 min, 5 moments, 25 kg/m², 9.8 m/s²", "8.2 kN/m and 1.40 Nm/kg, 3 min, 5 moments, 25 kg/m², 9.8 m/s²"},
		{"en", "Weir 2005, J Strength Cond Res 19:231; 12 degrees", "Weir 2005, J Strength Cond Res 19:231; 12 degrees"},
		{"de", "2,40 bis 3,60 m/s", "5,4 bis 8,1 mph"},
		{"de", "0,043 ± 0,004 m", "1,69 ± 0,16 Zoll"},
		{"de", "5:33 min/km", "8:56 min/Meile"},
		{"de", "längster 16 km", "längster 9,9 Meilen"},
	} {
		if got := usText(x.from, x.language); got != x.want {
			t.Errorf("%q\n got %q\nwant %q", x.from, got, x.want)
		}
	}
	for from, want := range map[RunnerFacts]string{
		{HeightM: 1.778, LegLengthM: 0.9144, MassKG: 72.5747792, Sex: "female"}: "5 ft 10 in, leg 36.0 in, 160 lb, female",
		{HeightM: 1.8288}: "6 ft 0 in",
		{HeightM: 1.791}:  "5 ft 10.5 in",
		{}:                "",
	} {
		if got := from.inUSWords(); got != want {
			t.Errorf("%+v reads %q, want %q", from, got, want)
		}
	}
}

// metricLeft is what no text of a US report says; moments by mass and stiffness are as
// the literature has them.
var metricLeft = regexp.MustCompile(`\d[ \x{202f}]?(km|cm|mm|kg|m|m/s|km/h)($|[^\w/²·])|\b(km/h|min/km|m/s)\b|(?i:centimet|zentimet|kilomet)`)

// TestClinicianReportInUSUnits turns sentences, tables with their plain columns, and
// plots of lengths; people's own words stay, and so do angles.
func TestClinicianReportInUSUnits(t *testing.T) {
	for _, language := range []string{"en", "de"} {
		measures := &render.Grid{Columns: make([]render.GridColumn, 9), Rows: []render.GridRow{
			{Head: "From the left, 3.00 m/s"},
			{Cells: []string{"Step width", "", "0.043 m", "0.004", "0.011", "24", "0.010 to 0.060", "pose model", "1"}},
			{Cells: []string{"Knee flexion", "left", "42.0 deg", "2.0", "5.5", "24", "38.0 to 46.0", "pose model", "2"}},
		}}
		exam := &render.Grid{Columns: make([]render.GridColumn, 8), Rows: []render.GridRow{{Cells: []string{"Lunge to the wall", "left", "8 cm", "1.5", "3 of 3", "from 9", "", "1"}}}}
		rise, knee := measure.Curve{Name: "pelvis_height", Unit: "m"}, measure.Curve{Name: "knee_flexion", Unit: "deg"}
		rise.Mean[50], knee.Mean[50] = 0.0508, 40
		kept := []measure.Curve{rise}
		overturn := []string{"Less than 0.030 m at 2.80 m/s."}
		r := &render.Dossier{About: RunnerFacts{HeightM: 1.7145, LegLengthM: 0.9144, MassKG: 64, Sex: "female"}.inUSWords(), Facts: []render.Fact{{Label: "Goals", Value: "10 km in under 50 min"}, {Label: "Training", Value: "40 km a week, longest 16 km, lately 5 km more"}},
			Parts: []render.Part{{Title: "Findings", Blocks: []render.Block{{Head: "Crossing 2 cm"}, {Small: "The coach's own finding."}, {Text: "About 2 cm over the line."}, {Text: "Text at 2.80 m/s. Rejected by the coach: only 1 cm"}, {List: overturn}}},
				{Title: "Measures", Blocks: []render.Block{{Table: measures}}}, {Title: "Exam", Blocks: []render.Block{{Table: exam}}},
				{Title: "Curves over the stride", Blocks: []render.Block{{Plots: []render.CurvePlot{{Title: "Rise and fall", Unit: "m", Curves: kept, Bars: []render.CurveBar{{Low: 0.0254, High: math.Inf(1)}}}, {Title: "Knee flexion", Unit: "°", Curves: []measure.Curve{knee}}}}}}}}
		plan := planUS(r)
		if language == "de" {
			inGerman(r, nil)
		}
		inUS(r, plan, language)
		if want := map[string]string{"en": "5 ft 7.5 in, leg 36.0 in, 141 lb, female", "de": "5 Fuß 7,5 Zoll, Bein 36,0 Zoll, 141 lb, weiblich"}[language]; r.About != want {
			t.Errorf("%s: the runner is %q, want %q", language, r.About, want)
		}
		in, comma := "in", func(s string) string { return s }
		if language == "de" {
			in, comma = "Zoll", func(s string) string { return regexp.MustCompile(`(\d)\.(\d)`).ReplaceAllString(s, "$1,$2") }
		}
		for c, want := range map[int]string{2: "1.69 " + in, 3: "0.16", 4: "0.43", 5: "24"} {
			if got := measures.Rows[1].Cells[c]; got != comma(want) {
				t.Errorf("%s: column %d is %q, want %q", language, c, got, comma(want))
			}
		}
		if got, want := measures.Rows[1].Cells[6], map[string]string{"en": "0.39 to 2.36", "de": "0,39 bis 2,36"}[language]; got != want {
			t.Errorf("%s: the usual is %q, want %q", language, got, want)
		}
		if got := measures.Rows[2].Cells[3]; got != comma("2.0") {
			t.Errorf("%s: an angle's error is %q", language, got)
		}
		if row := exam.Rows[0].Cells; row[2] != comma("3.1 ")+in || row[3] != comma("0.59") || row[4] != map[string]string{"en": "3 of 3", "de": "3/3"}[language] || row[5] != map[string]string{"en": "from 3.5", "de": "ab 3,5"}[language] {
			t.Errorf("%s: the test reads %q", language, row)
		}
		plots := r.Parts[3].Blocks[0].Plots
		if p := plots[0]; math.Abs(p.Curves[0].Mean[50]-2) > 1e-9 || p.Unit != in || math.Abs(p.Bars[0].Low-1) > 1e-9 || kept[0].Mean[50] != 0.0508 {
			t.Errorf("%s: the plot is %v %s, the kept curve %v", language, p.Curves[0].Mean[50], p.Unit, kept[0].Mean[50])
		}
		if p := plots[1]; p.Unit != "°" || p.Curves[0].Mean[50] != 40 {
			t.Errorf("%s: an angle was turned", language)
		}
		found := r.Parts[0].Blocks
		if found[0].Head != "Crossing 2 cm" || found[2].Text != "About 2 cm over the line." || r.Facts[0].Value != "10 km in under 50 min" {
			t.Errorf("%s: own words were changed: %+v, %+v", language, found, r.Facts)
		}
		if want := map[string]string{"en": "24.9 miles a week, longest 9.9 miles, lately 5 km more", "de": "24,9 Meilen pro Woche, längster 9,9 Meilen, lately 5 km more"}[language]; r.Facts[1].Value != want {
			t.Errorf("%s: training reads %q, want %q", language, r.Facts[1].Value, want)
		}
		if got := found[3].Text; !regexp.MustCompile(`6[.,]3 mph\. .*only 1 cm$`).MatchString(got) {
			t.Errorf("%s: %q", language, got)
		}
		if metricLeft.MatchString(found[4].List[0]) || overturn[0] != "Less than 0.030 m at 2.80 m/s." && language == "en" {
			t.Errorf("%s: %q of %q", language, found[4].List, overturn)
		}
	}
}

// TestMeasurementPageInUSUnits turns a measurement's one page: what is kept stays in
// metres, and a length's difference of the sides is still the one beside its values.
func TestMeasurementPageInUSUnits(t *testing.T) {
	rise := measure.Curve{Name: "pelvis_height", Unit: "m"}
	rise.Mean[50] = 0.0508
	kept := []measure.Measure{
		{Name: "step_length", Side: body.Left, Value: 1.016, SD: 0.0254, SEM: 0.0127, MDC95: 0.0352, Unit: "m", Strides: 24, Flag: "within 2.54 cm"},
		{Name: "step_length", Side: body.Right, Value: 1.0414, SD: 0.0254, SEM: 0.0127, MDC95: 0.0352, Unit: "m", Strides: 24},
		{Name: "trunk_lean", Value: 7.5, SD: 1, SEM: 1, MDC95: 2.8, Unit: "deg", Strides: 24},
	}
	at := time.Date(2026, 11, 30, 9, 0, 0, 0, time.UTC)
	r := &render.Report{Runner: "Invented", Made: at, Measures: kept, Asymmetries: measure.Asymmetries(kept), Curves: []measure.Curve{rise},
		Clips: []render.Clip{{Info: clip.Info{View: clip.LeftSide, BeltSpeedMPS: 3}, Steps: 48}}, Method: []string{"The belt ran at 3.00 m/s."}}
	pageInUS(r)
	if kept[0].Value != 1.016 || kept[0].Flag != "within 2.54 cm" {
		t.Errorf("the kept measure became %+v", kept[0])
	}
	if m := r.Measures[0]; math.Abs(m.Value-40) > 1e-9 || math.Abs(m.MDC95-0.0352/0.0254) > 1e-9 || m.Unit != "in" || r.Measures[2].Value != 7.5 {
		t.Errorf("turned to %+v", r.Measures)
	}
	if math.Abs(r.Curves[0].Mean[50]-2) > 1e-9 || r.Curves[0].Unit != "in" {
		t.Errorf("the curve is %v %s", r.Curves[0].Mean[50], r.Curves[0].Unit)
	}
	var drawn bytes.Buffer
	if err := r.WriteSVG(&drawn); err != nil {
		t.Fatal(err)
	}
	text := regexp.MustCompile(`(?s)<style>.*</style>|<[^>]*>`).ReplaceAllString(drawn.String(), "\n")
	if left := metricLeft.FindString(text); left != "" {
		t.Errorf("metric is left: %q", left)
	}
	// 3 m/s by definition: 3·3600/1609.344 = 6.71 mph, and 1609.344/3 s = 8:56 a mile.
	for _, want := range []string{"6.7 mph", "8:56/mi", "40.00", "41.00", "+1.00", "within 1.000 in"} {
		if !strings.Contains(strings.ReplaceAll(text, "\u00a0", " "), want) {
			t.Errorf("no %q on the page:\n%s", want, text)
		}
	}
}
