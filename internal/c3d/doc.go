// Package c3d reads and writes C3D, the open file format of motion-capture
// laboratories: marker paths, analog channels, force platforms and events in one
// binary file of 512-byte blocks.
//
// A file has a header block, a parameter section (named groups of named values)
// and a data section, frame after frame: every point as x, y, z and a fourth
// word whose sign says whether the point was seen, then the analog samples of
// that frame. Numbers are either 16-bit integers with a scale, or 32-bit floats
// where POINT:SCALE is negative.
//
// What the reader promises:
//
//   - Lengths come out in metres and forces in newtons, in the laboratory's own
//     axes; turning them to the runner is the work of whoever knows the markers.
//   - A point that was not seen is NaN in all three coordinates: where the fourth
//     word is negative, where a coordinate is no number, and where all three
//     are exactly zero, as some laboratories write a missing point.
//   - Time zero is the first frame in the file. Events and force samples are on
//     that clock.
//   - No count in the file is believed before it has been held against the
//     file's length, so memory stays within a small multiple of that length.
//
// Only the Intel byte order is read. Files of the DEC and MIPS orders are old and
// rare; they get an error that says how to convert them.
//
// The layout follows the C3D file specification (c3d.org user guide), from
// memory; the tests hold it against files of two laboratories.
package c3d
