package app

import (
	"maps"

	"gaitwright/gait/exam"
	"gaitwright/gait/measure"
	"gaitwright/gait/norm"
	"gaitwright/gait/programme"
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
