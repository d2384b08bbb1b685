// Package figure draws a person as a line figure from a description of the pose,
// for the guides of tests and exercises: one style, start and end position, no
// photographs.
//
// A Pose gives the direction of each segment in the plane of the picture, in
// degrees from its upper to its lower end (the trunk: from hips to neck): 0
// points to the right of the picture, 90 up, −90 down. A factor after @ shortens
// a segment that points toward or away from the eye: "-60@0.7". The figure in a
// side view faces right. The limbs are near and far; near is the side that works.
// Seen from the front or behind, near is drawn at the right of the picture.
//
// A pose written for one side serves the other by mirroring the whole picture.
//
// Proportions are fractions of stature after Drillis & Contini 1966 as tabled in
// Winter's Biomechanics and Motor Control of Human Movement (from memory):
// thigh 0.245, shank 0.246, foot 0.152 long and 0.039 high, upper arm 0.186,
// forearm and hand 0.254, hips to neck 0.288, neck and head 0.182.
package figure
