// Package trc reads TRC, a plain text format of marker paths: three lines of
// header, two lines that name the columns, and one line a frame.
//
//	PathFileType  4  (X/Y/Z)  run.trc
//	DataRate  CameraRate  NumFrames  NumMarkers  Units  OrigDataRate  OrigDataStartFrame  OrigNumFrames
//	150       150         4500       2           mm     150           1                   4500
//	Frame#    Time        LHEEL                  LTOE
//	                      X1    Y1    Z1         X2   Y2   Z2
//	1         0.000       101.2 54.1  880.3      ...
//
// Columns are separated by tabs; an empty cell is a point that was not seen, so
// is one with no number in it ("NaN") and, as some laboratories write it, one
// whose three cells are all zero. Files whose writer used blanks in place of tabs
// are read too, but there an empty cell cannot be told, so every line must be
// full. Lengths come out in metres. Time zero is the first frame in the file.
package trc
