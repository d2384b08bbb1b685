// Package pose finds a runner's landmarks in the pictures of a clip with a
// neural network: thirty-three points of the body, heels and toes included.
//
// # Two networks
//
// A detector looks at the whole picture, shrunk, and says roughly where people
// are and how they lean. It is dear and coarse and runs only when nobody is
// being followed, and once a second to notice newcomers. The landmark network
// looks at one person, cut out of the picture as an upright square (a Region),
// and gives the points; two more of its points say where the square of the next
// frame should be. So a person, once found, is followed from frame to frame at
// the cost of one run a frame. The method is published (Bazarevsky et al. 2020,
// CVPR workshop on computer vision for augmented and virtual reality).
//
//	Frame ──► Detect ──► Region ──► cut ──► landmark network ──► Pose
//	                       ▲                                      │
//	                       └───────────── next frame ─────────────┘
//
// # What is not in the program
//
// The networks' weights and the inference library are installed at set-up and
// never shipped; Locate says where they are looked for, and Open returns
// ErrNotInstalled where they are missing. The weights come as TFLite files. A
// bounded reader (network) and a converter of our own turn them into ONNX when
// they are loaded, in a few tenths of a second, because the library that runs on
// every system we serve reads ONNX. It is called through its C interface without
// cgo.
//
// # People
//
// A Tracker follows whoever is in the picture until it is clear who the runner
// is: the person seen longest near the middle, or the one the analyst pointed
// at. A person's path may bend only so far between two frames, and the colour of
// the trunk tells when the region has gone over to somebody else.
//
// # Pixels
//
// Coordinates are picture pixels measured from the upper left corner of the
// upper left pixel, whose centre is therefore at (0.5, 0.5). Where nobody is
// seen every coordinate is NaN and every confidence 0. Nothing is smoothed here:
// raw landmarks are kept, and filtering, mending of swapped legs and the choice
// of frames belong to package track and what follows it.
package pose
