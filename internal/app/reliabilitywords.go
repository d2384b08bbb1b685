package app

import "fmt"

// fewSubjects is below how many subjects agreement is said to be rough.
const fewSubjects = 10

// InWords tells in plain sentences what the figures say: how large a change must
// be to count, which raters read apart, and how far the figures themselves carry.
func (r Reliability) InWords() []string {
	unit := ""
	if r.Unit != "" {
		unit = " " + r.Unit
	}
	fig := AgreementFigure
	if r.SEM == 0 {
		return []string{"All readings of each subject are the same to the last digit. Is one reading there twice?"}
	}
	change := fmt.Sprintf("Two readings of one subject must differ by more than %s%s before that counts as a change (MDC95)", fig(r.MDC95), unit)
	if r.MDC95Consistency < r.MDC95 {
		change += fmt.Sprintf("; by more than %s%s where the steady differences between the raters are taken off", fig(r.MDC95Consistency), unit)
	}
	out := []string{change + "."}
	for _, p := range r.Pairs {
		switch {
		case p.BiasCI.Low > 0:
			out = append(out, fmt.Sprintf("%s reads higher than %s, by %s%s on average: more than chance.", p.First, p.Second, fig(p.Bias), unit))
		case p.BiasCI.High < 0:
			out = append(out, fmt.Sprintf("%s reads lower than %s, by %s%s on average: more than chance.", p.First, p.Second, fig(-p.Bias), unit))
		}
	}
	if r.ICC[1].Value <= 0 {
		out = append(out, "The subjects differ no more from each other than the readings of one subject do, so these readings cannot tell them apart. Is every column a reading of the same thing?")
	}
	if n := len(r.Subjects); n < fewSubjects {
		out = append(out, fmt.Sprintf("%d subjects are few: read the intervals rather than the figures. Some 30 are common practice.", n))
	}
	return out
}
