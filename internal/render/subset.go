package render

import (
	"encoding/binary"
	"slices"

	"golang.org/x/image/font/sfnt"
)

// keptTables are the tables of a TrueType font that drawing needs; hinting
// programs and glyph names are left out.
var keptTables = []string{"OS/2", "cmap", "glyf", "head", "hhea", "hmtx", "loca", "maxp", "name", "post"}

// sfntFile is a TrueType font taken apart.
type sfntFile struct {
	tables map[string][]byte
	glyphs [][]byte
}

func takeApart(file []byte) sfntFile {
	be := binary.BigEndian
	f := sfntFile{tables: map[string][]byte{}}
	for i := range int(be.Uint16(file[4:])) {
		e := file[12+16*i:]
		f.tables[string(e[:4])] = file[be.Uint32(e[8:]):][:be.Uint32(e[12:])]
	}
	glyf, loca := f.tables["glyf"], f.tables["loca"]
	long := be.Uint16(f.tables["head"][50:]) != 0
	offset := func(i int) uint32 {
		if long {
			return be.Uint32(loca[4*i:])
		}
		return 2 * uint32(be.Uint16(loca[2*i:]))
	}
	for i := range int(be.Uint16(f.tables["maxp"][4:])) {
		f.glyphs = append(f.glyphs, glyf[offset(i):offset(i+1)])
	}
	return f
}

// file puts the font together again, with the tables that are kept and without
// hinting programs.
func (f sfntFile) file() []byte {
	be := binary.BigEndian
	var glyf, loca []byte
	for _, g := range f.glyphs {
		loca = be.AppendUint32(loca, uint32(len(glyf)))
		glyf = append(glyf, bare(g)...)
		for len(glyf)%4 != 0 {
			glyf = append(glyf, 0)
		}
	}
	loca = be.AppendUint32(loca, uint32(len(glyf)))
	head := slices.Clone(f.tables["head"])
	be.PutUint32(head[8:], 0)  // checksum, set by join
	be.PutUint16(head[50:], 1) // long offsets
	f.tables["glyf"], f.tables["loca"], f.tables["head"] = glyf, loca, head
	return join(f.tables)
}

// textHyphen returns the font with its soft hyphen's shape and width for the
// hyphen too: the Go fonts give the hyphen the width of a minus, as program text
// wants it, which reads as a dash in names.
func textHyphen(file []byte) []byte {
	font, err := sfnt.Parse(file)
	if err != nil {
		panic("render: a built-in font cannot be read: " + err.Error())
	}
	var buf sfnt.Buffer
	hyphen, _ := font.GlyphIndex(&buf, '-')
	soft, _ := font.GlyphIndex(&buf, '\u00ad')
	f := takeApart(file)
	f.glyphs[hyphen] = f.glyphs[soft]
	widths := slices.Clone(f.tables["hmtx"])
	copy(widths[4*int(hyphen):][:4], widths[4*int(soft):][:4])
	f.tables["hmtx"] = widths
	return f.file()
}

// subset returns the face as a TrueType font that draws only the given
// characters. Glyphs keep their numbers, so that the other tables stay true;
// those not used become empty.
func (f Face) subset(used []rune) []byte {
	s := takeApart(faceFiles()[f])
	keep := make([]bool, len(s.glyphs))
	var want func(i int)
	want = func(i int) {
		if i >= len(keep) || keep[i] {
			return
		}
		keep[i] = true
		for _, part := range components(s.glyphs[i]) {
			want(part)
		}
	}
	want(0)
	for _, r := range used {
		want(int(typefaces()[f].glyph(r).index))
	}
	for i := range s.glyphs {
		if !keep[i] {
			s.glyphs[i] = nil
		}
	}
	post := slices.Clone(s.tables["post"][:32])
	binary.BigEndian.PutUint32(post, 0x00030000) // no glyph names
	s.tables["post"] = post
	s.tables["name"] = []byte{0, 0, 0, 0, 0, 6} // no names
	return s.file()
}

// join writes the kept tables as a font file.
func join(tables map[string][]byte) []byte {
	be := binary.BigEndian
	n := len(keptTables)
	power := 0
	for 2<<power <= n {
		power++
	}
	out := be.AppendUint32(nil, 0x00010000)
	for _, v := range []int{n, 16 << power, power, 16 * (n - 1<<power)} {
		out = be.AppendUint16(out, uint16(v))
	}
	at := 12 + 16*n
	var body []byte
	headAt := 0
	for _, name := range keptTables {
		b := tables[name]
		out = append(out, name...)
		out = be.AppendUint32(out, checksum(b))
		out = be.AppendUint32(out, uint32(at+len(body)))
		out = be.AppendUint32(out, uint32(len(b)))
		if name == "head" {
			headAt = at + len(body)
		}
		body = append(body, b...)
		for len(body)%4 != 0 {
			body = append(body, 0)
		}
	}
	out = append(out, body...)
	be.PutUint32(out[headAt+8:], 0xB1B0AFBA-checksum(out))
	return out
}

func checksum(b []byte) uint32 {
	var sum uint32
	for i := 0; i < len(b); i += 4 {
		var word [4]byte
		copy(word[:], b[i:])
		sum += binary.BigEndian.Uint32(word[:])
	}
	return sum
}

// Flags of a part of a composite glyph (OpenType specification, glyf table).
const (
	argsAreWords = 1 << 0
	haveScale    = 1 << 3
	moreParts    = 1 << 5
	haveXYScale  = 1 << 6
	haveMatrix   = 1 << 7
	haveProgram  = 1 << 8
)

// parts walks the parts of a composite glyph and returns where they end.
func parts(g []byte, each func(flagsAt, index int)) int {
	be := binary.BigEndian
	at := 10
	for {
		flags := be.Uint16(g[at:])
		each(at, int(be.Uint16(g[at+2:])))
		at += 6
		if flags&argsAreWords != 0 {
			at += 2
		}
		switch {
		case flags&haveScale != 0:
			at += 2
		case flags&haveXYScale != 0:
			at += 4
		case flags&haveMatrix != 0:
			at += 8
		}
		if flags&moreParts == 0 {
			return at
		}
	}
}

func composite(g []byte) bool { return len(g) >= 10 && int16(binary.BigEndian.Uint16(g)) < 0 }

// components lists the glyphs that a composite glyph is made of.
func components(g []byte) []int {
	var out []int
	if composite(g) {
		parts(g, func(_, index int) { out = append(out, index) })
	}
	return out
}

// bare returns a glyph without its hinting program.
func bare(g []byte) []byte {
	be := binary.BigEndian
	if len(g) < 10 {
		return g
	}
	if composite(g) {
		out := slices.Clone(g)
		end := parts(out, func(at, _ int) { be.PutUint16(out[at:], be.Uint16(out[at:])&^haveProgram) })
		return out[:end]
	}
	at := 10 + 2*int(be.Uint16(g))
	length := int(be.Uint16(g[at:]))
	out := slices.Clone(g[:at+2])
	be.PutUint16(out[at:], 0)
	return append(out, g[at+2+length:]...)
}
