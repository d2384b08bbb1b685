package app

import (
	"math"
	"strings"
	"testing"
	"unicode"
)

// syllables counts the syllables of an English word: groups of vowels, less a
// silent e or ed at the end; a y after a consonant is a vowel.
func syllables(word string) int {
	w := strings.ToLower(strings.Trim(word, "'’"))
	vowel := func(i int) bool { return strings.ContainsRune("aeiouy", rune(w[i])) }
	n := 0
	for i := range len(w) {
		if vowel(i) && (i == 0 || !vowel(i-1)) {
			n++
		}
	}
	last := len(w) - 1
	switch {
	case strings.HasSuffix(w, "tre"), strings.HasSuffix(w, "tres"):
	case strings.HasSuffix(w, "les") && last > 3 && !vowel(last-3), strings.HasSuffix(w, "le") && last > 2 && !vowel(last-2):
	case strings.HasSuffix(w, "es") && last > 2 && !strings.HasSuffix(w, "ses") && !strings.HasSuffix(w, "ches") && !strings.HasSuffix(w, "ces") && !strings.HasSuffix(w, "ges") && !vowel(last-2):
		n--
	case strings.HasSuffix(w, "e") && last > 1 && !vowel(last-1):
		n--
	case strings.HasSuffix(w, "ed") && last > 2 && !strings.HasSuffix(w, "ted") && !strings.HasSuffix(w, "ded") && !vowel(last-2):
		n--
	}
	for _, pair := range []string{"ia", "eo", "iu", "uou", "ual"} {
		if strings.Contains(w, pair) {
			n++
			break
		}
	}
	return max(n, 1)
}

// The counts are of the dictionary's divisions, from memory.
func TestSyllables(t *testing.T) {
	known := map[string]int{"run": 1, "knee": 1, "report": 2, "running": 2, "diagnosis": 4, "exercise": 3, "degree": 2, "degrees": 2, "either": 2, "muscle": 2, "muscles": 2, "pelvis": 2,
		"doctor": 2, "medical": 3, "middle": 2, "leaned": 1, "landed": 2, "minute": 2, "steps": 1, "injuries": 3, "usual": 3, "before": 2, "strength": 1, "little": 2, "bone": 1, "bones": 1,
		"hurt": 1, "calf": 1, "therapist": 3, "measured": 2, "changes": 2, "places": 2, "analysis": 4, "ground": 1, "body": 2, "carry": 2, "side": 1, "behind": 2, "finding": 2, "centimetre": 4}
	wrong := []string{}
	for word, want := range known {
		if got := syllables(word); got != want {
			wrong = append(wrong, word)
			t.Logf("%s: %d syllables, counted %d", word, want, got)
		}
	}
	if len(wrong) > len(known)/20 {
		t.Errorf("%d of %d words are counted wrong: %v", len(wrong), len(known), wrong)
	}
}

// grade is the reading grade of Kincaid, Fishburne, Rogers & Chissom 1975, Naval
// Technical Training Command Research Branch Report 8-75: 0.39 words a sentence +
// 11.8 syllables a word − 15.59.
func grade(text string) float64 {
	words, sounds, sentences := 0, 0, 0
	for _, s := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(".!?", r) }) {
		n := 0
		for _, w := range strings.FieldsFunc(s, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '\'' }) {
			n++
			if unicode.IsDigit(rune(w[0])) {
				sounds += 2 // a number of two figures is said in about two
				continue
			}
			sounds += syllables(w)
		}
		if n > 0 {
			words, sentences = words+n, sentences+1
		}
	}
	if words == 0 {
		return math.NaN()
	}
	return 0.39*float64(words)/float64(sentences) + 11.8*float64(sounds)/float64(words) - 15.59
}

func TestGradeTellsHardFromEasy(t *testing.T) {
	// 6 words in 1 sentence, 6 syllables: 0.39·6 + 11.8 − 15.59 = −1.45.
	if g := grade("The cat sat on the mat."); math.Abs(g+1.45) > 0.01 {
		t.Errorf("an easy sentence has grade %.2f", g)
	}
	if g := grade("Biomechanical interpretation of asymmetrical musculoskeletal coordination necessitates multidisciplinary consideration."); g < 20 {
		t.Errorf("a hard sentence has grade %.1f", g)
	}
}

// TestRunnersReportIsEasyToRead measures every text of the English words, and all
// of them together.
func TestRunnersReportIsEasyToRead(t *testing.T) {
	w := reportWordsBy["en"]()
	ready := func(s string) string {
		s = strings.ReplaceAll(s, "%s", "right")
		return filled(s, "side", "right", "value", "12 degrees", "error", "about 3 degrees either way", "n", "3 degrees", "low", "5", "high", "9 degrees", "base", "160", "to", "165",
			"minutes", "10 minutes", "goal", "170", "week", "6", "weeks", "8", "date", "1 May", "rate", "160", "tests", "the squat on one leg", "score", "3", "days", "3")
	}
	all := ready(strings.Join([]string{w.Lead, w.Figures, w.NoneMeasured, w.NoneUndecided, w.NoneNothing, w.Week, w.Learn, w.NoPlan, w.Rate, w.RateGoal, w.When, w.WhenNone, w.WhenEarly, w.Change,
		strings.Join(w.Pain, " "), strings.Join(w.Care, " "), w.ReferLead, w.ReferEmergency, w.ReferSoon, w.ReferBack, w.ReferNoName}, " "))
	if g := grade(all); g > 8 {
		t.Errorf("the frame of the report has grade %.1f", g)
	} else {
		t.Logf("the frame of the report has grade %.1f", g)
	}
	// A passage is what the runner reads of one finding, with the number of each
	// measure that may carry it.
	rules, _ := rulesInUse()
	most, hardest := 0.0, ""
	for _, p := range rules.Patterns {
		f := w.Findings[p.Name]
		for _, c := range p.Core {
			for _, number := range []string{w.Measures[c.Measure].Plus, w.Measures[c.Measure].Minus} {
				if number == "" {
					continue
				}
				text := f.Title + ". " + f.Saw + " " + number + " " + w.LineUpTo + " " + f.Why
				for _, c := range p.Causes {
					text += " " + w.Causes[p.Name+"/"+c.Name]
				}
				if g := grade(ready(text)); g > 8 {
					t.Errorf("%s with %s has grade %.1f: %s", p.Name, c.Measure, g, ready(text))
				} else if g > most {
					most, hardest = g, p.Name
				}
			}
		}
	}
	for _, c := range rules.Chains {
		f := w.Findings[c.Name]
		if g := grade(ready(f.Title + ". " + f.Saw + " " + f.Why)); g > 8 {
			t.Errorf("%s has grade %.1f", c.Name, g)
		}
	}
	t.Logf("the hardest finding is %s with grade %.1f", hardest, most)
}
