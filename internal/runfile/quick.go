package runfile

import (
	"bytes"
	"time"

	"gaitwright/gait/steprate"
)

// quickest is the most bytes of a point that are looked at in one piece.
const quickest = 1 << 16

// quick reads the rest of a track point, whose start tag was just read, in one
// pass over the bytes where it is plain: no comments, nothing that is not closed.
// Points are nearly all of a run file, and so it is several times as fast as tag by
// tag. It returns false, having read nothing but maybe called take, where the point
// is not plain.
func (x *scanner) quick(name []byte, take func(name, text []byte)) bool {
	piece, _ := x.r.Peek(x.r.Buffered())
	n := walk(piece, name, &x.marks, take)
	if n < 0 && len(piece) < quickest {
		piece, _ = x.r.Peek(quickest)
		n = walk(piece, name, &x.marks, take)
	}
	if n < 0 {
		return false
	}
	x.r.Discard(n)
	return true
}

// marks are where the names of what is open stand, by depth.
type marks [33][2]int

// walk goes through the elements of a point to its end, and returns how many bytes
// that took; -1 where it is not plain, or not all there.
func walk(b, name []byte, open *marks, take func(name, text []byte)) int {
	depth := 0
	for i := 0; ; {
		lt := bytes.IndexByte(b[i:], '<')
		if lt < 0 {
			return -1
		}
		i += lt + 1
		if i >= len(b) {
			return -1
		}
		c := b[i]
		if c == '/' {
			of := name
			if depth > 0 {
				of = b[open[depth][0]:open[depth][1]]
			}
			i += 1 + len(of)
			if i >= len(b) || b[i] != '>' || string(b[i-len(of):i]) != string(of) {
				return -1
			}
			i++
			if depth == 0 {
				return i
			}
			depth--
			continue
		}
		if c != '_' && (c|0x20 < 'a' || c|0x20 > 'z') {
			return -1
		}
		begin, from, stop := i, i, i
		for stop < len(b) && b[stop] > ' ' && b[stop] != '/' && b[stop] != '>' {
			if b[stop] == ':' {
				from = stop + 1
			}
			stop++
		}
		gt := tagEnd(b, stop)
		if gt < 0 {
			return -1
		}
		i = gt + 1
		if b[gt-1] == '/' {
			take(b[from:stop], nil)
			continue
		}
		// A leaf is followed by its own end.
		lt = bytes.IndexByte(b[i:], '<')
		if lt < 0 || i+lt+1 >= len(b) {
			return -1
		}
		if b[i+lt+1] != '/' {
			if depth++; depth >= len(open) {
				return -1
			}
			open[depth] = [2]int{begin, stop}
			i += lt
			continue
		}
		take(b[from:stop], trim(b[i:i+lt]))
		i += lt + 2
		// It nearly always closes with just its name.
		if n := stop - begin; i+n < len(b) && b[i+n] == '>' && string(b[i:i+n]) == string(b[begin:stop]) {
			i += n + 1
			continue
		}
		gt = bytes.IndexByte(b[i:], '>')
		if gt < 1 || !bytes.Equal(bytes.TrimSpace(b[i:i+gt]), b[begin:stop]) {
			return -1
		}
		i += gt + 1
	}
}

// tagEnd is where the > of a tag stands, over any within quotes; -1 for none.
func tagEnd(b []byte, i int) int {
	for i < len(b) {
		switch b[i] {
		case '>':
			return i
		case '"', '\'':
			q := bytes.IndexByte(b[i+1:], b[i])
			if q < 0 {
				return -1
			}
			i += q + 2
		default:
			i++
		}
	}
	return -1
}

// trim takes white space off both ends; run files hardly have any there.
func trim(b []byte) []byte {
	if len(b) == 0 || b[0] > ' ' && b[len(b)-1] > ' ' {
		return b
	}
	return bytes.TrimSpace(b)
}

// quickClock reads 2026-03-07T06:30:00Z, with or without a part of a second.
func quickClock(b []byte) (time.Time, bool) {
	if len(b) < 20 || len(b) > 30 || b[4] != '-' || b[7] != '-' || b[10] != 'T' || b[13] != ':' || b[16] != ':' || b[len(b)-1] != 'Z' {
		return time.Time{}, false
	}
	two := func(i int) int {
		a, c := b[i]-'0', b[i+1]-'0'
		if a > 9 || c > 9 {
			return -1 << 20
		}
		return int(a)*10 + int(c)
	}
	year, month, day := 100*two(0)+two(2), two(5), two(8)
	h, m, s := two(11), two(14), two(17)
	// Days that not every month has, and odd seconds, are left to the careful way.
	if year < 1990 || year > 2200 || month < 1 || month > 12 || day < 1 || day > 28 || h < 0 || h > 23 || m < 0 || m > 59 || s < 0 || s > 59 {
		return time.Time{}, false
	}
	nano := 0
	if len(b) > 20 {
		if b[19] != '.' || len(b) == 21 {
			return time.Time{}, false
		}
		scale := 100_000_000
		for _, c := range b[20 : len(b)-1] {
			if c < '0' || c > '9' {
				return time.Time{}, false
			}
			nano += int(c-'0') * scale
			scale /= 10
		}
	}
	return time.Date(year, time.Month(month), day, h, m, s, nano, time.UTC), true
}

// pile gathers samples without copying them as they grow in number.
type pile struct {
	full [][]steprate.Sample
	last []steprate.Sample
	n    int
}

const pileOf = 1 << 14

func (p *pile) add(s steprate.Sample) {
	if len(p.last) == cap(p.last) {
		if p.last != nil {
			p.full = append(p.full, p.last)
		}
		p.last = make([]steprate.Sample, 0, min(pileOf, 512<<min(len(p.full), 5)))
	}
	p.last = append(p.last, s)
	p.n++
}

// all gives the samples in one piece and lets go of the pile.
func (p *pile) all() []steprate.Sample {
	out := make([]steprate.Sample, 0, p.n)
	for i, c := range p.full {
		out = append(out, c...)
		p.full[i] = nil
	}
	out = append(out, p.last...)
	*p = pile{}
	return out
}
