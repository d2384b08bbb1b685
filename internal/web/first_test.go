package web

import (
	"encoding/json"
	"html"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"gaitwright/internal/app"
)

// TestFirstPageStandsInTheBrowsersLanguage holds the first page, as it is before its
// script has come, against the language chosen on the page or asked for by the browser.
func TestFirstPageStandsInTheBrowsersLanguage(t *testing.T) {
	for _, c := range []struct{ cookie, accept, want string }{
		{"", "", "en"},
		{"", "en-GB,en;q=0.9,de;q=0.8", "en"},
		{"", "de-AT,de;q=0.9,en;q=0.8", "de"},
		{"", "DE;q=0.9", "de"},
		{"", "fr,de", "en"},
		{"", "../de", "en"},
		{"de", "en-GB", "de"},
		{"en", "de", "en"},
		{"../index", "de", "de"},
		{"xx", "", "en"},
	} {
		res := ask(t, someResults(), "/", func(r *http.Request) {
			if c.cookie != "" {
				r.AddCookie(&http.Cookie{Name: "language", Value: c.cookie})
			}
			if c.accept != "" {
				r.Header.Set("Accept-Language", c.accept)
			}
		})
		page := string(body(t, res))
		for _, want := range []string{`<html lang="` + c.want + `">`, `data-first="` + c.want + `"`, map[string]string{"en": "Who is running?", "de": "Wer läuft?"}[c.want], `<input id="who"`} {
			if !strings.Contains(page, want) {
				t.Errorf("cookie %q, accepted %q: %s is not in the page", c.cookie, c.accept, want)
			}
		}
		if vary := res.Header.Values("Vary"); !slices.Contains(vary, "Accept-Language, Cookie") || !slices.Contains(vary, "Sec-Fetch-Site") {
			t.Errorf("cookie %q: Vary is %q", c.cookie, vary)
		}
	}
	if page := string(body(t, ask(t, someResults(), "/settings", nil))); strings.Contains(page, "data-first") {
		t.Error("another page begins as the first one")
	}
}

var (
	sentData = regexp.MustCompile(`<script type="application/json" id="sent">(.*?)</script>`)
	rowTexts = regexp.MustCompile(`(?s)<li class="[^"]*"><a [^>]*href="/runners/([^"]*)"[^>]*>(.*?)</a></li>`)
	tags     = regexp.MustCompile(`<[^>]*>`)
)

