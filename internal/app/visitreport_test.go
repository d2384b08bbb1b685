package app_test

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gaitwright/internal/app"
)

// reported is a visit with findings of the coach's own and a plan.
func reported(t *testing.T) (*app.Studio, app.PageVisit) {
	t.Helper()
	st := openStudio(t)
	_, v := consented(t, st)
	must[app.PageIntake](t)(st.ChangeIntake(bg, "test", v.ID, healthy(st)))
	must[app.PageSettings](t)(st.ChangeSettings(bg, "test", app.PageSettings{Studio: "Studio Straßenläufer (invented)"}))
	must[app.PageFindings](t)(st.ChangeFindings(bg, "test", v.ID, app.PageFindingsKept{Own: []app.PageOwnFinding{
		{ID: "own-1", Title: "Weak right hip", Text: "The right hip tires first on stairs.", Side: "right", Aims: []app.PageAim{{Block: "strengthen", Area: "glute_med"}, {Block: "activate", Area: "glute_med"}}}}}))
	p := must[app.PagePlan](t)(st.Plan(bg, v.ID))
	must[app.PagePlan](t)(st.ChangePlan(bg, "test", v.ID, app.PagePlanChange{Version: p.Version, Ask: p.Ask}))
	return st, v
}

// textOf reads a PDF's text back.
func textOf(t *testing.T, data []byte) (text string, pages int) {
	t.Helper()
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("needs pdftotext (poppler-utils), which reads the text of a PDF")
	}
	file := filepath.Join(t.TempDir(), "report.pdf")
	if err := os.WriteFile(file, data, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(tool, "-layout", file, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.Join(strings.Fields(string(out)), " "), strings.Count(string(out), "\f")
}

func TestReportOfAVisit(t *testing.T) {
	st, v := reported(t)
	for _, paper := range []string{"a4", "letter"} {
		for _, language := range app.ReportLanguages {
			ask := app.ReportAsk{For: "runner", Paper: paper, Language: language}
			one := must[app.ReportFile](t)(st.VisitReport(bg, v.ID, ask, "pdf", 1))
			again := must[app.ReportFile](t)(st.VisitReport(bg, v.ID, ask, "pdf", 1))
			if !bytes.Equal(one.Data, again.Data) {
				t.Errorf("%s, %s: the same report has other bytes", paper, language)
			}
			if one.Pages != 2 || len(one.Data) > 2<<20 {
				t.Errorf("%s, %s: %d pages, %d bytes", paper, language, one.Pages, len(one.Data))
			}
			text, pages := textOf(t, one.Data)
			if pages != 2 {
				t.Errorf("%s, %s: the PDF has %d pages", paper, language, pages)
			}
			for _, want := range map[string][]string{
				"en": {"Åse Øygard (invented)", "Straßenläufer", "Weak right hip", "The right hip tires first on stairs.", "Before each run", "Stop and get help", "does not take the place of medical care", "It is not a diagnosis"},
				"de": {"Åse Øygard (invented)", "Weak right hip, rechte Seite", "Vor jedem Lauf", "Aufhören und Hilfe holen", "ersetzt keine ärztliche Behandlung", "keine Diagnose"},
			}[language] {
				if !strings.Contains(text, want) {
					t.Errorf("%s, %s: %q does not stand in the report:\n%s", paper, language, want, text)
				}
			}
		}
	}
	full := must[app.ReportFile](t)(st.VisitReport(bg, v.ID, app.ReportAsk{For: "clinician"}, "pdf", 1))
	again := must[app.ReportFile](t)(st.VisitReport(bg, v.ID, app.ReportAsk{For: "clinician"}, "pdf", 1))
	if !bytes.Equal(full.Data, again.Data) || len(full.Data) > 2<<20 {
		t.Errorf("the full report has %d bytes, the same twice: %v", len(full.Data), bytes.Equal(full.Data, again.Data))
	}
	// Bookmarks lead to its parts, and its fonts are in it.
	if n := bytes.Count(full.Data, []byte("/Title ")); !bytes.Contains(full.Data, []byte("/Outlines")) || n < 5 || !bytes.Contains(full.Data, []byte("/FontFile2")) {
		t.Errorf("the full report has %d titles of bookmarks", n)
	}
	text, _ := textOf(t, full.Data)
	for _, want := range []string{"Weak right hip", "Programme", "Method and equipment", "It is no diagnosis"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q does not stand in the full report", want)
		}
	}
	german := must[app.ReportFile](t)(st.VisitReport(bg, v.ID, app.ReportAsk{For: "clinician", Language: "de"}, "pdf", 1))
	text, _ = textOf(t, german.Data)
	for _, want := range []string{"Laufanalyse, vollständiger Bericht", "Weak right hip, rechts", "Programm", "Ganze Einheit", "Verfahren und Geräte", "Er ist keine Diagnose", "Seite 1 von"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q does not stand in the full report in German:\n%s", want, text)
		}
	}
	for _, never := range []string{"Programme", "Full session", "Method and equipment", "It is no diagnosis", "Page 1", "%!", "right:"} {
		if strings.Contains(text, never) {
			t.Errorf("the full report in German says %q", never)
		}
	}
	for _, ask := range []app.ReportAsk{{For: "neighbour"}, {Paper: "a0"}, {Language: "xx"}, {Units: "ells"}} {
		if _, err := st.VisitReport(bg, v.ID, ask, "pdf", 1); kindOf(t, err) != app.KindUsage {
			t.Errorf("%+v was taken", ask)
		}
	}
	if _, err := st.VisitReport(bg, v.ID, app.ReportAsk{}, "png", 3); kindOf(t, err) != app.KindNotFound {
		t.Error("a third page was drawn")
	}
}

