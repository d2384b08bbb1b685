package c3d

import (
	"encoding/binary"
	"fmt"
	"math"
	"strings"
)

// parameter is one named value array of the parameter section. The first
// dimension varies fastest.
type parameter struct {
	kind int8 // -1 characters, 1 bytes, 2 16-bit integers, 4 floats
	dims []int
	data []byte
}

// parameters holds the parameter section under "GROUP:NAME", in capitals.
type parameters map[string]parameter

// readParameters reads the parameter section that begins at section[0]. Damaged
// records end the reading with an error; unknown ones are kept unread.
func readParameters(section []byte) (parameters, error) {
	// The third byte is the number of blocks. Some writers leave it 0 or count
	// wrongly, and the chain of records ends itself, so it bounds nothing here.
	groups := map[int8]string{}
	type pending struct {
		group int8
		name  string
		p     parameter
	}
	var found []pending
	at := 4
	for {
		if at+2 > len(section) {
			return nil, fmt.Errorf("the parameter section runs past the end of the file: the file is cut short or damaged")
		}
		nameLen, id := int8(section[at]), int8(section[at+1])
		if nameLen == 0 || id == 0 {
			break
		}
		n := int(nameLen)
		if n < 0 {
			n = -n
		}
		next := at + 2 + n
		if next+2 > len(section) {
			return nil, fmt.Errorf("the parameter section runs past the end of the file: the file is cut short or damaged")
		}
		name := strings.ToUpper(strings.TrimSpace(string(section[at+2 : next])))
		step := u16(section, next)
		body := section[next+2:]
		if id < 0 {
			groups[-id] = name
		} else {
			p, err := readParameter(body)
			if err != nil {
				return nil, fmt.Errorf("parameter %s: %w", name, err)
			}
			found = append(found, pending{id, name, p})
		}
		if step == 0 {
			break
		}
		if step < 2 {
			return nil, fmt.Errorf("parameter %s points back into itself: the parameter section is damaged", name)
		}
		at = next + step
	}
	out := make(parameters, len(found))
	for _, p := range found {
		out[groups[p.group]+":"+p.name] = p.p
	}
	return out, nil
}

func readParameter(b []byte) (parameter, error) {
	if len(b) < 2 {
		return parameter{}, fmt.Errorf("cut short")
	}
	p := parameter{kind: int8(b[0])}
	var width int
	switch p.kind {
	case -1, 1:
		width = 1
	case 2:
		width = 2
	case 4:
		width = 4
	default:
		return parameter{}, fmt.Errorf("type %d is none of characters (-1), byte (1), integer (2) and float (4): the parameter section is damaged", p.kind)
	}
	nd := int(b[1])
	if nd > 7 || 2+nd > len(b) {
		return parameter{}, fmt.Errorf("%d dimensions, at most 7 are allowed: the parameter section is damaged", nd)
	}
	size := width
	for _, d := range b[2 : 2+nd] {
		p.dims = append(p.dims, int(d))
		if size *= int(d); size > len(b) {
			return parameter{}, fmt.Errorf("its dimensions %v are larger than what is left of the file: the file is cut short or damaged", p.dims)
		}
	}
	if 2+nd+size > len(b) {
		return parameter{}, fmt.Errorf("it is larger than what is left of the file: the file is cut short or damaged")
	}
	p.data = b[2+nd : 2+nd+size]
	return p, nil
}

// count returns the number of values.
func (p parameter) count() int {
	switch p.kind {
	case 2:
		return len(p.data) / 2
	case 4:
		return len(p.data) / 4
	}
	return len(p.data)
}

// numbers returns the values of a numeric parameter; 16-bit integers are read as
// signed, and a value that is not a number as 0.
func (p parameter) numbers() []float64 {
	out := make([]float64, 0, p.count())
	switch p.kind {
	case 1:
		for _, b := range p.data {
			out = append(out, float64(b))
		}
	case 2:
		for i := 0; i+2 <= len(p.data); i += 2 {
			out = append(out, float64(int16(binary.LittleEndian.Uint16(p.data[i:]))))
		}
	case 4:
		for i := 0; i+4 <= len(p.data); i += 4 {
			v := f32(p.data, i)
			if math.IsNaN(v) || math.IsInf(v, 0) {
				v = 0
			}
			out = append(out, v)
		}
	}
	return out
}

// texts returns the rows of a character parameter without padding.
func (p parameter) texts() []string {
	if p.kind != -1 {
		return nil
	}
	width := len(p.data)
	if len(p.dims) > 0 {
		width = p.dims[0]
	}
	if width == 0 {
		return nil
	}
	var out []string
	for i := 0; i+width <= len(p.data); i += width {
		out = append(out, clean(p.data[i:i+width]))
	}
	return out
}

// clean turns the bytes of a name to text: up to a zero byte, without padding,
// with bytes that are not UTF-8 read as Latin-1.
func clean(b []byte) string {
	for i, c := range b {
		if c == 0 {
			b = b[:i]
			break
		}
	}
	s := strings.TrimSpace(string(b))
	if s == strings.ToValidUTF8(s, "") {
		return s
	}
	r := make([]rune, 0, len(s))
	for _, c := range []byte(s) {
		r = append(r, rune(c))
	}
	return string(r)
}

// number returns the first value of group:name, or fallback where it is absent.
func (ps parameters) number(group, name string, fallback float64) float64 {
	if v := ps[group+":"+name].numbers(); len(v) > 0 {
		return v[0]
	}
	return fallback
}

// list returns the values of group:name.
func (ps parameters) list(group, name string) []float64 { return ps[group+":"+name].numbers() }

// text returns the first row of group:name.
func (ps parameters) text(group, name string) string {
	if v := ps[group+":"+name].texts(); len(v) > 0 {
		return v[0]
	}
	return ""
}

// extended joins the rows of group:name, name2, name3 …: one parameter holds at
// most 255 rows.
func (ps parameters) extended(group, name string) []string {
	out := ps[group+":"+name].texts()
	for i := 2; ; i++ {
		p, ok := ps[fmt.Sprintf("%s:%s%d", group, name, i)]
		if !ok {
			return out
		}
		out = append(out, p.texts()...)
	}
}

// extendedNumbers is extended for numbers.
func (ps parameters) extendedNumbers(group, name string) []float64 {
	out := ps.list(group, name)
	for i := 2; ; i++ {
		p, ok := ps[fmt.Sprintf("%s:%s%d", group, name, i)]
		if !ok {
			return out
		}
		out = append(out, p.numbers()...)
	}
}
