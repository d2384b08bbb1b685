package finding

import (
	"regexp"
	"strings"
	"testing"

	"gaitwright/gait/exam"
	"gaitwright/gait/table"
)

// Every sentence of the rules has its German, with the same places for what changes,
// and nothing stands in the table that the rules do not say.
func TestGermanIsWhole(t *testing.T) {
	g := germanSentences()
	said := map[string]bool{}
	want := func(where, text string) {
		t.Helper()
		if text == "" {
			return
		}
		key := strings.ReplaceAll(text, "%s", "{0}")
		if _, ok := g[key]; !ok {
			t.Errorf("%s: no German for %q", where, text)
		}
		said[key] = true
	}
	r := Default()
	for k, c := range r.Contested {
		want("contested", c.Text)
		if k < 1 || k > 14 {
			t.Errorf("point %d", k)
		}
	}
	aims := func(where string, list []Aim) {
		for _, a := range list {
			want(where, a.Why)
		}
	}
	for _, p := range r.Patterns {
		for _, s := range []string{p.Title, p.Seen, p.Overturn, p.ChangeWhy} {
			want(p.Name, s)
		}
		aims(p.Name, p.Aims)
		for _, c := range p.Causes {
			want(p.Name, c.Text)
			aims(p.Name, c.Aims)
		}
		for _, v := range p.Rivals {
			want(p.Name, v.Text)
			want(p.Name, v.Settle)
		}
	}
	for _, c := range r.Chains {
		want(c.Name, c.Title)
		want(c.Name, c.Text)
	}
	for _, x := range exam.Catalogue() {
		want(x.Name, x.Title)
		for _, f := range x.Felt {
			want(x.Name, f)
		}
	}
	for _, c := range []Confidence{WellSupported, Supported, Tentative} {
		want("confidence", c.Meaning())
	}
	place := regexp.MustCompile(`\{\d\}`)
	for from, to := range g {
		if a, b := place.FindAllString(from, -1), place.FindAllString(to, -1); len(a) != len(b) {
			t.Errorf("%q has %d places, %q has %d", from, len(a), to, len(b))
		}
		if strings.HasSuffix(from, ".") != strings.HasSuffix(to, ".") {
			t.Errorf("one of %q and %q ends with a full stop", from, to)
		}
		// What begins as a sentence and changes with nothing is the rules' own.
		if !place.MatchString(from) && strings.HasSuffix(from, ".") && !said[from] {
			t.Errorf("nothing says %q any more", from)
		}
	}
}

// What the reasoning puts together is said too.
func TestGermanOfWhatIsReasoned(t *testing.T) {
	words := table.NewWords(Sentences("de"))
	for _, c := range []struct{ from, want string }{
		{"The right knee comes in toward the middle line while that foot stands.", "Das Knie kommt zur Mittellinie, während der Fuß dieser Seite steht (rechts)."},
		{"Tight muscles of the inner thigh pull it in (not tested yet: the usual first guess)", "Feste Muskeln des Innenschenkels ziehen ihn nach innen (noch nicht geprüft: die übliche erste Annahme)"},
		{"Hip abduction strength, right: 0.69 Nm/kg against 1.49 Nm/kg on the other side, beyond the error of a difference, below 22 % of body mass (the force is 17 %)",
			"Kraft: Hüfte abspreizen, rechts: 0.69 Nm/kg gegen 1.49 Nm/kg auf der anderen Seite, jenseits des Fehlers einer Differenz, unter 22 % der Körpermasse (die Kraft ist 17 %)"},
		{"Single-leg bridge, repetitions, left: felt in the hamstring", "Einbeinige Brücke, Wiederholungen, links: zu spüren: hintere Oberschenkelmuskeln"},
		{"A coach's own words.", "A coach's own words."},
	} {
		if got := words.Say(c.from); got != c.want {
			t.Errorf("%q\n is said as %q\n want %q", c.from, got, c.want)
		}
	}
	if Sentences("fr") != nil {
		t.Error("another language says something else")
	}
}
