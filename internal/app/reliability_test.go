package app

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
)

func write(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// The six-by-four ratings of Shrout & Fleiss (1979) in every form that is read
// give the published coefficients .17 .29 .71 .44 .62 .91.
func TestReliabilityReadsEveryForm(t *testing.T) {
	table := [][]float64{{9, 2, 5, 8}, {6, 1, 3, 2}, {8, 4, 6, 8}, {7, 1, 2, 6}, {10, 5, 6, 9}, {6, 2, 4, 7}}
	var wide, bare, named, euro, long strings.Builder
	wide.WriteString("J1,J2,J3,J4\n")
	named.WriteString("\ufeffsubject,J1,J2,J3,J4\n# ratings\n")
	euro.WriteString("Name;J1;J2;J3;J4\n")
	long.WriteString("Session,Runner,Value,Measure\n")
	for i, row := range table {
		cells := strings.Trim(strings.ReplaceAll(fmt.Sprint(row), " ", ","), "[]")
		fmt.Fprintf(&wide, "%s\n", cells)
		fmt.Fprintf(&bare, "%s\n", cells)
		fmt.Fprintf(&named, "S%d,%s\n", i, cells)
		fmt.Fprintf(&euro, "S%d;%s,0\n", i, strings.ReplaceAll(cells, ",", ",0;"))
		for j, v := range row {
			fmt.Fprintf(&long, "J%d,S%d,%g,step_rate\n", j, i, v)
		}
	}
	for name, text := range map[string]string{"wide": wide.String(), "bare": bare.String(), "named": named.String(), "euro": euro.String(), "long": long.String()} {
		found, _, err := CheckReliability(ReliabilityRequest{Files: []string{write(t, name+".csv", text)}})
		if err != nil || len(found) != 1 {
			t.Errorf("%s: %v, %d results", name, err, len(found))
			continue
		}
		r := found[0]
		for i, want := range []float64{.17, .29, .71, .44, .62, .91} {
			if math.Abs(r.ICC[i].Value-want) > 0.005 {
				t.Errorf("%s: %v = %v, published %v", name, r.ICC[i].Form, r.ICC[i].Value, want)
			}
		}
		if math.Abs(r.SEM-2.50277) > 1e-5 || math.Abs(r.SEM-r.Anova.SEMAgreement()) > 1e-12 || math.Abs(r.SEMConsistency-1.00968) > 1e-5 || len(r.Pairs) != 6 || r.DF() != 18 {
			t.Errorf("%s: SEM %v, consistency %v, %d pairs", name, r.SEM, r.SEMConsistency, len(r.Pairs))
		}
	}
}

func TestReliabilityRefuses(t *testing.T) {
	for _, tt := range []struct{ text, want string }{
		{"", "empty"}, {"a,b\n\"1,2", "is no table"}, {"a,b\n1,2\n3\n", "is no table"}, {"a,b\n1,x\n2,3\n", "is no number"}, {"a,a\n1,2\n3,4\n", "name of its own"},
		{"subject,a,b\nx,1,2\nx,3,4\n", "two rows"}, {"a,subject,b\n1,2,3\n", "must be the first"}, {"value,subject\n1,a\n", "column rater"},
		{"value,subject,rater\nNaN,a,b\n", "no number"}, {"value,subject,rater\n1,a,b\n2,a,b\n", "two readings"}, {"value,subject,rater\n1,,b\n", "is empty"},
		{"a,b\n1,2\n", "two subjects"}, {"a,b\n1,\n2,3\n", "two subjects"}, {"a\n1\n2\n", "two subjects"}, {"1,2\n1e999,4\n", "no number"},
	} {
		_, _, err := CheckReliability(ReliabilityRequest{Files: []string{write(t, "table.csv", tt.text)}})
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%q: %v, want %q", tt.text, err, tt.want)
		}
	}
	good := write(t, "good.csv", "a,b\n1,2\n3,5\n4,4\n")
	for _, tt := range []struct {
		r    ReliabilityRequest
		want string
	}{
		{ReliabilityRequest{}, "nothing to compare"}, {ReliabilityRequest{Files: []string{"nothere.csv"}}, "nothere.csv"}, {ReliabilityRequest{Files: []string{t.TempDir()}}, "folder"},
		{ReliabilityRequest{Files: []string{good}, Raters: []string{"a", "c"}}, "The raters are a, b"}, {ReliabilityRequest{Files: []string{good}, Raters: []string{"a", "a"}}, "named twice"},
		{ReliabilityRequest{Files: []string{write(t, "x.json", "{}")}}, "schema 0"}, {ReliabilityRequest{Files: []string{write(t, "x.json", "[")}}, "no result"},
		{ReliabilityRequest{Files: []string{write(t, "x.json", `{"schema":1}`)}}, "runner's name"},
	} {
		if _, _, err := CheckReliability(tt.r); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%+v: %v, want %q", tt.r, err, tt.want)
		}
	}
}

