package table

import (
	"encoding/json"
	"os"
	"strings"
	"testing"
)

func TestWordsAreSaid(t *testing.T) {
	w := NewWords(map[string]string{
		"Go on.": "Weiter.", "the calf": "die Wade", "goes with the work for: {0}": "gehört zur Arbeit für: {0}", "It hurts, {0} of 10": "Es tut weh, {0} von 10",
		"Lower it (Willy & Davis 2011). Slowly.": "Senken (Willy & Davis 2011). Langsam.",
	})
	for _, c := range []struct{ from, want string }{
		{"Go on.", "Weiter."}, {"go on", "Weiter"}, {"The calf", "Die Wade"}, {"", ""},
		{"goes with the work for: the calf", "gehört zur Arbeit für: die Wade"},
		{"goes with the work for: the calf, go on", "gehört zur Arbeit für: die Wade, Weiter"},
		{"goes with the work for: a secret", "gehört zur Arbeit für: a secret"},
		{"It hurts, 4 of 10. Go on.", "Es tut weh, 4 von 10. Weiter."},
		{"Go on. Nobody knows. Go on.", "Go on. Nobody knows. Go on."}, // all of it or none
		{"Lower it (Willy & Davis 2011). Slowly. Go on.", "Senken (Willy & Davis 2011). Langsam. Weiter."},
		{"unknown", "unknown"},
	} {
		if got := w.Say(c.from); got != c.want {
			t.Errorf("%q is said as %q, want %q", c.from, got, c.want)
		}
	}
	if (*Words)(nil).Say("x") != "x" {
		t.Error("no table says something else")
	}
}

// The day of a date is digits; a person's own words about a month stay as they are.
// The page is held against the same cases.
func TestDigitsInAPlace(t *testing.T) {
	b, err := os.ReadFile("testdata/digits.json")
	if err != nil {
		t.Fatal(err)
	}
	var of struct {
		Table map[string]string
		Cases []struct{ From, Want string }
	}
	if err := json.Unmarshal(b, &of); err != nil || len(of.Cases) == 0 {
		t.Fatal(err)
	}
	w := NewWords(of.Table)
	for _, c := range of.Cases {
		if got := w.Say(c.From); got != c.Want {
			t.Errorf("%q is said as %q, want %q", c.From, got, c.Want)
		}
	}
}

func TestSentences(t *testing.T) {
	if got := Sentences("some.yaml", []byte("sentences:\n  \"Go on.\": \"Weiter.\""))(); len(got) != 1 || got["Go on."] != "Weiter." {
		t.Errorf("read %q", got)
	}
	defer func() {
		if said, _ := recover().(string); !strings.HasPrefix(said, "some.yaml: ") {
			t.Errorf("a damaged table panics with %q", said)
		}
	}()
	Sentences("some.yaml", []byte("phrases: {}"))()
	t.Error("a damaged table was read")
}
