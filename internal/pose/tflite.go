package pose

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
)

// The element types and operators of the TFLite schema (open standard, Apache-2.0
// schema file) that the pose networks use.
const (
	elemFloat32 = 0
	elemFloat16 = 1
	elemInt32   = 2
)

type opCode int

const (
	opAdd          opCode = 0
	opConcat       opCode = 2
	opConv         opCode = 3
	opDepthwise    opCode = 4
	opDepthToSpace opCode = 5
	opDequantize   opCode = 6
	opLogistic     opCode = 14
	opMaxPool      opCode = 17
	opReshape      opCode = 22
	opResize       opCode = 23
	opPad          opCode = 34
	opDensify      opCode = 124
)

// maxElements bounds the size of one tensor: the largest in the networks read
// here has about four million elements.
const maxElements = 1 << 24

// A network is a graph as the TFLite file states it: tensors in NHWC order.
type network struct {
	tensors []tensor
	ops     []operation
	inputs  []int
	outputs []int
}

type tensor struct {
	name   string
	shape  []int
	elem   int
	data   []byte // constant's bytes, nil for activations
	sparse *sparsity
}

type operation struct {
	code    opCode
	inputs  []int
	outputs []int
	options table
}

// sparsity says how the elements of a sparse constant lie in the dense one.
type sparsity struct {
	order  []int
	blocks []int
	dims   []sparseDim
}

type sparseDim struct {
	csr      bool
	size     int
	segments []int
	indices  []int
}

func (t *tensor) elements() int {
	n := 1
	for _, d := range t.shape {
		n *= d
	}
	return n
}

// readNetwork reads a TFLite file. It keeps references into b.
func readNetwork(b []byte) (*network, error) {
	if len(b) < 8 || string(b[4:8]) != "TFL3" {
		return nil, errors.New("not a TFLite file: its mark TFL3 is missing")
	}
	f := newFlat(b)
	root := f.root()
	codes := root.tables(1)
	graphs := root.tables(2)
	buffers := root.tables(4)
	if f.err != nil {
		return nil, f.err
	}
	if len(graphs) != 1 {
		return nil, fmt.Errorf("the file has %d graphs where one is expected", len(graphs))
	}
	g := graphs[0]
	n := &network{inputs: g.ints(1), outputs: g.ints(2)}
	for _, t := range g.tables(0) {
		x := tensor{name: t.text(3), shape: t.ints(0), elem: int(t.u8(1, 0))}
		size := 1
		for _, d := range x.shape {
			if d < 1 || d > maxElements {
				return nil, fmt.Errorf("tensor %q has an impossible dimension %d", x.name, d)
			}
			if size *= d; size > maxElements {
				return nil, fmt.Errorf("tensor %q is too large", x.name)
			}
		}
		if i := t.i32(2, 0); i > 0 {
			if i >= len(buffers) {
				return nil, fmt.Errorf("tensor %q refers to buffer %d of %d", x.name, i, len(buffers))
			}
			if d := buffers[i].bytes(0); len(d) > 0 {
				x.data = d
			}
		}
		if s := t.sub(6); s.at != 0 {
			x.sparse = readSparsity(s)
		}
		n.tensors = append(n.tensors, x)
		if f.err != nil {
			return nil, f.err
		}
	}
	for _, o := range g.tables(3) {
		i := o.i32(0, 0)
		if f.err != nil {
			return nil, f.err
		}
		if i < 0 || i >= len(codes) {
			return nil, fmt.Errorf("operator %d refers to code %d of %d", len(n.ops), i, len(codes))
		}
		code := codes[i].i32(3, 0)
		if code == 0 { // files older than the wide field keep the code in a byte
			code = int(codes[i].u8(0, 0))
		}
		n.ops = append(n.ops, operation{code: opCode(code), inputs: o.ints(1), outputs: o.ints(2), options: o.sub(4)})
	}
	if f.err != nil {
		return nil, f.err
	}
	for _, list := range [][]int{n.inputs, n.outputs} {
		for _, i := range list {
			if i < 0 || i >= len(n.tensors) {
				return nil, fmt.Errorf("the graph refers to tensor %d of %d", i, len(n.tensors))
			}
		}
	}
	for k, o := range n.ops {
		for _, i := range o.inputs {
			if i < -1 || i >= len(n.tensors) {
				return nil, fmt.Errorf("operator %d refers to tensor %d of %d", k, i, len(n.tensors))
			}
		}
		for _, i := range o.outputs {
			if i < 0 || i >= len(n.tensors) {
				return nil, fmt.Errorf("operator %d refers to tensor %d of %d", k, i, len(n.tensors))
			}
		}
		if len(o.outputs) != 1 || len(o.inputs) == 0 {
			return nil, fmt.Errorf("operator %d has %d inputs and %d outputs", k, len(o.inputs), len(o.outputs))
		}
	}
	return n, nil
}

func readSparsity(t table) *sparsity {
	s := &sparsity{order: t.ints(0), blocks: t.ints(1)}
	for _, d := range t.tables(2) {
		s.dims = append(s.dims, sparseDim{
			csr:      d.u8(0, 0) == 1,
			size:     d.i32(1, 0),
			segments: indexVector(d.u8(2, 0), d.sub(3)),
			indices:  indexVector(d.u8(4, 0), d.sub(5)),
		})
	}
	return s
}

