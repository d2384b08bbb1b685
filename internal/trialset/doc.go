// Package trialset knows how the files of a research set are laid out: which file is
// whose trial, at what speed and from where, which standing trial belongs to it, and
// what the set's table says of its participants.
//
// A Layout is read from YAML and checked; a few for open sets are built in. It only
// reads names and the participants' table, never a trial itself, and it never guesses:
// a name that could be read in two ways is read with each placeholder as short as can
// be, and what does not fit the pattern is no trial of the set.
package trialset
