package app_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"

	"gaitwright/internal/app"
	"gaitwright/internal/c3d"
)

// takeIn uploads a file in parts and finishes it.
func takeIn(t testing.TB, st *app.Studio, visit, name string, data []byte) (app.PageVisitClip, error) {
	t.Helper()
	up := must[app.PageUpload](t)(st.BeginUpload(bg, "test", visit, app.PageUploadAsk{Name: name, Size: int64(len(data))}))
	const part = 1 << 20
	for at := 0; at < len(data); at += part {
		end := must[int64](t)(st.AddToUpload(bg, up.Upload, int64(at), bytes.NewReader(data[at:min(at+part, len(data))])))
		if want := int64(min(at+part, len(data))); end != want {
			t.Fatalf("%d bytes have arrived, want %d", end, want)
		}
	}
	return st.FinishUpload(bg, "test", up.Upload)
}

func fileOf(t testing.TB, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// smallFilm makes a film of a test pattern.
func smallFilm(t testing.TB, seconds int) []byte {
	t.Helper()
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("needs ffmpeg")
	}
	path := filepath.Join(t.TempDir(), "film.mp4")
	out, err := exec.Command(ffmpeg, "-v", "error", "-f", "lavfi", "-i", fmt.Sprintf("testsrc2=size=320x240:rate=30:duration=%d", seconds), "-pix_fmt", "yuv420p", path).CombinedOutput()
	if err != nil {
		t.Fatalf("ffmpeg: %v\n%s", err, out)
	}
	return fileOf(t, path)
}

// The kind of a file is told by its content, whatever its name says.
func TestKindIsToldByContent(t *testing.T) {
	side, rear, _ := syntheticFiles(t, 60, 4)
	var lab bytes.Buffer
	if err := c3d.Write(&lab, c3d.Draft{RateHz: 100, Points: []c3d.Point{{Label: "LHEE", X: make([]float64, 50), Y: make([]float64, 50), Z: make([]float64, 50)}}}); err != nil {
		t.Fatal(err)
	}
	trc := "PathFileType\t4\t(X/Y/Z)\tx.trc\nDataRate\tCameraRate\tNumFrames\tNumMarkers\tUnits\tOrigDataRate\tOrigDataStartFrame\tOrigNumFrames\n100\t100\t2\t1\tmm\t100\t1\t2\nFrame#\tTime\tHEEL\n\t\tX1\tY1\tZ1\n\n1\t0.00\t1\t2\t3\n2\t0.01\t1\t2\t3\n"
	for _, tt := range []struct {
		name, kind, view string
		data             []byte
	}{
		{"side.json", "keypoints", "left", fileOf(t, side)},
		{"film.mp4", "keypoints", "left", append([]byte("\n"), fileOf(t, side)...)},
		{"rear.csv", "keypoints", "rear", fileOf(t, rear)},
		{"rear", "keypoints", "rear", append(fileOf(t, rear), '\n')},
		{"trial.c3d", "markers", "", lab.Bytes()},
		{"trial.json", "markers", "", append(lab.Bytes(), 0)},
		{"trial.trc", "markers", "", []byte(trc)},
		{"film.c3d", "film", "", smallFilm(t, 1)},
	} {
		st := openStudio(t)
		_, v := consented(t, st)
		c, err := takeIn(t, st, v.ID, tt.name, tt.data)
		if err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		if c.Kind != tt.kind || c.Name != tt.name || c.Facts.View != tt.view || c.Bytes != int64(len(tt.data)) || c.Frames < 2 {
			t.Errorf("%s: %+v", tt.name, c)
		}
	}
}

