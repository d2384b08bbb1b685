package app

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
	"gaitwright/num/quantity"
)

// PlusMinusNote explains the errors beside the values.
const PlusMinusNote = "is the standard error of measurement: landmarks, contacts, frame rate, scale and stride-to-stride variation together. Only a change of more than 2.8 times that between two visits is beyond measurement error (Weir 2005, J Strength Cond Res 19:231)."

// CautionNote stands under every result.
const CautionNote = "These are measurements, not a diagnosis. Pain, numbness, swelling or any warning sign belong with a licensed clinician before any change of training; local rules come first."

// Table is a clip's measures arranged for reading: left and right beside one
// another.
type Table struct {
	Title    string // file and view
	Subtitle string // speed, frame rate, origin, contacts
	Rows     []TableRow
	Withheld []string // sentences
	Warnings []string
}

// TableRow is one measure's line. Cells hold value ± error, already printed.
type TableRow struct {
	Title, Unit       string
	Left, Right, Both string
	Strides           string
	Flag              string
	flags             []string
}

// Tables returns each clip's table.
func (s *Session) Tables() []Table {
	var out []Table
	for _, c := range s.Clips {
		out = append(out, c.table(s.shownElsewhere(c)))
	}
	return out
}

// shownElsewhere returns the names of the measures that another clip of the
// session gives, so that a view need not excuse itself for them.
func (s *Session) shownElsewhere(c *Clip) map[string]bool {
	m := map[string]bool{}
	for _, o := range s.Clips {
		if o == c {
			continue
		}
		for _, x := range o.Measures {
			if !x.Withheld() {
				m[x.Name] = true
			}
		}
	}
	return m
}

func (c *Clip) table(elsewhere map[string]bool) Table {
	t := Table{Title: fmt.Sprintf("%s · %s", filepath.Base(c.Path), viewInWords(c.Info.View)), Subtitle: c.conditions(), Warnings: c.Warnings}
	var missing withheldList
	for _, d := range measure.Catalogue() {
		row := TableRow{Title: d.Title, Unit: d.Unit}
		shown := false
		for _, m := range c.Measures {
			switch {
			case m.Name != d.Name:
			case !m.Withheld():
				shown = true
				row.put(d, m)
			case !(m.OtherView && elsewhere[m.Name]):
				missing.add(d.Title, m)
			}
		}
		if shown {
			t.Rows = append(t.Rows, row)
		}
	}
	t.Withheld = missing.sentences()
	t.liftFlags()
	return t
}

// withheldList gathers withheld measures under their reasons, left and right
// told once where both are missing for the same.
type withheldList struct {
	reasons []string
	titles  map[string][]string
	sides   map[string][]body.Side // by reason and title
}

func (w *withheldList) add(title string, m measure.Measure) {
	if w.titles == nil {
		w.titles, w.sides = map[string][]string{}, map[string][]body.Side{}
	}
	reason := m.Reason
	if m.Side != body.NoSide {
		reason = strings.ReplaceAll(reason, " "+m.Side.String()+" ", " ")
	}
	if !slices.Contains(w.reasons, reason) {
		w.reasons = append(w.reasons, reason)
	}
	if !slices.Contains(w.titles[reason], title) {
		w.titles[reason] = append(w.titles[reason], title)
	}
	w.sides[reason+title] = append(w.sides[reason+title], m.Side)
}

func (w *withheldList) sentences() []string {
	var out []string
	for _, reason := range w.reasons {
		var names []string
		for _, title := range w.titles[reason] {
			if s := w.sides[reason+title]; len(s) == 1 && s[0] != body.NoSide {
				title += " (" + s[0].String() + ")"
			}
			names = append(names, title)
		}
		out = append(out, fmt.Sprintf("%s. %s", strings.Join(names, "; "), reason))
	}
	return out
}

// liftFlags tells a caution that stands beside most rows once, below.
func (t *Table) liftFlags() {
	count := map[string]int{}
	var order []string
	for _, r := range t.Rows {
		for _, f := range r.flags {
			if count[f]++; count[f] == 1 {
				order = append(order, f)
			}
		}
	}
	for _, f := range order {
		if count[f] >= 6 && 2*count[f] > len(t.Rows) {
			t.Warnings = append(t.Warnings, "most rows: "+f)
			for i := range t.Rows {
				t.Rows[i].flags = slices.DeleteFunc(t.Rows[i].flags, func(o string) bool { return o == f })
			}
		}
	}
	for i := range t.Rows {
		t.Rows[i].Flag = strings.Join(t.Rows[i].flags, "; ")
	}
}

func (row *TableRow) put(d measure.Definition, m measure.Measure) {
	cell := d.Format(m.Value)
	if m.Text != "" {
		cell = m.Text
	} else if !math.IsNaN(m.SEM) {
		cell += " ± " + d.Format(m.SEM)
	}
	switch m.Side {
	case body.Left:
		row.Left = cell
	case body.Right:
		row.Right = cell
	default:
		row.Both = cell
	}
	n := fmt.Sprint(m.Strides)
	if m.Side == body.Right && row.Strides != "" && row.Strides != n {
		n = row.Strides + "/" + n
	}
	row.Strides = n
	for _, f := range strings.Split(m.Flag, "; ") {
		if f != "" && !slices.Contains(row.flags, f) {
			row.flags = append(row.flags, f)
		}
	}
}

// conditions is one line on how the clip was taken.
func (c *Clip) conditions() string {
	var p []string
	if v := c.Info.BeltSpeedMPS; v > 0 {
		s := quantity.Speed(v)
		p = append(p, fmt.Sprintf("%s (%s)", s, s.Pace()))
	} else {
		p = append(p, "speed not known")
	}
	p = append(p, c.Info.Surface.String(), fmt.Sprintf("%.0f frames/s", c.Info.FrameRateHz))
	if t := c.Track; t != nil && t.Frames() > 0 {
		p = append(p, fmt.Sprintf("%.1f to %.1f s", t.TimeS[0], t.TimeS[t.Frames()-1]))
	}
	if c.Model != "" {
		p = append(p, "pose model "+c.Model)
	} else {
		p = append(p, c.origin().String())
	}
	p = append(p, fmt.Sprintf("%d contacts by %s", len(c.Contacts.Contacts), c.Contacts.Method))
	if c.Info.Scale.Known() && c.IsVideo() {
		p = append(p, fmt.Sprintf("scale by %s (± %.1f %%)", c.Info.Scale.Source, 100*c.Info.Scale.RelativeSD))
	}
	return strings.Join(p, " · ")
}

func viewInWords(v clip.View) string {
	switch v {
	case clip.LeftSide:
		return "from the runner's left"
	case clip.RightSide:
		return "from the runner's right"
	case clip.Rear:
		return "from behind"
	case clip.Front:
		return "from the front"
	case clip.Spatial:
		return "markers in three axes"
	}
	return "view not known"
}
