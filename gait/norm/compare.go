package norm

import (
	"fmt"
	"math"

	"gaitwright/gait/measure"
)

// Verdict is where a value lies against a range.
type Verdict uint8

// The verdicts. AtBorder means that the error reaches across an end of the range,
// so that the measurement cannot tell; Unknown that there is no value or no
// error.
const (
	Unknown Verdict = iota
	Inside
	AtBorder
	Below
	Above
)

// String returns "inside", "at the border", "below", "above" or "cannot be said".
func (v Verdict) String() string {
	return [...]string{"cannot be said", "inside", "at the border", "below", "above"}[v]
}

// Comparison is a measure held against a row.
type Comparison struct {
	Row       Row
	Verdict   Verdict
	Low, High float64 // the range; an open end is infinite
	// Margin is how far the value may be off, in its unit: 1.96 SEM, and what
	// found the landmarks' known bias on the side on which the truth then lies.
	MarginBelow, MarginAbove float64
	Reason                   string // why nothing can be said
}

// Compare holds a measure against a row. A value is called outside only where its
// error does not reach back to the border.
func Compare(m measure.Measure, r Row) Comparison {
	c := Comparison{Row: r}
	c.Low, c.High = r.Range()
	switch {
	case m.Name != r.Measure:
		c.Reason = fmt.Sprintf("the range is of %s, not of %s", r.Measure, m.Name)
	case !r.Usable():
		c.Reason = "the range is of low confidence and no norm"
	case m.Withheld():
		c.Reason = "the measure was withheld"
	case math.IsNaN(m.SEM):
		c.Reason = "the error of the measure is not known"
	}
	if c.Reason != "" {
		return c
	}
	c.MarginBelow, c.MarginAbove = 1.96*m.SEM, 1.96*m.SEM
	if m.Bias > 0 { // read high: the truth may be lower
		c.MarginBelow += m.Bias
	} else {
		c.MarginAbove -= m.Bias
	}
	// The truth lies from least to most.
	least, most := m.Value-c.MarginBelow, m.Value+c.MarginAbove
	switch {
	case most < c.Low:
		c.Verdict = Below
	case least > c.High:
		c.Verdict = Above
	case least >= c.Low && most <= c.High:
		c.Verdict = Inside
	default:
		c.Verdict = AtBorder
	}
	return c
}
