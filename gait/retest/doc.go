// Package retest holds a visit against an earlier one and calls a change real only
// where it exceeds the error of measurement.
//
// # Verdicts
//
// A difference of two values with standard errors s1 and s2 has the 95 % interval
// d ± 1.96·√(s1² + s2²); half of it is the smallest real change of this pair. A
// change is real beyond it: of pairs without any change one in twenty is called
// changed, of pairs changed by twice that, 39 in 40 are. Known biases do not enter,
// for they are the same at both visits where the origin is the same; where it is
// not, the two are not compared.
//
// # Which films
//
// View, origin of the landmarks, surface, incline and speed must be alike; shoes and
// the click may differ, and that is said. Of several films the pair most alike is
// taken, and of those equally alike the one with the smallest error. The values have
// no say in it.
//
// # Honesty
//
// Twenty measures compared bring about one false change: Compare says how many
// were looked at and how many chance would bring, and gives each p-value adjusted
// by Holm's method (Holm 1979, Scand J Stat 6:65). A value that was chosen because
// it was extreme will lie nearer the mean at the next visit without any cause:
// with a reliability r = 1 − SEM²/SD² it is expected to return by (1 − r) of its
// distance from the mean (Barnett 2005, Int J Epidemiol 34:215, from memory);
// where what is left of the change lies within the error, that is said.
package retest