func FuzzParseReadings(f *testing.F) {
	f.Add([]byte("a,b\n1,2\n3,4\n"))
	f.Add([]byte("subject,rater,value\nx,1,2\ny,1,3\n"))
	f.Add([]byte("Name;a;b\nx;1,5;2\n"))
	f.Add([]byte("value\n1\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		all, err := parseReadings(data)
		if err != nil {
			return
		}
		for _, r := range all {
			for i, row := range r.Values {
				if len(row) != len(r.Raters) || i >= len(r.Subjects) {
					t.Fatalf("row %d of %+v", i, r)
				}
			}
			if r = r.complete(); len(r.Subjects) > 1 && len(r.Raters) > 1 {
				if one, err := reliabilityOf(r); err == nil && one.DF() > 0 {
					one.Document()
				}
			}
		}
	})
}

// resultOf is a result file of one runner on one day.
func resultOf(t *testing.T, runner, day string, contactS float64, speed float64) string {
	s := &Session{Runner: RunnerFacts{Name: runner}, Clips: []*Clip{{Path: runner + day + ".mp4", Info: clip.Info{View: clip.LeftSide, FrameRateHz: 240, BeltSpeedMPS: speed},
		Measures: []measure.Measure{
			{Name: "contact_time", Side: body.Left, Unit: "s", Value: contactS, Origin: "pose model"}, {Name: "contact_time", Side: body.Right, Unit: "s", Value: contactS + 0.01, Origin: "pose model"},
			{Name: "overstride", Side: body.Left, Unit: "m", Value: math.NaN(), Reason: "withheld"}, {Name: "strike_class", Side: body.Left, Unit: "class", Value: 1, Text: "rearfoot"},
		}}}}
	b, err := json.Marshal(s.Document())
	if err != nil {
		t.Fatal(err)
	}
	return write(t, runner+day+".json", string(b))
}

func TestReliabilityOfResults(t *testing.T) {
	files := []string{resultOf(t, "Ann", "1", 0.250, 3), resultOf(t, "Bea", "1", 0.230, 3), resultOf(t, "Cid", "1", 0.270, 3), resultOf(t, "Ann", "2", 0.254, 3.2),
		resultOf(t, "Dan", "1", 0.3, 3), resultOf(t, "Cid", "2", 0.268, 3), resultOf(t, "Bea", "2", 0.226, 3), resultOf(t, "Bea", "3", 0.9, 3)}
	found, notes, err := CheckReliability(ReliabilityRequest{Files: files})
	if err != nil || len(found) != 2 {
		t.Fatalf("%v, %d results", err, len(found))
	}
	r := found[0]
	// Differences of -4, 4 and 2 ms: SEM √(Σd²/2n) = √(36/6) = √6 ms.
	if strings.Join(r.Subjects, " ") != "Ann Bea Cid" || r.Side != "left" || math.Abs(r.SEM-0.0024495) > 1e-6 || r.Origin != "pose model" || r.SameClip != "" {
		t.Errorf("%+v", r)
	}
	all := strings.Join(notes, "; ")
	for _, want := range []string{"Dan was measured once", "Bea was measured 3 times", "Ann ran at 3.00 to 3.20"} {
		if !strings.Contains(all, want) {
			t.Errorf("notes lack %q: %s", want, all)
		}
	}
}

// manyRunners is a long table of n runners filmed k times, with the given error.
func manyRunners(n, k int, sem float64) string {
	random := rand.New(rand.NewPCG(5, 7))
	var b strings.Builder
	b.WriteString("subject,session,measure,side,value,unit,origin\n")
	for i := range n {
		for _, side := range []string{"left", "right"} {
			truth := 0.25 + 0.02*random.NormFloat64()
			for j := range k {
				fmt.Fprintf(&b, "R%d,day %d,contact_time,%s,%.5f,s,pose model\n", i, j, side, truth+sem*random.NormFloat64())
			}
		}
	}
	return b.String()
}

