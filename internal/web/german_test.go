package web

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"testing"

	"gaitwright/internal/app"
)

// TestGermanHasTheServersWords holds the page's German table against what the
// server says at the stations that are translated: titles of measures, the whole
// intake, what a visit lacks at Intake, Film and Measure.
func TestGermanHasTheServersWords(t *testing.T) {
	b, err := os.ReadFile(filepath.Join("..", "..", "ui", "src", "text", "told.de.json"))
	if err != nil {
		t.Skip("the page's sources are absent: ", err)
	}
	var table map[string]string
	if err := json.Unmarshal(b, &table); err != nil {
		t.Fatal(err)
	}
	place := regexp.MustCompile(`\\\{\d#?\\\}`)
	var rules []*regexp.Regexp
	for from := range table {
		rules = append(rules, regexp.MustCompile(`(?i)^`+place.ReplaceAllString(regexp.QuoteMeta(strings.TrimSuffix(from, ".")), "(.+?)")+`\.?$`))
	}
	covered := func(s string) bool {
		for _, r := range rules {
			if r.MatchString(s) {
				return true
			}
		}
		return false
	}
	sentence := regexp.MustCompile(`([.!?])\s+(\p{Lu})`)
	want := func(what, text string) {
		t.Helper()
		if text == "" || covered(text) {
			return
		}
		for _, s := range strings.Split(sentence.ReplaceAllString(text, "$1\x00$2"), "\x00") {
			if !covered(s) {
				t.Errorf("%s: the table has no German for %q", what, s)
			}
		}
	}
	st := studioAt(t)
	for _, d := range st.Definitions() {
		want("measure "+d.Name, d.Title)
		want("group of "+d.Name, d.Group)
		want("what to do instead of "+d.Name, d.Instead)
		if strings.ContainsAny(d.Unit, " ") || strings.HasPrefix(d.Unit, "steps") {
			want("unit of "+d.Name, d.Unit)
		}
	}
	form := st.IntakeForm()
	for _, s := range form.Signs {
		want("sign "+s.ID, s.Group)
		want("sign "+s.ID, s.Question)
		want("sign "+s.ID, s.Why)
	}
	for _, r := range form.Regions {
		want("place "+r.ID, r.Title)
	}
	want("scale of pain", form.PainScale.Text)
	for _, s := range form.PainScale.Steps {
		want("scale of pain", s.Name)
		want("scale of pain", s.Text)
	}
	r, err := st.NewRunner(t.Context(), "", "Ida Invented")
	if err != nil {
		t.Fatal(err)
	}
	want("consent", r.ConsentText)
	v, err := st.NewVisit(t.Context(), "", r.ID, "")
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range v.Stations[:3] {
		for _, m := range s.Missing {
			want("lacking at "+s.Name, m.Text)
		}
	}
	for _, sign := range form.Signs {
		p := app.PageIntake{Version: 0, Signs: map[string]string{sign.ID: "yes"}}
		if v.Intake != nil {
			p.Version = v.Intake.Version
		}
		if _, err := st.ChangeIntake(t.Context(), "", v.ID, p); err != nil {
			t.Fatal(err)
		}
		if v, err = st.Visit(t.Context(), v.ID); err != nil {
			t.Fatal(err)
		}
		want("refer for "+sign.ID, v.Refer.Text)
	}
	agreed := "2026-01-05"
	r.Consent = app.PageConsent{Filming: &agreed, Records: &agreed}
	if _, err := st.ChangeRunner(t.Context(), "", r.ID, "", r); err != nil {
		t.Fatal(err)
	}
	if v, err = st.NewVisit(t.Context(), "", r.ID, ""); err != nil {
		t.Fatal(err)
	}
	for name, data := range map[string]string{
		"letter.mp4": "no film", "notes.mp4": "# a note, not a film\n", "page.mp4": "{\"error\": 1}", "paper.mp4": "%PDF-1.7 \x00", "packed.mp4": "PK\x03\x04\x00",
		"list.mp4": "#EXTM3U\n", "picture.mp4": "\x89PNG\r\n\x1a\n\x00", "zeros.mp4": strings.Repeat("\x00", 600), "empty.mp4": "",
		"damaged.mp4": "\x00\x00\x00\x18ftypmp42\x00\x00\x00\x00mp42isom\x00\x00", "other.mkv": "\x1aE\xdf\xa3\x00\x00",
	} {
		up, err := st.BeginUpload(t.Context(), "", v.ID, app.PageUploadAsk{Name: name, Size: int64(len(data))})
		if err == nil {
			if _, err = st.AddToUpload(t.Context(), up.Upload, 0, strings.NewReader(data)); err != nil {
				t.Fatal(name, err)
			}
			_, err = st.FinishUpload(t.Context(), "", up.Upload)
		}
		var p *app.Problem
		if !errors.As(err, &p) || p.Kind == app.KindNotAllowed {
			t.Errorf("%s: %v", name, err)
			continue
		}
		want(name, p.What)
		want(name, p.Mend)
	}
	// What another screen, another program or the machine is in the way of.
	refused := func(what string, err error) {
		t.Helper()
		if err == nil {
			t.Errorf("%s was not refused", what)
			return
		}
		want(what, app.InOneLine(err))
	}
	_, err = st.ChangeRunner(t.Context(), "", r.ID, "", app.PageRunner{Version: 99, Name: "Ida"})
	refused("a runner who was changed", err)
	_, err = st.ChangeVisit(t.Context(), "", v.ID, app.PageVisitFacts{Version: 99, Date: v.Date})
	refused("a visit that was changed", err)
	_, err = st.ChangeIntake(t.Context(), "", v.ID, app.PageIntake{Version: 99})
	refused("an intake that was changed", err)
	if runtime.GOOS == "windows" {
		return // nobody takes away a file that is open
	}
	if err := os.Remove(filepath.Join(st.Dir(), "studio.db")); err != nil {
		t.Fatal(err)
	}
	_, err = st.NewRunner(t.Context(), "", "Ida Invented")
	refused("records that were taken away", err)
}
