package render

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/measure"
)

// row is one line of the table: a measure of the left, of the right or of both.
type row struct {
	name              string
	title, unit       string
	decimals          int
	left, right, both *measure.Measure
	asymmetry         *measure.Asymmetry
	flags             string // letters of the notes that concern it
}

// section is a heading and its rows.
type section struct {
	title string
	rows  []row
}

// table is the measures in order for printing, with what is to be said under
// them.
type table struct {
	sections          []section
	flags             []string // "a  far leg, less sure"
	withheld          []string // "Pelvic drop, hip adduction: film from behind."
	rowsOut, linesOut int      // what found no room
	bold              bool     // a difference is beyond its error
}

func describe(m measure.Measure) (title, unit, group string, decimals int) {
	if d, ok := measure.Lookup(m.Name); ok {
		if m.Unit == "in" && d.Unit == "m" {
			return d.Title, m.Unit, d.Group, max(0, d.Decimals-1)
		}
		return d.Title, unitText(d.Unit), d.Group, d.Decimals
	}
	return wordsOf(m.Name), unitText(m.Unit), "", decimalsFor(m.SEM, m.Unit)
}

// tabulate pairs left and right, gathers flags and the reasons of what is
// withheld.
func tabulate(measures []measure.Measure, asymmetries []measure.Asymmetry) table {
	var t table
	given := map[string]bool{}
	for _, m := range measures {
		if !m.Withheld() || m.Text != "" {
			given[m.Name] = true
		}
	}
	bySection := map[string]int{}
	var reasons []string
	names := map[string][]string{}
	for i := range measures {
		m := &measures[i]
		title, unit, group, decimals := describe(*m)
		if m.Withheld() && m.Text == "" {
			if m.OtherView && given[m.Name] {
				continue
			}
			if m.Side != body.NoSide && given[m.Name] {
				title += " (" + m.Side.String() + ")"
			}
			reason := strings.TrimSpace(m.Reason)
			if reason == "" {
				reason = "Not given."
			}
			if _, ok := names[reason]; !ok {
				reasons = append(reasons, reason)
			}
			if k := names[reason]; len(k) == 0 || k[len(k)-1] != title {
				names[reason] = append(k, title)
			}
			if !given[m.Name] {
				continue
			}
		}
		at, ok := bySection[group]
		if !ok {
			at = len(t.sections)
			bySection[group] = at
			t.sections = append(t.sections, section{title: group})
		}
		t.sections[at].place(m, title, unit, decimals)
	}
	for _, r := range reasons {
		t.withheld = append(t.withheld, strings.Join(names[r], "; ")+": "+r)
	}
	pairs := map[string]*measure.Asymmetry{}
	for i := range asymmetries {
		pairs[asymmetries[i].Name] = &asymmetries[i]
	}
	letters := map[string]string{}
	for s := range t.sections {
		for i := range t.sections[s].rows {
			r := &t.sections[s].rows[i]
			if r.left != nil && r.right != nil {
				if a := pairs[r.name]; a != nil && a.Left == r.left.Value && a.Right == r.right.Value {
					r.asymmetry = a
					t.bold = t.bold || a.Beyond
				}
			}
			for _, note := range r.notes() {
				l, ok := letters[note]
				if !ok {
					l = letter(len(letters))
					letters[note] = l
					t.flags = append(t.flags, l+":\u00a0"+note)
				}
				if r.flags != "" {
					r.flags += ","
				}
				r.flags += l
			}
		}
	}
	return t
}

// place puts a measure into its row, new where the name's row has that side
// already.
func (s *section) place(m *measure.Measure, title, unit string, decimals int) {
	slot := func(r *row) **measure.Measure {
		switch m.Side {
		case body.Left:
			return &r.left
		case body.Right:
			return &r.right
		}
		return &r.both
	}
	for i := range s.rows {
		if r := &s.rows[i]; r.name == m.Name && *slot(r) == nil && (m.Side != body.NoSide) == (r.both == nil) {
			*slot(r) = m
			return
		}
	}
	r := row{name: m.Name, title: title, unit: unit, decimals: decimals}
	*slot(&r) = m
	s.rows = append(s.rows, r)
}

// notes are the row's cautions, each once, with the side where only one has it.
func (r row) notes() []string {
	parts := func(m *measure.Measure) []string {
		if m == nil {
			return nil
		}
		return nonEmpty(strings.Split(m.Flag, "; ")...)
	}
	left, right := parts(r.left), parts(r.right)
	var out []string
	add := func(note string) {
		if !slices.Contains(out, note) {
			out = append(out, note)
		}
	}
	for _, note := range left {
		if !slices.Contains(right, note) {
			note = "left: " + note
		}
		add(note)
	}
	for _, note := range right {
		if !slices.Contains(left, note) {
			add("right: " + note)
		}
	}
	for _, note := range parts(r.both) {
		add(note)
	}
	return out
}

func letter(i int) string {
	const alphabet = "abcdefghijklmnopqrstuvwxyz"
	if i < len(alphabet) {
		return alphabet[i : i+1]
	}
	return alphabet[i/len(alphabet)-1:][:1] + alphabet[i%len(alphabet):][:1]
}

func (r row) strides() string {
	least := 0
	for _, m := range [...]*measure.Measure{r.left, r.right, r.both} {
		if m != nil && m.Strides > 0 && (least == 0 || m.Strides < least) {
			least = m.Strides
		}
	}
	if least == 0 {
		return ""
	}
	return fmt.Sprint(least)
}

// difference is right minus left, where both are numbers.
func (r row) difference() (float64, bool) {
	if r.left == nil || r.right == nil || r.left.Withheld() || r.right.Withheld() || r.left.Text != "" || r.right.Text != "" {
		return 0, false
	}
	return r.right.Value - r.left.Value, true
}

// smallest is the smallest real change, the larger of the two sides'.
func (r row) smallest() string {
	most := math.NaN()
	for _, m := range [...]*measure.Measure{r.left, r.right, r.both} {
		if m != nil && !m.Withheld() && m.Text == "" && finite(m.MDC95) && !(m.MDC95 <= most) {
			most = m.MDC95
		}
	}
	if !finite(most) {
		return ""
	}
	return errorText(most, r.decimals)
}
