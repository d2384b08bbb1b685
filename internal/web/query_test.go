package web

import (
	"encoding/json"
	"strings"
	"testing"
)

// TestAnAddressThatIsNotUnderstoodIsRefused: what an address says and is not known is
// named, with what there is instead, before anything is looked for.
func TestAnAddressThatIsNotUnderstoodIsRefused(t *testing.T) {
	_, c := visitServer(t)
	const visit, result = "/api/visits/" + noID, "/api/results/2026-11-25-ada"
	for _, x := range []struct{ path, said, mend string }{
		{result + "/report.pdf?units=foo", "units=foo", "units=metric or units=us"},
		{visit + "/report/html?units=foo", "units=foo", "units=metric or units=us"},
		{visit + "/report/html?lang=xx", "lang=xx", "lang=en or lang=de"},
		{visit + "/report/html?for=me", "for=me", "for=runner or for=clinician"},
		{visit + "/report/pdf?paper=a3", "paper=a3", "paper=a4 or paper=letter"},
		{visit + "/report/png?page=0", "page=0", "counted from 1"},
		{visit + "/report/png?page=" + strings.Repeat("9", 500), "page=9999", "counted from 1"},
		{visit + "/plan.ics?lang=EN", "lang=EN", "lang=en or lang=de"},
		{visit + "/plan.ics?units=foo", "units=foo", "units=metric or units=us"},
		{visit + "/homework.html?lang=%ff%3Cb%3E", "lang=�<b>", "lang=en or lang=de"},
		{visit + "/homework.html?units=foo", "units=foo", "units=metric or units=us"},
		{visit + "/click.wav?week=one&pace=0", "week=", "counted from 0"},
		{visit + "/click.wav?week=1", "pace=", "counted from 0"},
		{"/api/exercises/bridge/start.svg?side=up", "side=up", "side=left or side=right or side=both"},
		{"/api/exercises/bridge/start.svg?look=grey", "look=grey", "look=light or look=dark"},
		{"/api/pairing?a=x/0/0&b=x/0/1&foot=both", "foot=both", "foot=left or foot=right"},
		{"/api/pairing?a=x/0&b=x/0/1&foot=left", "result/clip/stride", "counted from 0"},
		{"/api/runners?limit=many", "limit=many", "a number from 1"},
	} {
		status, _, body := c.do("GET", x.path, nil)
		var said refusal
		if err := json.Unmarshal(body, &said); err != nil || status != 400 || !strings.Contains(said.Error, x.said) || !strings.Contains(said.Error, x.mend) || len(said.Error) > 300 {
			t.Errorf("GET %.80s: %d %.300s, want 400 that says %q and %q", x.path, status, body, x.said, x.mend)
		}
	}
}