// indexVector reads one of the schema's three vectors of indices: 32, 16 or 8
// bits wide.
func indexVector(kind uint8, t table) []int {
	switch kind {
	case 1:
		return t.ints(0)
	case 2:
		at, n := t.vector(0, 2)
		if !t.f.spend(n) {
			return nil
		}
		out := make([]int, n)
		for i := range out {
			out[i] = int(binary.LittleEndian.Uint16(t.f.b[at+2*i:]))
		}
		return out
	case 3:
		b := t.bytes(0)
		if !t.f.spend(len(b)) {
			return nil
		}
		out := make([]int, len(b))
		for i, v := range b {
			out[i] = int(v)
		}
		return out
	}
	return nil
}

// floats returns the tensor's constant as dense float32 values.
func (t *tensor) floats() ([]float32, error) {
	var v []float32
	switch t.elem {
	case elemFloat32:
		v = make([]float32, len(t.data)/4)
		for i := range v {
			v[i] = math.Float32frombits(binary.LittleEndian.Uint32(t.data[4*i:]))
		}
	case elemFloat16:
		v = make([]float32, len(t.data)/2)
		for i := range v {
			v[i] = half(binary.LittleEndian.Uint16(t.data[2*i:]))
		}
	default:
		return nil, fmt.Errorf("constant %q has element type %d, which is not supported", t.name, t.elem)
	}
	if t.sparse != nil {
		var err error
		if v, err = t.sparse.dense(v, t.shape); err != nil {
			return nil, fmt.Errorf("constant %q: %w", t.name, err)
		}
	}
	if len(v) != t.elements() {
		return nil, fmt.Errorf("constant %q has %d values for a shape of %d", t.name, len(v), t.elements())
	}
	return v, nil
}

// integers returns the tensor's constant as integers.
func (t *tensor) integers() ([]int, error) {
	if t.elem != elemInt32 || len(t.data) != 4*t.elements() {
		return nil, fmt.Errorf("constant %q is not a list of 32-bit integers", t.name)
	}
	v := make([]int, len(t.data)/4)
	for i := range v {
		v[i] = int(int32(binary.LittleEndian.Uint32(t.data[4*i:])))
	}
	return v, nil
}

// half widens an IEEE 754 binary16.
func half(h uint16) float32 {
	sign := uint32(h>>15) << 31
	exp := uint32(h>>10) & 31
	frac := uint32(h) & 1023
	switch {
	case exp == 31:
		return math.Float32frombits(sign | 255<<23 | frac<<13)
	case exp == 0:
		v := float32(frac) / (1 << 24)
		if sign != 0 {
			v = -v
		}
		return v
	}
	return math.Float32frombits(sign | (exp+112)<<23 | frac<<13)
}

// dense expands the stored values of a sparse constant. The levels of the
// storage are the dimensions in traversal order, then the blocks; each level is
// dense (all of its size) or compressed (segments of indices).
func (s *sparsity) dense(values []float32, shape []int) ([]float32, error) {
	levels := len(s.dims)
	rank := len(shape)
	if len(s.order) != levels || levels != rank+len(s.blocks) {
		return nil, errors.New("its sparse layout does not fit its shape")
	}
	// scale[l] is what one step of level l moves in the dense array.
	strides := make([]int, rank)
	size := 1
	for i := rank - 1; i >= 0; i-- {
		strides[i] = size
		size *= shape[i]
	}
	step, limit, dim := make([]int, levels), make([]int, levels), make([]int, levels)
	blockOf := make(map[int]int)
	for l, d := range s.order {
		if d >= rank && d < levels {
			b := s.blocks[d-rank]
			if b < 0 || b >= rank || s.dims[l].size < 1 || blockOf[b] != 0 {
				return nil, errors.New("its sparse blocks do not fit its shape")
			}
			blockOf[b] = s.dims[l].size
		} else if d < 0 || d >= levels {
			return nil, errors.New("its sparse order names a dimension it has not")
		}
	}
	for l, d := range s.order {
		if d >= rank {
			dim[l] = s.blocks[d-rank]
			step[l], limit[l] = strides[dim[l]], s.dims[l].size
			continue
		}
		dim[l] = d
		b := max(1, blockOf[d])
		if shape[d]%b != 0 {
			return nil, errors.New("its sparse blocks do not divide its shape")
		}
		step[l], limit[l] = strides[d]*b, shape[d]/b
	}
	out := make([]float32, size)
	next := 0
	var walk func(l, row, place int) error
	walk = func(l, row, place int) error {
		if l == levels {
			if next >= len(values) || place >= size {
				return errors.New("its sparse layout has more places than values")
			}
			out[place] = values[next]
			next++
			return nil
		}
		d := &s.dims[l]
		if !d.csr {
			if d.size != limit[l] {
				return errors.New("a dense level of its sparse layout has the wrong size")
			}
			for i := range d.size {
				if err := walk(l+1, row*d.size+i, place+i*step[l]); err != nil {
					return err
				}
			}
			return nil
		}
		if row+1 >= len(d.segments) {
			return errors.New("its sparse segments end too soon")
		}
		from, to := d.segments[row], d.segments[row+1]
		if from < 0 || from > to || to > len(d.indices) {
			return errors.New("its sparse segments do not fit its indices")
		}
		for k := from; k < to; k++ {
			if d.indices[k] < 0 || d.indices[k] >= limit[l] {
				return errors.New("a sparse index lies outside the shape")
			}
			if err := walk(l+1, k, place+d.indices[k]*step[l]); err != nil {
				return err
			}
		}
		return nil
	}
	if err := walk(0, 0, 0); err != nil {
		return nil, err
	}
	return out, nil
}
