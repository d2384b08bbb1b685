package app_test

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"os"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/internal/app"
	"gaitwright/internal/pose"
	"gaitwright/internal/synth"
)

// pictures renders the invented runner from the left as JPEG pictures.
func pictures(t testing.TB, p synth.Params, rateHz, seconds float64) (timeS []float64, jpegs [][]byte) {
	t.Helper()
	p.DurationS = seconds + 1
	r, err := synth.New(p)
	if err != nil {
		t.Fatal(err)
	}
	timeS = synth.UnevenClock(rateHz, seconds, 0.2, 0.05, 11)
	film, err := synth.NewFilm(r, synth.NewCamera(clip.LeftSide, 300, 400, 4.6), timeS, synth.Look{Shutter: 0.2})
	if err != nil {
		t.Fatal(err)
	}
	err = film.Render(context.Background(), func(_ int, _ float64, rgb []byte) error {
		img := image.NewRGBA(image.Rect(0, 0, 300, 400))
		for i := range 300 * 400 {
			img.SetRGBA(i%300, i/300, color.RGBA{rgb[3*i], rgb[3*i+1], rgb[3*i+2], 255})
		}
		var b bytes.Buffer
		if err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 80}); err != nil {
			return err
		}
		jpegs = append(jpegs, b.Bytes())
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return timeS, jpegs
}

