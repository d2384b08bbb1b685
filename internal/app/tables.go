package app

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
	"gaitwright/num/quantity"
)

// PlusMinusNote explains the errors beside the values.
const PlusMinusNote = "is the standard error of measurement: landmarks, contacts, frame rate, scale and stride-to-stride variation together. Only a change of more than 2.8 times that between two visits is beyond measurement error (Weir 2005, J Strength Cond Res 19:231)."

// CautionNote stands under every result.
const CautionNote = "These are measurements, not a diagnosis. Pain, numbness, swelling or any warning sign belong with a licensed clinician before any change of training; local rules come first."

// mainMeasures are those that the table shows where not all are asked for: what a
// coach works with. The rest is one step further.
var mainMeasures = []string{"step_rate", "contact_time", "flight_time", "stride_time", "duty_factor",
	"step_length", "overstride", "vertical_oscillation",
	"foot_angle_at_contact", "strike_class", "shank_angle_at_contact", "knee_flexion_at_contact", "knee_flexion_peak_stance",
	"hip_extension_at_toe_off", "trunk_lean",
	"pelvic_drop", "hip_adduction", "knee_frontal_angle", "knee_separation", "step_width", "crossover_share", "heel_whip"}

// Table is a clip's measures arranged for reading, by headings.
type Table struct {
	Title     string   // file and view
	Subtitle  []string // speed, frame rate, origin, contacts
	Groups    []TableGroup
	Cautions  []string // told of by the marks a, b, c … beside the values, in this order
	Withheld  []string // sentences
	OtherView string   // what another view would add; empty for nothing
	Strides   string   // what "8 of 31" in the column of strides means; empty where it does not stand there
	Warnings  []string
	More      int // measures with a value that are left out here
}

// TableGroup is the measures under one heading.
type TableGroup struct {
	Title string
	Rows  []TableRow
}

// TableRow is one measure's line, left and right beside one another.
type TableRow struct {
	Title, Detail     string // the name, and what is too long for one line of it
	Unit              string
	Left, Right, Both TableCell
	Strides           string // such as "24", "24/23", or "8/7 of 31" where a stable mean needs more

	have, need []int // strides by side, and how many a stable mean needs
}

// TableCell is one value ± its error as printed, with the marks of its cautions.
type TableCell struct{ Value, Marks string }

// Tables returns each clip's table: the main measures, or all.
func (s *Session) Tables(all bool) []Table {
	var out []Table
	for _, c := range s.Clips {
		out = append(out, c.table(s.shownElsewhere(c), s.betterElsewhere(c), s.soughtElsewhere(c), all))
	}
	return out
}

