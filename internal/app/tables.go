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
	reasons := map[string][]string{} // withheld titles by reason
	var order []string
	for _, d := range measure.Catalogue() {
		var row TableRow
		shown := false
		for _, m := range c.Measures {
			if m.Name != d.Name {
				continue
			}
			if m.Withheld() {
				if m.OtherView && elsewhere[m.Name] {
					continue
				}
				if !slices.Contains(reasons[m.Reason], d.Title) {
					if reasons[m.Reason] == nil {
						order = append(order, m.Reason)
					}
					reasons[m.Reason] = append(reasons[m.Reason], d.Title)
				}
				continue
			}
			shown = true
			row.put(d, m)
		}
		if shown {
			row.Title, row.Unit = d.Title, d.Unit
			t.Rows = append(t.Rows, row)
		}
	}
	for _, reason := range order {
		t.Withheld = append(t.Withheld, fmt.Sprintf("%s: %s", strings.Join(reasons[reason], ", "), reason))
	}
	return t
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
	if m.Flag != "" && !strings.Contains(row.Flag, m.Flag) {
		if row.Flag != "" {
			row.Flag += "; "
		}
		row.Flag += m.Flag
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
