package app

import (
	_ "embed"

	"gaitwright/gait/table"
)

// sources.de.yaml has what sources say beside authors, years and journals.
//
//go:embed sources.de.yaml
var sourcesDE []byte

var germanSources = table.Sentences("app: sources.de.yaml", sourcesDE)
