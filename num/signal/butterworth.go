package signal

import (
	"fmt"
	"math"
)

// Damping chooses the shape of the low-pass filter.
type Damping uint8

// The shapes. Butterworth is flat in the pass band and overshoots a step by a
// few per cent; CriticallyDamped does not overshoot and cuts less sharply.
const (
	Butterworth Damping = iota
	CriticallyDamped
)

// Coefficients are those of one pass of a second-order low-pass filter,
//
//	y[i] = A0 x[i] + A1 x[i-1] + A2 x[i-2] + B1 y[i-1] + B2 y[i-2]
type Coefficients struct{ A0, A1, A2, B1, B2 float64 }

// Design returns the coefficients of one pass of a low-pass filter whose gain is
// 1/√2 at cutoffHz after the given number of passes (1, or 2 for zero lag), on
// samples rateHz a second (Winter 2009, from memory; package comment). The
// cut-off must lie between 0 and half the rate.
func Design(d Damping, cutoffHz, rateHz float64, passes int) (Coefficients, error) {
	if !(rateHz > 0) || math.IsInf(rateHz, 0) {
		return Coefficients{}, fmt.Errorf("a low-pass filter needs a sampling rate above 0 Hz, not %g", rateHz)
	}
	if !(cutoffHz > 0 && cutoffHz < rateHz/2) {
		return Coefficients{}, fmt.Errorf("a low-pass cut-off of %g Hz cannot be used at %g samples a second: it must lie between 0 and %g Hz", cutoffHz, rateHz, rateHz/2)
	}
	if passes < 1 {
		panic("signal: Design: passes must be 1 or more")
	}
	k, c := math.Sqrt2, math.Pow(math.Pow(2, 1/float64(passes))-1, 0.25)
	if d == CriticallyDamped {
		// Each pass has two real poles; n passes have 2n.
		k, c = 2, math.Sqrt(math.Pow(2, 1/(2*float64(passes)))-1)
	}
	w := math.Tan(math.Pi*cutoffHz/rateHz) / c
	k1, k2 := k*w, w*w
	a0 := k2 / (1 + k1 + k2)
	k3 := 2 * a0 / k2
	return Coefficients{A0: a0, A1: 2 * a0, A2: a0, B1: k3 - 2*a0, B2: 1 - 2*a0 - k3}, nil
}

// Gain returns the amplitude ratio of one pass at frequency fHz on samples
// rateHz a second. Two passes have its square.
func (c Coefficients) Gain(fHz, rateHz float64) float64 {
	s1, c1 := math.Sincos(2 * math.Pi * fHz / rateHz)
	s2, c2 := math.Sincos(4 * math.Pi * fHz / rateHz)
	num := math.Hypot(c.A0+c.A1*c1+c.A2*c2, -c.A1*s1-c.A2*s2)
	den := math.Hypot(1-c.B1*c1-c.B2*c2, c.B1*s1+c.B2*s2)
	return num / den
}

// ZeroLag is a low-pass filter run forward and backward, with its scratch
// memory. It is not safe for use by several goroutines at once.
type ZeroLag struct {
	c       Coefficients
	pad     int
	scratch []float64
}

// NewZeroLag returns the zero-lag filter with the given cut-off on samples
// rateHz a second; after both passes the gain at the cut-off is 1/√2.
func NewZeroLag(d Damping, cutoffHz, rateHz float64) (*ZeroLag, error) {
	c, err := Design(d, cutoffHz, rateHz, 2)
	if err != nil {
		return nil, err
	}
	// The filter forgets its start within about one period of the cut-off.
	pad := int(math.Ceil(1.5 * rateHz / cutoffHz))
	return &ZeroLag{c: c, pad: max(pad, 24)}, nil
}

// Apply writes the smoothed src to dst, which must be as long as src and may be
// src itself. Each run of finite values is smoothed by itself; NaN stays NaN,
// and runs shorter than four samples stay as they are.
func (f *ZeroLag) Apply(dst, src []float64) {
	if len(dst) != len(src) {
		panic("signal: ZeroLag.Apply: dst and src differ in length")
	}
	for from, to := range Runs(src) {
		if to-from < 4 {
			copy(dst[from:to], src[from:to])
			continue
		}
		f.run(dst[from:to], src[from:to])
	}
	if len(src) > 0 && &dst[0] != &src[0] {
		for i, v := range src {
			if math.IsNaN(v) {
				dst[i] = v
			}
		}
	}
}

