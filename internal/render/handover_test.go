package render

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gaitwright/gait/measure"
	"gaitwright/gait/programme"
)

// inventedHandover is a runner's report of invented findings.
func inventedHandover(t testing.TB, cards int) *Handover {
	t.Helper()
	aim, ok := measure.Target("thigh_adduction", 8)
	if !ok {
		t.Fatal("there is no drawing of a thigh that leans in")
	}
	picture := image.NewRGBA(image.Rect(0, 0, 300, 500))
	for y := range 500 {
		for x := range 300 {
			picture.Set(x, y, color.RGBA{uint8(x / 2), uint8(y / 3), 120, 255})
		}
	}
	logo := image.NewRGBA(image.Rect(0, 0, 120, 60))
	for i := range logo.Pix {
		logo.Pix[i] = 0xff * uint8(i&1)
	}
	h := &Handover{Lang: "en", Made: time.Date(2026, 3, 14, 0, 0, 0, 0, time.UTC), Letterhead: Letterhead{Studio: "Studio Invented", Logo: logo, Title: "Your running report"},
		Runner: "Željko Ωmega Жук (invented)", Line: "14 March 2026", Lead: []string{"This is what we saw."}, SawTitle: "What we saw", DoTitle: "What to do", Left: "Also in your plan:",
		Notes: []NoteBox{{Title: "When to come back", Lines: []string{"In eight weeks.", "Sooner if pain grows."}}},
		Care:  NoteBox{Title: "Stop and get help", Lines: []string{"Pain in the chest: stop."}, Warn: true}, Foot: "gaitwright", Page: "Page %d of 2"}
	for range 2 {
		h.Saw = append(h.Saw, Sight{Title: "Your right knee falls in", Picture: picture, Caption: "You", Target: aim, TargetCaption: "Drawn aim: 8° or less",
			Ruler:      &Ruler{Value: 12, Error: 3, Low: math.Inf(-1), High: 8, You: "you 12°", Aim: "aim: 8° or less"},
			Paragraphs: []Said{{Text: "Your right thigh leaned in by 12 degrees, about 3 degrees either way."}, {Head: "Why it can matter", Text: "The knee may take more load."}}})
	}
	g := ExerciseGroup{Title: "Before each run"}
	for i := range cards {
		e := programme.Default().Exercises[i%40]
		c := ExerciseCard{Title: e.Title, Dose: "2 × 12", Cue: e.Cue}
		var err error
		if c.Start, err = e.Start.Draw(); err != nil {
			t.Fatal(err)
		}
		if c.End, err = e.End.Draw(); err != nil {
			t.Fatal(err)
		}
		g.Items = append(g.Items, c)
	}
	h.Groups = []ExerciseGroup{g}
	return h
}