// A file whose name says film and whose content is text is told to be that, whatever
// kind of text it is like, and a picture or a document to be one; a table under its own
// name is told what is wrong with it.
func TestOtherFilesNamedAsFilms(t *testing.T) {
	st := openStudio(t)
	_, v := consented(t, st)
	for _, tt := range []struct{ name, text, want string }{
		{"notes.mp4", "# a note, not a film\nsecond line\n", "the name ends in .mp4 as that of a film does, and what is in the file is text"},
		{"page.MOV", "{\"error\": \"sign in first\"}", "the name ends in .mov as that of a film does, and what is in the file is text"},
		{"marks.mp4", "PathFileType\t4\n", "the name ends in .mp4 as that of a film does, and what is in the file is text"},
		{"letter.mp4", "Dear coach, here is no film.", "the name ends in .mp4 as that of a film does, and what is in the file is text"},
		{"picture.mp4", "\x89PNG\r\n\x1a\n\x00" + strings.Repeat("x", 2000), "this is a still picture (PNG), and gait needs a film"},
		{"paper.mp4", "%PDF-1.7\n\x00" + strings.Repeat("x", 2000), "this is a PDF document, not a film"},
		{"plain.mp4", "no film", "this is a text file, not a film"},
		{"notes.csv", "# a note, not a film\nsecond line\n", "line 1"},
	} {
		_, err := takeIn(t, st, v.ID, tt.name, []byte(tt.text))
		var p *app.Problem
		if !errors.As(err, &p) || !strings.Contains(p.What, tt.want) || p.File != tt.name || strings.HasSuffix(tt.name, ".mp4") && !strings.Contains(p.Mend, "ive the film") {
			t.Errorf("%s: %v", tt.name, err)
		}
	}
}

