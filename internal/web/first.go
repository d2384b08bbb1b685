package web

import (
	"compress/gzip"
	"encoding/json"
	"fmt"
	"html"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"gaitwright/internal/app"
)

// pageLanguages are the languages of the page; the first is what every browser
// gets that asks for none of them.
var pageLanguages = []string{"en", "de"}

// firstPage is the first page of the program in one language, as it stands before
// its script has come, made when the page was built (ui/src/first.ts). Marks in it
// are {{name}}.
type firstPage struct {
	asset    string // the page without runners, whose script asks for them
	language string
	// The page with no runner at all and with some; marks are rows, and sent for the
	// data that the script reads.
	Pages struct{ None, Some string } `json:"pages"`
	// Row is one runner; marks are id, name, tags, born, visits.
	Row string `json:"row"`
	// What a visit is found by, in the page's language and, marked as such, where it is
	// left in English; mark tag.
	Tag     string `json:"tag"`
	Foreign string `json:"foreign"`
	// What stands for a name nobody gave.
	Unnamed string `json:"unnamed"`
	// Mark n is the year, the number of visits (none, one and any), the day.
	Born   string    `json:"born"`
	Visits [3]string `json:"visits"`
	Last   string    `json:"last"`
	// Many is how many runners are sent, Few how many of them stand in the page: the
	// others are below what a screen shows, and its script adds them.
	Many int `json:"many"`
	Few  int `json:"few"`
}

func loadFirst(built page) (map[string]firstPage, error) {
	all := map[string]firstPage{}
	for _, l := range pageLanguages {
		f := firstPage{asset: "first." + l + ".html", language: l}
		if built[f.asset].plain == nil {
			return nil, fmt.Errorf("%s is missing", f.asset)
		}
		if err := json.Unmarshal(built["first."+l+".json"].plain, &f); err != nil {
			return nil, fmt.Errorf("first.%s.json: %w", l, err)
		}
		all[l] = f
	}
	return all, nil
}

// serveFirst answers with the first page in the browser's language: the one chosen
// on the page, which keeps it in a cookie, or else the first that the browser asks for.
// The runners seen last stand in it; where they cannot be had, its script asks for them
// and says what is wrong. What another site opens comes without: nothing of people is in
// an answer to it.
func (a api) serveFirst(built page) http.HandlerFunc {
	all, err := loadFirst(built)
	if err != nil {
		panic("web: the embedded page cannot be read: " + err.Error())
	}
	return func(w http.ResponseWriter, r *http.Request) {
		w.Header().Add("Vary", "Accept-Language, Cookie")
		f := all[languageOf(r)]
		if site := r.Header.Get("Sec-Fetch-Site"); site != "" && site != "none" && site != "same-origin" {
			built.serve(w, r, f.asset)
			return
		}
		runners, err := a.src.Runners(r.Context(), app.RunnerQuery{Limit: f.Many})
		var body []byte
		if err == nil {
			body, err = f.with(runners, dayIn(r))
		}
		if err != nil {
			built.serve(w, r, f.asset)
			return
		}
		w.Header().Set("Cache-Control", "no-store")
		var packed []byte
		if takesGzip(r) {
			packed = pack(body, gzip.BestSpeed)
		}
		send(w, r, built[f.asset].kind, body, packed, tagOf(body))
	}
}

// with is the page with runners in it; day is how a day, YYYY-MM-DD, is written.
func (f firstPage) with(runners app.PageRunners, day func(string) string) ([]byte, error) {
	sent, err := json.Marshal(runners) // which leaves no < in a text
	if err != nil {
		return nil, err
	}
	var rows strings.Builder
	for _, r := range runners.Rows[:min(f.Few, len(runners.Rows))] {
		tags := ""
		for _, t := range r.Tags[:min(3, len(r.Tags))] {
			tag, said := f.Tag, t
			if s, ok := app.Told(f.language, t); ok {
				said = s
			} else {
				tag = f.Foreign
			}
			tags += strings.Replace(tag, "{{tag}}", html.EscapeString(said), 1)
		}
		name, born, visits := r.Name, "", strings.Replace(f.Visits[min(r.Visits, 2)], "{{n}}", strconv.Itoa(r.Visits), 1)
		if name == "" {
			name = f.Unnamed
		}
		if r.BornYear != nil {
			born = strings.Replace(f.Born, "{{n}}", strconv.Itoa(*r.BornYear), 1)
		}
		if r.LastVisit != nil {
			visits += ", " + strings.Replace(f.Last, "{{n}}", day(*r.LastVisit), 1)
		}
		// All at once, so that no mark is looked for in what was put in.
		strings.NewReplacer("{{id}}", html.EscapeString(r.ID), "{{name}}", html.EscapeString(name), "{{tags}}", tags,
			"{{born}}", html.EscapeString(born), "{{visits}}", html.EscapeString(visits)).WriteString(&rows, f.Row)
	}
	page := f.Pages.Some
	if len(runners.Rows) == 0 {
		page = f.Pages.None
	}
	return []byte(strings.NewReplacer("{{rows}}", rows.String(), "{{sent}}", string(sent)).Replace(page)), nil
}

// languageOf is the language in which a browser is answered.
func languageOf(r *http.Request) string {
	if c, err := r.Cookie("language"); err == nil && slices.Contains(pageLanguages, c.Value) {
		return c.Value
	}
	main, _, _ := strings.Cut(strings.ToLower(tongueOf(r)), "-")
	if slices.Contains(pageLanguages, main) {
		return main
	}
	return pageLanguages[0]
}

// tongueOf is the first language that a browser asks for, as it writes it.
func tongueOf(r *http.Request) string {
	asked, _, _ := strings.Cut(r.Header.Get("Accept-Language"), ",")
	asked, _, _ = strings.Cut(asked, ";")
	return strings.TrimSpace(asked)
}

// dayIn writes days as the browser that asks most likely does; its script then writes
// them as the browser really does.
func dayIn(r *http.Request) func(string) string {
	layout := "2 Jan 2006"
	switch {
	case languageOf(r) == "de":
		layout = "02.01.2006"
	case strings.EqualFold(tongueOf(r), "en-US"):
		layout = "Jan 2, 2006"
	}
	return func(day string) string {
		t, err := time.Parse(time.DateOnly, day[:min(len(day), len(time.DateOnly))])
		if err != nil {
			return day
		}
		return t.Format(layout)
	}
}
