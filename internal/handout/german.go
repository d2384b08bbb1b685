package handout

import (
	"fmt"
	"regexp"
	"strings"

	"gaitwright/gait/programme"
)

// said is a text with its language where that is not the sheet's.
type said struct {
	Text string `json:"t"`
	Lang string `json:"l,omitempty"`
}

// rule is one of the rules of going on.
type rule struct {
	If   said `json:"if"`
	Then said `json:"then"`
}

func (s Sheet) say(text string) said {
	if s.Language == "de" && text != "" {
		if german, ok := German(text); ok {
			return said{Text: german}
		}
		return said{Text: text, Lang: "en"}
	}
	return said{Text: text}
}

// German gives what a programme says of its weeks, its rules, and the intake of
// pain, in German; ok is false where it has no words for a part of it.
func German(text string) (german string, ok bool) {
	if g, ok := germanWords[text]; ok {
		return g, true
	}
	for _, p := range germanPatterns {
		m := p.of.FindStringSubmatch(text)
		g, ok := p.to, m != nil
		for i := 1; ok && i < len(m); i++ {
			piece := m[i]
			if strings.Trim(piece, "0123456789") != "" {
				piece, ok = German(piece)
			}
			g = strings.ReplaceAll(g, fmt.Sprintf("{%d}", i-1), piece)
		}
		if ok {
			return g, true
		}
	}
	// Sentence by sentence: a week's note may be of two.
	if at := strings.Index(text, ". "); at > 0 {
		first, ok := German(text[:at+1])
		if !ok {
			return "", false
		}
		rest, ok := German(text[at+2:])
		return first + " " + rest, ok
	}
	return "", false
}

var germanPatterns = []struct {
	of *regexp.Regexp
	to string
}{
	{regexp.MustCompile(`^Pain of (\d+) of 10 \((.+)\) is (.+)\.$`), "Schmerz von {0} von 10 ({1}) ist {2}."},
	{regexp.MustCompile(`^There is no programme until a clinician has cleared it: (.+)\.$`), "Es gibt kein Programm, bis ein Arzt es freigegeben hat: {0}."},
	{regexp.MustCompile(`^(left|right) (.+)$`), "{1}, {0}"},
}

