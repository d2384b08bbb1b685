package programme

import (
	"regexp"
	"strings"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/finding"
)

// Every exercise has all its words in German, every evidence and tag too, and nothing
// stands in the table that no exercise says.
func TestGermanIsWhole(t *testing.T) {
	g := german()
	evidence := map[string]bool{}
	said := map[string]string{}
	once := func(from, to string) {
		t.Helper()
		if was, ok := said[from]; ok && was != to {
			t.Errorf("%q is %q here and %q there", from, was, to)
		}
		said[from] = to
	}
	for _, e := range Default().Exercises {
		w, ok := g.Exercises[e.Name]
		if !ok || w.Title == "" || w.Cue == "" || w.Felt == "" || (w.NotFelt == "") != (e.NotFelt == "") || len(w.How) != len(e.How) {
			t.Errorf("%s: %+v", e.Name, w)
			continue
		}
		once(e.Title, w.Title)
		once(e.Cue, w.Cue)
		once(e.Felt, w.Felt)
		once(e.NotFelt, w.NotFelt)
		for k := range e.How {
			once(e.How[k], w.How[k])
		}
		if g.Evidence[e.Evidence] == "" || g.Tags[e.Tag] == "" {
			t.Errorf("%s: no German for %q [%s]", e.Name, e.Evidence, e.Tag)
		}
		evidence[e.Evidence] = true
		if d := e.In("de"); d.Title != w.Title || d.How[0] != w.How[0] || d.Evidence != g.Evidence[e.Evidence] || d.Dose != e.Dose {
			t.Errorf("%s in German: %+v", e.Name, d)
		}
		if e.In("en") != e {
			t.Errorf("%s in English is another", e.Name)
		}
	}
	for name := range g.Exercises {
		if Default().Lookup(name) == nil {
			t.Errorf("there is no exercise %s", name)
		}
	}
	for s := range g.Evidence {
		if !evidence[s] {
			t.Errorf("nothing says %q any more", s)
		}
	}
	english := regexp.MustCompile(`(?i)\b(the|with|and|your|from|foot|knee)\b`)
	for from, to := range Sentences("de") {
		if m := english.FindString(to); m != "" {
			t.Errorf("%q is said as %q, with the English %q", from, to, m)
		}
	}
	own := *Default().Exercises[0]
	own.Own, own.Title = true, "My own"
	if own.In("de").Title != "My own" {
		t.Error("a user's own exercise was changed")
	}
}

// Whatever a plan says is said in German.
func TestGermanOfAPlan(t *testing.T) {
	for _, s := range StopSigns {
		if Say("de", s) == s {
			t.Errorf("no German for %q", s)
		}
	}
	for _, r := range ProgressRules() {
		for _, s := range []string{r.If, r.Then, r.Source} {
			if Say("de", s) == s {
				t.Errorf("no German for %q", s)
			}
		}
	}
	var aims []finding.SidedAim
	for _, p := range finding.Default().Patterns {
		for _, c := range p.Causes {
			for _, a := range c.Aims {
				aims = append(aims, finding.SidedAim{Aim: a, Side: body.Left, Of: strings.TrimSuffix(c.Text, ".") + " (" + finding.NotTested + ")"})
			}
		}
	}
	for k := range aims {
		in := Input{Start: start, Equipment: Equipment, Aims: aims[k:min(k+3, len(aims))], Refer: []finding.Referral{{Region: "shoulder", Why: []string{"pain of 7 of 10 was told"}}}}
		p := Make(Default(), in)
		for _, w := range p.Weeks {
			texts := []string{w.Note}
			for _, i := range append(append(w.Warm, w.Full...), w.Running...) {
				texts = append(texts, i.Of, i.Why)
			}
			for _, s := range texts {
				if s != "" && Say("de", s) == s {
					t.Fatalf("no German for %q", s)
				}
			}
		}
		in.Refer[0].Region = "calf"
		if p := Make(Default(), in); Say("de", p.NoRun) == p.NoRun || p.Short != "" && Say("de", p.Short) == p.Short {
			t.Fatalf("no German for %q or %q", p.NoRun, p.Short)
		}
	}
}
