// Package click makes the sound to which a runner steps: one click for each step,
// both feet counted, left and right told apart by pitch.
//
// Clicks are placed by arithmetic on whole samples from the beginning of the
// track, never by adding intervals, so that an hour drifts by less than one
// sample. A Pattern gives the step rate over time, a ramp between two rates, and
// minutes with and without the click; the rhythm goes on unheard, so that it comes
// back in step. A count-in of eight clicks without a voice comes first. Instead of
// plain clicks a Rhythm lays a soft beat, a bass and a plucked string of our own
// synthesis under them.
//
// Write writes WAV (RIFF, PCM, 16 bit, mono), the format of any player; other
// formats are made from it outside this package.
package click
