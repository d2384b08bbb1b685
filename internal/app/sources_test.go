package app

import (
	"regexp"
	"testing"

	"gaitwright/gait/exam"
	"gaitwright/gait/finding"
	"gaitwright/gait/measure"
	"gaitwright/gait/norm"
	"gaitwright/gait/table/tabletest"
)

// TestGermanHasEverySourceInWords asks German of each source of a limit, an error, a
// dispute or a question that says more than where it was read: authors, years and
// journals are the same in every language.
func TestGermanHasEverySourceInWords(t *testing.T) {
	inWords := regexp.MustCompile(`(^|[ (])[a-z]{2,}`)
	cited := regexp.MustCompile(`et al\.|\bde\b`)
	tabletest.Faithful(t, germanSources(), func(say func(who, text string)) {
		from := func(who, source string) {
			if inWords.MatchString(cited.ReplaceAllString(source, "")) {
				say(who, source)
			}
		}
		r := finding.Default()
		for _, c := range r.Contested {
			from("disputed", c.Source)
		}
		for _, p := range r.Patterns {
			lists := [][]finding.Condition{p.Core, p.Adds}
			for _, c := range p.Causes {
				lists = append(lists, c.For, c.Against)
			}
			for _, list := range lists {
				for _, c := range list {
					from(p.Name, c.Source)
				}
			}
		}
		for _, x := range exam.Catalogue() {
			for _, e := range x.Errors {
				from(x.Name, e.Source)
			}
			for _, k := range x.Ranges {
				from(x.Name, k.Source)
			}
		}
		for name, data := range norm.Files() {
			file, err := norm.Parse(data)
			if err != nil {
				t.Fatal(name, err)
			}
			for _, row := range file.Rows {
				from(row.ID, row.Source)
			}
		}
		for _, d := range measure.Catalogue() {
			from(d.Name, d.Source)
		}
		form := theForm()
		from("pain scale", form.PainScale.Source)
		for _, s := range form.Signs {
			from(s.ID, s.Source)
		}
	})
}
