package app

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/measure"
)

// The report is for the runner: what only the analyst can act on (options of the
// program, the editor, the bookkeeping of contacts) stays out of it, and what is
// said of left and right alike is said once. The table, the result file and the
// browser have all of it.

var (
	// forAnalyst finds words that speak of how the program is used.
	forAnalyst = regexp.MustCompile("--[a-z]|`|in the editor|the frame bench")
	// inBrackets finds a bracket that does.
	inBrackets = regexp.MustCompile(`\s*\([^()]*--[a-z][^()]*\)`)
	// clauseEnd finds where a clause ends and another begins.
	clauseEnd = regexp.MustCompile(`[.;:] `)
	// errorSize finds how large an error was that withheld a measure.
	errorSize = regexp.MustCompile(` \(±[^()]*\)`)
	tooFew    = regexp.MustCompile(`^(?:Only \d+ strides? could be read|No whole stride of the (?:left |right )?foot was seen, from its contact to its next|Of \d+ (?:left |right )?strides? seen, what this is read from was seen in none); at least \d+ are needed\.`)
	fewFlag   = regexp.MustCompile(`^only \d+ strides, (?:about (\d+) needed to know the mean within .*|(\d+) or more advised)$`)
	wildFlag  = regexp.MustCompile(`^\d+ wild values? left out$`)
	biasFlag  = regexp.MustCompile(`reads about .* (high|low)$`)
)

// bookkeeping marks warnings on how the signal was mended, of no use to a reader
// who was not there.
var bookkeeping = []string{"was added where the rhythm", "were added where the rhythm", "not used: doubtful", "the steady part from", "left out of the curves",
	"standing trial", "carry each other's name"}

// roughFromBehind marks the warning that times from this view are rough.
const roughFromBehind = "rest on heights alone"

// inPlainWords returns a remark without the clauses that speak of the program, as a
// sentence; empty where nothing is left.
func inPlainWords(remark string) string {
	remark = inBrackets.ReplaceAllString(remark, "")
	var kept strings.Builder
	for rest := remark; rest != ""; {
		clause := rest
		if at := clauseEnd.FindStringIndex(rest); at != nil {
			clause = rest[:at[1]]
		}
		rest = rest[len(clause):]
		if !forAnalyst.MatchString(clause) {
			kept.WriteString(clause)
			continue
		}
		// What led to the clause ends here.
		led := strings.TrimRight(kept.String(), " ;:.")
		kept.Reset()
		if led != "" {
			kept.WriteString(led + ". ")
		}
	}
	s := strings.TrimRight(kept.String(), " ;:,")
	if s == "" {
		return ""
	}
	if !strings.HasSuffix(s, ".") {
		s += "."
	}
	return capital(s)
}

func capital(s string) string {
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}

// small is capital's contrary.
func small(s string) string {
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToLower(string(r[:1])) + string(r[1:])
}

// forRunner returns a clip's warnings that a runner should mind.
func forRunner(warnings []string) []string {
	var out []string
	for _, w := range warnings {
		if slices.ContainsFunc(bookkeeping, func(s string) bool { return strings.Contains(w, s) }) {
			continue
		}
		if p := inPlainWords(w); p != "" && !slices.Contains(out, p) {
			out = append(out, p)
		}
	}
	return out
}

// plainReason is why a measure is withheld, in words that are the same for what
// differs in the size of the error or the side alone.
func plainReason(m measure.Measure) string {
	s := m.Reason
	if m.Side != body.NoSide {
		s = strings.ReplaceAll(s, " "+m.Side.String()+" ", " ")
	}
	s = tooFew.ReplaceAllString(errorSize.ReplaceAllString(s, ""), "Too few strides could be read.")
	if i := strings.Index(s, "(film that side too)"); i >= 0 {
		s = "The pose model misreads the leg away from the camera: film that side too."
	}
	return inPlainWords(s)
}

