package app_test

import (
	"flag"
	"fmt"
	"os"
	"os/signal"
	"testing"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/internal/app"
	"gaitwright/internal/browsertest"
	"gaitwright/internal/web"
)

var stickersServe = flag.Bool("stickers-serve", false, "with -run TestStickersInBrowser: serve a visit with stickers on port 8791 until interrupted")

// TestStickersInBrowser drives the stickers of the bench in a real Chromium with the
// script ui/e2e/stickers.e2e.mjs: clicked once, followed forwards and backwards,
// progress and end told, led to what is doubtful, corrected by hand, measured again.
func TestStickersInBrowser(t *testing.T) {
	if !*stickersServe {
		browsertest.Need(t)
	}
	where := []body.Landmark{body.LeftPSIS, body.LeftASIS, body.Thoracolumbar, body.Lumbosacral}
	film := shootStickered(t, clip.LeftSide, 3.5, where, decoyed)
	st := openStudio(t)
	_, v := consented(t, st)
	must[app.PageIntake](t)(st.ChangeIntake(bg, "", v.ID, healthy(st)))
	one := must[app.PageVisitClip](t)(takeIn(t, st, v.ID, "film.mp4", must[[]byte](t)(os.ReadFile(film.path))))
	one.Facts.SpeedMPS, one.Facts.View = ptr(film.params.SpeedMPS), clip.LeftSide.String()
	must[app.PageVisitClip](t)(st.ChangeClip(bg, "", one.ID, app.PageClipChange{Version: one.Version, Facts: one.Facts}))
	if err := st.RememberLandmarks(bg, one.ID, film.found); err != nil {
		t.Fatal(err)
	}
	work(t, st)
	before := ended(t, st, must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{})).ID)
	if before.State != "done" {
		t.Fatal(before.Message)
	}
	port := 0
	if *stickersServe {
		port = 8791
	}
	server := web.New(st, web.Options{Port: port})
	if err := server.Listen(); err != nil {
		t.Fatal(err)
	}
	ctx, stop := signal.NotifyContext(t.Context(), os.Interrupt)
	done := make(chan error, 1)
	go func() { done <- server.Run(ctx) }()
	defer func() {
		stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
	}()
	places := ""
	for _, l := range where {
		for _, frame := range []int{40, decoyFrom + 5, decoyTo + 5} {
			places += fmt.Sprintf("%s,%d,%.2f,%.2f;", l, frame, film.exact.Paths[l].X[frame], film.exact.Paths[l].Y[frame])
		}
	}
	env := []string{"PAGE=" + server.URL(), "VISIT=" + v.ID, "RESULT=" + before.Outcome, "CLIP=" + one.ID, "PLACES=" + places, fmt.Sprintf("AFTER=%d", decoyTo+5)}
	t.Log(env)
	if *stickersServe {
		<-ctx.Done()
		return
	}
	browsertest.Script(t, "stickers", 5*time.Minute, env...)
}
