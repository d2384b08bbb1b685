package pose

import (
	"encoding/binary"
	"math"
)

// The wire format of protocol buffers, as far as an ONNX model needs it.

type message []byte

func (m *message) varint(field int, v uint64) {
	*m = binary.AppendUvarint(*m, uint64(field)<<3)
	*m = binary.AppendUvarint(*m, v)
}

func (m *message) data(field int, b []byte) {
	*m = binary.AppendUvarint(*m, uint64(field)<<3|2)
	*m = binary.AppendUvarint(*m, uint64(len(b)))
	*m = append(*m, b...)
}

func (m *message) text(field int, s string) { m.data(field, []byte(s)) }

// The element types of ONNX.
const (
	onnxFloat = 1
	onnxInt64 = 7
)

// A graph collects the nodes and constants of an ONNX model (opset 13).
type graph struct {
	nodes     message
	constants message
	inputs    message
	outputs   message
}

// An attribute of a node: ints as a list, or a text.
type attribute struct {
	name string
	ints []int
	one  bool // a single integer, not a list of one
	text string
}

func (g *graph) node(op string, inputs []string, output string, attrs ...attribute) {
	var n message
	for _, i := range inputs {
		n.text(1, i)
	}
	n.text(2, output)
	n.text(3, output)
	n.text(4, op)
	for _, a := range attrs {
		var m message
		m.text(1, a.name)
		switch {
		case a.text != "":
			m.text(4, a.text)
			m.varint(20, 3)
		case a.one:
			m.varint(3, uint64(int64(a.ints[0])))
			m.varint(20, 2)
		default:
			for _, v := range a.ints {
				m.varint(8, uint64(int64(v)))
			}
			m.varint(20, 7)
		}
		n.data(5, m)
	}
	g.nodes.data(1, n)
}

func (g *graph) floats(name string, dims []int, v []float32) {
	raw := make([]byte, 4*len(v))
	for i, x := range v {
		binary.LittleEndian.PutUint32(raw[4*i:], math.Float32bits(x))
	}
	g.constant(name, dims, onnxFloat, raw)
}

func (g *graph) integers(name string, v []int) {
	raw := make([]byte, 8*len(v))
	for i, x := range v {
		binary.LittleEndian.PutUint64(raw[8*i:], uint64(int64(x)))
	}
	g.constant(name, []int{len(v)}, onnxInt64, raw)
}

func (g *graph) constant(name string, dims []int, elem uint64, raw []byte) {
	t := make(message, 0, len(raw)+64)
	for _, d := range dims {
		t.varint(1, uint64(d))
	}
	t.varint(2, elem)
	t.text(8, name)
	t.data(9, raw)
	g.constants.data(5, t)
}

// valueInfo describes a float input or output.
func valueInfo(name string, dims []int) message {
	var shape, tensorType, typ, v message
	for _, d := range dims {
		var dim message
		dim.varint(1, uint64(d))
		shape.data(1, dim)
	}
	tensorType.varint(1, onnxFloat)
	tensorType.data(2, shape)
	typ.data(1, tensorType)
	v.text(1, name)
	v.data(2, typ)
	return v
}

func (g *graph) input(name string, dims []int)  { g.inputs.data(11, valueInfo(name, dims)) }
func (g *graph) output(name string, dims []int) { g.outputs.data(12, valueInfo(name, dims)) }

// model returns the finished file.
func (g *graph) model() []byte {
	body := make(message, 0, len(g.nodes)+len(g.constants)+1024)
	body = append(body, g.nodes...)
	body.text(2, "pose")
	body = append(body, g.constants...)
	body = append(body, g.inputs...)
	body = append(body, g.outputs...)
	m := make(message, 0, len(body)+64)
	m.varint(1, 7) // IR version of opset 13
	m.text(2, "gaitwright")
	m.data(7, body)
	var opset message
	opset.varint(2, 13)
	m.data(8, opset)
	return m
}
