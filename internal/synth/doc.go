// Package synth is a runner whose every movement is known: an invented person on
// an invented treadmill, so that each measure of the program can be held against
// the exact answer.
//
// # How the runner is made
//
// The belt lies at height 0 and travels backward at belt speed; the axes are
// those of runner space (X forward, Y up, Z to the runner's right, metres).
//
//	schedule   the instants of contact and toe-off of each foot, with variation
//	foot       in stance the outsole stands on the belt and rolls from the part
//	           that landed to the flat sole to the toe; never slips, never sinks
//	pelvis     in flight it falls freely; in stance a half-sine force lifts it, so
//	           that times and heights agree (Morin et al. 2005); it drops, turns
//	           and tilts with the stride
//	leg        in stance two links between the given hip and the given ankle; in
//	           swing joint-angle curves, joined to the stance with the same value,
//	           speed and acceleration
//	upper body trunk, head and arms swing with the stride
//
// Every curve is twice continuously differentiable. The shoe gives: from contact
// the body of the shoe goes on down and forward over a sole that yields for some
// hundredths of a second. The outsole is exactly at rest on the belt, while the
// heel above it shows the sharp deceleration that real feet show.
//
// # What it yields
//
// [Runner.At] is the posture at any instant; [Runner.Spatial] the landmarks in
// metres; [Runner.Track] the landmarks as a [Camera] sees them; [Runner.Truth]
// the exact measures; [Film] a rendered clip of a shaded figure in a studio.
//
// # Sources
//
// Body proportions are those of Drillis & Contini 1966 (in Winter 2009); segment
// masses de Leva 1996, J Biomech 29:1223-1230. Times and angles start from
// published ranges, named where they stand; whatever is marked invented was
// chosen so that the movement looks like running, and nothing rests on it.
package synth
