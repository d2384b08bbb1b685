package steprate

import (
	"fmt"
	"math"
)

// Landing is what the film shows of the landing; NaN where not known.
type Landing struct {
	// Overstriding is true where a finding of landing ahead, slow steps or much
	// bounce was accepted.
	Overstriding bool
	// Reason says which.
	Reason string
	// Undecided names such findings that were neither accepted nor rejected yet.
	Undecided string
}

// Anchor is a figure that points to a target, and is not one.
type Anchor struct {
	PerMin float64
	Within float64 // half the band in which it is good
	Name   string
	Source string
}

// Target is what the ramp goes to.
type Target struct {
	// None says why there is no target; empty where there is one.
	None string
	// PerMin is proposed, a whole number; Least and Most are 5 and 10 percent above
	// the baseline.
	PerMin, Least, Most float64
	Anchors             []Anchor
	// Why says in a sentence how PerMin came about.
	Why string
	// Contested are numbers in the list of contested points.
	Contested []int
}

// Limits of a change, percent of the baseline: the span of the trials
// (Heiderscheit 2011, Med Sci Sports Exerc 43:296; Willy 2016, Scand J Med Sci
// Sports 26:197).
const (
	LeastPercent = 5
	MostPercent  = 10
)

// Burns 2019 (J Appl Physiol 126:462): 20 elite runners in a 100-km race, mean
// 182.0 steps a minute; slopes with stature and speed. The mean stature and speed
// to which they belong are from memory.
const (
	burnsMean     = 182.0
	burnsStatureM = 1.75
	burnsSpeedMPS = 3.6
	burnsPerM     = -123.1
	burnsPerMPS   = 5.6
	burnsBand     = 15
)

// ByStature is the step rate of the regression at a stature and speed.
func ByStature(heightM, speedMPS float64) float64 {
	return burnsMean + burnsPerM*(heightM-burnsStatureM) + burnsPerMPS*(speedMPS-burnsSpeedMPS)
}

// ByTrade is the rule of the trade: 190 for the short, 180 for most, 170 for the
// tall (common practice; where short and tall begin is our own reading: 1.65 and
// 1.85 m).
func ByTrade(heightM float64) float64 {
	switch {
	case heightM < 1.65:
		return 190
	case heightM > 1.85:
		return 170
	}
	return 180
}

// TargetFor proposes a target. heightM is 0 where not known.
func TargetFor(base Rate, heightM float64, landing Landing) Target {
	t := Target{Least: base.PerMin * (1 + LeastPercent/100.0), Most: base.PerMin * (1 + MostPercent/100.0), Contested: []int{1, 2, 5}}
	if heightM > 0 {
		t.Anchors = append(t.Anchors, Anchor{ByTrade(heightM), 0, "rule of the trade for this height", "common practice; no trial stands behind it"})
		if base.SpeedMPS > 0 {
			t.Anchors = append(t.Anchors, Anchor{ByStature(heightM, base.SpeedMPS), burnsBand, "elite runners of this height at this speed",
				"Burns, Zendler & Zernicke 2019, J Appl Physiol 126:462 (slopes; the means they belong to from memory)"})
		}
	}
	if !landing.Overstriding && landing.Undecided != "" {
		t.None = fmt.Sprintf("Seen and not decided yet: %s. Accept or reject it at the station Findings, or say here whether the landing asks for quicker steps.", landing.Undecided)
		return t
	}
	if !landing.Overstriding {
		t.None = "The landing asks for none: no accepted finding of a foot that lands far ahead, of slow steps for this speed or of a large bounce. Quicker steps for their own sake have nothing behind them."
		return t
	}
	if base.PerMin+1.96*base.SEM < 100 || base.PerMin > 210 {
		t.None = fmt.Sprintf("A baseline of %.0f steps a minute cannot be right.", base.PerMin)
		return t
	}
	// The middle of the span, drawn toward the anchors and held within it.
	want := base.PerMin * 1.075
	t.Why = fmt.Sprintf("7.5 %% above %.0f, the middle of what the trials changed", base.PerMin)
	if len(t.Anchors) > 0 {
		sum := 0.0
		for _, a := range t.Anchors {
			sum += a.PerMin
		}
		mean := sum / float64(len(t.Anchors))
		if mean < base.PerMin+1 {
			t.None = fmt.Sprintf("%.0f steps a minute are already what runners of this height take; look for another way to land closer.", base.PerMin)
			return t
		}
		want = min(max(mean, t.Least), t.Most)
		t.Why = fmt.Sprintf("the anchors point to %.0f, held within 5 to 10 %% above %.0f", mean, base.PerMin)
	}
	t.PerMin = min(math.Floor(t.Most), max(math.Ceil(t.Least), math.Round(want)))
	if landing.Reason != "" {
		t.Why += "; because of: " + landing.Reason
	}
	return t
}
