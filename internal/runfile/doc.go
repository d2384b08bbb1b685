// Package runfile reads what a running watch recorded: FIT (by the format's own
// library), TCX (Garmin's Training Center Database v2, with the ActivityExtension
// v2 for speed and step rate) and GPX 1.1 (with the TrackPointExtension v1 or v2
// for step rate).
//
// All three define the step rate of running by one foot (strides a minute, or
// "revolutions"); it is doubled here, and what a watch does otherwise is mended
// and said by steprate's Run.Settle.
//
// Positions are used for distance where a file has neither it nor speed, and then dropped:
// a Run has none.
package runfile