func TestAdoptOwnErrors(t *testing.T) {
	st, err := OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	st.SetClock(func() time.Time { return time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC) })
	check := func(text string) []Reliability {
		t.Helper()
		found, _, err := CheckReliability(ReliabilityRequest{Files: []string{write(t, "t.csv", text)}})
		if err != nil {
			t.Fatal(err)
		}
		return found
	}
	enough := check(manyRunners(20, 2, 0.004))
	for _, tt := range []struct {
		found  []Reliability
		repeat Repeat
		want   string
	}{
		{enough, "", "--repeat"}, {enough, Redigitised, "one and the same film"}, {enough, TwoAnalysts, "one and the same film"},
		{check(manyRunners(9, 4, 0.004)), Refilmed, "9 runners"}, {check(manyRunners(19, 2, 0.004)), Refilmed, "19 degrees"},
		{check(strings.ReplaceAll(manyRunners(20, 2, 0.004), ",s,", ",ms,")), Refilmed, `in "ms"`},
		{check(strings.ReplaceAll(manyRunners(20, 2, 0.004), "contact_time", "bounce")), Refilmed, "not the name of a measure"},
		{check(strings.Replace(manyRunners(20, 2, 0.004), "pose model", "sticker", 1)), Refilmed, "different ways"},
	} {
		if _, _, err := st.AdoptOwnErrors(tt.found, tt.repeat, []string{"t.csv"}); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%v: %v, want %q", tt.repeat, err, tt.want)
		}
	}
	if own, err := st.OwnErrors(); own != nil || err != nil {
		t.Fatalf("something was adopted: %+v %v", own, err)
	}

	adopted, _, err := st.AdoptOwnErrors(enough, Refilmed, []string{"folder/t.csv"})
	if err != nil || len(adopted) != 1 {
		t.Fatalf("%v %+v", err, adopted)
	}
	own, err := st.OwnErrors()
	if err != nil {
		t.Fatal(err)
	}
	e, ok := own.Of("contact_time", "pose model")
	// 40 pairs with an error of 4 ms: found within 0.7 to 1.3 times that.
	if !ok || e.SEM < 0.0028 || e.SEM > 0.0052 || e.Runners != 20 || e.DF != 20 || e.Date != "2026-03-01" || e.From != "t.csv" || math.Abs(e.MDC95-2.7719*e.SEM) > 1e-5 {
		t.Errorf("%+v", e)
	}
	if _, ok := own.Of("contact_time", "marker file"); ok {
		t.Error("the error of one origin was given for another")
	}

	ms := []measure.Measure{
		{Name: "contact_time", Unit: "s", Value: 0.25, SEM: 0.010, MDC95: 0.028, Origin: "pose model", Flag: "far leg, less sure", Error: measure.Budget{Strides: 0.001, Origin: 0.0099}},
		{Name: "contact_time", Unit: "s", Value: 0.25, SEM: 0.011, Origin: "pose model", Error: measure.Budget{Strides: 0.009, Frame: 0.002}},
		{Name: "contact_time", Unit: "s", Value: math.NaN(), SEM: math.NaN(), Origin: "pose model", Reason: "withheld"},
		{Name: "contact_time", Unit: "s", Value: 0.25, SEM: 0.010, Origin: "marker file"},
		{Name: "flight_time", Unit: "s", Value: 0.1, SEM: 0.010, Origin: "pose model"},
	}
	own.replace(ms)
	if m := ms[0]; math.Abs(m.SEM-e.SEM) > 1e-9 || math.Abs(m.MDC95-e.MDC95) > 1e-9 || m.Flag != "far leg, less sure; studio's own error, n = 20" || math.Abs(m.Error.SEM()-m.SEM) > 1e-12 {
		t.Errorf("%+v", m)
	}
	if m := ms[1]; math.Abs(m.SEM-math.Hypot(0.009, 0.002)) > 1e-9 {
		t.Errorf("few strides were made surer than they are: %+v", m)
	}
	if !ms[2].Withheld() || ms[2].Flag != "" || ms[3].SEM != 0.010 || ms[4].SEM != 0.010 || ms[3].Flag+ms[4].Flag != "" {
		t.Errorf("others were changed: %+v", ms[2:])
	}
	var none *OwnErrors
	none.replace(ms)

	// Left against right is judged by the studio's own errors too.
	legs := []measure.Measure{
		{Name: "contact_time", Side: body.Left, Unit: "s", Value: 0.250, Origin: "pose model", SEM: 0.0001, Error: measure.Budget{Origin: 0.0001}},
		{Name: "contact_time", Side: body.Right, Unit: "s", Value: 0.252, Origin: "pose model", SEM: 0.0001, Error: measure.Budget{Origin: 0.0001}},
	}
	before := measure.Asymmetries(legs)[0]
	own.replace(legs)
	after := measure.Asymmetries(legs)[0]
	if !before.Beyond || after.Beyond || math.Abs(after.SEM-e.SEM*math.Sqrt2) > 1e-9 {
		t.Errorf("before %+v, after %+v", before, after)
	}

	// Adopted again, the entry is replaced, not doubled.
	if _, _, err := st.AdoptOwnErrors(check(manyRunners(30, 2, 0.008)), Refilmed, []string{"u.csv"}); err != nil {
		t.Fatal(err)
	}
	if own, _ := st.OwnErrors(); len(own.Errors) != 1 || own.Errors[0].Runners != 30 || own.Errors[0].SEM < 0.0056 {
		t.Errorf("%+v", own)
	}
	// A file that was spoiled is named, with what to do.
	for _, bad := range []string{"errors: 3", "errors:\n- {measure: x}", "errors:\n- {measure: contact_time, unit: s, sem: 0.001, mdc95: 1, runners: 3, df: 3, date: x, from: x}", "wrong: 1"} {
		if err := os.WriteFile(st.ownErrorsPath(), []byte(bad), 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := st.OwnErrors(); err == nil || !strings.Contains(err.Error(), "delete it") {
			t.Errorf("%q: %v", bad, err)
		}
	}
}

