package render

import (
	"bytes"
	"fmt"
	"image"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
)

// layout is where each text stands, for the golden file.
func layout(p *Page) []byte {
	var b bytes.Buffer
	for _, m := range p.marks {
		switch m := m.(type) {
		case textMark:
			fmt.Fprintf(&b, "%5.0f %5.0f %5.1f  %s\n", m.at.X, m.at.Y, m.style.Size, m.text)
		case imageMark:
			fmt.Fprintf(&b, "%5.0f %5.0f picture %.0f by %.0f\n", m.box.X, m.box.Y, m.box.W, m.box.H)
		}
	}
	return b.Bytes()
}

func page(t testing.TB, r *Report) *Page {
	t.Helper()
	p, err := r.Page()
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestReportGolden(t *testing.T) { golden(t, "report.txt", layout(page(t, inventedReport()))) }

func TestCurvesGolden(t *testing.T) {
	c := inventedCurves("knee_flexion", "hip_flexion")
	for i := 40; i < 55; i++ {
		c[2].Mean[i] = math.NaN()
	}
	band := Reference{Name: "knee_flexion", Source: "invented"}
	for i := range band.Low {
		band.Low[i], band.High[i] = c[0].Mean[i]-9, c[0].Mean[i]+9
	}
	golden(t, "curves.svg", svgText(t, CurvesFigure(CurvePlots(c, []Reference{band}), 2, Size{220, 130}, Light)))
}

func TestDotsGolden(t *testing.T) {
	nan := math.NaN()
	golden(t, "dots.svg", svgText(t, DotsFigure("Measures", []DotRow{
		{Title: "Contact time", Unit: "s", Left: Dot{0.243, 0.006}, Right: Dot{0.251, 0.006}, Both: NoDot, Low: 0.21, High: 0.245},
		{Title: "Pelvic drop", Unit: "deg", Left: Dot{5.1, 1}, Right: Dot{7.4, 1}, Both: NoDot, Low: nan, High: nan, Scale: "drop"},
		{Title: "Hip adduction", Unit: "deg", Left: Dot{11, nan}, Right: Dot{14, 1.4}, Both: NoDot, Low: nan, High: nan, Scale: "drop"},
		{Title: "Step rate", Unit: "steps/min", Left: NoDot, Right: NoDot, Both: Dot{172.4, 0.6}, Low: nan, High: nan},
		{Title: "Step width", Unit: "m", Left: NoDot, Right: NoDot, Both: NoDot, Low: nan, High: nan},
	}, 420, Light)))
}

// The same report gives the same bytes.
func TestSameBytes(t *testing.T) {
	for _, kind := range Kinds {
		var first []byte
		for i := range 2 {
			path := filepath.Join(t.TempDir(), "r"+kind)
			if err := inventedReport().WriteFile(path); err != nil {
				t.Fatal(err)
			}
			b, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if i == 0 {
				first = b
			} else if !bytes.Equal(b, first) {
				t.Errorf("%s: the bytes differ from one run to the next", kind)
			}
			if len(b) > 2<<20 {
				t.Errorf("%s: %d bytes", kind, len(b))
			}
		}
	}
}

func TestPDFHasItsText(t *testing.T) {
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("pdftotext is not installed")
	}
	path := filepath.Join(t.TempDir(), "r.pdf")
	r := inventedReport()
	if err := r.WriteFile(path); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(tool, "-layout", path, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Åse Øygard-Đorđević", "Fjellgata Running Studio", "14 March 2026", "3.50 m/s", "240 frames/s", "172.4", "−11.4", "not a diagnosis", "pose model, full"} {
		if !strings.Contains(string(out), want) {
			t.Errorf("the PDF does not say %q", want)
		}
	}
	if n := strings.Count(string(out), "\f"); n != 1 {
		t.Errorf("%d pages, want 1", n)
	}
}