// betterElsewhere returns the names of the measures, those of time, that a side
// view of the session gives better than a view from behind or in front.
func (s *Session) betterElsewhere(c *Clip) map[string]bool {
	m := map[string]bool{}
	if c.Info.View.Sagittal() {
		return m
	}
	for _, o := range s.Clips {
		for _, x := range o.Measures {
			if o.Info.View.Sagittal() && !x.Withheld() {
				m[x.Name] = true
			}
		}
	}
	return m
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

// soughtElsewhere returns the names of the measures that the view of another clip of
// the session can show, given or not.
func (s *Session) soughtElsewhere(c *Clip) map[string]bool {
	m := map[string]bool{}
	for _, o := range s.Clips {
		if o == c {
			continue
		}
		for _, x := range o.Measures {
			if !x.OtherView {
				m[x.Name] = true
			}
		}
	}
	return m
}

func (c *Clip) table(elsewhere, better, sought map[string]bool, all bool) Table {
	t := Table{Title: fmt.Sprintf("%s · %s", c.name(), viewInWords(c.Info.View)), Subtitle: c.conditions()}
	for _, w := range c.Warnings {
		t.Warnings = append(t.Warnings, sentence(w))
	}
	var missing withheldList
	var otherView []string
	for _, d := range measure.Catalogue() {
		main := slices.Contains(mainMeasures, d.Name) && !better[d.Name]
		row := TableRow{Unit: d.Unit}
		row.Title, row.Detail = splitTitle(d.Title)
		shown := false
		for _, m := range c.Measures {
			switch {
			case m.Name != d.Name:
			case !m.Withheld() && (all || main):
				shown = true
				row.put(d, m, &t)
			case !m.Withheld():
				if !shown {
					t.More++
				}
				shown = true
			case all && !(m.OtherView && elsewhere[m.Name]):
				missing.add(d.Title, m)
			case all || !main || elsewhere[m.Name]:
			case m.OtherView:
				if sought[d.Name] {
					continue // another clip says why it has none
				}
				if name := strings.ToLower(row.Title); !slices.Contains(otherView, name) {
					otherView = append(otherView, name)
				}
			default:
				missing.add(d.Title, m)
			}
		}
		if !shown || !(all || main) {
			continue
		}
		if n := len(t.Groups); n == 0 || t.Groups[n-1].Title != d.Group {
			t.Groups = append(t.Groups, TableGroup{Title: d.Group})
		}
		g := &t.Groups[len(t.Groups)-1]
		g.Rows = append(g.Rows, row)
	}
	if len(otherView) > 0 {
		from := "from behind"
		if c.Info.View.Frontal() {
			from = "from the side"
		}
		t.OtherView = fmt.Sprintf("A film %s would add: %s.", from, strings.Join(otherView, "; "))
	}
	t.Withheld = missing.sentences()
	for _, g := range t.Groups {
		for _, r := range g.Rows {
			if strings.Contains(r.Strides, " of ") {
				t.Strides = shortOfStrides
			}
		}
	}
	return t
}

// longTitle is the length beyond which a measure's title is put on two lines.
const longTitle = 34

// splitTitle cuts a long title in two where its explanation begins.
func splitTitle(title string) (head, detail string) {
	if utf8.RuneCountInString(title) > longTitle {
		if head, detail, ok := strings.Cut(title, ": "); ok {
			return head, detail
		}
		if head, detail, ok := strings.Cut(title, " ("); ok {
			return head, strings.TrimSuffix(detail, ")")
		}
	}
	return title, ""
}

// sentence begins a remark with a capital letter, unless it begins with a file's
// name, and ends it with a full stop.
func sentence(s string) string {
	first, _, _ := strings.Cut(s, " ")
	if s == "" {
		return s
	}
	if !strings.Contains(strings.TrimRight(first, ".,:"), ".") {
		r, n := utf8.DecodeRuneInString(s)
		s = string(unicode.ToUpper(r)) + s[n:]
	}
	if !strings.HasSuffix(s, ".") && !strings.HasSuffix(s, "?") {
		s += "."
	}
	return s
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
	reason := errorSize.ReplaceAllString(m.Reason, "")
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

// shortOfStrides explains the two numbers in the column of strides.
const shortOfStrides = "strides: so many of so many that a mean needs, by its own spread and likeness of neighbours, to be known to a difference worth telling (95 %); `gaitwright explain MEASURE` names it"

// mark returns the letters of a measure's cautions.
func (t *Table) mark(m measure.Measure) string {
	var marks []string
	for _, f := range strings.Split(m.Flag, "; ") {
		if f == "" {
			continue
		}
		if few := fewFlag.FindStringSubmatch(f); few != nil {
			if few[1] != "" {
				continue // the column of strides says it
			}
			f = fmt.Sprintf("few strides: %s or more are advised", few[2])
		}
		at := slices.Index(t.Cautions, f)
		if at < 0 {
			at = len(t.Cautions)
			t.Cautions = append(t.Cautions, f)
		}
		marks = append(marks, Mark(at))
	}
	slices.Sort(marks)
	return strings.Join(marks, "")
}

// Mark is the letter of the caution at an index.
func Mark(at int) string {
	if at < 26 {
		return string(rune('a' + at))
	}
	return string(rune('A' + at%26))
}

func (row *TableRow) put(d measure.Definition, m measure.Measure, t *Table) {
	cell := TableCell{Value: d.Format(m.Value), Marks: t.mark(m)}
	if m.Text != "" {
		cell.Value = m.Text
	} else if !math.IsNaN(m.SEM) {
		cell.Value += " ± " + d.Format(m.SEM)
	}
	switch m.Side {
	case body.Left:
		row.Left = cell
	case body.Right:
		row.Right = cell
	default:
		row.Both = cell
	}
	row.have = append(row.have, m.Strides)
	row.need = append(row.need, m.StridesNeeded)
	row.Strides = stridesInWords(row.have, row.need)
}

// stridesInWords is the strides behind a row's values, and how many a stable mean
// needs where one has fewer.
func stridesInWords(have, need []int) string {
	text := fmt.Sprint(have[0])
	if n := len(have); n > 1 && have[1] != have[0] {
		text += fmt.Sprintf("/%d", have[1])
	}
	most := 0
	for i, n := range need {
		if n > have[i] {
			most = max(most, n)
		}
	}
	if most > 0 {
		text += fmt.Sprintf(" of %d", most)
	}
	return text
}

// conditions says in a few phrases how the clip was taken.
func (c *Clip) conditions() []string {
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
	return p
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
