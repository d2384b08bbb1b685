package signal_test

import (
	"fmt"
	"math"

	"gaitwright/num/signal"
)

func ExampleDesign() {
	c, err := signal.Design(signal.Butterworth, 6, 60, 2)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("a0 %.8f  a1 %.8f  b1 %.8f  b2 %.8f\n", c.A0, c.A1, c.B1, c.B2)
	fmt.Printf("sum %.3f, gain after both passes at 6 Hz %.4f\n", c.A0+c.A1+c.A2+c.B1+c.B2, math.Pow(c.Gain(6, 60), 2))
	// Output:
	// a0 0.09444674  a1 0.18889349  b1 0.96264131  b2 -0.34042828
	// sum 1.000, gain after both passes at 6 Hz 0.7071
}

func ExampleFillGaps() {
	t := []float64{0, 0.02, 0.04, 0.06, 0.08}
	x := []float64{1, 2, math.NaN(), 4, 5}
	filled := signal.FillGaps(t, x, 0.1, signal.Cubic)
	fmt.Printf("%.1f %v\n", x, filled)
	// Output: [1.0 2.0 3.0 4.0 5.0] [false false true false false]
}

func ExamplePeaks() {
	t := []float64{0, 1, 2, 3, 4}
	for _, p := range signal.Peaks([]float64{0, 3, 4, 3.5, 0}, 1) {
		fmt.Printf("top of %.3f at %.3f s\n", p.Value, p.At(t))
	}
	// Output: top of 4.021 at 2.167 s
}
