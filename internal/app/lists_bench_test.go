package app_test

import (
	"encoding/json"
	"io"
	"net/http"
	"net/url"
	"slices"
	"testing"
	"time"

	"gaitwright/internal/app"
)

// BenchmarkLists asks every list and search, and opens runners and visits, as the page
// does: over HTTP, in a studio of 5,000 invented runners with 50,000 visits. Given
// are, in ms until the last byte, the first answer of the route, then the median and
// the slowest of ten more, and the size of the answer. Filling takes most of the time.
// A route that has taken ten seconds is asked no more.
func BenchmarkLists(b *testing.B) {
	const runners, visits, tries = 5000, 10, 10
	st := manyVisits(b, runners, visits)
	at := served(b, st)
	ask := func(b *testing.B, path string) []byte {
		b.Helper()
		answer, err := http.Get(at + path)
		if err != nil {
			b.Fatal(err)
		}
		defer answer.Body.Close()
		body, err := io.ReadAll(answer.Body)
		if err != nil || answer.StatusCode != http.StatusOK {
			b.Fatalf("%s: %s, %v, %.300s", path, answer.Status, err, body)
		}
		return body
	}
	page := must[app.PageRunners](b)(st.Runners(bg, app.RunnerQuery{Limit: 200}))
	if len(page.Rows) != 200 || page.Next == "" || len(page.Tags) == 0 || page.Rows[0].Visits != visits {
		b.Fatalf("%d rows, followed by %q, %d tags", len(page.Rows), page.Next, len(page.Tags))
	}
	always := func(path string) func(app.PageRunnerRow) string {
		return func(app.PageRunnerRow) string { return path }
	}
	for _, c := range []struct {
		name string
		path func(app.PageRunnerRow) string // another runner at each try
		rows bool                           // a list of runners, of whom some must be found
	}{
		{"runners", always("/api/runners"), true},
		{"runners/later_page", always("/api/runners?after=" + url.QueryEscape(page.Next)), true},
		{"runners/name", func(r app.PageRunnerRow) string { return "/api/runners?q=" + url.QueryEscape(r.Name) }, true},
		{"runners/one_letter", always("/api/runners?q=r"), true},
		{"runners/part_of_a_complaint", always("/api/runners?q=kne"), true},
		{"runners/part_of_a_complaint_and_a_word", always("/api/runners?q=sore+kne"), true},
		{"runners/nothing_found", always("/api/runners?q=zzz"), false},
		{"runners/tag", always("/api/runners?tag=" + url.QueryEscape(page.Tags[0])), true},
		{"runners/days", always("/api/runners?from=2025-03-01&to=2025-04-30"), true},
		{"runners/all_at_once", always("/api/runners?q=kne&from=2025-03-01&to=2025-04-30&tag=" + url.QueryEscape(page.Tags[0])), true},
		{"results", always("/api/results"), false},
		{"trail", always("/api/trail"), false},
		{"trail/runner", func(r app.PageRunnerRow) string { return "/api/runners/" + r.ID + "/trail" }, false},
		{"keeping", always("/api/keeping"), false},
		{"jobs", always("/api/jobs"), false},
		{"runfolder", always("/api/runfolder"), false},
		{"runner", func(r app.PageRunnerRow) string { return "/api/runners/" + r.ID }, false},
		{"visit", func(r app.PageRunnerRow) string { return "/api/visits/" + r.LastVisitID }, false},
		{"together", always("/api/together"), false},
	} {
		b.Run(c.name, func(b *testing.B) {
			var first float64
			var took []float64
			var body []byte
			for b.Loop() {
				took = took[:0]
				for n, all := 0, time.Now(); n <= tries && (n < 2 || time.Since(all) < 10*time.Second); n++ {
					path := c.path(page.Rows[n*7])
					begun := time.Now()
					body = ask(b, path)
					ms := float64(time.Since(begun)) / 1e6
					if n == 0 {
						first = ms
					} else {
						took = append(took, ms)
					}
				}
			}
			if c.rows {
				var found app.PageRunners
				if err := json.Unmarshal(body, &found); err != nil || len(found.Rows) == 0 {
					b.Fatalf("nothing is found: %v, %.300s", err, body)
				}
			}
			slices.Sort(took)
			b.ReportMetric(first, "ms_first")
			b.ReportMetric((took[(len(took)-1)/2]+took[len(took)/2])/2, "ms_median")
			b.ReportMetric(took[len(took)-1], "ms_most")
			b.ReportMetric(float64(len(body))/1024, "KB")
			b.ReportMetric(0, "ns/op") // of all tries: says nothing
		})
	}
}