// TestLiveViewReadsTheRunner shows a live view the pictures of a drawn runner: the
// step rate and the overstride lie within what is stated, and nothing is kept.
func TestLiveViewReadsTheRunner(t *testing.T) {
	if testing.Short() {
		t.Skip("the pose networks are not run in short mode")
	}
	if pose.Locate("").Ready(pose.Lite) != nil && pose.Locate("").Ready(pose.Full) != nil {
		t.Skip("needs the pose model; install it with `make setup`")
	}
	st := openStudio(t)
	r, v := consented(t, st)
	if r.HeightM == nil {
		t.Fatal("the runner of the test has no height")
	}
	p := synth.NewParams(*r.HeightM, 2.8, 166)
	p.Variation = synth.Usual()
	timeS, jpegs := pictures(t, p, 15, 9)
	l := must[app.PageLive](t)(st.BeginLive(bg, v.ID))
	if l.LegSource == "" {
		t.Error("the scale rests on nothing")
	}
	var last app.PageLiveReading
	slowest := 0.0
	for i, at := range timeS {
		last = must[app.PageLiveReading](t)(st.LiveFrame(bg, l.ID, at, jpegs[i]))
		slowest = max(slowest, last.WorkMS)
		if at < 3.5 && last.PerMin != nil {
			t.Errorf("a rate after %.1f s: %v", at, *last.PerMin)
		}
	}
	if last.PerMin == nil {
		t.Fatalf("nothing is read: %+v", last)
	}
	runner, err := synth.New(p)
	if err != nil {
		t.Fatal(err)
	}
	truth := runner.Truth(1, 9, synth.HipPoints)
	rate, _ := truth.Value("step_rate", body.NoSide)
	t.Logf("%s model, %.1f pictures a second, %.0f ms at most: %.1f ± %.1f steps a minute, exact %.1f; from the %s", l.Model, last.RateHz, slowest, *last.PerMin, *last.Error, rate, last.View)
	if math.Abs(*last.PerMin-rate) > *last.Error+0.05 || *last.Error > 3 {
		t.Errorf("%.1f ± %.1f, exact %.1f", *last.PerMin, *last.Error, rate)
	}
	for k, a := range last.Ahead {
		if a.M == nil {
			t.Errorf("%s: withheld, %s", a.Side, a.Why)
			continue
		}
		want, _ := truth.Value("overstride", body.Sides[k])
		t.Logf("%s: %.0f ± %.0f mm, exact %.0f", a.Side, 1000**a.M, 1000**a.Error, 1000*want)
		if math.Abs(*a.M-want) > *a.Error {
			t.Errorf("%s: %.0f ± %.0f mm, exact %.0f", a.Side, 1000**a.M, 1000**a.Error, 1000*want)
		}
	}
	// Another size of picture begins anew; broken ones are refused; the end is the end.
	if got := must[app.PageLiveReading](t)(st.LiveFrame(bg, l.ID, 20, jpegOf(t, 200, 200))); got.PerMin != nil || got.Seen {
		t.Errorf("an empty picture of another size shows %+v", got)
	}
	for name, data := range map[string][]byte{"nothing": nil, "text": []byte("hello"), "cut": jpegs[0][:len(jpegs[0])/2], "huge": jpegOf(t, 1400, 80), "tiny": jpegOf(t, 32, 32)} {
		if _, err := st.LiveFrame(bg, l.ID, 21, data); kindOf(t, err) != app.KindUsage {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := st.LiveFrame(bg, l.ID, math.NaN(), jpegs[0]); kindOf(t, err) != app.KindUsage {
		t.Errorf("no time: %v", err)
	}
	second := must[app.PageLive](t)(st.BeginLive(bg, v.ID))
	if _, err := st.BeginLive(bg, v.ID); kindOf(t, err) != app.KindBusy {
		t.Errorf("a third live view: %v", err)
	}
	st.EndLive(l.ID)
	if runtime.GOOS == "linux" { // its process is killed: it ends in words, and the next one begins
		kill(t, atWork(t, os.Getpid(), "gaitwright-aid"), syscall.SIGKILL)
		if _, err := st.LiveFrame(bg, second.ID, 0, jpegs[0]); err == nil || !strings.Contains(err.Error(), "ended from outside") && !strings.Contains(err.Error(), "it has ended") {
			t.Errorf("killed: %v", err)
		}
		st.EndLive(second.ID)
		second = must[app.PageLive](t)(st.BeginLive(bg, v.ID))
	}
	st.EndLive(second.ID)
	if _, err := st.LiveFrame(bg, l.ID, 22, jpegs[0]); kindOf(t, err) != app.KindNotFound {
		t.Errorf("after the end: %v", err)
	}
	if again := must[app.PageVisit](t)(st.Visit(bg, v.ID)); len(again.Clips) != 0 || again.Version != v.Version {
		t.Errorf("the live view left something: %+v", again)
	}
}

// TestALiveViewHoldsNobodyUpWhileItGetsReady stops the process of a live view before it
// is ready: the other one goes on and ends, a third is refused, all at once; and where
// nobody waits for it any more, it gives up its place.
func TestALiveViewHoldsNobodyUpWhileItGetsReady(t *testing.T) {
	if testing.Short() {
		t.Skip("the pose networks are not run in short mode")
	}
	if pose.Locate("").Ready(pose.Lite) != nil && pose.Locate("").Ready(pose.Full) != nil {
		t.Skip("needs the pose model; install it with `make setup`")
	}
	if runtime.GOOS != "linux" {
		t.Skip("reads /proc")
	}
	st := openStudio(t)
	_, v := consented(t, st)
	picture := jpegOf(t, 200, 200)
	try := func() (stoppedInTime bool) {
		first := must[app.PageLive](t)(st.BeginLive(bg, v.ID))
		running := atWork(t, os.Getpid(), "gaitwright-aid")
		ctx, unasked := context.WithCancel(t.Context())
		defer unasked()
		begun := make(chan error, 1)
		var second app.PageLive
		go func() {
			var err error
			second, err = st.BeginLive(ctx, v.ID)
			begun <- err
		}()
		late := func(err error) {
			if err != nil {
				t.Fatal(err)
			}
			st.EndLive(second.ID)
			st.EndLive(first.ID)
		}
		stopped := 0
		for stopped == 0 {
			for _, pid := range descendants(t, os.Getpid(), "gaitwright-aid") {
				if pid != running {
					kill(t, pid, syscall.SIGSTOP)
					defer syscall.Kill(pid, syscall.SIGCONT)
					stopped = pid
				}
			}
			select {
			case err := <-begun:
				late(err)
				return false
			default:
			}
		}
		done := make(chan struct{})
		go func() {
			defer close(done)
			if _, err := st.LiveFrame(bg, first.ID, 1, picture); err != nil {
				t.Errorf("the other live view: %v", err)
			}
			if _, err := st.BeginLive(bg, v.ID); app.KindOf(err) != app.KindBusy {
				t.Errorf("a third one: %v", err)
			}
			st.EndLive(first.ID)
			if _, err := st.LiveFrame(bg, first.ID, 2, picture); app.KindOf(err) != app.KindNotFound {
				t.Errorf("the other one after its end: %v", err)
			}
		}()
		select {
		case <-done:
		case <-time.After(5 * time.Minute):
			t.Fatal("the others wait for it")
		}
		select {
		case err := <-begun: // it had answered before it was stopped
			late(err)
			return false
		default:
		}
		unasked()
		if err := <-begun; !errors.Is(err, context.Canceled) {
			t.Errorf("called off: %v", err)
		}
		allGone(t, "a live view that nobody waited for", []int{stopped})
		return true
	}
	for !try() {
	}
	for range 2 {
		l := must[app.PageLive](t)(st.BeginLive(bg, v.ID))
		defer st.EndLive(l.ID)
	}
}

func jpegOf(t *testing.T, width, height int) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, width, height)), nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestNoLiveViewWithoutConsent asks for one of a runner who has not agreed, and
// behind a warning sign.
func TestNoLiveViewWithoutConsent(t *testing.T) {
	st := openStudio(t)
	r := must[app.PageRunner](t)(st.NewRunner(bg, "test", "Ada (invented)"))
	v := must[app.PageVisit](t)(st.NewVisit(bg, "test", r.ID, "2026-03-02"))
	if _, err := st.BeginLive(bg, v.ID); kindOf(t, err) != app.KindNotAllowed {
		t.Errorf("without consent: %v", err)
	}
	st2, v2, _ := counted(t)
	in := must[app.PageVisit](t)(st2.Visit(bg, v2.ID)).Intake
	for id := range in.Signs {
		in.Signs[id] = "yes"
		break
	}
	must[app.PageIntake](t)(st2.ChangeIntake(bg, "test", v2.ID, *in))
	if _, err := st2.BeginLive(bg, v2.ID); kindOf(t, err) != app.KindNotAllowed {
		t.Errorf("behind a warning sign: %v", err)
	}
	if _, err := st.BeginLive(bg, "01KA0000000000000000000000"); kindOf(t, err) != app.KindNotFound {
		t.Errorf("of no visit: %v", err)
	}
}
