package render

import (
	"bytes"
	"encoding/xml"
	"errors"
	"flag"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "write the golden files anew")

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		g, w := strings.Split(string(got), "\n"), strings.Split(string(want), "\n")
		for i := range min(len(g), len(w)) {
			if g[i] != w[i] {
				t.Fatalf("%s differs first at line %d:\n got %s\nwant %s", name, i+1, g[i], w[i])
			}
		}
		t.Fatalf("%s: %d lines, want %d", name, len(g), len(w))
	}
}

func TestPolylineGaps(t *testing.T) {
	nan := math.NaN()
	p := NewPage(A4, "")
	p.Polyline([]Point{{0, 0}, {1, 1}, {2, nan}, {3, 3}, {math.Inf(1), 4}, {5, 5}, {6, 6}, {7, 7}}, Stroke{Width: 2})
	var runs, dots int
	for _, m := range p.marks {
		switch m := m.(type) {
		case pathMark:
			for _, r := range m.runs {
				runs++
				if len(r) < 2 {
					t.Errorf("run %v has no length", r)
				}
			}
		case circleMark:
			dots++
			if m.centre != (Point{3, 3}) {
				t.Errorf("dot at %v, want the lone point 3 3", m.centre)
			}
		}
	}
	if runs != 2 || dots != 1 {
		t.Errorf("%d runs and %d dots, want 2 and 1", runs, dots)
	}
}

func TestBandGaps(t *testing.T) {
	nan := math.NaN()
	p := NewPage(A4, "")
	p.Band([]float64{0, 1, 2, 3, 4}, []float64{1, 1, nan, 1, 1}, []float64{2, 2, 2, 2, 2}, Light.Left)
	if len(p.marks) != 2 {
		t.Fatalf("%d areas, want 2", len(p.marks))
	}
	for _, m := range p.marks {
		if n := len(m.(pathMark).runs[0]); n != 4 {
			t.Errorf("area of %d corners, want 4", n)
		}
	}
}

func TestPrintable(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"Åse Øygard-Đorđević", "Åse Øygard-Đorđević"},
		{"A\u030ase", "Åse"}, // letter and ring apart, as some file systems write it
		{"Ωμέγα Жук Škoda", "Ωμέγα Жук Škoda"},
		{"走る", "\ufffd\ufffd"},
		{"a\tb\nc", "a b c"},
		{"a\u202eb\u200d\x00", "ab"},
		{"bad \xff byte", "bad \ufffd byte"},
		{"12\u00a0%", "12\u00a0%"},
	} {
		if got := printable(c.in); got != c.want {
			t.Errorf("printable(%q) = %q, want %q", c.in, got, c.want)
		}
	}
}

// Every character that printable lets through has a shape in every face.
func TestFacesAgreeOnCharacters(t *testing.T) {
	for r := rune(' '); r < 0x3000; r++ {
		s := printable(string(r))
		for _, c := range s {
			for f := range Face(faces) {
				if typefaces()[f].glyph(c).index == 0 {
					t.Errorf("face %d has no %q (%U), made of %U", f, c, c, r)
				}
			}
		}
	}
}

// The width is that of the font's own advances, which every form of output uses.
func TestWidthIsTheFonts(t *testing.T) {
	const text = "Åse Øygard-Đorđević 172.4 ± 0.6°"
	for f := range Face(faces) {
		parsed, err := opentype.Parse(faceFiles()[f])
		if err != nil {
			t.Fatal(err)
		}
		face, err := opentype.NewFace(parsed, &opentype.FaceOptions{Size: 200, DPI: 72, Hinting: font.HintingNone})
		if err != nil {
			t.Fatal(err)
		}
		want := fixed.Int26_6(0)
		for _, r := range text {
			a, ok := face.GlyphAdvance(r)
			if !ok {
				t.Fatalf("no advance of %q", r)
			}
			want += a
		}
		got := Type{Size: 200, Face: f}.Width(text)
		if d := math.Abs(got - float64(want)/64); d > 0.5 { // each advance is rounded to 1/64
			t.Errorf("face %d: %.3f, want %.3f", f, got, float64(want)/64)
		}
	}
}

