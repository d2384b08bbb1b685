package steprate

import (
	"fmt"
	"math"
)

// slopeSD is how much runners differ in what their step rate rises with speed,
// steps a minute for 1 m/s (own estimate, about that of Burns 2019).
const slopeSD = 4

// speedsDiffer is the difference of two speeds, m/s, from which one is called
// faster.
const speedsDiffer = 0.1

// CompareRates holds two step rates against each other at equal speed: the later
// one is carried to the speed of the earlier by what step rate rises with speed
// (Burns 2019, 5.6 for 1 m/s), and the doubt in that widens the interval. Without
// both speeds it cannot be told whether the steps or the runner became quicker.
func CompareRates(before, now Rate) Comparison {
	c := Comparison{RawChange: now.PerMin - before.PerMin, SpeedMPS: before.SpeedMPS, SpeedChange: math.NaN(), Change: math.NaN(), Low: math.NaN(), High: math.NaN()}
	if !(before.PerMin > 0) || !(now.PerMin > 0) || math.IsNaN(before.SEM+now.SEM) {
		c.Verdict, c.Text = CannotTell, "The step rate of one of the two is not known."
		return c
	}
	if !(before.SpeedMPS > 0) || !(now.SpeedMPS > 0) {
		c.Verdict, c.Text = CannotTell, "The speed of one of the two is not known, so quicker steps and a faster run cannot be told apart."
		return c
	}
	c.SpeedChange = now.SpeedMPS - before.SpeedMPS
	c.Change = c.RawChange - burnsPerMPS*c.SpeedChange
	half := 1.96 * math.Hypot(math.Hypot(before.SEM, now.SEM), slopeSD*c.SpeedChange)
	c.Low, c.High = c.Change-half, c.Change+half
	c.settle()
	return c
}

// settle says what the change at equal speed amounts to.
func (c *Comparison) settle() {
	v := c.SpeedMPS
	switch {
	case c.Low > 0:
		c.Verdict = Quicker
		c.Text = fmt.Sprintf("Quicker steps: %+.1f a minute (%.1f to %.1f) at the same %.2f m/s.", c.Change, c.Low, c.High, v)
	case c.High < 0:
		c.Verdict = Slower
		c.Text = fmt.Sprintf("Slower steps: %+.1f a minute (%.1f to %.1f) at the same %.2f m/s.", c.Change, c.Low, c.High, v)
	case c.SpeedChange > speedsDiffer && c.RawChange > 0.5:
		c.Verdict = JustFaster
		c.Text = fmt.Sprintf("Just faster: the run was %.2f m/s faster and the steps %.1f a minute quicker with that; at the same %.2f m/s the change is %+.1f (%.1f to %.1f).", c.SpeedChange, c.RawChange, v, c.Change, c.Low, c.High)
	case c.High-c.Low > 12:
		c.Verdict = CannotTell
		c.Text = fmt.Sprintf("Too little to tell: %+.1f a minute, anywhere from %.1f to %.1f.", c.Change, c.Low, c.High)
	default:
		c.Verdict = NoChange
		c.Text = fmt.Sprintf("No real change: %+.1f a minute (%.1f to %.1f) at the same %.2f m/s.", c.Change, c.Low, c.High, v)
	}
}