// plainMeasures puts the measures of a report in its reader's words and returns
// what holds for many of them, to stand under the table.
func plainMeasures(ms []measure.Measure) (remarks []string) {
	const far = "far leg, less sure"
	farSides := map[body.Side]bool{}
	few := ""
	short := shortMeans{}
	reasons := map[string]string{} // the first of a measure's two
	for i := range ms {
		m := &ms[i]
		if m.Withheld() {
			if first, ok := reasons[m.Name]; ok {
				m.Reason = first
			} else {
				m.Reason = plainReason(*m)
				reasons[m.Name] = m.Reason
			}
		}
		var kept []string
		for _, f := range strings.Split(m.Flag, "; ") {
			switch {
			case f == far:
				farSides[m.Side] = true
			case fewFlag.MatchString(f):
				if least := fewFlag.FindStringSubmatch(f)[2]; least != "" {
					few = least
				} else {
					short.add(*m)
				}
			case f == "" || wildFlag.MatchString(f) || biasFlag.MatchString(f) && m.Bias != 0:
			case strings.HasPrefix(f, "within error of the "):
				kept = append(kept, "close to the border of two classes")
			case strings.HasPrefix(f, "mid- and forefoot are poorly told apart") && strings.Contains(m.Flag, "within error of the "):
			case strings.HasPrefix(f, "measured at the shoulders, which"):
				kept = append(kept, "measured at the shoulders")
			default:
				kept = append(kept, f)
			}
		}
		m.Flag = strings.Join(kept, "; ")
	}
	for _, s := range body.Sides {
		if farSides[s] {
			remarks = append(remarks, capital(s.String())+": the leg away from the camera; what is seen from the side is less sure there.")
		}
	}
	if few != "" {
		remarks = append(remarks, fmt.Sprintf("n below %s: few strides; %s or more make a stable mean.", few, few))
	}
	if s := short.inWords(); s != "" {
		remarks = append(remarks, s)
	}
	if s := biasInWords(ms); s != "" {
		remarks = append(remarks, s)
	}
	return remarks
}

// shortMeans are the measures whose strides are fewer than a stable mean needs, by
// title, each with the strides at hand and those needed.
type shortMeans struct {
	titles []string
	have   map[string]int
	need   map[string]int
}

func (s *shortMeans) add(m measure.Measure) {
	d, ok := measure.Lookup(m.Name)
	if !ok {
		return
	}
	if s.have == nil {
		s.have, s.need = map[string]int{}, map[string]int{}
	}
	title := shortTitle(d)
	if s.need[title] == 0 {
		s.titles, s.have[title] = append(s.titles, title), m.Strides
	}
	s.have[title], s.need[title] = min(s.have[title], m.Strides), max(s.need[title], m.StridesNeeded)
}

func (s *shortMeans) inWords() string {
	if len(s.titles) == 0 {
		return ""
	}
	var p []string
	for _, t := range s.titles {
		p = append(p, fmt.Sprintf("%s %d of %d", t, s.have[t], s.need[t]))
	}
	return "Fewer strides than a stable mean needs, by their own spread: " + strings.Join(p, ", ") + "."
}

// shortTitle is a measure's title without its explanation, in small letters.
func shortTitle(d measure.Definition) string {
	title := small(d.Title)
	if i := strings.IndexAny(title, ":("); i > 0 {
		title = strings.TrimSpace(title[:i])
	}
	return title
}

// biasInWords tells the known mean errors of what found the landmarks, measure by
// measure.
func biasInWords(ms []measure.Measure) string {
	var names []string
	sides := map[string][]string{}
	for _, m := range ms {
		if m.Bias == 0 || m.Withheld() || math.IsNaN(m.Bias) {
			continue
		}
		d, ok := measure.Lookup(m.Name)
		size := d.Format(math.Abs(m.Bias))
		if !ok || strings.Trim(size, "0.") == "" {
			continue
		}
		if d.Unit == "deg" {
			size += "°"
		} else if d.Unit != "" {
			size += " " + d.Unit
		}
		way := " high"
		if m.Bias < 0 {
			way = " low"
		}
		if m.Side != body.NoSide {
			size = m.Side.String() + " " + size
		}
		title := shortTitle(d)
		if len(sides[title]) == 0 {
			names = append(names, title)
		}
		sides[title] = append(sides[title], size+way)
	}
	if len(names) == 0 {
		return ""
	}
	for i, n := range names {
		names[i] = n + " " + strings.Join(sides[n], ", ")
	}
	return "Known mean errors of the pose model, not corrected here: " + strings.Join(names, "; ") + "."
}

// howMeasured is one line on how a clip was read.
func (c *Clip) howMeasured() string {
	s := capital(viewInWords(c.Info.View)) + ": "
	if t := c.Track; t != nil && t.Frames() > 0 {
		s += fmt.Sprintf("%.1f s, ", t.DurationS())
	}
	s += fmt.Sprintf("landmarks by %s; contacts from %s", c.landmarksInWords(), c.Contacts.Method)
	if c.Info.Scale.Known() && c.IsVideo() {
		source, _, another := strings.Cut(string(c.Info.Scale.Source), " as seen in ")
		if another {
			source += " as seen in the other clip"
		}
		s += fmt.Sprintf("; lengths by %s (± %.1f %%)", source, 100*c.Info.Scale.RelativeSD)
	}
	return s + "."
}
