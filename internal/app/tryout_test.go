package app_test

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"gaitwright/internal/app"
	"gaitwright/internal/store"
	"gaitwright/internal/video"
)

// drawingStudio draws films that are over soon.
func drawingStudio(t *testing.T, dir string, seconds float64) *app.Studio {
	t.Helper()
	if _, err := video.Locate(context.Background()); err != nil {
		t.Skip("needs ffmpeg, which writes films; install it")
	}
	st := must[*app.Studio](t)(app.OpenStudio(dir))
	t.Cleanup(func() { st.Close() })
	st.SetDrawing(144, 256, 60, seconds)
	return st
}

func drawings(t *testing.T, st *app.Studio, visit string) (out []app.PageJob) {
	t.Helper()
	for _, j := range must[[]app.PageJob](t)(st.Jobs(bg)) {
		if j.Kind == "draw" && j.VisitID == visit {
			out = append(out, j)
		}
	}
	return out
}

// begunDrawing waits until the first film of a visit is being drawn.
func begunDrawing(t *testing.T, st *app.Studio, visit string) app.PageJob {
	t.Helper()
	for begun := time.Now(); time.Since(begun) < 10*time.Minute; time.Sleep(5 * time.Millisecond) {
		for _, j := range drawings(t, st, visit) {
			if j.State == "running" && j.Message == "filming" {
				return j
			}
		}
	}
	t.Fatal("nothing is drawn")
	return app.PageJob{}
}

func noneHalf(t *testing.T, st *app.Studio) {
	t.Helper()
	if left, err := os.ReadDir(filepath.Join(st.Dir(), "errands")); err == nil && len(left) > 0 {
		t.Errorf("%s is left", left[0].Name())
	}
}

// A runner is invented with all that a visit needs, and her films are drawn once.
func TestTheProgramIsTriedWithoutAFilm(t *testing.T) {
	st := drawingStudio(t, t.TempDir(), 1.2)
	at := must[app.PageTry](t)(st.TryOut(bg, "desk", app.PageTryAsk{Language: "en"}))
	if again := must[app.PageTry](t)(st.TryOut(bg, "tablet", app.PageTryAsk{Language: "de"})); again != at {
		t.Error("a second runner is invented")
	}
	v := must[app.PageVisit](t)(st.Visit(bg, at.VisitID))
	if !strings.HasSuffix(v.Runner.Name, "(invented)") || v.Runner.Consent.Filming == nil || v.Runner.Consent.Records == nil {
		t.Errorf("the runner is %+v", v.Runner)
	}
	jobs := drawings(t, st, v.ID)
	if len(jobs) != 2 || v.Next.Code != "film_none" {
		t.Fatalf("%d films are drawn, next is %+v", len(jobs), v.Next)
	}
	work(t, st)
	for _, j := range jobs {
		if j = ended(t, st, j.ID); j.State != "done" || j.Outcome == "" {
			t.Fatalf("job %+v", j)
		}
	}
	v = must[app.PageVisit](t)(st.Visit(bg, v.ID))
	if len(v.Clips) != 2 || v.Clips[0].Facts.View != "left" || v.Clips[1].Facts.View != "rear" || v.Next.Code != "not_measured" {
		t.Fatalf("clips %+v, next %+v", v.Clips, v.Next)
	}
	for _, c := range v.Clips {
		if !strings.HasPrefix(c.Name, "invented") || len(c.Missing) != 0 || c.Frames != 72 {
			t.Errorf("clip %s of %d frames lacks %v", c.Name, c.Frames, c.Missing)
		}
		belt := must[app.PageBeltCheck](t)(st.Belt(bg, c.ID))
		if math.Abs(belt.SpeedMPS-3) > 0.03 {
			t.Errorf("%s: the belt ran at %v", c.Name, belt.SpeedMPS)
		}
		// 2.65 m fill the picture's height.
		if s := c.Facts.Scale; s == nil || math.Abs(math.Hypot(s.X2-s.X1, s.Y2-s.Y1)-256/2.65) > 0.5 {
			t.Errorf("%s: the scale is %+v", c.Name, s)
		}
	}
	noneHalf(t, st)
	if again := must[app.PageTry](t)(st.TryOut(bg, "", app.PageTryAsk{Language: "en"})); again != at || len(drawings(t, st, v.ID)) != 2 {
		t.Error("films that are there are drawn again")
	}
	if _, err := st.TryOut(bg, "", app.PageTryAsk{Language: "xx"}); kindOf(t, err) != app.KindUsage {
		t.Errorf("a language that is none: %v", err)
	}
}