// Large pictures become small ones.
func TestLargePicturesStayUnderTwoMegabytes(t *testing.T) {
	r := inventedReport()
	noise := image.NewRGBA(image.Rect(0, 0, 1920, 1080))
	state := uint32(1)
	for i := range noise.Pix {
		state = state*1664525 + 1013904223
		noise.Pix[i] = uint8(state >> 24)
	}
	for i := range r.KeyFrames {
		r.KeyFrames[i].Image, r.KeyFrames[i].Focus = noise, image.Rectangle{}
	}
	var b bytes.Buffer
	if err := r.WritePDF(&b); err != nil {
		t.Fatal(err)
	}
	t.Logf("five pictures of noise: %d kB", b.Len()/1000)
	if b.Len() > 2<<20 {
		t.Errorf("%d bytes", b.Len())
	}
}

// sound checks what holds of every page: nothing beyond the edges, and no text on
// another.
func sound(t interface{ Errorf(string, ...any) }, p *Page) {
	for _, s := range p.Strays() {
		t.Errorf("beyond the page: %s", s)
	}
	type body struct {
		text           string
		x0, y0, x1, y1 float64
	}
	var texts []body
	for _, m := range p.marks {
		if m, ok := m.(textMark); ok {
			texts = append(texts, body{m.text, m.at.X, m.at.Y - 0.7*m.style.Size, m.at.X + m.width, m.at.Y})
		}
	}
	for i, a := range texts {
		for _, b := range texts[:i] {
			if w, h := math.Min(a.x1, b.x1)-math.Max(a.x0, b.x0), math.Min(a.y1, b.y1)-math.Max(a.y0, b.y0); w > 0.3 && h > 0.3 {
				t.Errorf("%q at %.0f %.0f and %q at %.0f %.0f touch", a.text, a.x0, a.y1, b.text, b.x0, b.y1)
			}
		}
	}
}

func has(p *Page, want string) bool {
	return strings.Contains(strings.Join(p.Texts(), " "), want)
}

func TestPagesFit(t *testing.T) {
	long := strings.Repeat("a rather long remark on the measurement ", 8)
	for name, change := range map[string]func(*Report){
		"usual":     func(*Report) {},
		"letter":    func(r *Report) { r.Paper = Letter },
		"bare":      func(r *Report) { *r = Report{Runner: "A", Made: inventedDay} },
		"no clip":   func(r *Report) { r.Clips, r.KeyFrames = nil, nil },
		"few":       func(r *Report) { r.Measures, r.Curves, r.KeyFrames = r.Measures[:3], r.Curves[:1], r.KeyFrames[:1] },
		"rear only": func(r *Report) { r.KeyFrames = r.KeyFrames[3:] },
		"full":      full,
		"full, letter": func(r *Report) {
			full(r)
			r.Paper = Letter
		},
		"withheld": func(r *Report) {
			r.Measures, r.Asymmetries = inventedMeasures(func(d measure.Definition) bool { return len(d.Views()) == 5 })
		},
		"long names": func(r *Report) {
			r.Runner = "Wilhelmina Konstantinopoulou-Featherstonehaugh von Hohenzollern-Sigmaringen und zu Schwarzenberg"
			r.Studio.Name = "Institute for the Analysis of Running and Corrective Exercise of the Upper Valley and Lower Hills, Second Branch"
			r.Studio.Contact = strings.Repeat("Street of the long address 114, ", 8)
			r.Title = "Report on the running gait, its measures, their errors and what they mean"
			for i := range r.KeyFrames {
				r.KeyFrames[i].Title = "Initial contact of the foot with the belt, seen from the left"
				r.KeyFrames[i].Label = "knee flexion fourteen degrees, shank seven degrees ahead"
			}
			r.Facts = []Fact{{"What the runner came for", long}}
		},
		"many words": func(r *Report) {
			r.Warnings, r.Notes, r.Method, r.Cautions = []string{long, long, long}, []string{long, long}, []string{long, long, long, long}, []string{long}
		},
		"unknown measures": func(r *Report) {
			for i := range 150 {
				r.Measures = append(r.Measures, measure.Measure{Name: fmt.Sprintf("a_measure_that_the_catalogue_lacks_%d", i), Unit: "furlongs/fortnight", Value: 1e7 * float64(i), SEM: 3, MDC95: 9, Strides: 4})
			}
		},
		"twelve pictures": func(r *Report) {
			for len(r.KeyFrames) < MaxKeyFrames {
				r.KeyFrames = append(r.KeyFrames, r.KeyFrames[len(r.KeyFrames)%5])
			}
		},
		"other scripts": func(r *Report) {
			r.Runner, r.Notes = "山田 太郎", []string{"Διαδρομή σε διάδρομο", "Бег на дорожке", "\u0645\u0631\u062d\u0628\u0627"}
		},
		"no numbers": func(r *Report) {
			for i := range r.Curves {
				for k := range r.Curves[i].Mean {
					r.Curves[i].Mean[k] = math.NaN()
				}
			}
		},
	} {
		t.Run(name, func(t *testing.T) {
			r := inventedReport()
			change(r)
			p := page(t, r)
			sound(t, p)
			if !has(p, "It is not a diagnosis") {
				t.Error("the caution is missing")
			}
			keep(t, p, name)
		})
	}
}

