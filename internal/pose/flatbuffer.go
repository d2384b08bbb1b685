package pose

import (
	"encoding/binary"
	"errors"
	"math"
)

// A flat is a bounded reader of one flatbuffer. Every access is checked against
// the buffer's length; the first that falls outside sets err, and from then on
// all reads give zero values, so that a reader checks once at the end.
type flat struct {
	b   []byte
	err error
	// budget bounds the number of vector elements read in all, so that a hostile
	// file with overlapping vectors cannot ask for more work than its size pays for.
	budget int
}

var errFlatBounds = errors.New("the file is damaged: a reference points outside it")
var errFlatBudget = errors.New("the file is damaged: its tables refer to one another without end")

func newFlat(b []byte) *flat { return &flat{b: b, budget: 64 * (len(b) + 1024)} }

func (f *flat) fail(err error) {
	if f.err == nil {
		f.err = err
	}
}

// at checks that n bytes lie at p.
func (f *flat) at(p, n int) bool {
	if f.err != nil {
		return false
	}
	if p < 0 || n < 0 || p > len(f.b)-n {
		f.fail(errFlatBounds)
		return false
	}
	return true
}

func (f *flat) spend(n int) bool {
	f.budget -= n
	if f.budget < 0 {
		f.fail(errFlatBudget)
		return false
	}
	return f.err == nil
}

func (f *flat) u8(p int) uint8 {
	if !f.at(p, 1) {
		return 0
	}
	return f.b[p]
}

func (f *flat) u16(p int) uint16 {
	if !f.at(p, 2) {
		return 0
	}
	return binary.LittleEndian.Uint16(f.b[p:])
}

func (f *flat) u32(p int) uint32 {
	if !f.at(p, 4) {
		return 0
	}
	return binary.LittleEndian.Uint32(f.b[p:])
}

// follow reads the unsigned offset at p and returns where it points.
func (f *flat) follow(p int) int {
	o := f.u32(p)
	if f.err != nil {
		return 0
	}
	if o > math.MaxInt32 || int(o) > len(f.b)-p {
		f.fail(errFlatBounds)
		return 0
	}
	return p + int(o)
}

// A table is one table of the buffer; at 0 it is absent and has no fields.
type table struct {
	f  *flat
	at int
}

// root returns the buffer's root table.
func (f *flat) root() table { return table{f, f.follow(0)} }

// field returns the place of field i, or 0 where it is absent.
func (t table) field(i int) int {
	if t.at == 0 || t.f.err != nil || !t.f.spend(1) {
		return 0
	}
	back := int(int32(t.f.u32(t.at)))
	vt := t.at - back
	size := int(t.f.u16(vt))
	slot := 4 + 2*i
	if t.f.err != nil || slot+2 > size {
		return 0
	}
	o := int(t.f.u16(vt + slot))
	if o == 0 {
		return 0
	}
	return t.at + o
}

func (t table) u8(i int, absent uint8) uint8 {
	if p := t.field(i); p != 0 {
		return t.f.u8(p)
	}
	return absent
}

func (t table) i32(i int, absent int) int {
	if p := t.field(i); p != 0 {
		return int(int32(t.f.u32(p)))
	}
	return absent
}

func (t table) sub(i int) table {
	if p := t.field(i); p != 0 {
		return table{t.f, t.f.follow(p)}
	}
	return table{t.f, 0}
}

// vector returns the place of the first element and the number of elements of
// the vector in field i, whose elements have the given size in bytes.
func (t table) vector(i, size int) (at, n int) {
	p := t.field(i)
	if p == 0 {
		return 0, 0
	}
	v := t.f.follow(p)
	count := t.f.u32(v)
	if t.f.err != nil {
		return 0, 0
	}
	if uint64(count)*uint64(size) > uint64(len(t.f.b)) {
		t.f.fail(errFlatBounds)
		return 0, 0
	}
	if n = int(count); !t.f.at(v+4, n*size) {
		return 0, 0
	}
	return v + 4, n
}

func (t table) bytes(i int) []byte {
	at, n := t.vector(i, 1)
	return t.f.b[at : at+n : at+n]
}

func (t table) text(i int) string {
	b := t.bytes(i)
	if !t.f.spend(len(b)) {
		return ""
	}
	return string(b)
}

func (t table) ints(i int) []int {
	at, n := t.vector(i, 4)
	if n == 0 || !t.f.spend(n) {
		return nil
	}
	out := make([]int, n)
	for k := range out {
		out[k] = int(int32(binary.LittleEndian.Uint32(t.f.b[at+4*k:])))
	}
	return out
}

func (t table) tables(i int) []table {
	at, n := t.vector(i, 4)
	if n == 0 || !t.f.spend(n) {
		return nil
	}
	out := make([]table, n)
	for k := range out {
		out[k] = table{t.f, t.f.follow(at + 4*k)}
	}
	return out
}
