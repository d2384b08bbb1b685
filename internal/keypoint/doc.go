// Package keypoint reads and writes landmark tracks as plain files that any
// program or spreadsheet can make: a CSV table or a JSON object. The format is
// meant to last; docs/keypoint-files.md describes it for those who write such
// files, and its version number changes only where old files would be misread.
//
// Both carry the same things: a clock, landmarks by the names of package body,
// their coordinates in picture or runner space (package gait), a confidence where
// known, and optionally the view and the size of the picture. A missing sample is
// an empty cell or null. Reading is strict: an unknown landmark, a point with one
// coordinate missing, a clock that stands still, a confidence above 1 are errors
// that name the place, because a file that is half understood measures wrongly.
package keypoint
