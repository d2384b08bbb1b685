package pose

import (
	"fmt"
	"slices"
	"strconv"
)

// A port is an input or output of a converted network. Four-dimensional ports
// are in channel-first order.
type port struct {
	name string
	dims []int
}

func (p port) elements() int {
	n := 1
	for _, d := range p.dims {
		n *= d
	}
	return n
}

// convert turns a TFLite network into an ONNX model (opset 13, channel first)
// that gives only the outputs with the wanted shapes, as the TFLite file states
// them, in that order; its input must have the shape given. Whatever only the other outputs need is left out.
//
// Padding is folded into the convolutions that read it; a PAD that feeds
// something else as well is kept for that. Constants stored as float16 or
// sparse become dense float32.
func convert(n *network, from []int, wanted ...[]int) (model []byte, input port, outputs []port, err error) {
	if len(n.inputs) != 1 {
		return nil, port{}, nil, fmt.Errorf("the network has %d inputs where one is expected", len(n.inputs))
	}
	c := &converter{n: n, g: new(graph), maker: map[int]int{}, made: map[int]bool{}}
	for k, o := range n.ops {
		if _, twice := c.maker[o.outputs[0]]; twice {
			return nil, port{}, nil, fmt.Errorf("tensor %d is the output of two operators", o.outputs[0])
		}
		c.maker[o.outputs[0]] = k
	}
	in := n.inputs[0]
	if !slices.Equal(n.tensors[in].shape, from) {
		return nil, port{}, nil, fmt.Errorf("the network reads %v where %v is expected: it is not the model expected here", n.tensors[in].shape, from)
	}
	c.made[in] = true
	input = port{value(in), channelFirst(n.tensors[in].shape)}
	c.g.input(input.name, input.dims)
	var ends []int
	for _, w := range wanted {
		at := slices.IndexFunc(n.outputs, func(i int) bool { return slices.Equal(n.tensors[i].shape, w) })
		if at < 0 {
			return nil, port{}, nil, fmt.Errorf("the network has no output of shape %v: it is not the model expected here", w)
		}
		i := n.outputs[at]
		ends = append(ends, i)
		outputs = append(outputs, port{value(i), channelFirst(w)})
	}
	needed, err := c.reach(ends)
	if err != nil {
		return nil, port{}, nil, err
	}
	for k, o := range n.ops {
		if !needed[k] || o.code == opPad || o.code == opDequantize || o.code == opDensify {
			continue // these three are emitted by what reads them
		}
		if err := c.emit(o); err != nil {
			return nil, port{}, nil, fmt.Errorf("operator %d (code %d): %w", k, o.code, err)
		}
		c.made[o.outputs[0]] = true
	}
	for k, i := range ends {
		if _, err := c.activation(i); err != nil {
			return nil, port{}, nil, err
		}
		c.g.output(outputs[k].name, outputs[k].dims)
	}
	return c.g.model(), input, outputs, nil
}

type converter struct {
	n     *network
	g     *graph
	maker map[int]int  // tensor → operator whose output it is
	made  map[int]bool // tensors that have a value in the ONNX graph
	extra int
}

func value(tensor int) string { return "t" + strconv.Itoa(tensor) }

func (c *converter) fresh() string {
	c.extra++
	return "x" + strconv.Itoa(c.extra)
}

func channelFirst(shape []int) []int {
	if len(shape) != 4 {
		return shape
	}
	return []int{shape[0], shape[3], shape[1], shape[2]}
}

// reach marks the operators on which the tensors depend.
func (c *converter) reach(ends []int) (map[int]bool, error) {
	needed := map[int]bool{}
	work := slices.Clone(ends)
	for len(work) > 0 {
		t := work[len(work)-1]
		work = work[:len(work)-1]
		k, ok := c.maker[t]
		if !ok || needed[k] {
			continue
		}
		needed[k] = true
		for _, i := range c.n.ops[k].inputs {
			if m, ok := c.maker[i]; ok && m >= k {
				return nil, fmt.Errorf("operator %d reads what a later one writes", k)
			}
			if i >= 0 {
				work = append(work, i)
			}
		}
	}
	return needed, nil
}

