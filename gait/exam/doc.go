// Package exam holds the hands-on tests that explain what a film shows:
// strength by a strap dynamometer, mobility, and control and endurance.
//
// # Trials, entries, readings
//
// A Trial is one attempt. An invalid one is kept and marked, and does not count.
// An Entry is the trials of one test on one side. Score makes a Reading of it:
// the best or the mean of the valid trials, as the test says, in the test's unit,
// with the smallest real change (MDC95) of a published or stated error, and where
// it lies against a reference. Pain of 1 or more in any trial stops that test: the
// reading says so and gives no value to compare, for a test that hurts does not
// measure strength.
//
// # Strength
//
// torque = force × lever arm (Nm), divided by body mass (Nm/kg). The lever arm is
// measured from the joint's centre to the middle of the strap. The strap is
// assumed square to the segment. Force alone is also given in percent of body
// mass (kgf per kg), which is how the open data on runners have it.
//
// # Film
//
// The frontal-plane angle of a single-leg squat or step-down is read from a clip
// of the front by FromFront: the angle between the lines hip–knee and knee–ankle
// in the picture at the lowest point of each repetition, knee inward positive, as
// the mean of 0.1 s. Its own error is the trembling of the landmarks; the error of
// the test goes beside it.
//
// # Sides
//
// ratio = weaker / stronger side, in percent (limb symmetry index). A difference
// is called real only beyond the error of a difference, 1.96·√(SEMl² + SEMr²).
// Above that, a side difference is still common: of 38 competitive male runners
// 15 exceed 10 % in abduction and 19 in external rotation (computed from Fukuchi,
// Fukuchi & Duarte 2017, PeerJ 5:e3298).
//
// The tests with their guides, errors and ranges are data: tests.yaml.
package exam