func (f *ZeroLag) run(dst, src []float64) {
	l := f.lane(src)
	l.sweep(0, len(l.in))
	l.turn()
	l.sweep(0, l.pad+len(src))
	copy(dst, l.out[l.pad:])
}

// lane is a filter at work on one run of samples: twice it sweeps from in to out, each
// time turning the samples round. Between the sweeps it is turned.
type lane struct {
	c              Coefficients
	pad            int
	in, out        []float64 // the run with pad samples before and behind it
	x1, x2, y1, y2 float64   // the two samples before and what came of them
}

// lane returns a lane for src in the filter's scratch memory.
func (f *ZeroLag) lane(src []float64) lane {
	n := len(src)
	pad := min(f.pad, n-1)
	all := n + 2*pad
	if cap(f.scratch) < 2*all {
		f.scratch = make([]float64, 2*all)
	}
	s := f.scratch[:all]
	for k := 1; k <= pad; k++ {
		s[pad-k] = 2*src[0] - src[k]
		s[pad+n-1+k] = 2*src[n-1] - src[n-1-k]
	}
	copy(s[pad:], src)
	l := lane{c: f.c, pad: pad, in: s, out: f.scratch[all : 2*all]}
	l.start()
	return l
}

// start sets what came before the first sample. A straight line x of slope m comes out
// of one pass as x − m·lag; the pass starts as if such a line, of the padding's mean
// slope, had been running for ever.
func (l *lane) start() {
	c := l.c
	lag := (c.A1 + 2*c.A2 + c.B1 + 2*c.B2) / (1 - c.B1 - c.B2)
	m := (l.in[l.pad] - l.in[0]) / float64(max(l.pad, 1))
	l.x1, l.x2 = l.in[0]-m, l.in[0]-2*m
	l.y1, l.y2 = l.x1-m*lag, l.x2-m*lag
}

// turn makes what came out go in.
func (l *lane) turn() {
	l.in, l.out = l.out, l.in
	l.start()
}

// sweep passes the samples from, inclusive, to, exclusive.
func (l *lane) sweep(from, to int) {
	c, x1, x2, y1, y2 := l.c, l.x1, l.x2, l.y1, l.y2
	last := len(l.in) - 1
	for i := from; i < to; i++ {
		x := l.in[i]
		y := c.A0*x + c.A1*x1 + c.A2*x2 + c.B1*y1 + c.B2*y2
		x2, x1, y2, y1 = x1, x, y1, y
		l.out[last-i] = y
	}
	l.x1, l.x2, l.y1, l.y2 = x1, x2, y1, y2
}

// sweepBoth passes the first na and nb samples of two lanes. Each waits for what came of
// its last sample, so that two side by side take hardly longer than one.
func sweepBoth(a, b *lane, na, nb int) {
	n := min(na, nb)
	ac, ax1, ax2, ay1, ay2 := a.c, a.x1, a.x2, a.y1, a.y2
	bc, bx1, bx2, by1, by2 := b.c, b.x1, b.x2, b.y1, b.y2
	ain, bin := a.in[:n], b.in[:n]
	aout, bout := a.out[len(a.out)-n:], b.out[len(b.out)-n:]
	for i, ax := range ain {
		ay := ac.A0*ax + ac.A1*ax1 + ac.A2*ax2 + ac.B1*ay1 + ac.B2*ay2
		ax2, ax1, ay2, ay1 = ax1, ax, ay1, ay
		aout[n-1-i] = ay
		bx := bin[i]
		by := bc.A0*bx + bc.A1*bx1 + bc.A2*bx2 + bc.B1*by1 + bc.B2*by2
		bx2, bx1, by2, by1 = bx1, bx, by1, by
		bout[n-1-i] = by
	}
	a.x1, a.x2, a.y1, a.y2 = ax1, ax2, ay1, ay2
	b.x1, b.x2, b.y1, b.y2 = bx1, bx2, by1, by2
	a.sweep(n, na)
	b.sweep(n, nb)
}

// LowPass returns x, sampled rateHz times a second, smoothed by the zero-lag
// Butterworth filter.
func LowPass(x []float64, cutoffHz, rateHz float64) ([]float64, error) {
	f, err := NewZeroLag(Butterworth, cutoffHz, rateHz)
	if err != nil {
		return nil, err
	}
	out := make([]float64, len(x))
	f.Apply(out, x)
	return out, nil
}
