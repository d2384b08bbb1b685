package app_test

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"gaitwright/internal/app"
	"gaitwright/internal/browsertest"
)

// BenchmarkPage takes, in a real Chromium and by the browser's own clock, what a
// person at the screen waits for: the first page of a studio (until its first paint,
// and until its list of runners is painted), with none and with 5,000 runners; from a
// key to the painted next frame at 1080p; and from an edit to the painted new
// measures, on three seconds of 50 and on thirty seconds of 240 pictures a second.
// The medians of the tries are given, in ms, and the slowest of ten. Films are drawn
// first, which takes a minute or two.
func BenchmarkPage(b *testing.B) {
	browsertest.Need(b)
	for _, c := range []struct {
		name string
		make func(b *testing.B) (*app.Studio, string)
	}{
		{"first/no_runners", func(b *testing.B) (*app.Studio, string) { return emptyStudio(b), "" }},
		{"first/5000_runners", func(b *testing.B) (*app.Studio, string) { return manyTogether(b, 5000), "" }},
		{"bench/1080p", func(b *testing.B) (*app.Studio, string) {
			st := emptyStudio(b)
			return st, app.LargeNumberedResult(b, st, b.TempDir()).ID
		}},
		{"bench/30s_240Hz", func(b *testing.B) (*app.Studio, string) {
			st := emptyStudio(b)
			return st, app.LongNumberedResult(b, st, b.TempDir()).ID
		}},
	} {
		b.Run(c.name, func(b *testing.B) {
			st, result := c.make(b)
			url := served(b, st)
			for b.Loop() {
				out := browsertest.Script(b, "speed", 5*time.Minute, "PAGE="+url, "RESULT="+result)
				for line := range strings.Lines(out) {
					var took struct {
						What         string
						Median, Most float64
					}
					if json.Unmarshal([]byte(line), &took) == nil {
						b.ReportMetric(took.Median, "ms_"+took.What)
						b.ReportMetric(took.Most, "ms_most_"+took.What)
					}
				}
			}
			b.ReportMetric(0, "ns/op") // of the whole script: says nothing
		})
	}
}
