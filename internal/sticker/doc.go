// Package sticker follows adhesive markers, and other marks, through the frames
// of a clip to a tenth of a pixel. It knows no video: frames come through
// [Source] or [Frames], or are pushed into a [Tracker].
//
// # What is followed
//
// A click is looked at in its frame. Where a disc or rings lie about it, the
// point is their common centre, found anew in each frame by fitting the picture
// of an ellipse with blurred edges (file rings.go): it cannot drift, and the
// click need not be exact. Anything else with a corner in it is followed by its
// look (patch.go): the click's own patch is registered by an affine warp, and
// where the look has changed too much, a patch that learns. What is flat, or
// slides along an edge, is refused with [ErrNothing]. [Glance] tells so from a few
// frames, and what would be lost at once ([ErrFleeting]).
//
// # How it is found
//
// Its place is foretold by carrying on the last three places or, once that has
// proved better, by what it did one stride ago (motion.go). About that place a
// low-resolution sketch is correlated with the picture (search.go); the likeliest
// places are fitted, and the one that explains most of the picture wins.
//
// # What guards it
//
// Drift: the click's patch has the last word over the one that learns; without
// it the error grows with every frame, and each patch is followed back into the
// frame before, where it must come out where it was. Cover: the fits weigh
// pixels by Tukey's biweight, and a round sticker that shrinks faster than
// stickers do keeps its shape and is only placed, with an error of 0.3 px or
// more. Loss: less than half of the picture explained (a tenth of it where a
// sticker is known to be partly hidden), too little of the edge in sight, or an
// error above 0.8 px, is no sample. To be found again
// after three frames or more, the point must look as before and be there in the
// next frame too.
// Others of its look: in each frame it is settled for all followers together which
// mark is whose (contest.go), and when all is followed each pair of paths is looked
// over for exchanges and each path for leaps (identity.go); where one of its look was
// not clicked, nothing is sure after a loss (strangers.go). What is not plain is
// [Doubtful], with an error that reaches the other place.
// Corrections: each click is an anchor that both passes go through; between two,
// a pass that came out right at the other end is believed over one that did not.
//
// # Quality and error
//
// [Sample.Quality] is the share of grey variation in the mark and at its edge which
// the fit explains. The errors come from the residuals of the fit or from what the
// place would be without each eighth of the surroundings, whichever is larger
// (scatter.go), and are at least 0.012 px. On a clean rendered clip the bias is below
// 0.01 px and the SD below 0.01 px on each axis (bars 0.05 and 0.1); docs/stickers.md
// has the figures under motion blur, noise, compression and cover, made by
// TestStatedFigures, which holds too that nine in ten errors are within 1.96 of what
// is stated.
//
// # Places
//
// Picture space as in package gait: x to the right, y down, pixels, the middle
// of the top-left pixel at (0.5, 0.5).
//
// # Memory
//
// Forwards nothing is kept but a patch a point. Backwards the decoder still goes
// forwards, so windows are read and stepped through in reverse: of whole frames,
// or of crops about the points where frames are large.
package sticker
