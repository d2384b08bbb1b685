package pose

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

func TestHalf(t *testing.T) {
	// Values of IEEE 754-2019, table 3.5 and its limits for binary16.
	for _, c := range []struct {
		bits uint16
		want float64
	}{
		{0x0000, 0}, {0x3c00, 1}, {0xc000, -2}, {0x7bff, 65504}, {0x0400, math.Exp2(-14)},
		{0x0001, math.Exp2(-24)}, {0x83ff, -1023 * math.Exp2(-24)}, {0x3555, 0.333251953125}, {0x7c00, math.Inf(1)},
	} {
		if got := float64(half(c.bits)); got != c.want {
			t.Errorf("half(%#04x) = %v, want %v", c.bits, got, c.want)
		}
	}
	if !math.IsNaN(float64(half(0x7e00))) {
		t.Error("half(0x7e00) is not NaN")
	}
}

func TestSamePads(t *testing.T) {
	for _, c := range []struct{ size, kernel, stride, dilation, before, after int }{
		{256, 3, 2, 1, 0, 1}, // the odd one goes after
		{256, 3, 1, 1, 1, 1},
		{255, 3, 2, 1, 1, 1},
		{64, 5, 2, 1, 1, 2},
		{8, 2, 2, 1, 0, 0},
		{8, 3, 1, 2, 2, 2},
		{8, 1, 2, 1, 0, 0},
	} {
		if b, a := samePads(c.size, c.kernel, c.stride, c.dilation); b != c.before || a != c.after {
			t.Errorf("samePads(%d, %d, %d, %d) = %d, %d, want %d, %d", c.size, c.kernel, c.stride, c.dilation, b, a, c.before, c.after)
		}
	}
}

