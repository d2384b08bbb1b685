package app_test

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"

	"gaitwright/gait/clip"
	"gaitwright/internal/app"
	"gaitwright/internal/keypoint"
	"gaitwright/internal/synth"
)

const drawnLayout = `name: drawn
source: invented
trials: "{subject}-{speed}.json"
speed_unit: m/s
participants: {files: [people.csv], subject: who, sex: sex, height: {column: height, unit: cm}, mass: {column: mass, unit: kg}}
`

// drawnSet writes a set of invented runners as files of landmarks.
func drawnSet(t *testing.T, people int, speeds ...string) (dir, layout string) {
	t.Helper()
	dir = t.TempDir()
	table := "who,sex,height,mass\n"
	for i := range people {
		h := 1.60 + 0.04*float64(i)
		table += fmt.Sprintf("%d,%s,%.0f,60\n", i+1, []string{"F", "M"}[i%2], 100*h)
		for k, speed := range speeds {
			v, err := strconv.ParseFloat(speed, 64)
			if err != nil {
				t.Fatal(err)
			}
			p := synth.NewParams(h, v, 150+10*float64(i)+5*float64(k))
			p.DurationS = 9 // like clockwork: what is measured is what was put in
			r, err := synth.New(p)
			if err != nil {
				t.Fatal(err)
			}
			if err := keypoint.Save(filepath.Join(dir, fmt.Sprintf("%03d-%s.json", i+1, speed)), &keypoint.File{Track: r.Spatial(synth.Clock(100, 8)), View: clip.Spatial}); err != nil {
				t.Fatal(err)
			}
		}
	}
	layout = filepath.Join(dir, "layout.yaml")
	for name, text := range map[string]string{"people.csv": table, "layout.yaml": drawnLayout} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return dir, layout
}

func readTable(t *testing.T, path string) []map[string]string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, rec := range all[1:] {
		row := map[string]string{}
		for i, name := range all[0] {
			row[name] = rec[i]
		}
		out = append(out, row)
	}
	return out
}

func cellOf(t *testing.T, rows []map[string]string, column string, where map[string]string) float64 {
	t.Helper()
	for _, r := range rows {
		fits := true
		for k, v := range where {
			fits = fits && r[k] == v
		}
		if fits {
			v, err := strconv.ParseFloat(r[column], 64)
			if err != nil {
				t.Fatalf("%v, %s: %v", where, column, err)
			}
			return v
		}
	}
	t.Fatalf("no row %v", where)
	return 0
}

