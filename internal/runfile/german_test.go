package runfile

import (
	"testing"

	"github.com/muktihari/fit/profile/typedef"

	"gaitwright/gait/table"
	"gaitwright/ui"
)

// TestGermanHasEverySport asks the page's German for every sport that a FIT file may
// name, those added later too.
func TestGermanHasEverySport(t *testing.T) {
	told := ui.Told()
	words := table.NewWords(told)
	sports := append(typedef.ListSport(), typedef.Sport(200))
	if len(sports) < 50 {
		t.Fatalf("only %d sports", len(sports))
	}
	for _, s := range sports {
		if s == typedef.SportRunning || s == typedef.SportGeneric {
			continue
		}
		name := sportName(s)
		of, ok := told[name]
		if !ok {
			t.Errorf("no German for the sport %q", name)
			continue
		}
		if got := words.Say("this is no run but " + name); got != "Das ist kein Lauf, sondern: "+of {
			t.Errorf("%q reads %q", name, got)
		}
	}
}