// constant returns the dense values of a constant tensor, through the operators
// that widen or expand it.
func (c *converter) constant(i int) ([]float32, error) {
	for i >= 0 {
		t := c.n.tensors[i]
		if t.data != nil {
			return t.floats()
		}
		k, ok := c.maker[i]
		if !ok {
			break
		}
		o := c.n.ops[k]
		if o.code != opDequantize && o.code != opDensify {
			break
		}
		i = o.inputs[0] // an earlier operator's output: reach has checked the order
	}
	return nil, fmt.Errorf("tensor %d is not a constant", i)
}

// activation returns the name under which tensor i is known in the ONNX graph,
// and emits the padding that makes it where that has been put off.
func (c *converter) activation(i int) (string, error) {
	if i < 0 {
		return "", fmt.Errorf("an input is missing")
	}
	if c.made[i] {
		return value(i), nil
	}
	k, ok := c.maker[i]
	if !ok || c.n.ops[k].code != opPad {
		return "", fmt.Errorf("tensor %d is used before it is made", i)
	}
	o := c.n.ops[k]
	p, err := c.paddings(o)
	if err != nil {
		return "", err
	}
	from, err := c.activation(o.inputs[0])
	if err != nil {
		return "", err
	}
	pads := c.fresh()
	c.g.integers(pads, []int{p[0], p[6], p[2], p[4], p[1], p[7], p[3], p[5]})
	c.g.node("Pad", []string{from, pads}, value(i))
	c.made[i] = true
	return value(i), nil
}

// paddings returns the eight numbers of a PAD: before and after in each of the
// dimensions N, H, W, C.
func (c *converter) paddings(o operation) ([]int, error) {
	if len(o.inputs) < 2 || o.inputs[1] < 0 {
		return nil, fmt.Errorf("a padding has no amounts")
	}
	t := c.n.tensors[o.inputs[1]]
	p, err := t.integers()
	if err != nil {
		return nil, err
	}
	if len(p) != 8 || slices.Min(p) < 0 {
		return nil, fmt.Errorf("a padding of %v is not supported", p)
	}
	return p, nil
}

func (c *converter) shape4(i int) ([]int, error) {
	if i < 0 || len(c.n.tensors[i].shape) != 4 {
		return nil, fmt.Errorf("tensor %d has not the four dimensions expected", i)
	}
	return c.n.tensors[i].shape, nil
}

// finish emits node op and the fused activation behind it, so that the result
// is known as tensor out.
func (c *converter) finish(fused uint8, out int, op string, inputs []string, attrs ...attribute) error {
	name := value(out)
	raw := name
	if fused != 0 {
		raw = c.fresh()
	}
	c.g.node(op, inputs, raw, attrs...)
	switch fused {
	case 0:
	case 1:
		c.g.node("Relu", []string{raw}, name)
	case 3:
		low, high := c.fresh(), c.fresh()
		c.g.floats(low, nil, []float32{0})
		c.g.floats(high, nil, []float32{6})
		c.g.node("Clip", []string{raw, low, high}, name)
	default:
		return fmt.Errorf("the fused activation %d is not supported", fused)
	}
	return nil
}

func (c *converter) emit(o operation) error {
	out := o.outputs[0]
	switch o.code {
	case opConv, opDepthwise:
		return c.convolution(o)
	case opMaxPool:
		return c.maxPool(o)
	case opAdd:
		if len(o.inputs) != 2 || o.inputs[0] < 0 || o.inputs[1] < 0 ||
			!slices.Equal(c.n.tensors[o.inputs[0]].shape, c.n.tensors[o.inputs[1]].shape) {
			return fmt.Errorf("an addition of unlike shapes is not supported")
		}
		names, err := c.activations(o.inputs)
		if err != nil {
			return err
		}
		return c.finish(o.options.u8(0, 0), out, "Add", names)
	case opLogistic:
		names, err := c.activations(o.inputs[:1])
		if err != nil {
			return err
		}
		return c.finish(0, out, "Sigmoid", names)
	case opConcat:
		names, err := c.activations(o.inputs)
		if err != nil {
			return err
		}
		rank := len(c.n.tensors[out].shape)
		axis := o.options.i32(0, 0)
		if axis < 0 {
			axis += rank
		}
		if axis < 0 || axis >= rank {
			return fmt.Errorf("a concatenation along axis %d of %d", axis, rank)
		}
		if rank == 4 {
			axis = [...]int{0, 2, 3, 1}[axis]
		}
		return c.finish(o.options.u8(1, 0), out, "Concat", names, attribute{name: "axis", ints: []int{axis}, one: true})
	case opDepthToSpace:
		if _, err := c.shape4(o.inputs[0]); err != nil {
			return err
		}
		names, err := c.activations(o.inputs[:1])
		if err != nil {
			return err
		}
		return c.finish(0, out, "DepthToSpace", names,
			attribute{name: "blocksize", ints: []int{o.options.i32(0, 0)}, one: true}, attribute{name: "mode", text: "DCR"})
	case opResize:
		return c.resize(o)
	case opReshape:
		return c.reshape(o)
	}
	return fmt.Errorf("this kind of operator is not supported")
}

