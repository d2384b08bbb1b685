package render

import (
	"strings"
	"sync"
	"unicode"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goitalic"
	"golang.org/x/image/font/gofont/gomedium"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/norm"
)

// Face is one of the fonts.
type Face uint8

// The faces.
const (
	Regular Face = iota
	Medium
	Bold
	Italic
	faces = 4
)

// faceFiles are the fonts, each with a hyphen for text.
var faceFiles = sync.OnceValue(func() [faces][]byte {
	return [faces][]byte{textHyphen(goregular.TTF), textHyphen(gomedium.TTF), textHyphen(gobold.TTF), textHyphen(goitalic.TTF)}
})

// typeface is a face read once: the glyph and advance of each character it has.
type typeface struct {
	font  *sfnt.Font
	perEm float64
	mutex sync.Mutex
	known map[rune]glyph
}

type glyph struct {
	index   sfnt.GlyphIndex
	advance float64 // of a size of 1
	outline sfnt.Segments
}

var typefaces = sync.OnceValue(func() [faces]*typeface {
	var out [faces]*typeface
	for i, b := range faceFiles() {
		f, err := sfnt.Parse(b)
		if err != nil {
			panic("render: the built-in font cannot be read: " + err.Error())
		}
		out[i] = &typeface{font: f, perEm: float64(f.UnitsPerEm()), known: map[rune]glyph{}}
	}
	return out
})

// glyph returns the glyph of a character; index 0 where the face lacks it.
func (t *typeface) glyph(r rune) glyph {
	t.mutex.Lock()
	defer t.mutex.Unlock()
	if g, ok := t.known[r]; ok {
		return g
	}
	// At a size of the em in pixels the font's own units come back unrounded.
	size := fixed.I(int(t.perEm))
	var buf sfnt.Buffer
	var g glyph
	if i, err := t.font.GlyphIndex(&buf, r); err == nil {
		g.index = i
		if a, err := t.font.GlyphAdvance(&buf, i, size, font.HintingNone); err == nil {
			g.advance = float64(a) / 64 / t.perEm
		}
		if o, err := t.font.LoadGlyph(&buf, i, size, nil); err == nil {
			g.outline = append(sfnt.Segments(nil), o...)
		}
	}
	t.known[r] = g
	return g
}

// width is that of text with a size of 1; text must be printable.
func (f Face) width(text string) float64 {
	t, w := typefaces()[f], 0.0
	for _, r := range text {
		w += t.glyph(r).advance
	}
	return w
}

// printable returns text as the fonts can show it: composed, on one line, without
// characters that have no shape, and with the replacement character for those
// that the fonts lack.
func printable(text string) string {
	plain := true
	for i := 0; i < len(text) && plain; i++ {
		plain = text[i] >= ' ' && text[i] < 0x7f
	}
	if plain {
		return text
	}
	t := typefaces()[Regular]
	return strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r) && r != '\u00a0':
			return ' '
		case unicode.IsControl(r), unicode.Is(unicode.Cf, r), unicode.Is(unicode.Variation_Selector, r):
			return -1
		case r == '\u2010', r == '\u2011':
			return '-'
		case t.glyph(r).index == 0:
			return unicode.ReplacementChar
		}
		return r
	}, norm.NFC.String(strings.ToValidUTF8(text, "\ufffd")))
}
