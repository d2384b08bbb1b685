package app_test

import (
	"fmt"
	"testing"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
)

// TestStickersInBrowser drives the stickers of the bench in a real Chromium with the
// script ui/e2e/stickers.e2e.mjs: clicked once, followed forwards and backwards,
// progress and end told, led to what is doubtful, corrected by hand, measured again.
func TestStickersInBrowser(t *testing.T) {
	needsBrowser(t)
	t.Parallel() // a browser often waits
	where := []body.Landmark{body.LeftPSIS, body.LeftASIS, body.Thoracolumbar, body.Lumbosacral}
	film := shootStickered(t, clip.LeftSide, 3.5, where, decoyed)
	m := measuredStickers(t, film)
	places := ""
	for _, l := range where {
		for _, frame := range []int{40, decoyFrom + 5, decoyTo + 5} {
			places += fmt.Sprintf("%s,%d,%.2f,%.2f;", l, frame, film.exact.Paths[l].X[frame], film.exact.Paths[l].Y[frame])
		}
	}
	inBrowser(t, m.st, "stickers", 5*time.Minute, "VISIT="+m.visit, "RESULT="+m.result, "CLIP="+m.clip.ID, "PLACES="+places, fmt.Sprintf("AFTER=%d", decoyTo+5))
}
