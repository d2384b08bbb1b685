// Package body names the parts of a runner: sides, landmarks and segments.
//
// The thirty-three landmarks a single camera sees come first, so that they can
// index an array; after them stand points that only a sticker or a marker file
// gives (pelvic spines, metatarsal heads, heel and shank lines, spine).
// Left and right are the runner's own, never the picture's.
package body