func full(r *Report) {
	r.Measures, r.Asymmetries = inventedMeasures(func(measure.Definition) bool { return true })
	r.Curves = inventedCurves("knee_flexion", "hip_flexion", "ankle_dorsiflexion", "thigh_angle", "shank_angle", "foot_angle", "trunk_lean", "pelvic_obliquity", "hip_adduction", "knee_frontal_angle")
}

// keep writes the page where RENDER_KEEP says, to be looked at.
func keep(t *testing.T, p *Page, name string) {
	if dir := os.Getenv("RENDER_KEEP"); dir != "" {
		if err := p.WriteFile(filepath.Join(dir, strings.ReplaceAll(name, " ", "-")+".pdf"), inventedDay); err != nil {
			t.Error(err)
		}
	}
}

// The whole catalogue stands on one page with nothing left out, in type that can
// be read.
func TestFullCatalogueIsAllThere(t *testing.T) {
	for _, paper := range []Size{A4, Letter} {
		r := inventedReport()
		r.Paper = paper
		full(r)
		p := page(t, r)
		for _, d := range measure.Catalogue() {
			if !has(p, d.Title) {
				t.Errorf("%s is not on the page", d.Title)
			}
		}
		if has(p, "no room for all") {
			t.Error("rows were left out")
		}
		least := math.Inf(1)
		for _, m := range p.marks {
			if m, ok := m.(textMark); ok && m.text == "Step rate" {
				least = math.Min(least, m.style.Size)
			}
		}
		t.Logf("the table is set in %.1f points", least)
		if least < 5.5 {
			t.Errorf("the table is set in %.1f points", least)
		}
	}
}

