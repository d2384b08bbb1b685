package retest

import (
	"gaitwright/gait/body"
	"gaitwright/gait/exam"
)

// WithExam adds the tests of the exam that were done at both visits, and counts
// them with all else that was looked at.
func (c Comparison) WithExam(before, after exam.Report) Comparison {
	type key struct {
		test  string
		side  body.Side
		stage string
	}
	first := map[key]exam.Reading{}
	for _, r := range before.Readings {
		first[key{r.Test.Name, r.Side, r.Stage}] = r
	}
	done := map[key]bool{}
	c.Changes = append([]Change(nil), c.Changes...)
	for _, r := range after.Readings {
		k := key{r.Test.Name, r.Side, r.Stage}
		done[k] = true
		x, ok := first[k]
		if !ok {
			x = exam.Reading{Test: r.Test}
		}
		c.Changes = append(c.Changes, tested(x, r, !ok, false))
	}
	for _, r := range before.Readings {
		if k := (key{r.Test.Name, r.Side, r.Stage}); !done[k] {
			c.Changes = append(c.Changes, tested(r, exam.Reading{Test: r.Test, Side: r.Side, Stage: r.Stage}, false, true))
		}
	}
	c.count()
	return c
}

// tested is a test at two visits.
func tested(a, b exam.Reading, notBefore, notNow bool) Change {
	c := unknown(b.Test.Name, b.Side)
	c.Test, c.Stage, c.Unit = true, b.Stage, b.Test.Unit
	switch {
	case notBefore || !a.HasValue() && !a.Stopped:
		c.Why = Reason{Code: "not_before"}
	case notNow || !b.HasValue() && !b.Stopped:
		c.Why = Reason{Code: "not_now"}
	case a.Stopped || b.Stopped:
		c.Why = Reason{Code: "pain"}
	case !(a.SEM > 0) || !(b.SEM > 0):
		c.Why = Reason{Code: "error"}
	default:
		c.judge(a.Value, b.Value, a.SEM, b.SEM, 0)
	}
	return c
}
