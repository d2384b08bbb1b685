package web

import (
	"testing"
	"time"

	"gaitwright/internal/app"
	"gaitwright/internal/browsertest"
)

// TestReportInBrowser drives the report of a visit and the logo on it in a real
// Chromium with the script ui/e2e/report.e2e.mjs.
func TestReportInBrowser(t *testing.T) {
	browsertest.Need(t)
	t.Parallel() // a browser often waits
	st, c := visitServer(t)
	id, _ := visitAt(t, c)
	at := "/api/visits/" + id
	told[app.PageFindings](t, c, 200, "PUT", at+"/findings", app.PageFindingsKept{Own: []app.PageOwnFinding{ownFinding("own-1", "Weak right hip", "right", "strengthen", "glute_med")}})
	told[app.PagePlan](t, c, 200, "PUT", at+"/plan", app.PagePlanChange{Ask: askOf()})
	browsertest.Script(t, "report", 3*time.Minute, "PAGE="+start(t, st), "VISIT="+id)
}
