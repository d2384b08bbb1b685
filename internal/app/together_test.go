package app_test

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"

	"gaitwright/internal/app"
)

// agreed lets a runner be looked at together with others.
func agreed(t testing.TB, st *app.Studio, r app.PageRunner) app.PageRunner {
	t.Helper()
	r.Consent.Research = ptr("2026-03-02")
	return must[app.PageRunner](t)(st.ChangeRunner(bg, "", r.ID, "", r))
}

func TestOnlyWhoAgreedIsLookedAtTogether(t *testing.T) {
	st, r, v, _ := fullStudio(t)
	p := must[app.PageTogether](t)(st.Together(bg))
	if p.Runners != 0 || p.LeftOut != 2 || len(p.Usual) != 0 {
		t.Errorf("nobody agreed, and yet %+v", p)
	}
	agreed(t, st, r)
	f := must[app.PageFindings](t)(st.Findings(bg, v.ID))
	if len(f.Report.Findings) == 0 {
		t.Fatal("the invented runner has no finding to decide on")
	}
	name := f.Report.Findings[0].Name
	kept := f.PageFindingsKept
	kept.Decisions = map[string]app.PageDecision{name: {State: "accepted"}}
	must[app.PageFindings](t)(st.ChangeFindings(bg, "", v.ID, kept))
	p = must[app.PageTogether](t)(st.Together(bg))
	if p.Runners != 1 || p.LeftOut != 1 || p.Visits != 1 || p.Waiting != 0 || len(p.Findings) != 1 || p.Findings[0].Name != name || p.Findings[0].K != 1 || p.Few == "" {
		t.Errorf("one agreed: %+v", p)
	}
	// What is held in memory follows a change of mind.
	kept = must[app.PageFindings](t)(st.Findings(bg, v.ID)).PageFindingsKept
	kept.Decisions[name] = app.PageDecision{State: "rejected", Reason: "not seen on the second film"}
	must[app.PageFindings](t)(st.ChangeFindings(bg, "", v.ID, kept))
	if p = must[app.PageTogether](t)(st.Together(bg)); len(p.Findings) != 0 {
		t.Errorf("rejected: %+v", p.Findings)
	}
}

func TestTakenAwayWithoutNames(t *testing.T) {
	st, r, v, _ := fullStudio(t)
	agreed(t, st, r)
	var b bytes.Buffer
	said, err := st.ExportTogether(bg, &b)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(said, "Caution: 1 of the people") {
		t.Errorf("it says %q", said)
	}
	z, err := zip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
	if err != nil {
		t.Fatal(err)
	}
	files := map[string][]byte{}
	for _, f := range z.File {
		o, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if files[f.Name], err = io.ReadAll(o); errors.Join(err, o.Close()) != nil {
			t.Fatal(err)
		}
		for _, secret := range []string{"Åse", "Øygard", r.ID, v.ID, v.Date, "side.mp4", "side.json"} {
			if bytes.Contains(files[f.Name], []byte(secret)) {
				t.Errorf("%s has %q", f.Name, secret)
			}
		}
	}
	table, err := csv.NewReader(bytes.NewReader(files["measures.csv"])).ReadAll()
	if err != nil || len(table) < 30 {
		t.Fatalf("%d rows, %v", len(table), err)
	}
	var list []app.TogetherRow
	if err := json.Unmarshal(files["measures.json"], &list); err != nil {
		t.Fatal(err)
	}
	other, err := parquet.Read[app.TogetherRow](bytes.NewReader(files["measures.parquet"]), int64(len(files["measures.parquet"])))
	if err != nil {
		t.Fatal(err)
	}
	if len(list) != len(table)-1 || len(other) != len(list) {
		t.Fatalf("%d rows of CSV, %d of JSON, %d of Parquet", len(table)-1, len(list), len(other))
	}
	for i := range list {
		if list[i] != other[i] || table[i+1][12] != list[i].Measure || table[i+1][14] != fmt.Sprintf("%.6g", list[i].Value) {
			t.Fatalf("row %d differs: %q, %+v, %+v", i, table[i+1], list[i], other[i])
		}
		if list[i].Unit == "" && list[i].Measure != "duty_factor" && !(list[i].SEM > 0) {
			t.Errorf("row %d has neither unit nor error: %+v", i, list[i])
		}
	}
	dictionary, err := csv.NewReader(bytes.NewReader(files["dictionary.csv"])).ReadAll()
	if err != nil || len(dictionary) != len(table[0])+1 {
		t.Fatalf("the dictionary has %d lines for %d columns, %v", len(dictionary), len(table[0]), err)
	}
	for i, name := range table[0] {
		if dictionary[i+1][0] != name || dictionary[i+1][2] == "" {
			t.Errorf("column %s is explained as %q", name, dictionary[i+1])
		}
	}
}

