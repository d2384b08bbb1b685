package app

import (
	"maps"
	"sync"

	"gaitwright/gait/exam"
	"gaitwright/gait/measure"
	"gaitwright/gait/norm"
	"gaitwright/gait/programme"
	"gaitwright/gait/table"
	"gaitwright/ui"
)

// Words lists what measures, ranges, tests, exercises, plans, findings and their sources say in English beside the same
// in a language, {0} {1} … standing for what changes; empty where there is none.
func Words(language string) map[string]string {
	out := map[string]string{}
	maps.Copy(out, measure.Sentences(language))
	maps.Copy(out, norm.Sentences(language))
	maps.Copy(out, exam.Sentences(language))
	maps.Copy(out, programme.Sentences(language))
	if language == "de" {
		maps.Copy(out, germanSources())
	}
	return out
}

var toldGerman = sync.OnceValue(func() *table.Words {
	all := Words("de")
	maps.Copy(all, ui.Told())
	return table.NewWords(all)
})

// Told says in a language what a page is told in English, by the words that the page
// itself has for it; false where there are none, as for a coach's own.
func Told(language, text string) (string, bool) {
	if language != "de" {
		return text, true
	}
	return toldGerman().Lookup(text)
}