func TestHyphenIsShorterThanMinus(t *testing.T) {
	for f := range Face(faces) {
		if h, m := f.width("-"), f.width("−"); h >= 0.8*m {
			t.Errorf("face %d: hyphen %.3f, minus %.3f of the size", f, h, m)
		}
	}
}

func TestSubsetKeepsWhatIsUsed(t *testing.T) {
	used := []rune(" -AÅeéjĐ±�")
	for f := range Face(faces) {
		small := f.subset(used)
		if len(small) > 40_000 {
			t.Errorf("face %d: %d bytes for %d characters", f, len(small), len(used))
		}
		if checksum(small) != 0xB1B0AFBA {
			t.Errorf("face %d: the file's checksum is wrong", f)
		}
		parsed, err := sfnt.Parse(small)
		if err != nil {
			t.Fatal(err)
		}
		full := typefaces()[f]
		var buf sfnt.Buffer
		for _, r := range used {
			i, err := parsed.GlyphIndex(&buf, r)
			if err != nil || i != full.glyph(r).index {
				t.Errorf("face %d %q: glyph %d, want %d (%v)", f, r, i, full.glyph(r).index, err)
			}
			o, err := parsed.LoadGlyph(&buf, i, fixed.I(int(full.perEm)), nil)
			if err != nil || len(o) != len(full.glyph(r).outline) {
				t.Errorf("face %d %q: %d segments, want %d (%v)", f, r, len(o), len(full.glyph(r).outline), err)
			}
		}
		i, _ := parsed.GlyphIndex(&buf, 'Q')
		if o, err := parsed.LoadGlyph(&buf, i, fixed.I(100), nil); err != nil || len(o) != 0 {
			t.Errorf("face %d: a character that is not used has %d segments (%v)", f, len(o), err)
		}
	}
}

func TestTextAlignment(t *testing.T) {
	p := NewPage(A4, "")
	style := Type{Size: 10}
	for _, a := range []Align{Start, Middle, End} {
		style.Align = a
		p.Text(Point{100, 50}, "Stride", style)
	}
	style.Angle = 90
	p.Text(Point{100, 50}, "Stride", style)
	w := Type{Size: 10}.Width("Stride")
	for i, want := range []Point{{100, 50}, {100 - w/2, 50}, {100 - w, 50}, {100, 50 + w}} {
		got := p.marks[i].(textMark).at
		if math.Hypot(got.X-want.X, got.Y-want.Y) > 1e-9 {
			t.Errorf("text %d begins at %v, want %v", i, got, want)
		}
	}
	if s := p.Strays(); len(s) != 0 {
		t.Errorf("strays: %v", s)
	}
	p.Text(Point{A4.W - 5, 50}, "Stride", Type{Size: 10})
	if s := p.Strays(); len(s) != 1 {
		t.Errorf("a text over the edge gives %d strays, want 1", len(s))
	}
}

