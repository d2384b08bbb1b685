package norm_test

import (
	"fmt"

	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
	"gaitwright/gait/norm"
)

func ExampleCompare() {
	rows := norm.BuiltIn().Lookup("trunk_lean", norm.Conditions{View: clip.LeftSide, SpeedMPS: 3.4})
	fmt.Println(rows[0].RangeText(), "·", rows[0].Source)
	for _, lean := range []float64{9, 14, 21} {
		m := measure.Measure{Name: "trunk_lean", Unit: "deg", Value: lean, SEM: 2}
		fmt.Println(lean, norm.Compare(m, rows[0]).Verdict)
	}
	// Output:
	// -0.3 to 14.9 · Teng & Powers 2014, J Orthop Sports Phys Ther 44:785-792
	// 9 inside
	// 14 at the border
	// 21 above
}