// TestRunnersStandInTheFirstPage: the runners stand in the page as it is sent, in its
// language, as data for its script too, whatever their names are; and another site that
// opens the page gets none of them.
func TestRunnersStandInTheFirstPage(t *testing.T) {
	_, c := visitServer(t)
	first := func(change ...func(*http.Request)) (string, http.Header) {
		t.Helper()
		status, head, page := c.do("GET", "/", nil, change...)
		if status != http.StatusOK {
			t.Fatalf("status %d", status)
		}
		return string(page), head
	}
	if page, _ := first(); !strings.Contains(page, `class="none `) || rowTexts.MatchString(page) {
		t.Error("without a runner the page does not say so")
	}

	names := []string{"Ada Lind", `</script><b title="x">&amp;`, "{{sent}} {{tags}} {{n}}"}
	for _, name := range names {
		r := get[app.PageRunner](c, "POST", "/api/runners", map[string]string{"name": name})
		if name == names[0] {
			year := 1988
			r.BornYear = &year
			get[app.PageRunner](c, "PUT", "/api/runners/"+r.ID, r)
			v := get[app.PageVisit](c, "POST", "/api/runners/"+r.ID+"/visits", map[string]string{"date": "2024-05-04"})
			get[app.PageVisit](c, "PUT", "/api/visits/"+v.ID+"/intake", app.PageIntake{Pain: []app.PagePain{{Region: "knee_front", Side: "left", Face: "front", Score: 3}}})
		}
	}
	// What hurts is found by a word of it, in English and in German.
	for _, word := range []string{"knee", "fron", "knie", "KNIE vorn", "ada knie"} {
		if found := get[app.PageRunners](c, "GET", "/api/runners?q="+url.QueryEscape(word), nil); len(found.Rows) != 1 || found.Rows[0].Name != names[0] {
			t.Errorf("%q finds %+v", word, found.Rows)
		}
	}
	if found := get[app.PageRunners](c, "GET", "/api/runners?q=knieschmerz", nil); len(found.Rows) != 0 {
		t.Errorf("a word of nothing finds %+v", found.Rows)
	}
	for _, l := range []struct{ accept, tag, born, none, visit string }{
		{"en-GB,en", "Knee, front", "born 1988", "no visit yet", "1 visit, last 4 May 2024"},
		{"en-US", "Knee, front", "born 1988", "no visit yet", "1 visit, last May 4, 2024"},
		{"de", "Knie, vorn", "geboren 1988", "noch kein Termin", "1 Termin, zuletzt 04.05.2024"},
	} {
		page, head := first(func(r *http.Request) { r.Header.Set("Accept-Language", l.accept) })
		if kept := head.Get("Cache-Control"); kept != "no-store" {
			t.Errorf("a page with people in it may be kept: %q", kept)
		}
		var sent app.PageRunners
		if m := sentData.FindStringSubmatch(page); m == nil {
			t.Fatal("no data was sent with the page")
		} else if err := json.Unmarshal([]byte(m[1]), &sent); err != nil {
			t.Fatal(err)
		}
		listed := get[app.PageRunners](c, "GET", "/api/runners?limit=30", nil)
		rows := rowTexts.FindAllStringSubmatch(page, -1)
		if len(rows) != 3 || len(sent.Rows) != 3 || len(listed.Rows) != 3 {
			t.Fatalf("%d rows, %d sent, %d listed", len(rows), len(sent.Rows), len(listed.Rows))
		}
		for i, r := range listed.Rows {
			if sent.Rows[i].ID != r.ID || sent.Rows[i].Name != r.Name || rows[i][1] != r.ID {
				t.Errorf("row %d is of %s, sent %q, listed %q", i, rows[i][1], sent.Rows[i].Name, r.Name)
			}
			text := strings.Join(strings.Fields(html.UnescapeString(tags.ReplaceAllString(rows[i][2], " "))), " ")
			want := r.Name + " " + l.none
			if r.Name == names[0] {
				want = r.Name + " " + l.tag + " " + l.born + " " + l.visit
			}
			if text != want {
				t.Errorf("row %d says %q, want %q", i, text, want)
			}
		}
	}

	for site, people := range map[string]bool{"none": true, "same-origin": true, "same-site": false, "cross-site": false} {
		page, _ := first(func(r *http.Request) { r.Header.Set("Sec-Fetch-Site", site) })
		if strings.Contains(page, "Ada") != people || !strings.Contains(page, `<input id="who"`) {
			t.Errorf("opened by %s: people are in it: %v", site, !people)
		}
	}
}

// TestRowOfARunner holds one row's pieces, where the built page's own words stand around
// them: a finding is named in the page's language, a coach's own words are left as they are.
func TestRowOfARunner(t *testing.T) {
	f := firstPage{language: "de", Foreign: "<en {{tag}}>", Row: "{{id}}|{{name}}|{{tags}}|{{born}}|{{visits}};", Tag: "[{{tag}}]", Unnamed: "nameless", Born: "b{{n}}", Few: 2, Visits: [3]string{"no", "one", "{{n}} of them"}, Last: "last {{n}}"}
	f.Pages.Some, f.Pages.None = "{{rows}}#{{sent}}", "none {{sent}}"
	day, year := "2026-05-04", 2001
	rows := []app.PageRunnerRow{
		{ID: "A", Tags: []string{"The foot lands far ahead", "a<b", "{{tags}}", "d"}, Visits: 12, LastVisit: &day},
		{ID: "B", Name: "{{rows}}", BornYear: &year, Visits: 1},
		{ID: "C", Name: "sent alone"},
	}
	want := "A|nameless|[Der Fuß setzt weit vorn auf]<en a&lt;b><en {{tags}}>||12 of them, last <2026-05-04>;B|{{rows}}||b2001|one;"
	want = strings.ReplaceAll(want, "<2026-05-04>", "&lt;2026-05-04&gt;")
	page, err := f.with(app.PageRunners{Rows: rows, Next: "C"}, func(d string) string { return "<" + d + ">" })
	if err != nil {
		t.Fatal(err)
	}
	if got := string(page); !strings.HasPrefix(got, want+`#{"rows":[{"id":"A"`) || strings.Count(got, "sent alone") != 1 {
		t.Error(got)
	}
	if page, _ := f.with(app.PageRunners{}, nil); string(page) != `none {"rows":null,"next":"","tags":null}` {
		t.Errorf("of nobody: %s", page)
	}
}
