// Package sqlite keeps the records of a studio in one SQLite file.
//
// # Shape
//
// Every journalled record, of whatever kind, is a row of the table record: its
// content is JSON in a form of this package's own (form.go), and beside it stand
// the few columns by which it is found: parent, owner, label, time. What lists
// and searches need on top of that (seen, tag, word) is derived from the records
// in the same transaction and can be made again from them at any time.
//
// A deed of a person is a row of deed; content holds what each record became by
// it and which deed had made it before. Undo therefore needs no images of its
// own: it puts the content of the deed before in place, as a new version, and a
// record whose content is not the deed's own any more is a conflict.
//
// # Durability
//
// The write-ahead log lets readers go on while one writer writes, each seeing
// one moment. synchronous=FULL syncs the log at each commit, so that a deed that
// was said to be done outlasts a loss of power; NORMAL would keep the file whole
// but could lose the last deeds. It costs one sync a deed, milliseconds at the
// pace at which people do things.
//
// # Memory
//
// Each connection has a page cache of 2 MB at most; there is one that writes and
// at most four that read, of which idle ones are closed after a minute.
package sqlite
