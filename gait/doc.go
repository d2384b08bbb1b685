// Package gait holds the trade: what is known about a runner from a film, an
// examination and a history, and what follows from it.
//
// # The one path
//
//	clip ──► track ──► event ──► measure ──┐
//	(video)  (landmarks) (contacts) (numbers ± error)  │
//	                                                   ├──► finding ──► programme ──► handout
//	exam ──────────────────────────────────────────────┤       └► steprate ──┘     │
//	(strength, mobility, control)                      │                           ▼
//	norm (reference ranges with sources) ──────────────┘         retest (change beyond error)
//
// Beside it stands live, which reads step rate and overstride from the last seconds
// of landmarks while the runner runs.
//
// Data moves one way: nothing downstream is imported by anything upstream, and
// a test reads the import graph to keep it so. The packages below gait know no
// files, no clock, no SQL and no HTTP.
//
// # Spaces
//
// A landmark's path lives in one of two spaces. Picture space is what a camera
// saw: x to the right of the picture, y downward, in pixels, the origin at the
// top-left corner of the top-left pixel. Runner space is where everything is
// measured: X forward along the direction of running, Y up, Z to the runner's
// right; in metres where a scale is known and in pixels where it is not. A side
// view fills X and Y, a rear or front view Y and Z, a marker file all three.
package gait