func TestAnythingFits(t *testing.T) {
	catalogue := measure.Catalogue()
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.StringN(0, 120, -1)
		list := rapid.SliceOfN(words, 0, 8)
		number := rapid.OneOf(rapid.Float64Range(-500, 500), rapid.Float64(), rapid.Just(math.NaN()), rapid.Just(math.Inf(-1)))
		r := &Report{
			Paper: rapid.SampledFrom([]Size{A4, Letter}).Draw(t, "paper"), Runner: "R" + words.Draw(t, "runner"), Made: inventedDay,
			Studio: Studio{words.Draw(t, "studio"), words.Draw(t, "contact")}, About: words.Draw(t, "about"),
			Warnings: list.Draw(t, "warnings"), Notes: list.Draw(t, "notes"), Method: list.Draw(t, "method"),
		}
		for range rapid.IntRange(0, 120).Draw(t, "measures") {
			m := measure.Measure{Side: rapid.SampledFrom([]body.Side{body.NoSide, body.Left, body.Right}).Draw(t, "side"),
				Value: number.Draw(t, "value"), SEM: number.Draw(t, "sem"), MDC95: number.Draw(t, "mdc"), Strides: rapid.IntRange(0, 1e6).Draw(t, "n"),
				Reason: words.Draw(t, "reason"), Flag: rapid.SampledFrom([]string{"", "", "estimate", "far leg"}).Draw(t, "flag")}
			if rapid.Bool().Draw(t, "known") {
				m.Name = rapid.SampledFrom(catalogue).Draw(t, "definition").Name
			} else {
				m.Name, m.Unit = words.Draw(t, "name"), words.Draw(t, "unit")
			}
			if rapid.IntRange(0, 9).Draw(t, "textual") == 0 {
				m.Text = words.Draw(t, "text")
			}
			r.Measures = append(r.Measures, m)
		}
		for range rapid.IntRange(0, 5).Draw(t, "frames") {
			r.KeyFrames = append(r.KeyFrames, KeyFrame{Title: words.Draw(t, "title"), Label: words.Draw(t, "label"), TimeS: number.Draw(t, "time"),
				Image: image.NewRGBA(image.Rect(0, 0, rapid.IntRange(0, 40).Draw(t, "w"), rapid.IntRange(0, 40).Draw(t, "h"))),
				View:  clip.View(rapid.IntRange(0, 7).Draw(t, "view")), Side: body.Side(rapid.IntRange(0, 2).Draw(t, "frame side"))})
		}
		for range rapid.IntRange(0, 14).Draw(t, "curves") {
			c := measure.Curve{Name: words.Draw(t, "curve"), Unit: words.Draw(t, "curve unit"), Side: body.Side(rapid.IntRange(0, 2).Draw(t, "curve side")), ToeOff: number.Draw(t, "toe-off")}
			a, b := number.Draw(t, "from"), number.Draw(t, "to")
			for i := range c.Mean {
				c.Mean[i], c.SD[i] = a+(b-a)*float64(i)/100, number.Example(i)
			}
			r.Curves = append(r.Curves, c)
		}
		p, err := r.Page()
		if err != nil {
			if !strings.Contains(err.Error(), "does not fit one page") {
				t.Fatal(err)
			}
			return
		}
		for _, s := range p.Strays() {
			t.Errorf("beyond the page: %s", s)
		}
		for _, m := range p.Placed() {
			if !finite(m.Box.X) || !finite(m.Box.Y) || !finite(m.Box.W) || !finite(m.Box.H) {
				t.Errorf("%q stands nowhere: %v", m.Text, m.Box)
			}
		}
		if rapid.IntRange(0, 7).Draw(t, "write") == 0 {
			if err := p.WritePDF(io.Discard, r.Made); err != nil {
				t.Fatal(err)
			}
		}
	})
}

func TestReportRefuses(t *testing.T) {
	for want, change := range map[string]func(*Report){
		"no runner":         func(r *Report) { r.Runner = " " },
		"no date":           func(r *Report) { r.Made = time.Time{} },
		"at most 12":        func(r *Report) { r.KeyFrames = make([]KeyFrame, 13) },
		"too small or lies": func(r *Report) { r.Paper = Size{842, 595} },
		"does not fit":      func(r *Report) { r.Runner = strings.Repeat("Åse ", 20000) },
	} {
		r := inventedReport()
		change(r)
		if _, err := r.Page(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one that says %q", err, want)
		}
	}
}

func TestWriteFileWholeOrNotAtAll(t *testing.T) {
	dir := t.TempDir()
	r := inventedReport()
	if err := r.WriteFile(filepath.Join(dir, "report.docx")); err == nil || !strings.Contains(err.Error(), ".pdf, .html, .svg, .png") {
		t.Errorf("error %v does not name the kinds", err)
	}
	if err := r.WriteFile(filepath.Join(dir, "not", "there.pdf")); err == nil {
		t.Error("wrote into a folder that is not there")
	}
	r.Runner = ""
	if err := r.WriteFile(filepath.Join(dir, "report.pdf")); err == nil {
		t.Error("wrote a report of nobody")
	}
	if err := whole(filepath.Join(dir, "broken"), func(w io.Writer) error {
		fmt.Fprint(w, "half")
		return os.ErrInvalid
	}); err == nil {
		t.Error("a failed write gave no error")
	}
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 0 {
		t.Errorf("left behind: %v %v", left, err)
	}
}