// manyTogether is a studio of invented runners with two visits each, findings and
// plans, and some sixty values in short for each result.
func manyTogether(t testing.TB, runners int) *app.Studio { return manyVisits(t, runners, 2) }

// manyVisits is manyTogether with so many visits of each runner.
func manyVisits(t testing.TB, runners, visits int) *app.Studio {
	t.Helper()
	st, err := app.OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(st.Close)
	rng := rand.New(rand.NewPCG(3, 4))
	if err := app.FillTogether(st, runners, visits, rng); err != nil {
		t.Fatal(err)
	}
	return st
}

func TestManyTogether(t *testing.T) {
	st := manyTogether(t, 200)
	p := must[app.PageTogether](t)(st.Together(bg))
	if p.Runners != 200 || p.Returned != 200 || len(p.Findings) == 0 || len(p.Programmes) == 0 || len(p.Usual) == 0 || p.Few != "" || p.Waiting != 0 {
		t.Fatalf("%d runners, %d findings, %d programmes, %d usual values", p.Runners, len(p.Findings), len(p.Programmes), len(p.Usual))
	}
	again := must[app.PageTogether](t)(st.Together(bg))
	a, b := rawOf(t, p), rawOf(t, again)
	if !bytes.Equal(a, b) {
		t.Error("looked at a second time it differs")
	}
}

func rawOf(t testing.TB, v any) []byte {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// What is seen after each change is what a program sees that was just started:
// findings, intake and plans written and taken back, visits made and removed, consent
// given and withdrawn, runners removed and erased, results with and without numbers.
func TestTogetherAfterChanges(t *testing.T) {
	st := manyTogether(t, 30)
	rng := rand.New(rand.NewPCG(5, 6))
	rows := must[[]app.PageRunner](t)(app.AllRunners(st))
	for n := range 60 {
		at := rng.IntN(len(rows))
		what, err := app.ChangeForTogether(st, rows[at].ID, n%10, rng)
		if err != nil {
			t.Fatalf("%d, %s: %v", n, what, err)
		}
		got := rawOf(t, must[app.PageTogether](t)(st.Together(bg)))
		fresh := must[*app.Studio](t)(app.OpenStudio(st.Dir()))
		want := rawOf(t, must[app.PageTogether](t)(fresh.Together(bg)))
		fresh.Close()
		if !bytes.Equal(got, want) {
			t.Fatalf("%d: after %s\n%.600s\nwant\n%.600s", n, what, got, want)
		}
	}
}

// BenchmarkTogetherAfterAChange opens the page of 5,000 runners with 10,000 visits
// after each change of one of them.
func BenchmarkTogetherAfterAChange(b *testing.B) {
	st := manyTogether(b, 5000)
	rows, err := app.AllRunners(st)
	if err != nil {
		b.Fatal(err)
	}
	if _, err := st.Together(bg); err != nil {
		b.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(5, 6))
	// Records of the last moment are read twice; the filling wrote many in one.
	if _, err := app.ChangeForTogether(st, rows[0].ID, 0, rng); err != nil {
		b.Fatal(err)
	}
	if _, err := st.Together(bg); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		b.StopTimer()
		if _, err := app.ChangeForTogether(st, rows[rng.IntN(len(rows))].ID, 0, rng); err != nil {
			b.Fatal(err)
		}
		b.StartTimer()
		if _, err := st.Together(bg); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkTogether opens the page of 5,000 runners with 10,000 visits, once
// everything is at hand as it is a little after the program's start.
func BenchmarkTogether(b *testing.B) {
	st := manyTogether(b, 5000)
	begun := time.Now()
	if _, err := st.Together(bg); err != nil {
		b.Fatal(err)
	}
	fmt.Fprintf(os.Stderr, "the first time %d ms\n", time.Since(begun).Milliseconds())
	for b.Loop() {
		if _, err := st.Together(bg); err != nil {
			b.Fatal(err)
		}
	}
}
