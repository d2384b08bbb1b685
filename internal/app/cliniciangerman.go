package app

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"maps"
	"regexp"
	"strings"
	"sync"

	"gaitwright/gait/programme"
	"gaitwright/gait/table"
	"gaitwright/internal/render"
	"gaitwright/ui"
)

// clinician.de.json has what only the clinician's report says, English beside German,
// and shorter units for its narrow columns.
//
//go:embed clinician.de.json
var clinicianDE []byte

var clinicianGerman = sync.OnceValue(func() *table.Words {
	all := ui.Told()
	maps.Copy(all, programme.Sentences("de"))
	maps.Copy(all, germanSources())
	var own map[string]string
	if err := json.Unmarshal(clinicianDE, &own); err != nil {
		panic(fmt.Sprintf("app: clinician.de.json: %v", err)) // it is part of the program
	}
	maps.Copy(all, own)
	return table.NewWords(all)
})

var (
	twoNumbers     = regexp.MustCompile(`^([−-]?[\d.]+) (to|of) ([−-]?[\d.]+)$`)
	oneNumber      = regexp.MustCompile(`^(from|up to) ([−-]?[\d.]+)$`)
	withUnit       = regexp.MustCompile(`^([−-]?[\d.]+(?: ± [\d.]+)?) ([^\d;:,(\[]+)$`)
	painSaid       = regexp.MustCompile(`^(left|right) (.+) (\d+) of 10$`)
	sentenceBegins = regexp.MustCompile(`([.!?]) (\p{Lu})`)
	decimalPoint   = regexp.MustCompile(`(^|[^\d.])([−-]?\d+)\.(\d+)($|[^\d.]|\.$)`)
)

// inGerman says a clinician's report in German: each text whole, else by its
// sentences, else by its parts. What there is no word for stays English: citations,
// what people wrote, a user's own rules. untold is told each text that stays as it is.
func inGerman(r *render.Dossier, untold func(string)) {
	words := clinicianGerman()
	type said struct {
		text string
		ok   bool
	}
	before := map[string]said{} // each part is worked out once, however many a text has
	var say, sayNew func(s string) (string, bool)
	say = func(s string) (string, bool) {
		if k, ok := before[s]; ok {
			return k.text, k.ok
		}
		text, ok := sayNew(s)
		before[s] = said{text, ok}
		return text, ok
	}
	sayNew = func(s string) (string, bool) {
		if s == "" || !strings.ContainsFunc(s, isLetter) {
			return s, true
		}
		if m := withUnit.FindStringSubmatch(s); m != nil {
			if unit, ok := words.Lookup(m[2]); ok {
				return m[1] + " " + unit, true
			} else if !strings.Contains(m[2], " ") {
				return s, true // a unit of the SI, the same in German
			}
		}
		// Part by part where each part has its words: a pattern might take several in.
		for _, between := range []string{": ", "; "} {
			if a, b, ok := strings.Cut(s, between); ok {
				a, left := say(a)
				if b, right := say(b); left && right {
					return a + between + b, true
				}
			}
		}
		if to, ok := words.Lookup(s); ok {
			return to, true
		}
		if m := painSaid.FindStringSubmatch(s); m != nil {
			side, _ := words.Lookup(m[1])
			region, ok := words.Lookup(m[2])
			return region + " " + side + ", " + m[3] + " von 10", ok
		}
		if m := twoNumbers.FindStringSubmatch(s); m != nil {
			return m[1] + map[string]string{"to": " bis ", "of": "/"}[m[2]] + m[3], true
		}
		if m := oneNumber.FindStringSubmatch(s); m != nil {
			return map[string]string{"from": "ab ", "up to": "bis "}[m[1]] + m[2], true
		}
		if i := strings.LastIndex(s, " ["); i > 0 && strings.HasSuffix(s, "]") { // a citation
			a, ok := say(s[:i])
			b, _ := say(s[i+2 : len(s)-1])
			return a + " [" + b + "]", ok
		}
		if parts := strings.Split(sentenceBegins.ReplaceAllString(s, "$1\x00$2"), "\x00"); len(parts) > 1 {
			whole := true
			for i, p := range parts {
				var ok bool
				parts[i], ok = say(p)
				whole = whole && ok
			}
			return strings.Join(parts, " "), whole
		}
		if text, stopped := strings.CutSuffix(s, "."); strings.HasSuffix(text, ")") { // a remark
			if i := strings.LastIndex(text, " ("); i > 0 {
				a, left := say(text[:i])
				b, right := say(text[i+2 : len(text)-1])
				end := ")"
				if stopped {
					end = ")."
				}
				return a + " (" + b + end, left && right
			}
		}
		for _, between := range []string{": ", "; "} {
			if a, b, ok := strings.Cut(s, between); ok {
				a, left := say(a)
				b, right := say(b)
				return a + between + b, left && right
			}
		}
		if i := strings.LastIndex(s, ", "); i > 0 {
			a, left := say(s[:i])
			b, right := say(s[i+2:])
			return a + ", " + b, left && right
		}
		return s, false
	}
	put := func(s *string) {
		to, ok := say(*s)
		if !ok && untold != nil {
			untold(*s)
		}
		*s = decimalPoint.ReplaceAllString(to, "$1$2,$3$4")
	}
	putParts := func(s *string) {
		parts := strings.Split(*s, ", ")
		for n := range parts {
			put(&parts[n])
		}
		*s = strings.Join(parts, ", ")
	}
	putParts(&r.About)
	for i := range r.Facts {
		f := &r.Facts[i]
		switch f.Label {
		case "Pain":
			put(&f.Value)
		case "Training":
			putParts(&f.Value) // the last may be the runner's own words
		}
		put(&f.Label)
	}
	for i := range r.Parts {
		p := &r.Parts[i]
		put(&p.Title)
		for k := range p.Blocks {
			b := &p.Blocks[k]
			for _, s := range []*string{&b.Head, &b.Text, &b.Small, &b.Warn} {
				put(s)
			}
			for n := range b.List {
				put(&b.List[n])
			}
			for n := range b.Plots {
				put(&b.Plots[n].Title)
				put(&b.Plots[n].Unit)
			}
			for n := range b.Frames {
				put(&b.Frames[n].Title)
				put(&b.Frames[n].Label)
			}
			if b.Table == nil {
				continue
			}
			for n := range b.Table.Columns {
				put(&b.Table.Columns[n].Title)
			}
			for n := range b.Table.Rows {
				row := &b.Table.Rows[n]
				put(&row.Head)
				for c := range row.Cells {
					put(&row.Cells[c])
				}
			}
		}
	}
}

func isLetter(r rune) bool {
	return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r > 0x7f && r != '−' && r != '±' && r != '–' && r != '°'
}
