// Package steprate makes the ramp from a slow step rate to a quicker one at the
// same pace, and tells afterwards whether it came about.
//
// Step rate is always of both feet, in steps a minute. At a fixed pace step
// length = 60 · speed / step rate, so quicker steps are shorter ones; a runner who
// takes quicker steps by running faster has not shortened them, and Compare says
// so by holding step rates against each other at equal speed.
//
// # Baseline
//
// From contacts on film, from a count, or from run files. A count over T seconds
// that begins at any moment is off by 60/T steps a minute at most, with a standard
// deviation of (60/T)/√6; of one foot, doubled, twice that.
//
// # Target
//
// Bounded by 5 and 10 percent above the baseline, the span of the trials. Within
// that, two anchors point the way and are shown as what they are: the rule of the
// trade (180 for most, 170 for the tall, 190 for the short; common practice), and
// the regression of 20 elite runners on stature and speed (Burns, Zendler &
// Zernicke 2019, J Appl Physiol 126:462): −12.3 steps a minute for 10 cm, +5.6 for
// 1 m/s, good to about ± 15. No target where the landing asks for none. The
// analyst decides.
//
// # Ramp
//
// One step a minute a week by common practice; the trials changed 7.5 to 10 % at
// once or over eight sessions. The click is faded: all of the time at first, then
// less, to about a tenth.
package steprate
