// Package norm holds reference ranges of gait measures, each with its source,
// and says honestly where a measured value lies against one.
//
// # What a row is
//
// A Row gives, for one measure of the catalogue, the values usual in a sample:
// a range with a low or a high end or both, or a mean with its standard
// deviation, from which the range of the middle 95 % follows. It names the speed,
// sex, height and view for which it holds, the source, the sample, how it was
// measured, how the figure was come by (Tag) and how far it is to be trusted
// (Confidence). A figure of low confidence is listed for what it is and never
// used as a norm. What the literature disputes stands in Contested.
//
// # What a row is not
//
// A range says what was common among the people who were measured. It does not
// say what is good, nor that a value outside it does harm: of more than a hundred
// factors followed in 30 prospective studies of runners hardly one predicted
// injury (Sports Med Open 2022, 8:38).
//
// # Which row
//
// Table.Lookup takes the rows that hold for the view, speed, sex and height at
// hand; a row that needs what is not known is left out. Between two rows of the
// same sample at different speeds it goes in a straight line. The narrower a
// row's conditions, the earlier it comes.
//
// # Inside or outside
//
// Compare says a value lies below or above a range only where 1.96 standard
// errors of measurement, and the known bias of what found the landmarks, do not
// reach back to the border. Nearer than that it is "at the border": the
// measurement cannot tell.
//
// # Own rows
//
// A user's file has the same form. Its rows are added; a row whose id is that of
// an embedded one replaces it; ids under hide are left out.
package norm
