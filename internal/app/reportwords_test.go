package app

import (
	"maps"
	"reflect"
	"slices"
	"testing"

	"gaitwright/gait/exam"
	"gaitwright/gait/measure"
	"gaitwright/gait/programme"
)

// TestReportWordsAreWhole holds both languages against each other and against the
// rules, tests and exercises that there are.
func TestReportWordsAreWhole(t *testing.T) {
	rules, _ := rulesInUse()
	lib, _ := exercisesInUse()
	for _, language := range ReportLanguages {
		w := reportWordsBy[language]()
		v := reflect.ValueOf(*w)
		for i := range v.NumField() {
			if f := v.Field(i); f.Kind() == reflect.String && f.String() == "" {
				t.Errorf("%s: %s is empty", language, v.Type().Field(i).Name)
			}
		}
		for _, p := range rules.Patterns {
			if f := w.Findings[p.Name]; f.Title == "" || f.Saw == "" || f.Why == "" {
				t.Errorf("%s: the pattern %s has no words: %+v", language, p.Name, f)
			}
			for _, c := range p.Causes {
				if w.Causes[p.Name+"/"+c.Name] == "" {
					t.Errorf("%s: the cause %s of %s has no words", language, c.Name, p.Name)
				}
			}
			for _, c := range p.Core {
				if m, ok := w.Measures[c.Measure]; ok && m.Plus == "" || c.Measure != "" && !ok {
					t.Errorf("%s: the measure %s has no sentence", language, c.Measure)
				}
			}
		}
		for _, c := range rules.Chains {
			if f := w.Findings[c.Name]; f.Title == "" || f.Saw == "" || f.Why == "" {
				t.Errorf("%s: the chain %s has no words", language, c.Name)
			}
		}
		for _, x := range exam.Catalogue() {
			if w.Tests[x.Name] == "" {
				t.Errorf("%s: the test %s has no words", language, x.Name)
			}
		}
		for name := range w.Measures {
			if _, ok := measure.Lookup(name); !ok {
				t.Errorf("%s: there is no measure %s", language, name)
			}
		}
		if language == "en" {
			continue
		}
		for _, r := range theForm().Regions {
			if w.Places[r.ID] == "" {
				t.Errorf("%s: the place %s has no name", language, r.ID)
			}
		}
		for _, s := range theForm().Signs {
			if w.Signs[s.ID] == "" {
				t.Errorf("%s: the sign %s has no words", language, s.ID)
			}
		}
		for _, e := range lib.Exercises {
			if x := w.Exercises[e.Name]; len(x) != 2 || x[0] == "" || x[1] == "" {
				t.Errorf("%s: the exercise %s has no words", language, e.Name)
			}
		}
		for _, s := range theForm().Signs {
			if w.Signs[s.ID] == "" {
				t.Errorf("%s: the sign %s has no words", language, s.ID)
			}
		}
		en := reportWordsBy["en"]()
		for name, keys := range map[string][2][]string{
			"measures": {slices.Sorted(maps.Keys(en.Measures)), slices.Sorted(maps.Keys(w.Measures))},
			"findings": {slices.Sorted(maps.Keys(en.Findings)), slices.Sorted(maps.Keys(w.Findings))},
			"causes":   {slices.Sorted(maps.Keys(en.Causes)), slices.Sorted(maps.Keys(w.Causes))},
			"tests":    {slices.Sorted(maps.Keys(en.Tests)), slices.Sorted(maps.Keys(w.Tests))},
			"units":    {slices.Sorted(maps.Keys(en.Units)), slices.Sorted(maps.Keys(w.Units))},
		} {
			if !slices.Equal(keys[0], keys[1]) {
				t.Errorf("%s: %s has other names than English", language, name)
			}
		}
	}
}

// An exercise has one name in a language, on the page and on what is taken home.
func TestExercisesHaveOneName(t *testing.T) {
	w := reportWordsBy["de"]()
	for _, e := range programme.Default().Exercises {
		if title, _ := w.exercise(e); title != e.In("de").Title {
			t.Errorf("%s is %q in the report and %q on the page", e.Name, title, e.In("de").Title)
		}
	}
}