func (c *converter) activations(list []int) ([]string, error) {
	names := make([]string, len(list))
	for k, i := range list {
		var err error
		if names[k], err = c.activation(i); err != nil {
			return nil, err
		}
	}
	return names, nil
}

// samePads returns the padding before and after that TFLite's SAME means: the
// odd one goes after.
func samePads(size, kernel, stride, dilation int) (before, after int) {
	out := (size + stride - 1) / stride
	total := max(0, (out-1)*stride+(kernel-1)*dilation+1-size)
	return total / 2, total - total/2
}

func (c *converter) convolution(o operation) error {
	if len(o.inputs) < 2 {
		return fmt.Errorf("a convolution without weights")
	}
	in, wt, out := o.inputs[0], o.inputs[1], o.outputs[0]
	w, err := c.shape4(wt)
	if err != nil {
		return err
	}
	depthwise := o.code == opDepthwise
	opt := o.options
	sx, sy := opt.i32(1, 0), opt.i32(2, 0)
	fused, dx, dy := opt.u8(3, 0), opt.i32(4, 1), opt.i32(5, 1)
	if depthwise {
		fused, dx, dy = opt.u8(4, 0), opt.i32(5, 1), opt.i32(6, 1)
	}
	if min(sx, sy, dx, dy) < 1 || max(sx, sy, dx, dy) > 64 {
		return fmt.Errorf("a convolution with stride %d×%d and dilation %d×%d", sx, sy, dx, dy)
	}
	valid := opt.u8(0, 0) == 1
	pads := make([]int, 4) // top, left, bottom, right
	if k, ok := c.maker[in]; ok && valid && c.n.ops[k].code == opPad {
		p, err := c.paddings(c.n.ops[k])
		if err != nil {
			return err
		}
		if p[0]+p[1]+p[6]+p[7] == 0 {
			in = c.n.ops[k].inputs[0]
			pads = []int{p[2], p[4], p[3], p[5]}
		}
	}
	shape, err := c.shape4(in)
	if err != nil {
		return err
	}
	if !valid {
		pads[0], pads[2] = samePads(shape[1], w[1], sy, dy)
		pads[1], pads[3] = samePads(shape[2], w[2], sx, dx)
	}
	group := 1
	if depthwise {
		group = shape[3]
		if w[0] != 1 || w[3]%group != 0 {
			return fmt.Errorf("depthwise weights %v for %d channels", w, group)
		}
	} else if w[3] != shape[3] {
		return fmt.Errorf("weights %v for %d channels", w, shape[3])
	}
	name, err := c.activation(in)
	if err != nil {
		return err
	}
	v, err := c.constant(wt)
	if err != nil {
		return err
	}
	if len(v) != w[0]*w[1]*w[2]*w[3] {
		return fmt.Errorf("%d weights for a shape of %v", len(v), w)
	}
	weights := c.fresh()
	area := w[1] * w[2]
	moved := make([]float32, len(v))
	if depthwise {
		for k := range area {
			for ch := range w[3] {
				moved[ch*area+k] = v[k*w[3]+ch]
			}
		}
		c.g.floats(weights, []int{w[3], 1, w[1], w[2]}, moved)
	} else {
		for f := range w[0] {
			for k := range area {
				for ch := range w[3] {
					moved[(f*w[3]+ch)*area+k] = v[(f*area+k)*w[3]+ch]
				}
			}
		}
		c.g.floats(weights, []int{w[0], w[3], w[1], w[2]}, moved)
	}
	inputs := []string{name, weights}
	if len(o.inputs) > 2 && o.inputs[2] >= 0 {
		b, err := c.constant(o.inputs[2])
		if err != nil {
			return err
		}
		bias := c.fresh()
		c.g.floats(bias, []int{len(b)}, b)
		inputs = append(inputs, bias)
	}
	return c.finish(fused, out, "Conv", inputs,
		attribute{name: "kernel_shape", ints: []int{w[1], w[2]}},
		attribute{name: "strides", ints: []int{sy, sx}},
		attribute{name: "dilations", ints: []int{dy, dx}},
		attribute{name: "pads", ints: pads},
		attribute{name: "group", ints: []int{group}, one: true})
}

