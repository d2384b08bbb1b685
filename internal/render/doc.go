// Package render draws figures and the one-page report, the same in SVG, PDF and
// PNG.
//
// # One drawing, three forms
//
// A Page is a list of simple marks: lines, areas, circles, runs of text,
// pictures, clips and groups. Its verbs do all that could differ between the
// forms beforehand: they break a line at its gaps, replace characters the fonts
// lack, measure text with the fonts' own advances and turn an alignment into a
// starting point. What is left for SVG, PDF and PNG is to put down each mark
// where it is told. Lengths are points (1/72 inch), y grows downward, angles are
// degrees counterclockwise.
//
// The same page gives the same bytes: nothing reads the clock, and no map is
// walked.
//
// # Fonts
//
// Text is set in the Go fonts, which cover Latin, Greek and Cyrillic. They travel
// with the figure: PDF and SVG carry the glyphs that are used. A character that
// the fonts lack is shown as the replacement character.
//
// # The report
//
// Report is plain data. The page is tried from roomy to dense and the first
// arrangement that fits is drawn; pictures and curves then take the room that is
// left. Text is wrapped and never cut; where even the densest arrangement is too
// small the rows that are left out are counted on the page.
package render