// swatch has one of each mark.
func swatch() *Page {
	p := NewPage(Size{200, 150}, "Swatch <1>")
	p.Paper = color.NRGBA{250, 250, 245, 255}
	p.Line(Point{10, 10}, Point{190, 10}, Stroke{Color: Light.Ink, Width: 1})
	p.Polyline([]Point{{10, 20}, {60, 30}, {110, math.NaN()}, {120, 20}, {190, 30}}, Stroke{Color: Light.Right, Width: 2, Dash: []float64{6, 3}})
	p.Polygon([]Point{{10, 40}, {60, 40}, {35, 60}}, Paint{Fill: faded(Light.Left, 0.4), Edge: Stroke{Color: Light.Left, Width: 1, Round: true}})
	p.Rect(Box{70, 40, 30, 20}, Paint{Edge: Stroke{Color: Light.Accent, Width: 1.5}})
	p.Circle(Point{120, 50}, 10, Paint{Fill: Light.Warn})
	p.Group("link", "https://fjellgata.example/?a=1&b=2", func() {
		p.Text(Point{10, 80}, "Åse <Øygard> & Đorđević", Type{Size: 9, Color: Light.Ink})
	})
	p.Text(Point{190, 95}, "end, bold", Type{Size: 9, Face: Bold, Color: Light.Ink, Align: End})
	p.Text(Point{180, 140}, "up", Type{Size: 9, Face: Italic, Color: Light.Ink, Angle: 90})
	p.Clip(Box{10, 100, 40, 20}, func() { p.Circle(Point{30, 120}, 20, Paint{Fill: Light.Left}) })
	m := image.NewRGBA(image.Rect(0, 0, 40, 20))
	for x := range 40 {
		for y := range 20 {
			m.Set(x, y, color.RGBA{uint8(6 * x), uint8(12 * y), 90, 255})
		}
	}
	p.Image(Box{70, 100, 80, 40}, m, image.Rectangle{}, Light.Faint)
	return p
}

var fontData = regexp.MustCompile(`base64,[A-Za-z0-9+/=]+`)

func svgText(t *testing.T, p *Page) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := p.WriteSVG(&b); err != nil {
		t.Fatal(err)
	}
	return fontData.ReplaceAll(b.Bytes(), []byte("base64,…"))
}

func TestSVGGolden(t *testing.T) { golden(t, "swatch.svg", svgText(t, swatch())) }

func TestSVGIsWellFormed(t *testing.T) {
	var b bytes.Buffer
	if err := swatch().WriteSVG(&b); err != nil {
		t.Fatal(err)
	}
	d := xml.NewDecoder(&b)
	texts := ""
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if c, ok := tok.(xml.CharData); ok {
			texts += string(c)
		}
	}
	if !strings.Contains(texts, "Åse <Øygard> & Đorđević") {
		t.Error("the text is not there as text")
	}
}

// The PDF, drawn by a program that is not ours, is the picture that we draw.
func TestPDFLooksLikePNG(t *testing.T) {
	tool, err := exec.LookPath("pdftoppm")
	if err != nil {
		t.Skip("pdftoppm is not installed")
	}
	report, err := inventedReport().Page()
	if err != nil {
		t.Fatal(err)
	}
	for name, p := range map[string]*Page{"swatch": swatch(), "report": report} {
		dir := t.TempDir()
		if err := p.WriteFile(filepath.Join(dir, "a.pdf"), inventedDay); err != nil {
			t.Fatal(err)
		}
		if out, err := exec.Command(tool, "-r", "144", "-png", "-singlefile", filepath.Join(dir, "a.pdf"), filepath.Join(dir, "b")).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		f, err := os.Open(filepath.Join(dir, "b.png"))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		theirs, err := png.Decode(f)
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := p.WritePNG(&b, 144); err != nil {
			t.Fatal(err)
		}
		ours, err := png.Decode(&b)
		if err != nil {
			t.Fatal(err)
		}
		// Blocks of 8 by 8 dots forgive the edges of letters, not a thing moved
		// or missing.
		const block = 8
		size := ours.Bounds().Intersect(theirs.Bounds())
		worst, total, n := 0.0, 0.0, 0
		for y := size.Min.Y; y+block <= size.Max.Y; y += block {
			for x := size.Min.X; x+block <= size.Max.X; x += block {
				a, b := 0.0, 0.0
				for v := range block {
					for u := range block {
						a += luminance(ours.At(x+u, y+v))
						b += luminance(theirs.At(x+u, y+v))
					}
				}
				d := math.Abs(a-b) / (block * block)
				worst, total, n = math.Max(worst, d), total+d, n+1
			}
		}
		t.Logf("%s: mean difference %.4f, worst block %.3f", name, total/float64(n), worst)
		if total/float64(n) > 0.01 || worst > 0.25 {
			t.Errorf("%s: mean difference %.4f, worst block %.3f of the range", name, total/float64(n), worst)
		}
	}
}

