// Package finding reasons from what a film shows and what the exam explains to at
// most three things that matter, each answerable to "why?".
//
// # From numbers to findings
//
// A Condition holds a measure, a test or a pain against a limit. It holds only
// where the value lies beyond the limit by more than its error (1.96 standard
// errors of measurement, and the known bias of what found the landmarks); within
// the error it is unclear, and where nothing was measured it is missing. Its size
// is how far beyond the limit it lies, in smallest real changes (MDC95): below 1
// slight, below 2 clear, from there on large.
//
// A Pattern is seen on a side when one of its core conditions holds. Its causes
// are explanations that exam results support or speak against; its rivals are
// explanations of another kind, with what would tell them apart; it says what
// would overturn it. Patterns come together in a Chain: one explanation that
// covers several is preferred over several that cover one each.
//
// Findings are ranked by size beyond error, by their link to what the runner
// complains of, by whether they can be changed, and by whether leaving them is
// the less safe way; the parts of the rank are shown. At most three are given,
// the others are listed, and none is given where none is warranted.
//
// A foot strike is never a fault: no core condition may rest on it. No disease is
// named. A warning sign overrides everything: Report.Refer says for which region
// there is no programme until a clinician has cleared it.
//
// # Confidence
//
// Three words with a stated meaning; see Confidence.
//
// The rules are data: rules.yaml, checked against rules.schema.json. No trial
// maps a finding of gait to a muscle or an exercise: causes and aims are common
// practice and say so.
package finding