func (c *converter) maxPool(o operation) error {
	shape, err := c.shape4(o.inputs[0])
	if err != nil {
		return err
	}
	opt := o.options
	sx, sy, kx, ky := opt.i32(1, 0), opt.i32(2, 0), opt.i32(3, 0), opt.i32(4, 0)
	if min(sx, sy, kx, ky) < 1 || max(sx, sy, kx, ky) > 1024 {
		return fmt.Errorf("a pooling with stride %d×%d and window %d×%d", sx, sy, kx, ky)
	}
	pads := make([]int, 4)
	if opt.u8(0, 0) == 0 {
		pads[0], pads[2] = samePads(shape[1], ky, sy, 1)
		pads[1], pads[3] = samePads(shape[2], kx, sx, 1)
	}
	if k, ok := c.maker[o.inputs[0]]; ok && c.n.ops[k].code == opPad {
		// ONNX Runtime 1.30 folds the padding into the pooling and thereby loses
		// the zeros: found by a test of ours.
		return fmt.Errorf("a pooling of a padded tensor is not supported")
	}
	name, err := c.activation(o.inputs[0])
	if err != nil {
		return err
	}
	return c.finish(opt.u8(5, 0), o.outputs[0], "MaxPool", []string{name},
		attribute{name: "kernel_shape", ints: []int{ky, kx}},
		attribute{name: "strides", ints: []int{sy, sx}},
		attribute{name: "pads", ints: pads})
}

func (c *converter) resize(o operation) error {
	if o.options.u8(2, 0) != 0 || o.options.u8(3, 0) != 1 {
		return fmt.Errorf("a resizing without half-pixel centres is not supported")
	}
	shape, err := c.shape4(o.outputs[0])
	if err != nil {
		return err
	}
	name, err := c.activation(o.inputs[0])
	if err != nil {
		return err
	}
	sizes := c.fresh()
	c.g.integers(sizes, channelFirst(shape))
	return c.finish(0, o.outputs[0], "Resize", []string{name, "", "", sizes},
		attribute{name: "mode", text: "linear"}, attribute{name: "coordinate_transformation_mode", text: "half_pixel"})
}

// reshape keeps TFLite's meaning, in which channels run fastest: the tensor is
// turned to that order before, and back after, where it has four dimensions.
func (c *converter) reshape(o operation) error {
	name, err := c.activation(o.inputs[0])
	if err != nil {
		return err
	}
	from, to := c.n.tensors[o.inputs[0]], c.n.tensors[o.outputs[0]]
	if from.elements() != to.elements() {
		return fmt.Errorf("a reshaping of %v to %v", from.shape, to.shape)
	}
	if s := from.shape; len(s) == 4 && s[1]*s[2] > 1 {
		turned := c.fresh()
		c.g.node("Transpose", []string{name}, turned, attribute{name: "perm", ints: []int{0, 2, 3, 1}})
		name = turned
	}
	shape := c.fresh()
	c.g.integers(shape, to.shape)
	if len(to.shape) != 4 {
		c.g.node("Reshape", []string{name, shape}, value(o.outputs[0]))
		return nil
	}
	flat := c.fresh()
	c.g.node("Reshape", []string{name, shape}, flat)
	c.g.node("Transpose", []string{flat}, value(o.outputs[0]), attribute{name: "perm", ints: []int{0, 3, 1, 2}})
	return nil
}
