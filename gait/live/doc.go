// Package live reads a runner while the running goes on: step rate, and how far
// ahead of the pelvis the heel lands, over the last seconds of landmarks as a slow
// and uneven camera gives them.
//
// A film has 120 pictures a second; a live picture comes ten to thirty times a
// second and never evenly. Single contacts cannot be timed from that. But a runner
// repeats: over eight seconds the same stride is seen a hundred and more times at
// ever other phases.
//
// Step rate: the ankles swing against each other once a stride. A sine is fitted to
// their distance; its phase, read anew in every stride, runs along a line whose
// slope is the rate. How the phases scatter about the line is the error: of the
// landmarks, of the clock and of the runner together.
//
// Overstride: with the phase of every picture known, each landmark's path is laid
// over one stride and fitted with a few harmonics, outliers left out. That mean
// stride, played again at an even clock, goes the way of every film: contacts by
// package event, heel against pelvis at contact.
//
// What is not sure is withheld, and it is said why.
package live