func TestWhatIsNoClipIsNotTakenIn(t *testing.T) {
	st := openStudio(t)
	_, v := consented(t, st)
	film := smallFilm(t, 2)
	for name, data := range map[string][]byte{
		"letter.mp4":  []byte("Dear coach, here is no film."),
		"page.mp4":    []byte("<html><script>alert(1)</script></html>"),
		"list.mp4":    []byte("#EXTM3U\nhttp://example.invalid/a.ts\n"),
		"concat.mp4":  []byte("ffconcat version 1.0\nfile /etc/passwd\n"),
		"picture.mp4": append([]byte("\x89PNG\r\n\x1a\n"), make([]byte, 600)...),
		"cut.mp4":     film[:len(film)/2],
		"zeros.mp4":   make([]byte, 4096),
		"table.csv":   []byte("a,b,c\n1,2,3\n"),
		"x.json":      []byte(`{"format":"other"}`),
		"short.c3d":   {2, 80, 0, 0},
	} {
		_, err := takeIn(t, st, v.ID, name, data)
		var p *app.Problem
		if !errors.As(err, &p) || p.Kind == app.KindUnexpected || p.Mend == "" && p.What == "" {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if strings.Contains(p.Error(), st.Dir()) || !strings.Contains(p.Error(), name) {
			t.Errorf("%s is not called by its name: %v", name, p)
		}
	}
	if v = must[app.PageVisit](t)(st.Visit(bg, v.ID)); len(v.Clips) != 0 {
		t.Errorf("%d clips are kept", len(v.Clips))
	}
}

// A name is shown and never used: it cannot climb, hide or order the terminal.
func TestNamesOfFilesAreOnlyShown(t *testing.T) {
	st := openStudio(t)
	_, v := consented(t, st)
	for name, want := range map[string]string{
		"../../etc/passwd":       "passwd",
		`C:\films\a.mp4`:         "a.mp4",
		"a\x00b\x1b[31m.mp4":     "ab[31m.mp4",
		"\u202egpj.mp4":          "gpj.mp4",
		"/":                      "film",
		"":                       "film",
		strings.Repeat("x", 300): strings.Repeat("x", 119) + "…",
	} {
		up := must[app.PageUpload](t)(st.BeginUpload(bg, "", v.ID, app.PageUploadAsk{Name: name, Size: 5}))
		if up.Name != want {
			t.Errorf("%q is shown as %q, want %q", name, up.Name, want)
		}
	}
}

func TestAnUploadCutOffGoesOn(t *testing.T) {
	st := openStudio(t)
	_, v := consented(t, st)
	side, _, _ := syntheticFiles(t, 60, 4)
	data := fileOf(t, side)
	half := len(data) / 2
	up := must[app.PageUpload](t)(st.BeginUpload(bg, "", v.ID, app.PageUploadAsk{Name: "side.json", Size: int64(len(data))}))
	broken := io.MultiReader(bytes.NewReader(data[:half]), iotest.ErrReader(io.ErrUnexpectedEOF))
	end, err := st.AddToUpload(bg, up.Upload, 0, broken)
	if err == nil || end != int64(half) {
		t.Fatalf("a broken part: %d, %v", end, err)
	}
	// The program is started anew meanwhile.
	st.Close()
	st = must[*app.Studio](t)(app.OpenStudio(st.Dir()))
	t.Cleanup(st.Close)
	if got := must[app.PageUpload](t)(st.Upload(up.Upload)); got.Offset != int64(half) || got.Size != int64(len(data)) || got.Name != "side.json" {
		t.Fatalf("after the restart: %+v", got)
	}
	if _, err := st.FinishUpload(bg, "", up.Upload); kindOf(t, err) != app.KindUsage {
		t.Errorf("half a file is taken in: %v", err)
	}
	end, err = st.AddToUpload(bg, up.Upload, 0, bytes.NewReader(data[:half]))
	if kindOf(t, err) != app.KindStale || end != int64(half) {
		t.Errorf("a part twice: %d, %v", end, err)
	}
	if end, err = st.AddToUpload(bg, up.Upload, int64(half), bytes.NewReader(data[half:])); err != nil || end != int64(len(data)) {
		t.Fatalf("the rest: %d, %v", end, err)
	}
	c := must[app.PageVisitClip](t)(st.FinishUpload(bg, "", up.Upload))
	if c.Kind != "keypoints" || c.Frames != 241 && c.Frames != 240 {
		t.Errorf("clip %+v", c)
	}
	// The same file once more is the same clip.
	if again := must[app.PageVisitClip](t)(takeIn(t, st, v.ID, "copy.json", data)); again.ID != c.ID || again.Name != "side.json" {
		t.Errorf("taken in twice: %+v", again)
	}
	// The answer was lost on the way: asked for again it is the same clip.
	if again := must[app.PageVisitClip](t)(st.FinishUpload(bg, "", up.Upload)); again.ID != c.ID {
		t.Errorf("finished again it is %+v", again)
	}
	if got := must[app.PageVisit](t)(st.Visit(bg, v.ID)); len(got.Clips) != 1 {
		t.Errorf("the visit has %d clips", len(got.Clips))
	}
}

// The program is killed when the file is kept and the clip is not written yet.
func TestAnUploadIsFinishedAfterAStop(t *testing.T) {
	st := openStudio(t)
	_, v := consented(t, st)
	side, _, _ := syntheticFiles(t, 60, 4)
	data := fileOf(t, side)
	up := must[app.PageUpload](t)(st.BeginUpload(bg, "", v.ID, app.PageUploadAsk{Name: "side.json", Size: int64(len(data))}))
	must[int64](t)(st.AddToUpload(bg, up.Upload, 0, bytes.NewReader(data)))
	_, files, err := st.Records()
	if err != nil {
		t.Fatal(err)
	}
	must[string](t)(files.Finish(bg, up.Upload))
	st.Close()
	st = must[*app.Studio](t)(app.OpenStudio(st.Dir()))
	t.Cleanup(st.Close)
	if got := must[app.PageUpload](t)(st.Upload(up.Upload)); got.Offset != got.Size {
		t.Fatalf("after the restart %d of %d bytes have arrived", got.Offset, got.Size)
	}
	if c := must[app.PageVisitClip](t)(st.FinishUpload(bg, "", up.Upload)); c.Name != "side.json" || c.Bytes != int64(len(data)) || c.Problem != "" {
		t.Errorf("clip %+v", c)
	}
}

// A film that cannot be read is not kept beside those that can: given up, it is gone.
func TestWhatIsNoClipIsGoneWhenItIsGivenUp(t *testing.T) {
	st := openStudio(t)
	_, v := consented(t, st)
	up := must[app.PageUpload](t)(st.BeginUpload(bg, "", v.ID, app.PageUploadAsk{Name: "notes.txt", Size: 9}))
	must[int64](t)(st.AddToUpload(bg, up.Upload, 0, strings.NewReader("no film.\n")))
	for range 2 { // the second time for the same reason
		if _, err := st.FinishUpload(bg, "", up.Upload); err == nil || kindOf(t, err) == app.KindNotFound {
			t.Errorf("taken in: %v", err)
		}
	}
	if err := st.AbandonUpload(up.Upload); err != nil {
		t.Fatal(err)
	}
	err := filepath.WalkDir(filepath.Join(st.Dir(), "files"), func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			t.Errorf("left is %s", path)
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
}

func TestUploadsAreBounded(t *testing.T) {
	st := openStudio(t)
	_, v := consented(t, st)
	for size, want := range map[int64]app.Kind{0: app.KindUsage, -1: app.KindUsage, app.MaxUploadBytes + 1: app.KindTooLarge, 1 << 62: app.KindTooLarge} {
		if _, err := st.BeginUpload(bg, "", v.ID, app.PageUploadAsk{Name: "a.mp4", Size: size}); kindOf(t, err) != want {
			t.Errorf("%d bytes: %v", size, err)
		}
	}
	st.SetFree(func(string) (int64, error) { return 300 << 20, nil })
	if _, err := st.BeginUpload(bg, "", v.ID, app.PageUploadAsk{Name: "a.mp4", Size: 100 << 20}); kindOf(t, err) != app.KindFull {
		t.Errorf("a full disk: %v", err)
	}
	// What was promised to files that were begun is not there for another; what arrived
	// of them, or was given up, is promised no more.
	st.SetFree(func(string) (int64, error) { return 1000 << 20, nil })
	begin := func(size int64) (app.PageUpload, error) {
		return st.BeginUpload(bg, "", v.ID, app.PageUploadAsk{Name: "a.mp4", Size: size})
	}
	first := must[app.PageUpload](t)(begin(600 << 20))
	if _, err := begin(600 << 20); kindOf(t, err) != app.KindFull || !strings.Contains(err.Error(), "0.6 GB are for films that are arriving already") {
		t.Errorf("two that do not fit together: %v", err)
	}
	second := must[app.PageUpload](t)(begin(144 << 20))
	if _, err := begin(1); kindOf(t, err) != app.KindFull {
		t.Errorf("a third: %v", err)
	}
	if _, err := st.AddToUpload(bg, second.Upload, 0, strings.NewReader("more")); err != nil {
		t.Error(err)
	}
	third := must[app.PageUpload](t)(begin(4))
	for _, id := range []string{first.Upload, second.Upload, third.Upload} {
		if err := st.AbandonUpload(id); err != nil {
			t.Error(err)
		}
	}
	again := must[app.PageUpload](t)(begin(600 << 20))
	if err := st.AbandonUpload(again.Upload); err != nil {
		t.Error(err)
	}
	up := must[app.PageUpload](t)(st.BeginUpload(bg, "", v.ID, app.PageUploadAsk{Name: "a.mp4", Size: 10}))
	if end, err := st.AddToUpload(bg, up.Upload, 0, strings.NewReader("more than ten bytes")); kindOf(t, err) != app.KindUsage || end != 10 {
		t.Errorf("more than was said: %d, %v", end, err)
	}
	if err := st.AbandonUpload(up.Upload); err != nil {
		t.Error(err)
	}
	if _, err := st.Upload(up.Upload); kindOf(t, err) != app.KindNotFound {
		t.Errorf("given up: %v", err)
	}
	if _, err := st.Upload("../../studio.db"); kindOf(t, err) != app.KindNotFound {
		t.Errorf("a name that climbs: %v", err)
	}
	if _, err := st.BeginUpload(bg, "", strings.Repeat("0", 26), app.PageUploadAsk{Name: "a.mp4", Size: 10}); kindOf(t, err) != app.KindNotFound {
		t.Errorf("a visit that is none: %v", err)
	}
}

func TestFramesOfAFilmBeforeItIsMeasured(t *testing.T) {
	st := openStudio(t)
	_, v := consented(t, st)
	c := must[app.PageVisitClip](t)(takeIn(t, st, v.ID, "a.mp4", smallFilm(t, 2)))
	times := must[app.PageClipTimes](t)(st.ClipTimes(bg, c.ID))
	if len(times.TimeS) != 60 || len(times.TimeS) != c.Frames || times.TimeS[30] != 1 {
		t.Errorf("times %v", times)
	}
	first := must[[]byte](t)(st.ClipFrame(bg, c.ID, 0))
	last := must[[]byte](t)(st.ClipFrame(bg, c.ID, 59))
	if !bytes.HasPrefix(first, []byte{0xff, 0xd8}) || bytes.Equal(first, last) {
		t.Error("the frames are no two pictures")
	}
	for _, n := range []int{-1, 60} {
		if _, err := st.ClipFrame(bg, c.ID, n); kindOf(t, err) != app.KindNotFound {
			t.Errorf("frame %d: %v", n, err)
		}
	}
	if p := must[[]byte](t)(st.ClipPoster(bg, c.ID)); !bytes.HasPrefix(p, []byte{0xff, 0xd8}) {
		t.Error("the poster is no picture")
	}
	// A slowed film: 30 frames a second in the file, taken at 120.
	c.Facts.CaptureRateHz = ptr(120.0)
	c = must[app.PageVisitClip](t)(st.ChangeClip(bg, "", c.ID, app.PageClipChange{Version: c.Version, Facts: c.Facts}))
	if times = must[app.PageClipTimes](t)(st.ClipTimes(bg, c.ID)); times.TimeS[40] != 1.333333 || times.TrueS[40] != 0.333333 {
		t.Errorf("frame 40 at %v, truly %v", times.TimeS[40], times.TrueS[40])
	}
}

func TestAFilmThatIsGoneIsSaid(t *testing.T) {
	st := openStudio(t)
	_, v := consented(t, st)
	c := must[app.PageVisitClip](t)(takeIn(t, st, v.ID, "a.mp4", smallFilm(t, 1)))
	if err := os.Remove(onlyFile(t, st)); err != nil {
		t.Fatal(err)
	}
	v = must[app.PageVisit](t)(st.Visit(bg, v.ID))
	if v.Clips[0].Problem == "" || v.Clips[0].Poster != nil {
		t.Errorf("clip %+v", v.Clips[0])
	}
	for what, err := range map[string]error{
		"frame":   second(st.ClipFrame(bg, c.ID, 0)),
		"poster":  second(st.ClipPoster(bg, c.ID)),
		"measure": second(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{})),
		"named":   second(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{Clips: []string{c.ID}})),
	} {
		if kindOf(t, err) != app.KindNoResult || !strings.Contains(err.Error(), "a.mp4") || !strings.Contains(err.Error(), "Take it in again") {
			t.Errorf("%s: %v", what, err)
		}
	}
}