func TestSameFilmIsNotAdopted(t *testing.T) {
	var found []Reliability
	var files []string
	for i := range 20 {
		name := fmt.Sprintf("R%d", i)
		files = append(files, resultOf(t, name, "1", 0.25+float64(i)*0.001, 3), resultOf(t, name, "1", 0.251+float64(i%3)*0.001, 3))
	}
	found, _, err := CheckReliability(ReliabilityRequest{Files: files})
	if err != nil {
		t.Fatal(err)
	}
	st, _ := OpenStudio(t.TempDir())
	if _, _, err := st.AdoptOwnErrors(found, Refilmed, files); err == nil || !strings.Contains(err.Error(), "one film") {
		t.Errorf("%v", err)
	}
}

func TestAgreementPlot(t *testing.T) {
	found, _, err := CheckReliability(ReliabilityRequest{Files: []string{write(t, "t.csv", "subject,first,second\na,1,1\nb,2,2\nc,3,3\n")}})
	if err != nil {
		t.Fatal(err)
	}
	st, _ := OpenStudio(t.TempDir())
	for _, kind := range []string{".png", ".svg", ".pdf", ".html"} {
		path := filepath.Join(t.TempDir(), "plot"+kind)
		if err := st.WriteAgreementPlot(found[0], path); err != nil { // no spread at all must draw too
			t.Errorf("%s: %v", kind, err)
		} else if i, err := os.Stat(path); err != nil || i.Size() < 1000 {
			t.Errorf("%s: %v", kind, err)
		}
	}
	if err := st.WriteAgreementPlot(found[0], "plot.gif"); KindOf(err) != KindUsage || err == nil {
		t.Errorf("gif: %v", err)
	}
	found[0].Pairs = nil
	if err := st.WriteAgreementPlot(found[0], "plot.png"); err == nil {
		t.Error("a plot of no pairs was drawn")
	}
}

func TestAgreementFigure(t *testing.T) {
	for v, want := range map[float64]string{0: "0.000", -2.117647: "−2.118", 108.41: "108.4", 0.0024496: "0.002450", 123456: "123456", -0.00000001: "0.000000", math.Inf(1): "–"} {
		if got := AgreementFigure(v); got != want {
			t.Errorf("%v: %s, want %s", v, got, want)
		}
	}
	if AgreementFigure(math.NaN()) != "–" {
		t.Error("NaN has a figure")
	}
}
