package ui

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"maps"
	"sync"
)

//go:embed src/text/told.de.json
var toldDE []byte

var told = sync.OnceValue(func() map[string]string {
	var out map[string]string
	if err := json.Unmarshal(toldDE, &out); err != nil {
		panic(fmt.Sprintf("ui: told.de.json: %v", err)) // it is part of the program
	}
	return out
})

// Told lists what the program says in English beside the page's German for it, {0}
// {1} … standing for what changes, {0#} for digits.
func Told() map[string]string { return maps.Clone(told()) }
