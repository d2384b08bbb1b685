package handout

import (
	"maps"
	"sync"

	"gaitwright/gait/programme"
	"gaitwright/gait/table"
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

// say is a text in the sheet's language, or in English and marked so where there are no
// words for it.
func (s Sheet) say(text string) said {
	if s.Language != "de" || text == "" {
		return said{Text: text}
	}
	if german, ok := germanWords().Lookup(text); ok {
		return said{Text: german}
	}
	return said{Text: text, Lang: "en"}
}

// germanWords are the programme's, and those of what stands on a sheet beside it: the
// ramp, and pain as it was told at the intake.
var germanWords = sync.OnceValue(func() *table.Words {
	all := maps.Clone(germanSaid)
	maps.Copy(all, programme.Sentences("de"))
	for english, german := range germanPlaces {
		all[english], all["left "+english], all["right "+english] = german, german+", links", german+", rechts"
	}
	return table.NewWords(all)
})

var germanSaid = map[string]string{
	"Pain of {0} of 10 ({1}) is {2}.": "Schmerz von {0} von 10 ({1}) ist {2}.",
	"acceptable":                      "vertretbar",
	"too much":                        "zu viel",
	"Running may go on if the pain is back where it was the next morning.":                                                      "Laufen darf weitergehen, wenn der Schmerz am nächsten Morgen wieder ist, wo er war.",
	"More than the scale allows for running: do not film running today, or film walking alone, and find out what brings it on.": "Mehr, als die Skala beim Laufen erlaubt: Lauf nicht, bis geklärt ist, woher er kommt.",

	"All of the run with the click; keep the pace, let the step shorten.":   "Der ganze Lauf mit dem Klick; halte das Tempo, lass den Schritt kürzer werden.",
	"At the target; now with less and less of the click.":                   "Am Ziel; jetzt mit immer weniger Klick.",
	"One run without any click: count, and bring the count to the re-test.": "Ein Lauf ganz ohne Klick: Zähl mit, und bring die Zahl zum zweiten Test mit.",
	"Done again.": "Noch einmal.",
}

var germanPlaces = map[string]string{
	"head": "Kopf", "neck": "Nacken", "shoulder": "Schulter", "arm": "Arm", "chest": "Brust", "belly": "Bauch", "upper back": "oberer Rücken", "low back": "unterer Rücken", "sacrum": "Kreuzbein",
	"pelvis, front": "Becken, vorn", "groin": "Leiste", "buttock": "Gesäß", "hip, outer side": "Hüfte, außen",
	"thigh, front": "Oberschenkel, vorn", "thigh, inner side": "Oberschenkel, innen", "thigh, outer side": "Oberschenkel, außen", "thigh, back": "Oberschenkel, hinten",
	"knee, front": "Knie, vorn", "knee, inner side": "Knie, innen", "knee, outer side": "Knie, außen", "knee, back": "Kniekehle", "shin": "Schienbein", "calf": "Wade", "Achilles tendon": "Achillessehne", "achilles tendon": "Achillessehne",
	"ankle, inner side": "Knöchel, innen", "ankle, outer side": "Knöchel, außen", "heel": "Ferse", "arch of the foot": "Fußgewölbe", "forefoot": "Vorfuß", "toes": "Zehen",
}

// rules are those of going on, in the sheet's language.
func (s Sheet) rules() []rule {
	var out []rule
	for _, r := range programme.ProgressRules() {
		out = append(out, rule{s.say(r.If), s.say(r.Then)})
	}
	return out
}
