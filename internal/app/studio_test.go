package app_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/internal/app"
	"gaitwright/internal/keypoint"
	"gaitwright/internal/synth"
)

// syntheticFiles writes the exact landmarks of the invented runner, seen from
// the left and from behind, as keypoint files.
func syntheticFiles(t testing.TB, rateHz, seconds float64) (side, rear string, p synth.Params) {
	t.Helper()
	p = synth.Demo()
	p.DurationS = seconds + 1
	r, err := synth.New(p)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	write := func(view clip.View, name string) string {
		cam := synth.NewCamera(view, 720, 1280, 4)
		f := &keypoint.File{Track: synth.WithoutStickers(r.Track(synth.Clock(rateHz, seconds), cam)), View: view, WidthPX: 720, HeightPX: 1280}
		path := filepath.Join(dir, name)
		if err := keypoint.Save(path, f); err != nil {
			t.Fatal(err)
		}
		return path
	}
	return write(clip.LeftSide, "side.json"), write(clip.Rear, "rear.csv"), p
}

func openStudio(t testing.TB) *app.Studio {
	t.Helper()
	st, err := app.OpenStudio(filepath.Join(t.TempDir(), "results"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(st.Close)
	st.SetClock(func() time.Time { return time.Date(2026, 3, 14, 9, 26, 53, 0, time.UTC) })
	return st
}

func measureSynthetic(t *testing.T, st *app.Studio) *app.Session {
	t.Helper()
	side, rear, p := syntheticFiles(t, 120, 10)
	s, err := st.Measure(context.Background(), app.Request{Files: []string{side, rear}, SpeedMPS: p.SpeedMPS,
		Runner: app.RunnerFacts{Name: "Åse Øygard (invented)", HeightM: p.HeightM, MassKG: p.MassKG, Sex: "female"}}, app.NoProgress{})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestKeptResultsReadBack(t *testing.T) {
	st := openStudio(t)
	a := measureSynthetic(t, st)
	if err := st.Save(a); err != nil {
		t.Fatal(err)
	}
	b := *a
	if err := st.Save(&b); err != nil { // within the same second
		t.Fatal(err)
	}
	ids, err := st.IDs()
	if err != nil || len(ids) != 2 || ids[0] == ids[1] {
		t.Fatalf("ids %v, %v", ids, err)
	}
	fresh, err := app.OpenStudio(st.Dir())
	if err != nil {
		t.Fatal(err)
	}
	got, err := fresh.Load(a.ID)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(got.Document(), a.Document()) {
		t.Error("the result changed on its way through the folder")
	}
	if got.Clips[0].Track.Paths[body.LeftKnee] == nil || got.Clips[0].Raw.Frames() != a.Clips[0].Raw.Frames() {
		t.Error("the tracks were not kept")
	}
	list, err := fresh.Results()
	if err != nil || len(list) != 2 || list[0].Runner != a.Runner.Name || list[0].StepRate == nil {
		t.Errorf("list %+v, %v", list, err)
	}
}

func TestHostileResultNames(t *testing.T) {
	st := openStudio(t)
	for _, id := range []string{"", "..", "../../etc/passwd", "20260314-092653/../..", "20260314-092653\x00"} {
		if _, err := st.Load(id); err == nil {
			t.Errorf("%q was opened", id)
		}
	}
	var p *app.Problem
	if _, err := st.Load("20200101-000000"); !errors.As(err, &p) {
		t.Errorf("a result that is not there: %v", err)
	}
}

func TestDamagedResultSaysSo(t *testing.T) {
	st := openStudio(t)
	s := measureSynthetic(t, st)
	if err := st.Save(s); err != nil {
		t.Fatal(err)
	}
	path := onlyFile(t, st)
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for name, broken := range map[string][]byte{"cut short": data[:len(data)/2], "not compressed": []byte("hello"), "empty": nil} {
		if err := os.WriteFile(path, broken, 0o644); err != nil {
			t.Fatal(err)
		}
		fresh, err := app.OpenStudio(st.Dir())
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(fresh.Close)
		if _, err := fresh.Load(s.ID); err == nil || !strings.Contains(err.Error(), "Measure the clip again") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// onlyFile returns the path of the one file that a studio keeps.
func onlyFile(t testing.TB, st *app.Studio) string {
	t.Helper()
	var found []string
	err := filepath.WalkDir(filepath.Join(st.Dir(), "files", "files"), func(path string, d fs.DirEntry, err error) error {
		if err == nil && d.Type().IsRegular() {
			found = append(found, path)
		}
		return err
	})
	if err != nil || len(found) != 1 {
		t.Fatalf("the studio keeps %v, %v", found, err)
	}
	return found[0]
}

func TestDocumentMatchesItsSchema(t *testing.T) {
	schema, err := jsonschema.NewCompiler().Compile(filepath.Join("..", "..", "docs", "measures.schema.json"))
	if err != nil {
		t.Fatal(err)
	}
	s := measureSynthetic(t, openStudio(t))
	var b bytes.Buffer
	if err := s.WriteJSON(&b); err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	if err := schema.Validate(doc); err != nil {
		t.Error(err)
	}
	var d struct {
		Clips []struct {
			View     string
			Contacts []map[string]any
			Measures []map[string]any
		}
	}
	if err := json.Unmarshal(b.Bytes(), &d); err != nil {
		t.Fatal(err)
	}
	if len(d.Clips) != 2 || d.Clips[0].View != "left" || d.Clips[1].View != "rear" || len(d.Clips[0].Contacts) < 20 {
		t.Errorf("%d clips, first %s with %d contacts", len(d.Clips), d.Clips[0].View, len(d.Clips[0].Contacts))
	}
	for _, m := range d.Clips[0].Measures {
		if m["value"] == nil && m["reason"] == nil {
			t.Errorf("%v is withheld without a reason", m["name"])
		}
		if m["value"] != nil && m["sem"] == nil && m["text"] == nil {
			t.Errorf("%v is given without its error", m["name"])
		}
		usual, _ := m["range"].(map[string]any)
		if usual != nil && m["value"] == nil {
			t.Errorf("%v is withheld, and has a range", m["name"])
		}
		if m["name"] == "contact_time" && m["value"] != nil && (usual == nil || usual["source"] == "" || usual["verdict"] == "cannot be said") {
			t.Errorf("%v has no reference range: %v", m["name"], m)
		}
	}
}

func TestCSVHasOneRowAMeasure(t *testing.T) {
	s := measureSynthetic(t, openStudio(t))
	var b bytes.Buffer
	if err := s.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	want := 1
	for _, c := range s.Clips {
		want += len(c.Measures)
	}
	if len(rows) != want {
		t.Errorf("%d rows, want %d", len(rows), want)
	}
}

func TestPagesAreWholeJSON(t *testing.T) {
	st := openStudio(t)
	s := measureSynthetic(t, st)
	if err := st.Save(s); err != nil {
		t.Fatal(err)
	}
	p, err := st.Result(s.ID)
	if err != nil {
		t.Fatal(err)
	}
	track, err := st.Track(s.ID, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range []any{p, track, st.Definitions()} {
		if _, err := json.Marshal(v); err != nil {
			t.Error(err)
		}
	}
	if len(track.TimeS) != p.Clips[0].Frames || len(track.X) != len(track.Landmarks) || len(track.X[0]) != len(track.TimeS) {
		t.Error("the track is not as long as its clock")
	}
	if len(track.Series) == 0 || len(track.Series["knee_flexion/left"].Values) != len(track.TimeS) {
		t.Error("the live knee angle is missing")
	}
	if _, err := st.Track(s.ID, 9); err == nil {
		t.Error("a clip that is not there was opened")
	}
	if _, err := st.FrameJPEG(context.Background(), s.ID, 0, 0); err == nil {
		t.Error("a keypoint file gave a picture")
	}
}

// TestSlowedClip: a file whose clock was slowed four times is recognised by its
// step rate, and measures the same once the capture rate is given.
func TestSlowedClip(t *testing.T) {
	side, _, p := syntheticFiles(t, 120, 10)
	f, err := keypoint.Open(side)
	if err != nil {
		t.Fatal(err)
	}
	for i := range f.Track.TimeS {
		f.Track.TimeS[i] *= 4
	}
	slow := filepath.Join(t.TempDir(), "slow.json")
	if err := keypoint.Save(slow, f); err != nil {
		t.Fatal(err)
	}
	st := openStudio(t)
	r := app.Request{Files: []string{slow}, SpeedMPS: p.SpeedMPS, Runner: app.RunnerFacts{HeightM: p.HeightM}}
	_, err = st.Measure(context.Background(), r, app.NoProgress{})
	slowed, ok := app.AsSlowed(err)
	if !ok || app.KindOf(err).ExitCode() != 5 {
		t.Fatalf("the slowed clock was not recognised: %v", err)
	}
	found := false
	for _, hz := range slowed.LikelyRatesHz {
		found = found || hz == 120
	}
	if !found {
		t.Errorf("the capture rate of 120 is not among the likely ones, %v", slowed.LikelyRatesHz)
	}
	r.CaptureRateHz = 120
	s, err := st.Measure(context.Background(), r, app.NoProgress{})
	if err != nil {
		t.Fatal(err)
	}
	r.Files, r.CaptureRateHz = []string{side}, 0
	plain, err := st.Measure(context.Background(), r, app.NoProgress{})
	if err != nil {
		t.Fatal(err)
	}
	for i, m := range s.Clips[0].Measures {
		if w := plain.Clips[0].Measures[i]; math.Abs(m.Value-w.Value) > 1e-6*math.Max(1, math.Abs(w.Value)) {
			t.Errorf("%s %s: %v slowed, %v plain", m.Name, m.Side, m.Value, w.Value)
		}
	}
}

func TestWrongViewIsRefused(t *testing.T) {
	side, rear, _ := syntheticFiles(t, 60, 6)
	st := openStudio(t)
	for _, c := range []struct {
		file string
		view clip.View
	}{{side, clip.Rear}, {side, clip.RightSide}, {rear, clip.LeftSide}} {
		_, err := st.Measure(context.Background(), app.Request{Files: []string{c.file}, Views: []clip.View{c.view}}, app.NoProgress{})
		if err == nil || app.KindOf(err).ExitCode() != 2 {
			t.Errorf("%s declared as %v: %v", filepath.Base(c.file), c.view, err)
		}
	}
}

// TestTooShort: fewer than two strides give a sentence and no result.
func TestTooShort(t *testing.T) {
	side, _, _ := syntheticFiles(t, 120, 0.7)
	_, err := openStudio(t).Measure(context.Background(), app.Request{Files: []string{side}}, app.NoProgress{})
	if err == nil || app.KindOf(err).ExitCode() != 3 {
		t.Errorf("a clip of one stride: %v", err)
	}
}

// TestOneBadFileLeavesTheOther: of two files the one that gives no result is
// named in a note, and the other is measured; where both give none it is an error.
func TestOneBadFileLeavesTheOther(t *testing.T) {
	side, _, p := syntheticFiles(t, 120, 8)
	short, _, _ := syntheticFiles(t, 120, 0.7)
	st := openStudio(t)
	s, err := st.Measure(context.Background(), app.Request{Files: []string{side, short}, SpeedMPS: p.SpeedMPS}, app.NoProgress{})
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Clips) != 1 || len(s.Notes) == 0 || !strings.Contains(s.Notes[0], "without a result") {
		t.Errorf("%d clips, notes %q", len(s.Clips), s.Notes)
	} else if !regexp.MustCompile(`[^.]\. \p{Lu}`).MatchString(s.Notes[0]) || strings.Contains(s.Notes[0], "\n") {
		t.Errorf("what was wrong and what to do are not sentences of one line: %q", s.Notes[0])
	}
	if _, err := st.Measure(context.Background(), app.Request{Files: []string{short, short}}, app.NoProgress{}); err == nil || app.KindOf(err).ExitCode() != 3 {
		t.Errorf("two files without a result: %v", err)
	}
}
