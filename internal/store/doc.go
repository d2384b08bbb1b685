// Package store keeps the records of a studio: runners, visits, clips, results,
// documents of the stations and jobs, and beside them the files they speak of.
//
// Everything a person does is one Change: a transaction with a name ("Corrected
// the left knee in frame 212"). It is done wholly or not at all, whatever happens
// to the machine, it is written in a journal with what the records were before,
// and it can be undone and redone from there.
//
// A record carries a version. Whoever writes it says which version was read; if
// another has written meanwhile the write is refused with a Conflict, so that of
// two people at two screens neither loses work unknowingly.
//
// Large things (films, tracks, measured sessions) are files named by the SHA-256
// of their content, written once and never altered; a record holds the name.
//
// Store is an interface with one suite of tests (package storetest) that each
// engine must pass; package sqlite is the embedded one.
package store
