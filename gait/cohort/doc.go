// Package cohort looks at all runners of a studio together: which findings are most
// common, which come together, how they differ between groups, which programmes
// moved which measures, and what the studio's own usual values are.
//
// # One runner, one vote
//
// A share counts runners, never visits: a runner who came ten times counts once.
// What a runner had at any visit counts as had, save where it says "at the first
// visit". Sides of a measure are averaged within a runner where people are counted.
//
// # Intervals and chance
//
// Shares have score intervals, differences of shares hybrid score intervals, means
// Student's t (see num/tally). Where many comparisons are made together their
// p-values are adjusted by Holm's method, and Summary says how many were made. With
// few runners hardly anything can be told, and that is said: no comparison is made
// with fewer than Options.Least runners on either side.
//
// # What it cannot say
//
// A studio has no control group. Runners come because something is wrong, at their
// worst, and would be nearer their mean the next time without any programme
// (regression to the mean; Barnett 2005, Int J Epidemiol 34:215, from memory). Those
// who come back are not those who stay away. So a programme's outcomes tell what
// happened under it, not what it caused; Programme has the drop-out beside them.
package cohort
