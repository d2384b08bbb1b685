package exam

import (
	"fmt"
	"math"
	"slices"

	"gaitwright/gait/body"
)

// Trial is one attempt.
type Trial struct {
	// Value is in the test's unit; of strength it is not used.
	Value float64
	// ForceN and LeverM are of strength: force at the strap and lever arm.
	ForceN, LeverM float64
	// Invalid says why the trial does not count; empty where it does.
	Invalid string
	Pain    int // 0 to 10, during the trial
}

// Entry is the trials of one test on one side.
type Entry struct {
	Test string
	Side body.Side // NoSide for a test of the whole body
	// Stage is "before" or "after" release; empty where the test has no stages.
	Stage  string
	Trials []Trial
	Felt   string // where the runner felt it
	Note   string
}

// Sheet is an exam, its entries in any order.
type Sheet struct {
	Entries []Entry
}

// Body is what of the runner the scoring needs; 0 and "" where not known.
type Body struct {
	MassKG float64
	Sex    string // "female" or "male"
}

// Problem says what is wrong with an entry, and where.
type Problem struct {
	Entry int // from 0
	Trial int // from 0; −1 where it is the entry itself
	What  string
}

// Error names the place counted from 1.
func (p *Problem) Error() string {
	if p.Trial < 0 {
		return fmt.Sprintf("entry %d: %s", p.Entry+1, p.What)
	}
	return fmt.Sprintf("entry %d, trial %d: %s", p.Entry+1, p.Trial+1, p.What)
}

// Bounds of what a strap dynamometer and a tape can read.
const (
	maxForceN = 2500
	minLeverM = 0.05
	maxLeverM = 1.2
	maxTrials = 20
)

// Check tells everything that is wrong with the sheet.
func (s Sheet) Check() []error {
	var out []error
	at := func(e, t int, format string, args ...any) {
		out = append(out, &Problem{Entry: e, Trial: t, What: fmt.Sprintf(format, args...)})
	}
	type key struct {
		test, stage string
		side        body.Side
	}
	seen := map[key]int{}
	for i, e := range s.Entries {
		t, ok := Lookup(e.Test)
		if !ok {
			at(i, -1, "there is no test %.60q", e.Test)
			continue
		}
		if t.HasSides() && e.Side == body.NoSide {
			at(i, -1, "%s needs a side, left or right", t.Title)
		}
		if !t.HasSides() && e.Side != body.NoSide {
			at(i, -1, "%s has no side", t.Title)
		}
		if e.Stage != "" && (!t.Stages || e.Stage != "before" && e.Stage != "after") {
			at(i, -1, "stage %.60q: before or after release, and only of tests that are done twice", e.Stage)
		}
		if e.Felt != "" && !slices.Contains(t.Felt, e.Felt) {
			at(i, -1, "felt %.60q is none of %v", e.Felt, t.Felt)
		}
		k := key{e.Test, e.Stage, e.Side}
		if j, twice := seen[k]; twice {
			at(i, -1, "%s, %s, is entered twice (also as entry %d): put all trials into one", t.Title, e.Side, j+1)
		}
		seen[k] = i
		if len(e.Trials) > maxTrials {
			at(i, -1, "%d trials are more than %d", len(e.Trials), maxTrials)
		}
		for k, tr := range e.Trials {
			if tr.Pain < 0 || tr.Pain > 10 {
				at(i, k, "pain %d is not 0 to 10", tr.Pain)
			}
			if tr.Invalid != "" || tr.Pain > 0 {
				continue // need not have a number
			}
			if t.Kind == Strength {
				if !(tr.ForceN > 0 && tr.ForceN <= maxForceN) {
					at(i, k, "a force of %.4g N cannot be right (up to %d)", tr.ForceN, maxForceN)
				}
				if !(tr.LeverM >= minLeverM && tr.LeverM <= maxLeverM) {
					at(i, k, "a lever arm of %.3g m cannot be right (%.2f to %.1f)", tr.LeverM, minLeverM, maxLeverM)
				}
			} else if !(tr.Value >= t.Low && tr.Value <= t.High) || math.IsNaN(tr.Value) {
				at(i, k, "%.4g %s cannot be right (%.4g to %.4g)", tr.Value, t.Unit, t.Low, t.High)
			}
		}
	}
	return out
}
