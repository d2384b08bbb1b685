// Package agree measures how well repeated numbers agree: reliability
// (intraclass correlation), error of measurement, limits of agreement,
// symmetry, likeness of curves, and the error of a mean of successive values.
//
// # Symbols
//
// A reliability table has n targets (rows: runners, clips) by k ratings
// (columns: days, raters, re-digitisations). Its two-way analysis of variance
// gives the mean squares between targets BMS, within targets WMS, between
// raters JMS and of the residual EMS. Shrout & Fleiss (1979, Psychol Bull
// 86:420-428) define six coefficients from them: ICC(1,1) for raters who differ
// from target to target, ICC(2,1) for agreement of raters drawn at random,
// ICC(3,1) for consistency of these raters alone, and (1,k), (2,k), (3,k) for
// the mean of k ratings.
//
// SEM is the standard error of measurement in the unit of the measure; the
// smallest change between two measurements that is beyond error is
// MDC95 = 1.96·√2·SEM (Weir 2005, J Strength Cond Res 19:231-240, from memory).
//
// # Missing and impossible
//
// A NaN among the data is an error, since leaving a cell out silently would
// change the design. A result that is not defined (a symmetry index about zero,
// a coefficient of multiple correlation whose square is negative) is NaN, never
// zero.
package agree