var germanWords = map[string]string{
	"left": "links", "right": "rechts", "safe": "unbedenklich", "acceptable": "vertretbar", "too much": "zu viel",

	// Places.
	"head": "Kopf", "neck": "Nacken", "shoulder": "Schulter", "arm": "Arm", "chest": "Brust", "belly": "Bauch", "upper back": "oberer Rücken", "low back": "unterer Rücken", "sacrum": "Kreuzbein",
	"pelvis, front": "Becken, vorn", "groin": "Leiste", "buttock": "Gesäß", "hip, outer side": "Hüfte, außen",
	"thigh, front": "Oberschenkel, vorn", "thigh, inner side": "Oberschenkel, innen", "thigh, outer side": "Oberschenkel, außen", "thigh, back": "Oberschenkel, hinten",
	"knee, front": "Knie, vorn", "knee, inner side": "Knie, innen", "knee, outer side": "Knie, außen", "knee, back": "Kniekehle", "shin": "Schienbein", "calf": "Wade", "Achilles tendon": "Achillessehne", "achilles tendon": "Achillessehne",
	"ankle, inner side": "Knöchel, innen", "ankle, outer side": "Knöchel, außen", "heel": "Ferse", "arch of the foot": "Fußgewölbe", "forefoot": "Vorfuß", "toes": "Zehen",

	// The weeks.
	"Learn the movements; it must be felt where it should be before anything gets harder.":                            "Lerne die Bewegungen; du musst sie dort spüren, wo sie hingehören, bevor etwas schwerer wird.",
	"Half-way: send a note on pain and what was done.":                                                                "Halbzeit: Schick eine Nachricht, was schmerzt und was du gemacht hast.",
	"Last week: keep the dose, add nothing, then re-test.":                                                            "Letzte Woche: Bleib bei dem, was du machst, nimm nichts dazu, dann kommt der zweite Test.",
	"New or harder forms come in. Stay with the easier one where the movement is not clean or pain is above 2 of 10.": "Neue oder schwerere Formen kommen dazu. Bleib bei der leichteren, wo die Bewegung nicht sauber ist oder der Schmerz über 2 von 10 liegt.",
	"New or harder forms come in.":                                                                                    "Neue oder schwerere Formen kommen dazu.",
	"Stay with the easier one where the movement is not clean or pain is above 2 of 10.":                              "Bleib bei der leichteren, wo die Bewegung nicht sauber ist oder der Schmerz über 2 von 10 liegt.",
	"Full sets of what was learnt.":                                                                                   "Ganze Sätze von dem, was du gelernt hast.",
	"A little more of the same: repetitions first, then a set.":                                                       "Ein wenig mehr vom Gleichen: erst Wiederholungen, dann ein Satz.",
	"The same once more, and cleaner; the time is full.":                                                              "Noch einmal dasselbe, und sauberer; die Zeit ist voll.",
	"Nothing was found that a programme would change.":                                                                "Es wurde nichts gefunden, was ein Programm ändern würde.",

	// The ramp.
	"All of the run with the click; keep the pace, let the step shorten.":   "Der ganze Lauf mit dem Klick; halte das Tempo, lass den Schritt kürzer werden.",
	"At the target; now with less and less of the click.":                   "Am Ziel; jetzt mit immer weniger Klick.",
	"One run without any click: count, and bring the count to the re-test.": "Ein Lauf ganz ohne Klick: Zähl mit, und bring die Zahl zum zweiten Test mit.",
	"Done again.": "Noch einmal.",

	// The rules.
	"Pain 0 to 2 of 10 during and the morning after": "Schmerz 0 bis 2 von 10, dabei und am Morgen danach",
	"Go on as planned.": "Mach weiter wie geplant.",
	"Pain 3 to 5, gone by the next morning and not rising over the week":                     "Schmerz 3 bis 5, am nächsten Morgen weg und über die Woche nicht mehr werdend",
	"Stay at this week's dose; do not go on.":                                                "Bleib bei dieser Woche; geh nicht weiter.",
	"Pain above 5, or not gone by the next morning, or rising from week to week":             "Schmerz über 5, oder am nächsten Morgen nicht weg, oder von Woche zu Woche mehr",
	"Go back a week, leave out what hurt, and tell your coach; see a clinician if it stays.": "Geh eine Woche zurück, lass weg, was wehtat, und sag es im Studio; bleibt es, geh zum Arzt.",
	"Pin-point pain on a bone, pain at night or at rest":                                     "Punktgenauer Schmerz auf einem Knochen, Schmerz in der Nacht oder in Ruhe",
	"Stop running and see a clinician. These rules do not apply.":                            "Hör mit dem Laufen auf und geh zum Arzt. Diese Regeln gelten dann nicht.",
	"Up to half of a week's days missed":                                                     "Bis zur Hälfte der Tage einer Woche ausgefallen",
	"Go on; do not make up for them.":                                                        "Mach weiter; hol sie nicht nach.",
	"More than half of a week's days missed":                                                 "Mehr als die Hälfte der Tage einer Woche ausgefallen",
	"Do the same week again.":                                                                "Mach dieselbe Woche noch einmal.",
	"Two weeks or more missed":                                                               "Zwei Wochen oder mehr ausgefallen",
	"Go back two weeks.":                                                                     "Geh zwei Wochen zurück.",
	"A run that would be much longer than any of the last month":                             "Ein Lauf, der viel länger wäre als jeder des letzten Monats",
	"Lengthen it in smaller steps; count the longest run, not the week.":                     "Verlängere ihn in kleineren Schritten; es zählt der längste Lauf, nicht die Woche.",

	// Pain as it was told at the intake.
	"No reason to change the run.":                                         "Kein Grund, den Lauf zu ändern.",
	"Running may go on if the pain is back where it was the next morning.": "Laufen darf weitergehen, wenn der Schmerz am nächsten Morgen wieder ist, wo er war.",
	"More than the scale allows for running: do not film running today, or film walking alone, and find out what brings it on.": "Mehr, als die Skala beim Laufen erlaubt: Lauf nicht, bis geklärt ist, woher er kommt.",
}

// rules are those of going on, in the sheet's language.
func (s Sheet) rules() []rule {
	var out []rule
	for _, r := range programme.ProgressRules() {
		out = append(out, rule{s.say(r.If), s.say(r.Then)})
	}
	return out
}