// A set is measured, stopped in the middle, gone on with, and a broken file is told
// and does not take the others with it. Whatever the number of workers and however
// often it was stopped, the tables are the same to the byte.
func TestTrialsOfADrawnSet(t *testing.T) {
	dir, layout := drawnSet(t, 3, "2.5", "3.5")
	st := openStudio(t)
	ask := app.TrialsRequest{Dir: dir, Layout: layout, Out: filepath.Join(t.TempDir(), "out"), Workers: 1}

	// Stopped after two trials.
	ctx, stop := context.WithCancel(t.Context())
	seen := 0
	_, err := st.MeasureTrials(ctx, ask, func(p app.TrialsProgress) {
		if seen = p.Done; p.Done == 2 {
			stop()
		}
	})
	if err == nil || ctx.Err() == nil || seen < 2 {
		t.Fatalf("stopped after %d: %v", seen, err)
	}
	if _, err := os.Stat(filepath.Join(ask.Out, "measures.csv")); err == nil {
		t.Error("a table was written of half a set")
	}
	// A record that was cut short, as by a failing disk, is measured again.
	records, err := filepath.Glob(filepath.Join(ask.Out, "trials", "*.json"))
	if err != nil || len(records) < 2 {
		t.Fatalf("%v of %d finished: %v", records, seen, err)
	}
	if err := os.Truncate(records[0], 100); err != nil {
		t.Fatal(err)
	}
	done, err := st.MeasureTrials(t.Context(), ask, nil)
	if err != nil {
		t.Fatal(err)
	}
	if done.Kept != len(records)-1 || done.Measured != 6-done.Kept || len(done.Broken) != 0 || done.Subjects != 3 {
		t.Errorf("went on: %+v", done)
	}
	rows := readTable(t, filepath.Join(ask.Out, "measures.csv"))
	for i := range 3 {
		for k, speed := range []string{"2.5", "3.5"} {
			at := map[string]string{"subject": fmt.Sprintf("%03d", i+1), "speed_mps": speed, "measure": "step_rate", "side": "both"}
			within(t, "step rate", cellOf(t, rows, "value", at), 150+10*float64(i)+5*float64(k), 0.5)
			if sem := cellOf(t, rows, "sem", at); !(sem > 0 && sem < 1.5) {
				t.Errorf("its error is %g", sem)
			}
		}
	}
	summary := readTable(t, filepath.Join(ask.Out, "summary.csv"))
	at := map[string]string{"measure": "step_rate", "speed_mps": "2.5"}
	within(t, "mean over runners", cellOf(t, summary, "mean", at), 160, 0.3)
	within(t, "SD over runners", cellOf(t, summary, "sd", at), 10, 0.3)
	if n := cellOf(t, summary, "participants", at); n != 3 {
		t.Errorf("%g participants", n)
	}

	// JSON and Parquet hold the same rows.
	var list []app.TrialRow
	b, err := os.ReadFile(filepath.Join(ask.Out, "measures.json"))
	if err != nil || json.Unmarshal(b, &list) != nil || len(list) != len(rows) {
		t.Errorf("JSON: %d rows of %d: %v", len(list), len(rows), err)
	}
	packed, err := parquet.ReadFile[app.TrialRow](filepath.Join(ask.Out, "measures.parquet"))
	if err != nil || len(packed) != len(rows) {
		t.Fatalf("Parquet: %d rows of %d: %v", len(packed), len(rows), err)
	}
	for i, r := range packed {
		if r.Measure != rows[i]["measure"] || (r.Value == nil) != (rows[i]["value"] == "") || r.Value != nil && *r.Value != *list[i].Value {
			t.Fatalf("row %d: %+v, %v", i, r, rows[i])
		}
	}
	words := readTable(t, filepath.Join(ask.Out, "dictionary.csv"))
	if len(words) != len(rows[0]) {
		t.Errorf("the dictionary has %d of %d columns", len(words), len(rows[0]))
	}

	// Anew, two at a time: the same to the byte.
	other := ask
	other.Out, other.Workers = filepath.Join(t.TempDir(), "other"), 2
	if _, err := st.MeasureTrials(t.Context(), other, nil); err != nil {
		t.Fatal(err)
	}
	for _, f := range done.Files {
		a, errA := os.ReadFile(filepath.Join(ask.Out, f))
		b, errB := os.ReadFile(filepath.Join(other.Out, f))
		if errA != nil || errB != nil || !slices.Equal(a, b) {
			t.Errorf("%s differs: %v, %v", f, errA, errB)
		}
	}

	// Killed in the middle of it, without a chance to tidy up, and gone on with: the
	// same to the byte, and what was finished is not measured again.
	killed := ask
	killed.Out = filepath.Join(t.TempDir(), "killed")
	child := exec.Command(os.Args[0], "-test.run=^TestTrialsChild$")
	child.Env = append(os.Environ(), "TMPDIR="+t.TempDir(), "TRIALS_CHILD="+strings.Join([]string{killed.Dir, killed.Layout, killed.Out}, "\n"))
	if err := child.Start(); err != nil {
		t.Fatal(err)
	}
	for n := 0; n < 2; time.Sleep(5 * time.Millisecond) {
		found, err := filepath.Glob(filepath.Join(killed.Out, "trials", "*.json"))
		if n = len(found); err != nil {
			t.Fatal(err)
		}
	}
	if err := child.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	child.Wait()
	again, err := st.MeasureTrials(t.Context(), killed, nil)
	if err != nil || again.Kept < 2 || again.Kept+again.Measured != 6 {
		t.Fatalf("after the kill: %v, %+v", err, again)
	}
	for _, f := range done.Files {
		a, errA := os.ReadFile(filepath.Join(ask.Out, f))
		b, errB := os.ReadFile(filepath.Join(killed.Out, f))
		if errA != nil || errB != nil || !slices.Equal(a, b) {
			t.Errorf("after the kill %s differs: %v, %v", f, errA, errB)
		}
	}

	// One file broken, one changed: the first is told, the second measured again.
	if err := os.WriteFile(filepath.Join(dir, "002-2.5.json"), []byte("{"), 0o600); err != nil {
		t.Fatal(err)
	}
	table, err := os.ReadFile(filepath.Join(dir, "people.csv"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "people.csv"), []byte(strings.Replace(string(table), "3,F,168,60", "3,F,168,62", 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	done, err = st.MeasureTrials(t.Context(), ask, nil)
	if app.KindOf(err) != app.KindNoResult || done == nil {
		t.Fatalf("a broken file: %v", err)
	}
	if done.Kept != 3 || done.Measured != 3 || len(done.Broken) != 1 || done.Broken[0].Files[0] != "002-2.5.json" || !strings.HasPrefix(done.Broken[0].Reason, "002-2.5.json: ") {
		t.Errorf("%+v", done)
	}
	if left := readTable(t, filepath.Join(ask.Out, "left-out.csv")); len(left) != 1 || left[0]["files"] != "002-2.5.json" || left[0]["reason"] == "" {
		t.Errorf("%v", left)
	}
	done, _ = st.MeasureTrials(t.Context(), ask, nil)
	if done.Kept != 6 || len(done.Broken) != 1 {
		t.Errorf("a trial known to be broken was measured again: %+v", done)
	}
}

// TestTrialsChild is the process that TestTrialsOfADrawnSet kills.
func TestTrialsChild(t *testing.T) {
	ask := strings.Split(os.Getenv("TRIALS_CHILD"), "\n")
	if len(ask) != 3 {
		t.Skip("runs as the child of another test")
	}
	if _, err := openStudio(t).MeasureTrials(t.Context(), app.TrialsRequest{Dir: ask[0], Layout: ask[1], Out: ask[2], Workers: 1}, nil); err != nil {
		t.Fatal(err)
	}
}

func TestTrialsAskedWrongly(t *testing.T) {
	st := openStudio(t)
	empty := t.TempDir()
	file := filepath.Join(empty, "a.txt")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, x := range []struct {
		ask  app.TrialsRequest
		want string
	}{
		{app.TrialsRequest{Dir: filepath.Join(empty, "none"), Out: empty}, "no such folder"},
		{app.TrialsRequest{Dir: file, Out: empty}, "is no folder"},
		{app.TrialsRequest{Dir: empty, Out: empty}, "named as in a layout"},
		{app.TrialsRequest{Dir: empty, Layout: "rbds", Out: empty}, "is a trial of the layout rbds"},
		{app.TrialsRequest{Dir: empty, Layout: "nothing", Out: empty}, "no such layout"},
		{app.TrialsRequest{Dir: empty, Layout: file, Out: empty}, file},
	} {
		if _, err := st.MeasureTrials(t.Context(), x.ask, nil); app.KindOf(err) != app.KindUsage || !strings.Contains(err.Error(), x.want) {
			t.Errorf("%+v: %v, want %q", x.ask, err, x.want)
		}
	}
}

// The open treadmill set, against what is known of it from force alone: runner 001 by
// 50 N, and the means over all 26 runners of the set, of whom these six are some
// (Fukuchi, Fukuchi & Duarte 2017, PeerJ 5:e3298). The mean of six of 26 lies within
// 2.6 standard errors of it in 99 of 100 draws.
func TestTrialsOfTheOpenSet(t *testing.T) {
	dir := openData(t)
	st := openStudio(t)
	out := t.TempDir()
	done, err := st.MeasureTrials(t.Context(), app.TrialsRequest{Dir: dir, Out: out, Norms: filepath.Join(out, "ranges.yaml")}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if done.Set != "rbds" || done.Trials != 18 || done.Subjects != 6 || len(done.Broken) != 0 || len(done.Notes) != 0 {
		t.Errorf("%+v", done)
	}
	rows, summary := readTable(t, filepath.Join(out, "measures.csv")), readTable(t, filepath.Join(out, "summary.csv"))
	for i, speed := range []string{"2.5", "3.5", "4.5"} {
		at := map[string]string{"subject": "001", "speed_mps": speed, "measure": "step_rate"}
		// These are medians of step times on the grid of 300 Hz: 115, 105 and 98
		// samples, known to half a sample.
		want := 60 * 300 / []float64{115, 105, 98}[i]
		within(t, "step rate of 001 at "+speed, cellOf(t, rows, "value", at), want, want*want/60/600)
		contact := 0.0
		for _, side := range []string{"left", "right"} {
			contact += cellOf(t, rows, "value", map[string]string{"subject": "001", "speed_mps": speed, "measure": "contact_time", "side": side}) / 2
		}
		within(t, "contact of 001 at "+speed, contact, []float64{0.277, 0.223, 0.193}[i], 0.004)
		for name, want := range map[string]float64{"step_rate": []float64{162, 171, 184}[i], "contact_time": []float64{0.269, 0.224, 0.194}[i]} {
			at := map[string]string{"measure": name, "speed_mps": speed}
			within(t, name+" of all at "+speed, cellOf(t, summary, "mean", at), want, 2.6*cellOf(t, summary, "sd", at)/math.Sqrt(6)*math.Sqrt(20./25))
		}
	}
	for _, r := range summary {
		if strings.Contains(r["ref_source"], "Fukuchi") {
			t.Errorf("%s is held against the set itself", r["measure"])
		}
	}
	if text, err := app.CheckNorms(filepath.Join(out, "ranges.yaml")); err != nil || !strings.Contains(text, "is sound") {
		t.Errorf("the ranges: %s %v", text, err)
	}
	// The other open set: over ground, its speed measured from the runner's travel
	// (3.53 m/s by Dorn, Schache & Pandy 2012, J Exp Biol 215:1944).
	done, err = st.MeasureTrials(t.Context(), app.TrialsRequest{Dir: sharedData(t, "dorn2012"), Out: t.TempDir()}, nil)
	if err != nil || done.Set != "dorn2012" || done.Rows == 0 {
		t.Errorf("%v: %+v", err, done)
	}
}
