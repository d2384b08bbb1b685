// Package cli is the command line's face of the program: it reads arguments,
// calls the use cases of package app and prints what they found, for a person
// in front of a terminal and for scripts alike. Results go to standard output,
// progress and messages to standard error, and the exit code tells the kind of
// problem (see `gaitwright --help`).
package cli