// luminance from 0 to 1, without gamma.
func luminance(c color.Color) float64 {
	r, g, b, _ := c.RGBA()
	return (0.299*float64(r) + 0.587*float64(g) + 0.114*float64(b)) / 0xffff
}

// What follows a clip is not clipped, in any form of output; a clip within a clip
// shows what both do.
func TestPNGClipEnds(t *testing.T) {
	p := NewPage(Size{100, 100}, "")
	all := func(c color.NRGBA) func() {
		return func() { p.Rect(Box{0, 0, 100, 100}, Paint{Fill: c}) }
	}
	red, blue, green := color.NRGBA{255, 0, 0, 255}, color.NRGBA{0, 0, 255, 255}, color.NRGBA{0, 255, 0, 255}
	p.Clip(Box{10, 10, 40, 40}, func() {
		p.Clip(Box{10, 10, 10, 10}, all(red))
		p.Clip(Box{30, 30, 40, 40}, all(blue))
		p.Rect(Box{22, 0, 4, 100}, Paint{Fill: green})
	})
	p.Rect(Box{80, 80, 10, 10}, Paint{Fill: green})
	p.Text(Point{60, 20}, "MMMM", Type{Size: 10, Face: Bold, Color: blue})
	var b bytes.Buffer
	if err := p.WritePNG(&b, 72); err != nil {
		t.Fatal(err)
	}
	m, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	white := color.NRGBA{255, 255, 255, 255}
	for at, want := range map[image.Point]color.NRGBA{
		{15, 15}: red, {15, 25}: white, {40, 40}: blue, {60, 60}: white, {24, 40}: green, {24, 60}: white, {85, 85}: green, {5, 5}: white,
	} {
		if got := color.NRGBAModel.Convert(m.At(at.X, at.Y)); got != want {
			t.Errorf("at %v %v, want %v", at, got, want)
		}
	}
	ink := 0
	for x := 60; x < 95; x++ {
		for y := 12; y < 21; y++ {
			if r, _, _, _ := m.At(x, y).RGBA(); r < 0x8000 {
				ink++
			}
		}
	}
	if ink < 50 {
		t.Errorf("text after a clip has %d dark dots", ink)
	}
}

func TestPNGRefusesAbsurdFineness(t *testing.T) {
	for _, dpi := range []float64{0, -1, math.NaN(), math.Inf(1), 1e6} {
		if err := swatch().WritePNG(io.Discard, dpi); err == nil {
			t.Errorf("%v dots an inch accepted", dpi)
		}
	}
}

// Text on paper reaches a contrast of 4.5 (WCAG 2.2, success criterion 1.4.3) and
// lines 3 (1.4.11).
func TestContrast(t *testing.T) {
	relative := func(c color.NRGBA) float64 {
		part := func(v uint8) float64 {
			s := float64(v) / 255
			if s <= 0.04045 {
				return s / 12.92
			}
			return math.Pow((s+0.055)/1.055, 2.4)
		}
		return 0.2126*part(c.R) + 0.7152*part(c.G) + 0.0722*part(c.B)
	}
	ratio := func(a, b color.NRGBA) float64 {
		x, y := relative(a)+0.05, relative(b)+0.05
		return math.Max(x, y) / math.Min(x, y)
	}
	for name, pal := range map[string]Palette{"light": Light, "dark": Dark} {
		for what, c := range map[string]color.NRGBA{"ink": pal.Ink, "soft": pal.Soft, "accent": pal.Accent, "left": pal.Left, "right": pal.Right, "both": pal.Both, "warn": pal.Warn} {
			for ground, g := range map[string]color.NRGBA{"paper": pal.Paper, "reference": pal.Reference} {
				if r := ratio(c, g); r < 4.5 {
					t.Errorf("%s: %s on %s has a contrast of %.2f", name, what, ground, r)
				}
			}
		}
	}
}