// A film that cannot be drawn says why, in German too, without a file that nobody knows.
func TestADrawingThatFails(t *testing.T) {
	dir, tools := t.TempDir(), t.TempDir()
	found, err := video.Locate(context.Background())
	if err != nil || runtime.GOOS == "windows" {
		t.Skip("needs ffmpeg, and a shell: ", err)
	}
	if err := os.Symlink(found.FFprobe, filepath.Join(tools, "ffprobe")); err != nil {
		t.Fatal(err)
	}
	full := "#!/bin/sh\ncase \"$*\" in *-version*|*-encoders*) exec " + found.FFmpeg + " \"$@\";; esac\necho 'No space left on device' >&2\nexit 1\n"
	if err := os.WriteFile(filepath.Join(tools, "ffmpeg"), []byte(full), 0o700); err != nil {
		t.Fatal(err)
	}
	st := drawingStudio(t, dir, 1.2)
	t.Setenv("PATH", tools)
	at := must[app.PageTry](t)(st.TryOut(bg, "", app.PageTryAsk{Language: "de"}))
	work(t, st)
	for _, j := range drawings(t, st, at.VisitID) {
		const want = "The film could not be written (ffmpeg says: No space left on device). Check that there is room on the disk and that the folder may be written to."
		if j = ended(t, st, j.ID); j.State != "failed" || j.Message != want {
			t.Fatalf("job %+v", j)
		}
		if said, ok := app.Told("de", j.Message); !ok || !strings.Contains(said, "ffmpeg meldet: No space left on device") {
			t.Errorf("in German it says %q", said)
		}
	}
	noneHalf(t, st)
}

// What is cancelled leaves nothing, and what a stop interrupts is drawn anew.
func TestADrawingThatIsBrokenOff(t *testing.T) {
	dir := t.TempDir()
	st := drawingStudio(t, dir, 12)
	at := must[app.PageTry](t)(st.TryOut(bg, "", app.PageTryAsk{Language: "de"}))
	ctx, stop := context.WithCancel(bg)
	st.StartWork(ctx)
	j := begunDrawing(t, st, at.VisitID)
	for _, one := range drawings(t, st, at.VisitID) {
		must[app.PageJob](t)(st.CancelJob(bg, "", one.ID))
	}
	if j = ended(t, st, j.ID); j.State != "cancelled" {
		t.Fatalf("job %+v", j)
	}
	noneHalf(t, st)
	v := must[app.PageVisit](t)(st.Visit(bg, at.VisitID))
	if len(v.Clips) != 0 || len(v.Jobs) != 0 || !strings.HasSuffix(v.Runner.Name, "(erfunden)") {
		t.Fatalf("after it: %+v", v)
	}

	must[app.PageTry](t)(st.TryOut(bg, "", app.PageTryAsk{Language: "de"}))
	j = begunDrawing(t, st, at.VisitID)
	stop()
	st.Close()
	st = drawingStudio(t, dir, 1.2)
	if again := drawings(t, st, at.VisitID); len(again) != 2 || again[0].State != string(store.JobQueued) {
		t.Fatalf("after a stop: %+v", again)
	}
	work(t, st)
	for _, one := range drawings(t, st, at.VisitID) {
		if one = ended(t, st, one.ID); one.State != "done" {
			t.Errorf("job %+v", one)
		}
	}
	if v := must[app.PageVisit](t)(st.Visit(bg, at.VisitID)); len(v.Clips) != 2 {
		t.Errorf("clips %+v", v.Clips)
	}
	noneHalf(t, st)
}