// TestHandoverPages renders the PDF with another program and holds its pages
// against the kept ones, with a small tolerance for another version of it.
func TestHandoverPages(t *testing.T) {
	tool, err := exec.LookPath("pdftoppm")
	if err != nil {
		t.Skip("needs pdftoppm (poppler-utils), which draws the pages of a PDF")
	}
	d, err := inventedHandover(t, 6).Document()
	if err != nil {
		t.Fatal(err)
	}
	var a, b bytes.Buffer
	if err := d.WritePDF(&a); err != nil {
		t.Fatal(err)
	}
	again, _ := inventedHandover(t, 6).Document()
	if err := again.WritePDF(&b); err != nil || !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Errorf("the same report has other bytes (%v)", err)
	}
	if n := a.Len(); n > 2<<20 {
		t.Errorf("the PDF has %d bytes", n)
	}
	for _, want := range []string{"/Outlines", "/Lang (en)", "/FontFile2"} {
		if !bytes.Contains(a.Bytes(), []byte(want)) {
			t.Errorf("the PDF has no %s", want)
		}
	}
	dir := t.TempDir()
	file := filepath.Join(dir, "r.pdf")
	if err := os.WriteFile(file, a.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command(tool, "-r", "60", "-gray", "-png", file, filepath.Join(dir, "p")).CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, out)
	}
	for _, n := range []string{"1", "2"} {
		data, err := os.ReadFile(filepath.Join(dir, "p-"+n+".png"))
		if err != nil {
			t.Fatal(err)
		}
		golden := filepath.Join("testdata", "handover-"+n+".png")
		if *update {
			if len(data) > 300_000 {
				t.Fatalf("%s would have %d bytes", golden, len(data))
			}
			if err := os.WriteFile(golden, data, 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		kept, err := os.ReadFile(golden)
		if err != nil {
			t.Fatal(err)
		}
		if off := apart(t, data, kept); off > 0.01 {
			t.Errorf("page %s: %.2f %% of the page differs from %s; look at it, and run with -update if it is meant", n, 100*off, golden)
		}
	}
}

// apart is the share of points in which two pictures clearly differ.
func apart(t *testing.T, a, b []byte) float64 {
	t.Helper()
	x, err := png.Decode(bytes.NewReader(a))
	if err != nil {
		t.Fatal(err)
	}
	y, err := png.Decode(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	if x.Bounds() != y.Bounds() {
		return 1
	}
	n, r := 0, x.Bounds()
	for v := r.Min.Y; v < r.Max.Y; v++ {
		for u := r.Min.X; u < r.Max.X; u++ {
			p, q := color.GrayModel.Convert(x.At(u, v)).(color.Gray), color.GrayModel.Convert(y.At(u, v)).(color.Gray)
			if math.Abs(float64(p.Y)-float64(q.Y)) > 48 {
				n++
			}
		}
	}
	return float64(n) / float64(r.Dx()*r.Dy())
}

// TestHandoverIsTwoPages tries reports of nothing, of much and of too much.
func TestHandoverIsTwoPages(t *testing.T) {
	for _, paper := range []Size{A4, Letter} {
		for _, cards := range []int{0, 1, 7, 18, 60} {
			h := inventedHandover(t, cards)
			h.Paper = paper
			d, err := h.Document()
			if err != nil || len(d.Pages) != 2 {
				t.Fatalf("%d exercises: %v", cards, err)
			}
			var b bytes.Buffer
			if err := d.WriteHTML(&b); err != nil {
				t.Fatal(err)
			}
			if cards == 60 && !strings.Contains(b.String(), "Also in your plan:") {
				t.Error("exercises are left out and not named")
			}
		}
	}
	h := inventedHandover(t, 1)
	h.Runner = "走る人"
	d, err := h.Document()
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := d.WriteHTML(&b); err != nil || !strings.Contains(b.String(), "\ufffd\ufffd\ufffd") {
		t.Errorf("characters that the fonts lack are not shown as lacking (%v)", err)
	}
}

// TestDossierBreaks holds the breaks of many lengths of text: no heading stands
// last on its page.
func TestDossierBreaks(t *testing.T) {
	for lines := range 60 {
		r := &Dossier{Made: time.Date(2026, 3, 14, 0, 0, 0, 0, time.UTC), Runner: "Ida Invented", Letterhead: Letterhead{Studio: "Studio", Title: "In full"}}
		r.Parts = []Part{{Title: "First", Blocks: []Block{{List: make([]string, lines)}}}, {Title: "Heading that must not stand alone", Blocks: []Block{{Head: "Nor this one"}, {Text: "What follows it."}}}}
		for i := range r.Parts[0].Blocks[0].List {
			r.Parts[0].Blocks[0].List[i] = "A line."
		}
		if lines == 0 {
			r.Parts[0].Blocks = nil
		}
		d, err := r.Document()
		if err != nil {
			t.Fatal(err)
		}
		var pages []string
		for _, p := range d.Pages {
			var b bytes.Buffer
			if err := p.WriteSVG(&b); err != nil {
				t.Fatal(err)
			}
			pages = append(pages, b.String())
		}
		for n, p := range pages {
			if strings.Contains(p, "Heading that must") != strings.Contains(p, "What follows it.") || strings.Contains(p, "Nor this one") != strings.Contains(p, "What follows it.") {
				t.Errorf("%d lines: a heading stands alone on page %d of %d", lines, n+1, len(pages))
			}
		}
	}
}