func TestShown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		whole := image.Rect(0, 0, rapid.IntRange(1, 4000).Draw(t, "w"), rapid.IntRange(1, 4000).Draw(t, "h"))
		x, y := rapid.IntRange(0, whole.Dx()-1).Draw(t, "x"), rapid.IntRange(0, whole.Dy()-1).Draw(t, "y")
		focus := image.Rect(x, y, rapid.IntRange(x+1, whole.Dx()).Draw(t, "x1"), rapid.IntRange(y+1, whole.Dy()).Draw(t, "y1"))
		aspect := rapid.Float64Range(0.2, 5).Draw(t, "aspect")
		x0, y0, x1, y1 := shown(whole, focus, aspect)
		if math.Abs((x1-x0)/(y1-y0)-aspect) > 1e-6*aspect {
			t.Errorf("aspect %v, want %v", (x1-x0)/(y1-y0), aspect)
		}
		const slack = 1e-6
		if x0 > float64(focus.Min.X)+slack || y0 > float64(focus.Min.Y)+slack || x1 < float64(focus.Max.X)-slack || y1 < float64(focus.Max.Y)-slack {
			t.Errorf("%v of %v: shown %v %v %v %v leaves some of it out", focus, whole, x0, y0, x1, y1)
		}
	})
}

func TestWrap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringN(0, 200, -1).Draw(t, "text")
		style := Type{Size: rapid.Float64Range(4, 30).Draw(t, "size")}
		width := rapid.Float64Range(1, 300).Draw(t, "width")
		lines := wrap(text, style, width)
		for _, l := range lines {
			if style.Width(l) > width+1e-6 && len([]rune(l)) > 1 {
				t.Errorf("line %q is %.2f wide, over %.2f", l, style.Width(l), width)
			}
		}
		squeeze := func(s string) string { return strings.ReplaceAll(s, " ", "") }
		if got, want := squeeze(strings.Join(lines, "")), squeeze(printable(text)); got != want {
			t.Errorf("wrapped %q, lost some of %q", got, want)
		}
	})
}

func TestTicks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(-1e4, 1e4).Draw(t, "low")
		high := low + rapid.Float64Range(1e-3, 1e4).Draw(t, "span")
		n := rapid.IntRange(1, 10).Draw(t, "n")
		values, decimals := ticks(low, high, n)
		if len(values) > n+1 {
			t.Errorf("%d ticks, asked for %d", len(values), n)
		}
		seen := map[string]bool{}
		for _, v := range values {
			if v < low-1e-6*(high-low) || v > high+1e-6*(high-low) {
				t.Errorf("tick %v outside %v to %v", v, low, high)
			}
			s := numberText(v, decimals)
			if seen[s] {
				t.Errorf("two ticks are written %s", s)
			}
			seen[s] = true
		}
	})
}

func TestNumbers(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{numberText(-11.42, 1), "−11.4"},
		{numberText(-0.04, 1), "0.0"},
		{numberText(math.NaN(), 1), "–"},
		{signedText(0.0081, 3), "+0.008"},
		{signedText(-2.8, 1), "−2.8"},
		{signedText(0.0001, 3), "0.000"},
		{errorText(0.0002, 3), "<0.001"},
		{errorText(math.NaN(), 3), ""},
		{errorText(0, 1), "0.0"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
	for _, c := range []struct {
		size float64
		unit string
		want int
	}{{0.6, "deg", 1}, {0.16, "deg", 2}, {12, "N", 0}, {0.004, "s", 3}, {0.00001, "s", 3}, {math.NaN(), "s", 3}, {math.NaN(), "deg", 1}} {
		if got := decimalsFor(c.size, c.unit); got != c.want {
			t.Errorf("decimalsFor(%v, %q) = %d, want %d", c.size, c.unit, got, c.want)
		}
	}
}