func TestTabulate(t *testing.T) {
	nan := math.NaN()
	table := tabulate([]measure.Measure{
		{Name: "contact_time", Side: body.Left, Value: 0.24, SEM: 0.006, Strides: 20},
		{Name: "contact_time", Side: body.Right, Value: 0.26, SEM: 0.006, Strides: 18, Flag: "far leg"},
		{Name: "step_rate", Value: 172, SEM: 1, Strides: 20},
		{Name: "pelvic_drop", Side: body.Left, Value: nan, Reason: "Film from behind.", OtherView: true},
		{Name: "pelvic_drop", Side: body.Right, Value: nan, Reason: "Film from behind.", OtherView: true},
		{Name: "step_width", Value: nan, Reason: "Film from behind.", OtherView: true},
		{Name: "knee_flexion_at_contact", Side: body.Left, Value: 14, SEM: 1},
		{Name: "knee_flexion_at_contact", Side: body.Right, Value: nan, Reason: "Hidden."},
		{Name: "trunk_lean", Value: nan, Reason: "Film from the side.", OtherView: true},
		{Name: "trunk_lean", Value: 6, SEM: 1},
	}, []measure.Asymmetry{{Name: "contact_time", Left: 0.24, Right: 0.26, Difference: 0.02, Beyond: true}})
	var rows []string
	for _, s := range table.sections {
		for _, r := range s.rows {
			rows = append(rows, r.name+":"+r.strides()+":"+r.flags)
		}
	}
	if got, want := strings.Join(rows, " "), "contact_time:18:a step_rate:20: knee_flexion_at_contact:: trunk_lean::"; got != want {
		t.Errorf("rows %s, want %s", got, want)
	}
	if got, want := strings.Join(table.withheld, "|"), "Pelvic drop; Step width: Film from behind.|Knee flexion at contact (right): Hidden."; got != want {
		t.Errorf("withheld %s, want %s", got, want)
	}
	if got, want := strings.Join(table.flags, "|"), "a:\u00a0right: far leg"; got != want {
		t.Errorf("flags %q, want %q", got, want)
	}
	if r := table.sections[0].rows[0]; r.asymmetry == nil || !r.asymmetry.Beyond || !table.bold {
		t.Error("the difference beyond its error is not marked")
	}
	if d, ok := table.sections[0].rows[0].difference(); !ok || math.Abs(d-0.02) > 1e-12 {
		t.Errorf("difference %v %v, want right minus left, 0.02", d, ok)
	}
}

// A mirrored report swaps the columns: the left value stands left of the right.
func TestLeftStandsLeft(t *testing.T) {
	r := &Report{Runner: "A", Made: inventedDay, Measures: []measure.Measure{
		{Name: "knee_flexion_at_contact", Side: body.Right, Value: 22.2, SEM: 1},
		{Name: "knee_flexion_at_contact", Side: body.Left, Value: 11.1, SEM: 1},
	}}
	at := map[string]float64{}
	for _, m := range page(t, r).marks {
		if m, ok := m.(textMark); ok {
			at[m.text] = m.at.X
		}
	}
	if !(at["11.1"] < at["22.2"]) || !(at["Left"] < at["Right"]) || at["+11.1"] == 0 {
		t.Errorf("places %v", at)
	}
}

func BenchmarkReportPDF(b *testing.B) {
	r := inventedReport()
	full(r)
	for b.Loop() {
		var out bytes.Buffer
		if err := r.WritePDF(&out); err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(out.Len()), "bytes")
	}
}

func BenchmarkReportPNG(b *testing.B) {
	p := page(b, inventedReport())
	for b.Loop() {
		var out bytes.Buffer
		if err := p.WritePNG(&out, FileDPI); err != nil {
			b.Fatal(err)
		}
	}
}
