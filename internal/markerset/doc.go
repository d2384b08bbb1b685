// Package markerset turns the named markers of a motion-capture file into a
// runner's landmarks.
//
// Every laboratory names its markers its own way and sticks them elsewhere. A
// marker set is a small YAML file that says, for each landmark, how to find it:
//
//   - one marker, or the weighted mean of several;
//   - a marker moved inward by half the width of the joint;
//   - a hip centre by regression from the spines of the pelvis;
//   - a joint centre measured in a standing trial and carried into the run by the
//     cluster of markers on the segment beside it;
//   - a functional joint centre: the point that moves least against both of its
//     segments;
//   - a toe beyond the heads of the metatarsals, level with the heel in standing.
//
// A landmark lists its recipes in order of trust, and the first that the file can
// serve is used. The sets for two common laboratory layouts and one of general
// names are built in; a user's own file takes their place without a new build.
//
// # Segments
//
// Markers on one segment keep their distances. From the standing trial, or from
// the run itself where there is none, each segment gets a reference shape; the
// rigid motion of that shape that best meets the markers of a frame (least
// squares: Kabsch 1976, Acta Cryst A32:922; Horn 1987, J Opt Soc Am A 4:629, both
// from memory) gives the segment's pose, fills in a marker lost in that frame and
// carries the points measured in standing. The residual of the fit is also a
// check: two markers that were named the wrong way round show at once and are
// exchanged, with a note.
//
// # Axes
//
// Up is the laboratory axis along which pelvis and trunk lie above the feet.
// Forward is the way the runner goes, or, on a treadmill, against the way the
// standing foot is carried. Everything returned is in runner space: X forward, Y
// up, Z to the runner's right, in metres, the laboratory's origin kept.
package markerset