// A clip whose file is gone is the next thing to mend; with the same file taken in
// again it is whole, with all that was said of it.
func TestAFilmThatIsGoneIsTakenInAgain(t *testing.T) {
	st := openStudio(t)
	_, v := consented(t, st)
	film := smallFilm(t, 1)
	c := must[app.PageVisitClip](t)(takeIn(t, st, v.ID, "a.mp4", film))
	c.Facts.View, c.Facts.SpeedMPS = "left", ptr(3.5)
	c = must[app.PageVisitClip](t)(st.ChangeClip(bg, "", c.ID, app.PageClipChange{Version: c.Version, Facts: c.Facts}))
	film2 := func(v app.PageVisit) app.PageStation { return v.Stations[1] }
	if s := film2(must[app.PageVisit](t)(st.Visit(bg, v.ID))); s.State != "done" {
		t.Fatalf("before: %+v", s)
	}
	if err := os.Remove(onlyFile(t, st)); err != nil {
		t.Fatal(err)
	}
	v = must[app.PageVisit](t)(st.Visit(bg, v.ID))
	if s := film2(v); s.State != "part" || len(s.Missing) == 0 || s.Missing[0].Code != "gone" || s.Missing[0].Clip != c.ID || !strings.Contains(s.Missing[0].Text, "a.mp4") {
		t.Errorf("without its file the station is %+v", s)
	}
	if again := must[app.PageVisitClip](t)(takeIn(t, st, v.ID, "copy.mp4", film)); again.ID != c.ID || again.Problem != "" || *again.Facts.SpeedMPS != 3.5 {
		t.Errorf("taken in again: %+v", again)
	}
	if s := film2(must[app.PageVisit](t)(st.Visit(bg, v.ID))); s.State != "done" {
		t.Errorf("taken in again, the station is %+v", s)
	}
}

// A standing trial is known by its name and goes with its running, whichever came
// in first.
func TestAStandingTrialFindsItsRunning(t *testing.T) {
	still, run := "RBDS001static.c3d", "RBDS001runT35.c3d"
	for _, order := range [][]string{{still, run}, {run, still}} {
		st := openStudio(t)
		_, v := consented(t, st)
		ids := map[string]string{}
		for _, name := range order {
			b, err := os.ReadFile(sharedData(t, "rbds", name))
			if err != nil {
				t.Fatal(err)
			}
			ids[name] = must[app.PageVisitClip](t)(takeIn(t, st, v.ID, name, b)).ID
		}
		for _, c := range must[app.PageVisit](t)(st.Visit(bg, v.ID)).Clips {
			if want := map[string]string{still: ids[run]}[c.Name]; c.Facts.StaticOf != want {
				t.Errorf("%v: %s is the standing trial of %q, want %q", order, c.Name, c.Facts.StaticOf, want)
			}
		}
	}
}

func second[T any](_ T, err error) error { return err }