func TestSparseConstant(t *testing.T) {
	// A 3×4 matrix with rows dense and columns compressed.
	rows := &sparsity{order: []int{0, 1}, dims: []sparseDim{
		{size: 3},
		{csr: true, segments: []int{0, 2, 2, 3}, indices: []int{0, 3, 1}},
	}}
	got, err := rows.dense([]float32{1, 2, 3}, []int{3, 4})
	want := []float32{1, 0, 0, 2, 0, 0, 0, 0, 0, 3, 0, 0}
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("rows: %v, %v; want %v", got, err, want)
	}
	// A 4×4 matrix in 2×2 blocks, of which the upper right and lower left are stored.
	blocks := &sparsity{order: []int{0, 1, 2, 3}, blocks: []int{0, 1}, dims: []sparseDim{
		{size: 2},
		{csr: true, segments: []int{0, 1, 2}, indices: []int{1, 0}},
		{size: 2}, {size: 2},
	}}
	got, err = blocks.dense([]float32{1, 2, 3, 4, 5, 6, 7, 8}, []int{4, 4})
	want = []float32{0, 0, 1, 2, 0, 0, 3, 4, 5, 6, 0, 0, 7, 8, 0, 0}
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("blocks: %v, %v; want %v", got, err, want)
	}
	for name, bad := range map[string]*sparsity{
		"index outside":      {order: []int{0, 1}, dims: []sparseDim{{size: 3}, {csr: true, segments: []int{0, 1, 1, 1}, indices: []int{4}}}},
		"segments too short": {order: []int{0, 1}, dims: []sparseDim{{size: 3}, {csr: true, segments: []int{0, 1}, indices: []int{1}}}},
		"segments backward":  {order: []int{0, 1}, dims: []sparseDim{{size: 3}, {csr: true, segments: []int{0, 1, 0, 1}, indices: []int{1}}}},
		"too few values":     {order: []int{0, 1}, dims: []sparseDim{{size: 3}, {size: 4}}},
		"level too many":     {order: []int{0, 1, 2}, dims: []sparseDim{{size: 3}, {size: 4}, {size: 1}}},
	} {
		if _, err := bad.dense([]float32{1}, []int{3, 4}); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// A nhwc is a plain picture with channels running fastest, on which the
// reference operators below work as TFLite defines them.
type nhwc struct {
	h, w, c int
	v       []float32
}

func (a nhwc) at(y, x, c int) float32 {
	if y < 0 || x < 0 || y >= a.h || x >= a.w {
		return 0
	}
	return a.v[(y*a.w+x)*a.c+c]
}

// conv is TFLite's convolution; weights are [filters, k, k, channels], or
// [1, k, k, channels] where depthwise.
func (a nhwc) conv(weights, bias []float32, k, filters, stride, top, left, oh, ow int, depthwise, relu bool) nhwc {
	out := nhwc{oh, ow, filters, make([]float32, oh*ow*filters)}
	for y := range oh {
		for x := range ow {
			for f := range filters {
				s := float64(bias[f])
				for i := range k {
					for j := range k {
						for c := range a.c {
							place := ((f*k+i)*k+j)*a.c + c
							if depthwise {
								if c != f {
									continue
								}
								place = (i*k+j)*a.c + c
							}
							w := weights[place]
							s += float64(w) * float64(a.at(y*stride+i-top, x*stride+j-left, c))
						}
					}
				}
				if relu {
					s = max(s, 0)
				}
				out.v[(y*ow+x)*filters+f] = float32(s)
			}
		}
	}
	return out
}

// TestConvertedNetwork runs a made-up network that has every peculiarity of the
// real ones, and compares with the operators written out plainly.
func TestConvertedNetwork(t *testing.T) {
	lib := installedLibrary(t)
	r := rand.New(rand.NewPCG(1, 2))
	random := func(n int) []float32 {
		v := make([]float32, n)
		for i := range v {
			v[i] = float32(r.NormFloat64())
		}
		return v
	}
	m := newFile()
	in := m.tensor(1, 8, 8, 3)

	// A padding that feeds a convolution without padding of its own and an
	// addition, where its zeros count.
	padded := m.op(opPad, []int{in, m.integers([]int{0, 0, 1, 1, 1, 1, 0, 0}, 4, 2)}, m.tensor(1, 10, 10, 3), nil)
	w1, b1 := random(4*3*3*3), random(4)
	conv := m.op(opConv, []int{padded, m.floats(w1, 4, 3, 3, 3), m.floats(b1, 4)}, m.tensor(1, 4, 4, 4),
		fields{0: uint8(1), 1: 2, 2: 2, 3: uint8(1)})
	twice := m.op(opAdd, []int{padded, padded}, m.tensor(1, 10, 10, 3), nil)
	pool := m.op(opMaxPool, []int{twice}, m.tensor(1, 4, 4, 3), fields{0: uint8(0), 1: 3, 2: 3, 3: 3, 4: 3})

	// A strided depthwise convolution with asymmetric SAME padding, its weights
	// in half precision (1, 2, -0.5 …).
	halves := []uint16{0x3c00, 0x4000, 0xb800, 0x3800, 0xc000, 0x3400, 0x0000, 0x4200, 0xbc00}
	var raw []byte
	w2 := make([]float32, 9*4)
	for i := range w2 {
		h := halves[(i*5+i/4)%len(halves)]
		raw = append(raw, byte(h), byte(h>>8))
		w2[i] = half(h)
	}
	wide := m.op(opDequantize, []int{m.constant(elemFloat16, raw, 1, 3, 3, 4)}, m.tensor(1, 3, 3, 4), nil)
	b2 := random(4)
	depth := m.op(opDepthwise, []int{conv, wide, m.floats(b2, 4)}, m.tensor(1, 2, 2, 4),
		fields{0: uint8(0), 1: 2, 2: 2, 3: 1, 4: uint8(0)})

	// Channels to space, joined along the channels, and read out in TFLite's order.
	space := m.op(opDepthToSpace, []int{depth}, m.tensor(1, 4, 4, 1), fields{0: 2})
	both := m.op(opConcat, []int{conv, space}, m.tensor(1, 4, 4, 5), fields{0: 3})
	flat := m.op(opReshape, []int{both, m.integers([]int{1, 80}, 2)}, m.tensor(1, 80), nil)

	// Channel padding that feeds an addition.
	morech := m.op(opPad, []int{space, m.integers([]int{0, 0, 0, 0, 0, 0, 0, 3}, 4, 2)}, m.tensor(1, 4, 4, 4), nil)
	sum := m.op(opAdd, []int{morech, conv}, m.tensor(1, 4, 4, 4), fields{0: uint8(3)})

	// Something nobody asks for, with an operator that is not supported.
	unused := m.op(opCode(99), []int{sum}, m.tensor(1, 7), nil)

	n, err := readNetwork(m.file([]int{in}, []int{unused, flat, sum, pool}))
	if err != nil {
		t.Fatal(err)
	}
	model, inPort, outPorts, err := convert(n, []int{1, 8, 8, 3}, []int{1, 80}, []int{1, 4, 4, 4}, []int{1, 4, 4, 3})
	if err != nil {
		t.Fatal(err)
	}
	s, err := newSession(lib, model, inPort, outPorts, 1)
	if err != nil {
		t.Fatal(err)
	}
	defer s.close()
	picture := nhwc{8, 8, 3, random(8 * 8 * 3)}
	for y := range 8 {
		for x := range 8 {
			for c := range 3 {
				s.in[c*64+y*8+x] = picture.at(y, x, c)
			}
		}
	}
	if err := s.run(); err != nil {
		t.Fatal(err)
	}
	a := picture.conv(w1, b1, 3, 4, 2, 1, 1, 4, 4, false, true)
	d := a.conv(w2, b2, 3, 4, 2, 0, 0, 2, 2, true, false)
	at := func(y, x int) float32 { return d.at(y/2, x/2, y%2*2+x%2) }
	near := func(what string, got, want float32) {
		t.Helper()
		if math.Abs(float64(got-want)) > 1e-4 {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
	for y := range 4 {
		for x := range 4 {
			for c := range 4 {
				near(fmt.Sprintf("convolution at %d, %d, %d", y, x, c), s.out[0][(y*4+x)*5+c], a.at(y, x, c))
				want := a.at(y, x, c)
				if c == 0 {
					want += at(y, x)
				}
				near(fmt.Sprintf("sum at %d, %d, %d", y, x, c), s.out[1][c*16+y*4+x], min(max(want, 0), 6))
			}
			near(fmt.Sprintf("depth to space at %d, %d", y, x), s.out[0][(y*4+x)*5+4], at(y, x))
		}
	}
	// Ten pixels in windows of three take two more: one before, one after, and
	// neither counts.
	for y := range 4 {
		for x := range 4 {
			for c := range 3 {
				want := float32(math.Inf(-1))
				for i := 3*y - 1; i < 3*y+2; i++ {
					for j := 3*x - 1; j < 3*x+2; j++ {
						if i >= 0 && j >= 0 && i < 10 && j < 10 {
							want = max(want, 2*picture.at(i-1, j-1, c))
						}
					}
				}
				near(fmt.Sprintf("pooling at %d, %d, %d", y, x, c), s.out[2][c*16+y*4+x], want)
			}
		}
	}
}

func TestConvertRefuses(t *testing.T) {
	simple := func() (*fileBuilder, int) {
		m := newFile()
		return m, m.tensor(1, 4, 4, 1)
	}
	for _, c := range []struct {
		name, want string
		file       func() []byte
	}{
		{"another input", "it is not the model expected", func() []byte {
			m := newFile()
			in := m.tensor(1, 5, 5, 1)
			return m.file([]int{in}, []int{m.op(opLogistic, []int{in}, m.tensor(1, 5, 5, 1), nil)})
		}},
		{"no such output", "no output of shape", func() []byte {
			m, in := simple()
			return m.file([]int{in}, []int{m.op(opLogistic, []int{in}, m.tensor(1, 4, 4, 2), nil)})
		}},
		{"strange operator", "not supported", func() []byte {
			m, in := simple()
			return m.file([]int{in}, []int{m.op(opCode(77), []int{in}, m.tensor(1, 4, 4, 1), nil)})
		}},
		{"loop", "later one writes", func() []byte {
			m, in := simple()
			a, b := m.tensor(1, 4, 4, 1), m.tensor(1, 4, 4, 1)
			m.op(opAdd, []int{in, b}, a, nil)
			m.op(opLogistic, []int{a}, b, nil)
			return m.file([]int{in}, []int{b})
		}},
		{"weights that are no constant", "not a constant", func() []byte {
			m, in := simple()
			return m.file([]int{in}, []int{m.op(opConv, []int{in, m.tensor(1, 1, 1, 1)}, m.tensor(1, 4, 4, 1), fields{1: 1, 2: 1})})
		}},
		{"pooling of a padding", "padded tensor", func() []byte {
			m, in := simple()
			p := m.op(opPad, []int{in, m.integers(make([]int, 8), 4, 2)}, m.tensor(1, 4, 4, 1), nil)
			return m.file([]int{in}, []int{m.op(opMaxPool, []int{p}, m.tensor(1, 4, 4, 1), fields{1: 1, 2: 1, 3: 1, 4: 1})})
		}},
		{"two writers", "two operators", func() []byte {
			m, in := simple()
			out := m.tensor(1, 4, 4, 1)
			m.op(opLogistic, []int{in}, out, nil)
			m.op(opLogistic, []int{in}, out, nil)
			return m.file([]int{in}, []int{out})
		}},
	} {
		n, err := readNetwork(c.file())
		if err == nil {
			_, _, _, err = convert(n, []int{1, 4, 4, 1}, []int{1, 4, 4, 1})
		}
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want an error with %q", c.name, err, c.want)
		}
	}
}

func smallFile() []byte {
	m := newFile()
	in := m.tensor(1, 4, 4, 1)
	padded := m.op(opPad, []int{in, m.integers([]int{0, 0, 1, 1, 1, 1, 0, 0}, 4, 2)}, m.tensor(1, 6, 6, 1), nil)
	out := m.op(opConv, []int{padded, m.floats(make([]float32, 9), 1, 3, 3, 1), m.floats([]float32{0}, 1)}, m.tensor(1, 4, 4, 1), fields{0: uint8(1), 1: 1, 2: 1})
	m.tensors[len(m.tensors)-3][6] = fields{0: []int{0, 1, 2, 3}, 2: []fields{{1: 1}, {1: 3}, {1: 3}, {0: uint8(1), 1: 1, 2: uint8(3), 3: fields{0: []byte{0, 1, 2, 3, 4, 5, 6, 7, 8, 9}}, 4: uint8(3), 5: fields{0: make([]byte, 9)}}}}
	return m.file([]int{in}, []int{out})
}

func TestReadNetworkEveryByteDamaged(t *testing.T) {
	good := smallFile()
	n, err := readNetwork(good)
	if err != nil {
		t.Fatal(err)
	}
	if _, _, _, err := convert(n, []int{1, 4, 4, 1}, []int{1, 4, 4, 1}); err != nil {
		t.Fatal(err)
	}
	for i := range good {
		for _, v := range []byte{0, 1, 0x7f, 0x80, 0xff} {
			b := bytes.Clone(good)
			b[i] = v
			tryConvert(b)
		}
		tryConvert(good[:i])
	}
}

func tryConvert(b []byte) {
	if n, err := readNetwork(b); err == nil {
		_, _, _, _ = convert(n, []int{1, 4, 4, 1}, []int{1, 4, 4, 1})
	}
}

func FuzzReadNetwork(f *testing.F) {
	f.Add([]byte{})
	f.Add([]byte("\x08\x00\x00\x00TFL3"))
	f.Add(smallFile())
	f.Fuzz(func(_ *testing.T, b []byte) { tryConvert(b) })
}
