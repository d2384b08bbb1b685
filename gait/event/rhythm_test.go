package event

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gaitwright/gait/body"
	"pgregory.net/rapid"
)

// regular is n contacts of alternating feet, 0.35 s a step with an unsteadiness of
// 7 ms, as of runner 001 of the open data.
func regular(n int, r *rand.Rand) []Contact {
	var c []Contact
	side, at := body.Left, 0.3
	for range n {
		c = append(c, Contact{Side: side, InitialContactS: at, ToeOffS: at + 0.23})
		at += 0.35 + 0.007*r.NormFloat64()
		side = side.Other()
	}
	return c
}

// An extra contact anywhere is the one that is left out, and nothing else is.
func TestExtraContactIsFound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		sound := regular(rapid.IntRange(8, 60).Draw(t, "n"), r)
		at := rapid.Float64Range(0.9, sound[len(sound)-1].InitialContactS-0.6).Draw(t, "at")
		extra := Contact{Side: body.Left, InitialContactS: at, ToeOffS: at + 0.1}
		for _, c := range sound {
			if d := c.InitialContactS - at; c.Side == extra.Side && d > -0.1 && d < 0.1 {
				t.Skip("too near a true one to be told from it")
			}
		}
		s := Series{Contacts: append(slices.Clone(sound), extra)}
		sortContacts(s.Contacts)
		s.mendRhythm(&limbs{}, nil, 0)
		if !slices.Equal(s.Contacts, sound) {
			t.Fatalf("left %d of %d contacts after one extra at %.3f s", len(s.Contacts), len(sound), at)
		}
		if len(s.Notes) != 1 || !strings.Contains(s.Notes[0], "1 contact too many") {
			t.Fatalf("notes %q", s.Notes)
		}
	})
}

// A regular run is left alone; a missing contact, whose leg nobody saw, leaves no
// doubt on the others.
func TestRegularRunIsLeftAlone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		sound := regular(rapid.IntRange(4, 60).Draw(t, "n"), r)
		s := Series{Contacts: slices.Clone(sound)}
		s.mendRhythm(&limbs{}, nil, 0)
		if !slices.Equal(s.Contacts, sound) || len(s.Notes) != 0 {
			t.Fatalf("a regular run was changed: %q", s.Notes)
		}
		if len(sound) < 8 {
			return
		}
		k := rapid.IntRange(2, len(sound)-3).Draw(t, "missing")
		fewer := slices.Delete(slices.Clone(sound), k, k+1)
		s = Series{Contacts: slices.Clone(fewer)}
		s.mendRhythm(&limbs{}, nil, 0)
		if !slices.Equal(s.Contacts, fewer) {
			t.Fatalf("with contact %d missing the others were changed", k)
		}
	})
}

func TestOutOfStep(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	c := regular(12, r)
	c[6].InitialContactS += 0.17
	c[6].ToeOffS += 0.17
	s := Series{Contacts: c}
	s.mendRhythm(&limbs{}, nil, 0)
	if s.Contacts[6].Doubt == "" {
		t.Errorf("a contact half a step late is not doubted: %+v", s.Contacts[6])
	}
}
