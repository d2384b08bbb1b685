package web

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gaitwright/internal/app"
	"gaitwright/internal/browsertest"
)

// TestPlanInBrowser drives the stations Findings and Plan in a real Chromium with
// the script ui/e2e/plan.e2e.mjs: findings decided, one of the coach's own, a plan
// changed by hand, moved, dragged and fitted anew; a warning sign of one region
// and its clearance; accessibility. Where the open treadmill data are at hand the
// findings are those of a runner of them.
func TestPlanInBrowser(t *testing.T) {
	browsertest.Need(t)
	t.Parallel() // a browser often waits
	st, err := app.OpenStudio(filepath.Join(t.TempDir(), "studio"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(st.Close)
	st.StartWork(t.Context())
	page := start(t, st)
	c := &client{t: t, base: strings.TrimRight(page, "/"), who: "the desk"}
	_, v := c.begin()
	at := "/api/visits/" + v.ID

	shared := os.Getenv("GAITWRIGHT_SHARED")
	if shared == "" {
		shared = filepath.Join("..", "..", "..", "shared")
	}
	data, err := os.ReadFile(filepath.Join(shared, "data", "rbds", "RBDS019runT35.c3d"))
	measured := ""
	if err != nil {
		t.Log("the open treadmill data are not at hand: the findings are the coach's own alone")
	} else {
		clip := c.send(v.ID, "RBDS019runT35.c3d", data)
		speed := 3.5
		clip.Facts.SpeedMPS = &speed
		get[app.PageVisitClip](c, "PUT", "/api/clips/"+clip.ID, app.PageClipChange{Version: clip.Version, Facts: clip.Facts})
		get[app.PageJob](c, "POST", at+"/measure", app.PageMeasureAsk{})
		for end := time.Now().Add(10 * time.Minute); ; time.Sleep(100 * time.Millisecond) {
			now := get[app.PageVisit](c, "GET", at, nil)
			if len(now.Results) > 0 {
				break
			}
			if time.Now().After(end) {
				t.Fatalf("not measured: %+v", now.Jobs)
			}
		}
		measured = "1"
	}
	force := 150.0
	lever := 0.4
	one := app.PageExamEntry{Trials: []app.PageExamTrial{{ForceN: &force, LeverM: &lever}}}
	get[app.PageExam](c, "PUT", at+"/exam", app.PageExam{Entries: map[string]app.PageExamEntry{"hip_abduction_strength/left": one, "hip_abduction_strength/right": one}})
	browsertest.Script(t, "plan", 6*time.Minute, "PAGE="+page, "VISIT="+v.ID, "MEASURED="+measured)
}