func TestReportWhereASignStopsTheVisit(t *testing.T) {
	st, v := reported(t)
	in := healthy(st)
	in.Version = must[app.PageVisit](t)(st.Visit(bg, v.ID)).Intake.Version
	in.Signs["bone_night"], in.Complaint = "yes", "The shin hurts at night."
	in.Places = map[string]app.PageSignPlace{"bone_night": {Region: "shin", Side: "left"}}
	must[app.PageIntake](t)(st.ChangeIntake(bg, "test", v.ID, in))
	one := must[app.ReportFile](t)(st.VisitReport(bg, v.ID, app.ReportAsk{}, "pdf", 1))
	text, _ := textOf(t, one.Data)
	for _, want := range []string{"See a doctor first", "Do not run until a doctor", "stays at rest or at night", "The shin hurts at night."} {
		if !strings.Contains(text, want) {
			t.Errorf("%q does not stand in the referral:\n%s", want, text)
		}
	}
	for _, never := range []string{"Weak right hip", "Before each run", "week 1", "full session"} {
		if strings.Contains(text, never) {
			t.Errorf("the referral says %q", never)
		}
	}
	// In German too: nothing of the program's own words stays English.
	in = *must[app.PageVisit](t)(st.Visit(bg, v.ID)).Intake
	in.NoPain, in.Pain, in.Complaint = false, []app.PagePain{{Region: "shin", Side: "left", Face: "front", Score: 6, Since: "two weeks", When: "at night"}}, "Das Schienbein."
	must[app.PageIntake](t)(st.ChangeIntake(bg, "test", v.ID, in))
	german := must[app.ReportFile](t)(st.VisitReport(bg, v.ID, app.ReportAsk{Language: "de"}, "pdf", 1))
	text, _ = textOf(t, german.Data)
	for _, want := range []string{"Zuerst zum Arzt", "Lauf nicht, bis ein Arzt", "Schienbein, links: 6 / 10; zwei Wochen; nachts", "Das Schienbein."} {
		if !strings.Contains(text, want) {
			t.Errorf("%q does not stand in the German referral:\n%s", want, text)
		}
	}
	for _, word := range strings.Fields(text) {
		if slices.Contains([]string{"the", "and", "of", "left", "right", "pain", "week", "doctor", "night"}, strings.ToLower(strings.Trim(word, ".,;:()"))) {
			t.Errorf("the German referral says %q:\n%s", word, text)
		}
	}
}

func TestLogo(t *testing.T) {
	st, v := reported(t)
	m := image.NewRGBA(image.Rect(0, 0, 200, 80))
	for i := range m.Pix {
		m.Pix[i] = uint8(i * 7)
	}
	m.Set(3, 3, color.White)
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	before := must[app.ReportFile](t)(st.VisitReport(bg, v.ID, app.ReportAsk{}, "pdf", 1))
	if err := st.SetLogo(bg, "test", b.Bytes()); err != nil {
		t.Fatal(err)
	}
	with := must[app.ReportFile](t)(st.VisitReport(bg, v.ID, app.ReportAsk{}, "pdf", 1))
	again := must[app.ReportFile](t)(st.VisitReport(bg, v.ID, app.ReportAsk{}, "pdf", 1))
	if !bytes.Equal(with.Data, again.Data) || len(with.Data) <= len(before.Data) {
		t.Errorf("a report of %d bytes with the logo, %d without; the same twice: %v", len(with.Data), len(before.Data), bytes.Equal(with.Data, again.Data))
	}
	for name, bad := range map[string][]byte{"no picture": []byte("GIF89a"), "half a picture": b.Bytes()[:60], "too large": bytes.Repeat([]byte{0xff, 0xd8}, 2<<20)} {
		if err := st.SetLogo(bg, "test", bad); kindOf(t, err) != app.KindUsage {
			t.Errorf("%s was taken as a logo", name)
		}
	}
	if kept, err := st.LogoPNG(bg); err != nil || len(kept) == 0 {
		t.Errorf("a refused logo drove out the one that was there: %v", err)
	}
}
