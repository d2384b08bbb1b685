package app

import (
	"bytes"
	"encoding/json"
	"maps"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"gaitwright/gait/exam"
	"gaitwright/gait/measure"
	"gaitwright/gait/programme"
	"gaitwright/internal/handout"
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
			if x := e.In(language); x.Title == e.Title || x.Cue == e.Cue {
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

// An exercise has one name and one cue in a language: those of the card in the report
// are those of the sheet for home.
func TestExercisesAreSaidInOneWay(t *testing.T) {
	for _, language := range ReportLanguages {
		w := reportWordsBy[language]()
		var list []programme.Item
		for _, e := range programme.Default().Exercises {
			list = append(list, programme.Item{Exercise: e.Name, Dose: programme.Dose{Sets: 1, Reps: 1}})
		}
		plan := programme.Plan{FullDays: []int{0}, Weeks: []programme.Week{{Full: list}}, Start: time.Date(2026, 3, 9, 0, 0, 0, 0, time.UTC)}
		var b bytes.Buffer
		if err := handout.Write(&b, handout.Sheet{Visit: strings.Repeat("A", 26), Runner: "Ada", Language: language, Begin: plan.Start, Plan: plan, Library: programme.Default()}); err != nil {
			t.Fatal(err)
		}
		sheet := b.String()
		for i, e := range programme.Default().Exercises {
			c := w.card(e, list[i], "")
			for _, text := range []string{c.Title, c.Cue} {
				quoted, err := json.Marshal(text)
				if err != nil || !strings.Contains(sheet, string(quoted)) {
					t.Errorf("%s: %s says %q in the report and other on the sheet (%v)", language, e.Name, text, err)
				}
			}
		}
	}
}

// TestReportInUSUnits reads lengths and the speed in inches and miles, and leaves what
// has no such unit as it is.
func TestReportInUSUnits(t *testing.T) {
	for _, x := range []struct{ language, length, speed, us, metric string }{
		{"en", "8.6 inches", "Filmed at 6.7 mph (8:56 min a mile)", ", at 6.7 mph (8:56 min/mile)", ", at 10.8 km/h (5:33 min/km)"},
		{"de", "8,6 Zoll", "Gefilmt bei 6,7 mph (8:56 min je Meile)", ", bei 6,7 mph (8:56 min/Meile)", ", bei 10,8 km/h (5:33 min/km)"},
	} {
		w := wordsOf(ReportAsk{Language: x.language, Units: "us"})
		// 0.219 m are 8.62 in; 3 m/s are 6.71 mph, and a mile of 1609.344 m takes 536 s.
		if got := w.amount(w.shown(0.219, "m"), 1, "m"); got != x.length {
			t.Errorf("%s: a length reads %q, want %q", x.language, got, x.length)
		}
		if got := w.speed(3); got != x.speed {
			t.Errorf("%s: a speed reads %q, want %q", x.language, got, x.speed)
		}
		metric := wordsOf(ReportAsk{Language: x.language, Units: "metric"})
		// 10.8 km/h, as a step rate of the calendar is asked for; 5:33 a kilometre.
		at := PageWeekAt{SpeedMPS: 3, SpeedKMH: 10.8, Pace: PaceText(3)}
		if got := w.atPace(at); got != x.us {
			t.Errorf("%s: a pace reads %q, want %q", x.language, got, x.us)
		}
		if got := metric.atPace(at); got != x.metric {
			t.Errorf("%s: a pace reads %q, want %q", x.language, got, x.metric)
		}
		if us, si := w.amount(w.shown(12, "deg"), 0, "deg"), metric.amount(metric.shown(12, "deg"), 0, "deg"); us != si {
			t.Errorf("%s: an angle reads %q and %q", x.language, us, si)
		}
		if got := metric.amount(metric.shown(0.219, "m"), 0, "m"); !strings.HasPrefix(got, "22 ") {
			t.Errorf("%s: in metric units a length reads %q", x.language, got)
		}
	}
}
