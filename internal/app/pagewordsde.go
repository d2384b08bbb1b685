package app

import "gaitwright/gait/programme"

// Words lists what exercises, plans and findings say in English beside the same in a
// language, {0} {1} … standing for what changes; empty where there is none.
func Words(language string) map[string]string {
	if w := programme.Sentences(language); w != nil {
		return w
	}
	return map[string]string{}
}
