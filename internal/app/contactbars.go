package app

import (
	"context"
	"io/fs"
	"math"
	"path/filepath"
	"strings"

	"gaitwright/gait/event"
)

// The bars for contacts from motion against contacts from force at 50 N, of one
// run: seconds, steps a minute.
const (
	barLandingBiasS  = 0.005
	barLandingSDS    = 0.008
	barLeavingBiasS  = 0.008
	barLeavingSDS    = 0.010
	barContactTimeS  = 0.010
	barStepRateError = 0.2
)

// ContactTrial is one recorded run whose contacts are known from force, and how
// well motion alone finds them.
type ContactTrial struct {
	ContactComparison
	SpeedMPS float64
	Fails    []string // the bars it misses; empty where it passes
}

// ContactTrials measures every marker file with force in a folder and those below
// it by motion alone and compares. Standing trials and files without force are
// passed over.
func (st *Studio) ContactTrials(ctx context.Context, dir string, progress Progress) ([]ContactTrial, error) {
	var files []string
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		name := strings.ToLower(filepath.Base(path))
		if err == nil && !d.IsDir() && strings.HasSuffix(name, ".c3d") && !strings.Contains(name, "static") {
			files = append(files, path)
		}
		return err
	})
	if err != nil {
		return nil, &Problem{Kind: KindUsage, File: dir, What: err.Error(), Err: err}
	}
	var out []ContactTrial
	for _, f := range files {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		s, err := st.Measure(ctx, Request{Files: []string{f}, Contacts: event.FromMotion}, progress)
		if err != nil {
			return nil, err
		}
		for _, k := range s.ContactComparisons() {
			t := ContactTrial{ContactComparison: k, SpeedMPS: s.Clips[0].Info.BeltSpeedMPS}
			t.judge()
			out = append(out, t)
		}
	}
	if len(out) == 0 {
		return nil, problem(KindNoResult, dir, "Name a folder with C3D files of running on force platforms.", "holds no run with contacts by force")
	}
	return out, nil
}

func (t *ContactTrial) judge() {
	fail := func(bad bool, what string) {
		if bad {
			t.Fails = append(t.Fails, what)
		}
	}
	beyond := func(v, bar float64) bool { return !(math.Abs(v) <= bar) }
	fail(t.Missed > 0, "missed")
	fail(t.Extra > 0, "extra")
	if len(t.Rows) < 3 {
		fail(true, "nothing to compare")
		return
	}
	fail(beyond(t.Rows[0].BiasS, barLandingBiasS), "contact bias")
	fail(beyond(t.Rows[0].SDS, barLandingSDS), "contact SD")
	fail(beyond(t.Rows[1].BiasS, barLeavingBiasS), "toe-off bias")
	fail(beyond(t.Rows[1].SDS, barLeavingSDS), "toe-off SD")
	fail(beyond(t.Rows[2].BiasS, barContactTimeS), "contact time")
	fail(beyond(t.MotionStepRate-t.ForceStepRate, barStepRateError), "step rate")
}

// FailedTrials is how many trials miss a bar.
func FailedTrials(ts []ContactTrial) int {
	n := 0
	for _, t := range ts {
		if len(t.Fails) > 0 {
			n++
		}
	}
	return n
}
