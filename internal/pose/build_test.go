package pose

import (
	"encoding/binary"
	"maps"
	"math"
	"slices"
)

// A small writer of flatbuffers, enough to make TFLite files for the tests.
// Values: uint8, int (32 bits), string, []byte, []int, fields, []fields.
type fields map[int]any

type flatWriter struct{ b []byte }

func writeFlat(root fields) []byte {
	w := &flatWriter{b: append(make([]byte, 4), "TFL3"...)}
	w.patch(0, w.table(root))
	return w.b
}

func (w *flatWriter) u16(v int) { w.b = binary.LittleEndian.AppendUint16(w.b, uint16(v)) }
func (w *flatWriter) u32(v int) { w.b = binary.LittleEndian.AppendUint32(w.b, uint32(v)) }
func (w *flatWriter) patch(at, target int) {
	binary.LittleEndian.PutUint32(w.b[at:], uint32(target-at))
}

func (w *flatWriter) table(f fields) int {
	keys := slices.Sorted(maps.Keys(f))
	slots := 0
	if len(keys) > 0 {
		slots = keys[len(keys)-1] + 1
	}
	vt := len(w.b)
	w.u16(4 + 2*slots)
	w.u16(4 + 4*len(keys))
	place := make([]int, slots)
	for i, k := range keys {
		place[k] = 4 + 4*i
	}
	for _, p := range place {
		w.u16(p)
	}
	at := len(w.b)
	w.u32(at - vt)
	for _, k := range keys {
		switch v := f[k].(type) {
		case uint8:
			w.u32(int(v))
		case int:
			w.u32(v)
		default:
			w.u32(0)
		}
	}
	for i, k := range keys {
		slot := at + 4 + 4*i
		switch v := f[k].(type) {
		case string:
			w.patch(slot, w.bytes([]byte(v)))
		case []byte:
			w.patch(slot, w.bytes(v))
		case []int:
			p := len(w.b)
			w.u32(len(v))
			for _, x := range v {
				w.u32(x)
			}
			w.patch(slot, p)
		case fields:
			w.patch(slot, w.table(v))
		case []fields:
			p := len(w.b)
			w.u32(len(v))
			for range v {
				w.u32(0)
			}
			for n, x := range v {
				w.patch(p+4+4*n, w.table(x))
			}
			w.patch(slot, p)
		}
	}
	return at
}

func (w *flatWriter) bytes(b []byte) int {
	p := len(w.b)
	w.u32(len(b))
	w.b = append(w.b, b...)
	return p
}

// A fileBuilder puts together a TFLite file tensor by tensor.
type fileBuilder struct {
	tensors, buffers, ops, codes []fields
	index                        map[opCode]int
}

func newFile() *fileBuilder {
	return &fileBuilder{buffers: []fields{{}}, index: map[opCode]int{}}
}

func (m *fileBuilder) tensor(shape ...int) int {
	m.tensors = append(m.tensors, fields{0: shape, 3: "t"})
	return len(m.tensors) - 1
}

func (m *fileBuilder) constant(elem int, data []byte, shape ...int) int {
	m.buffers = append(m.buffers, fields{0: data})
	m.tensors = append(m.tensors, fields{0: shape, 1: uint8(elem), 2: len(m.buffers) - 1, 3: "c"})
	return len(m.tensors) - 1
}

func (m *fileBuilder) floats(v []float32, shape ...int) int {
	var b []byte
	for _, x := range v {
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(x))
	}
	return m.constant(elemFloat32, b, shape...)
}

func (m *fileBuilder) integers(v []int, shape ...int) int {
	var b []byte
	for _, x := range v {
		b = binary.LittleEndian.AppendUint32(b, uint32(x))
	}
	return m.constant(elemInt32, b, shape...)
}

func (m *fileBuilder) op(code opCode, inputs []int, output int, options fields) int {
	if _, ok := m.index[code]; !ok {
		m.index[code] = len(m.codes)
		m.codes = append(m.codes, fields{3: int(code)})
	}
	if options == nil {
		options = fields{}
	}
	m.ops = append(m.ops, fields{0: m.index[code], 1: inputs, 2: []int{output}, 4: options})
	return output
}

func (m *fileBuilder) file(inputs, outputs []int) []byte {
	graph := fields{0: m.tensors, 1: inputs, 2: outputs, 3: m.ops}
	return writeFlat(fields{0: 3, 1: m.codes, 2: []fields{graph}, 4: m.buffers})
}
