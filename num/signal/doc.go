// Package signal treats sampled signals: it smooths, differentiates, mends and
// resamples them, and finds their peaks, crossings and period. It knows no gait.
//
// # Samples, clocks and missing values
//
// A signal is a slice of values, with either a rate in hertz (an even clock) or
// a slice of times in seconds, strictly increasing (any clock). A missing value
// is NaN. No function here invents a value for one unless its name says so:
// smoothing works on each run of finite values by itself, a derivative next to
// a gap is one-sided, and only [FillGaps] bridges gaps, up to a limit, telling
// which samples it made.
//
// # Smoothing
//
// The low-pass is a second-order Butterworth filter run forward and then
// backward, as is usual for human movement (Winter 2009, Biomechanics and Motor
// Control of Human Movement, 4th ed., from memory). The second pass undoes the
// delay of the first, so that events do not move in time. Two passes cut more
// than one, so the nominal cut-off of each pass is raised by the factor
// 1/0.802243; the gain of both passes together at the cut-off asked for is then
// 0.7071. With fc the cut-off and fs the rate,
//
//	w  = tan(π fc/fs) / C      C = (√2 − 1)^¼ = 0.802243 for two passes, 1 for one
//	K1 = √2 w, K2 = w²
//	a0 = K2/(1+K1+K2), a1 = 2 a0, a2 = a0
//	b1 = 2 a0/K2 − 2 a0, b2 = 1 − 2 a0 − 2 a0/K2
//	y[i] = a0 x[i] + a1 x[i−1] + a2 x[i−2] + b1 y[i−1] + b2 y[i−2]
//
// so that the gain at rest, a0+a1+a2+b1+b2 = 1. The critically damped variant
// (K1 = 2w, C = (2^¼ − 1)^½ = 0.434979 for two passes) does not overshoot.
//
// # Edges
//
// A recursive filter starts from nothing and would bend the first and last
// samples toward zero. Each run is therefore continued beyond both of its ends
// by its own point reflection (2 x[0] − x[k]), which keeps value and slope, and
// the filter starts in the steady state that belongs to the padding's slope.
// A constant and a straight line pass unchanged to the last sample.
//
// # Uneven clocks
//
// Phones write uneven frame times. A [Smoother] looks at the clock once: where
// it is even to within a thousandth of a frame it filters directly, else it
// carries each signal to an even grid, filters there and samples the result
// back at the frame times, by four-point cubic interpolation.
//
// # Cost
//
// Everything is linear in the number of samples. Functions that are called for
// every landmark and axis take a destination and reuse their own scratch.
package signal
