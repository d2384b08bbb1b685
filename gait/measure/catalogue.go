package measure

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"sync"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
)

// Definition says what one measure is, where it comes from, how far to trust it
// and what a clip must offer for it.
type Definition struct {
	Name     string // stable, snake case
	Title    string // for people
	Unit     string // "s", "m", "deg", "steps/min", "%", "" for a plain ratio …
	Decimals int    // digits after the point worth showing
	Sided    bool   // has a left and a right value
	Group    string // heading under which it is listed

	Definition string // in plain words
	Sign       string // which way is positive
	Formula    string
	Source     string // author, year, journal; what is from memory says so
	Error      string // typical published error
	Caution    string // what is contested, and what the number cannot say
	Instead    string // what to film or give where it is withheld
	Figure     string // a small drawing in letters; where it is empty Explain draws the Picture

	// Worth is a difference worth resolving, in the unit (common practice); the
	// number of strides needed is worked out for it.
	Worth float64
	// UselessSEM is the error above which the value is withheld; 0 for none.
	UselessSEM float64

	plane   plane
	needs   []body.Landmark // left stands for the side itself, right for the other; both sides' where Sided is false
	origin  string          // key of originErrors; empty for times
	minHz   float64         // withheld below
	flagHz  float64         // flagged below
	metres  bool
	forward bool // needs belt speed, or metres over ground
	level   bool
	camera  bool // an angle to the vertical
	// fine is a time of single steps or contacts. From behind or in front the
	// contacts of left and right err differently, by up to 50 ms on drawn films,
	// so there it is not given.
	fine bool
	// opposed is an interval from one foot's contact to the other's: what a contact
	// rule adds on one side it takes from the other.
	opposed bool
	compute func(c *reading, s body.Side) sample
}

// plane says which axes a measure needs.
type plane uint8

const (
	timeOnly plane = iota
	sagittalPlane
	frontalPlane
)

// Views lists the views that can give the measure.
func (d Definition) Views() []clip.View {
	switch d.plane {
	case sagittalPlane:
		return []clip.View{clip.LeftSide, clip.RightSide, clip.Spatial}
	case frontalPlane:
		return []clip.View{clip.Rear, clip.Front, clip.Spatial}
	}
	if d.fine {
		return []clip.View{clip.LeftSide, clip.RightSide, clip.Spatial}
	}
	return []clip.View{clip.LeftSide, clip.RightSide, clip.Rear, clip.Front, clip.Spatial}
}

// NeedsLandmarks tells whether the measure rests on more than the times of contacts.
func (d Definition) NeedsLandmarks() bool { return d.plane != timeOnly }

// Letters says what the letters of the formula stand for that are not said in it;
// empty where there are none.
func (d Definition) Letters() string {
	var said []string
	if axis.MatchString(d.Formula) {
		said = append(said, "x forward, y up, z to the runner's right")
	}
	for _, l := range letters {
		if l.in.MatchString(d.Formula) {
			said = append(said, l.means)
		}
	}
	if len(said) == 0 {
		return ""
	}
	return "Here " + strings.Join(said, "; ") + "."
}

var (
	axis    = regexp.MustCompile(`(^|[^\pL])[xyz](_|\()`)
	letters = []struct {
		in    *regexp.Regexp
		means string
	}{
		{regexp.MustCompile(`atan2`), "atan2(a, b) is the angle whose tangent is a/b"},
		{regexp.MustCompile(`\(k`), "k counts the contacts of both feet in order"},
		{regexp.MustCompile(`m_i`), "m_i the share of a segment in the mass and y_i the height of its centre"},
		{regexp.MustCompile(`s_left`), "s the standard deviation of the foot's step times"},
		{regexp.MustCompile(`CoM`), "CoM the centre of mass"},
		{regexp.MustCompile(`tc²|v·tc`), "tc the contact time"},
		{regexp.MustCompile(`\(m·`), "m the body mass, g = 9.81 m/s²"},
		{regexp.MustCompile(`Fmax`), "Fmax the peak vertical force"},
		{regexp.MustCompile(`\+ Δy`), "L the leg length, v the speed, Δy the fall of the centre of mass"},
		{regexp.MustCompile(`PSIS`), "PSIS and ASIS the posterior and the anterior spine of the pelvis"},
		{regexp.MustCompile(`T12`), "T12 and S1 the thoracolumbar and the lumbosacral sticker"},
	}
)

// SeenFrom tells whether a view can give the measure.
func (d Definition) SeenFrom(v clip.View) bool {
	switch d.plane {
	case sagittalPlane:
		return v.Sagittal()
	case frontalPlane:
		return v.Frontal()
	}
	return !d.fine || v != clip.Rear && v != clip.Front
}

// catalogue holds the definitions in the order in which they are printed.
var catalogue = sync.OnceValue(func() []Definition {
	return slices.Concat(timeDefinitions(), lengthDefinitions(), sagittalDefinitions(), frontalDefinitions(), upperDefinitions(), springDefinitions())
})

// Catalogue returns every measure in the order in which measures are printed.
func Catalogue() []Definition { return slices.Clone(catalogue()) }

// Lookup finds a measure by name.
func Lookup(name string) (Definition, bool) {
	all := catalogue()
	if i := slices.IndexFunc(all, func(d Definition) bool { return d.Name == name }); i >= 0 {
		return all[i], true
	}
	return Definition{}, false
}

// Format prints a value with the measure's decimals, "-" for NaN.
func (d Definition) Format(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "-"
	}
	s := fmt.Sprintf("%.*f", d.Decimals, v)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

// FormatWithUnit prints a size with its unit, with the measure's decimals, or as many as
// show it.
func (d Definition) FormatWithUnit(v float64) string {
	s := d.Format(v)
	if strings.Trim(s, "-0.") == "" && v != 0 {
		s = fmt.Sprintf("%.1g", v)
	}
	return strings.TrimSpace(s + " " + d.Unit)
}

// Explain returns a readable page about one measure, or an error with the
// nearest names where it is not known.
func Explain(name string) (string, error) {
	d, ok := Lookup(strings.ToLower(strings.ReplaceAll(strings.TrimSpace(name), "-", "_")))
	if !ok {
		return "", fmt.Errorf("measure %q is not known%s", name, likeNames(name))
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s  (%s)\n\n", d.Title, d.Name)
	b.WriteString(fill(d.Definition, ""))
	if d.Figure != "" {
		b.WriteString("\n" + strings.TrimRight(strings.Trim(d.Figure, "\n"), " ") + "\n")
	} else if picture, ok := Picture(d.Name, true); ok {
		for line := range strings.Lines("\n" + picture.Text(60, 20)) {
			b.WriteString(strings.TrimRight("  "+line, " \n") + "\n")
		}
	}
	b.WriteByte('\n')
	unit := d.Unit
	if unit == "" {
		unit = "none (a ratio)"
	}
	sides := "one value for both feet"
	if d.Sided {
		sides = "left and right"
	}
	var views []string
	for _, v := range d.Views() {
		views = append(views, v.String())
	}
	line := func(label, text string) {
		if text != "" {
			b.WriteString(fill(fmt.Sprintf("%-9s %s", label, text), "          "))
		}
	}
	line("Unit", unit+"; "+sides)
	line("Sign", d.Sign)
	line("Formula", d.Formula)
	line("", d.Letters())
	line("Views", strings.Join(views, ", "))
	line("Source", d.Source)
	line("Error", d.Error)
	if e := originErrors[d.origin]; d.origin != "" && e.source != "" {
		line("", fmt.Sprintf("Counted here for what found the landmarks (one standard deviation): pose model %s, sticker %s, by hand %s, marker file %s. %s.",
			d.nearAndFar(e.pose, e.poseFar), d.amount(e.sticker), d.amount(e.hand), d.amount(e.file), e.source))
		if b, ok := poseBias[d.Name]; ok {
			line("", fmt.Sprintf("In that trial the pose model read on average %+.*f %s on the near and %+.*f on the far side. The value is not corrected for it.",
				max(1, d.Decimals), b[0], d.Unit, max(1, d.Decimals), b[1]))
		}
	}
	if d.Worth > 0 {
		line("Strides", fmt.Sprintf("The mean counts as stable where it is known within ±%s (95 %%): (1.96 SD/%s)² strides, more where neighbours are alike. A result with fewer says beside the value how many strides of this spread it needs.",
			d.FormatWithUnit(d.Worth), d.FormatWithUnit(d.Worth)))
	}
	line("Caution", d.Caution)
	line("Else", d.Instead)
	return b.String(), nil
}

// nearAndFar prints the amounts of the near and the far leg, one where they agree.
func (d Definition) nearAndFar(near, far float64) string {
	if near == far {
		return d.amount(near)
	}
	return d.amount(near) + " near and " + d.amount(far) + " far side"
}

func (d Definition) amount(v float64) string {
	if v == 0 {
		return "not given"
	}
	return strings.TrimSpace(fmt.Sprintf("%.*f %s", max(1, d.Decimals), v, d.Unit))
}

// likeNames suggests names that share a word with the one asked for.
func likeNames(name string) string {
	var like []string
	for _, d := range catalogue() {
		for _, word := range strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return r == '_' || r == ' ' || r == '-' }) {
			if len(word) > 2 && strings.Contains(d.Name, word) {
				like = append(like, d.Name)
				break
			}
		}
	}
	if len(like) == 0 {
		return ""
	}
	return "; do you mean " + strings.Join(like, ", ") + "?"
}

// fill breaks text into lines of at most 78 runes, the later ones indented.
func fill(text, indent string) string {
	const width = 78
	var b strings.Builder
	column := 0
	lead := len(text) - len(strings.TrimLeft(text, " "))
	for i, word := range strings.Fields(text) {
		n := len([]rune(word))
		switch {
		case i == 0:
			b.WriteString(text[:lead])
			column = lead
			// Keep the label's column: the first word is padded to the indent.
			b.WriteString(word)
			column += n
			if pad := len(indent) - column; pad > 0 {
				b.WriteString(strings.Repeat(" ", pad-1))
				column += pad - 1
			}
			continue
		case column+1+n > width:
			b.WriteString("\n" + indent)
			column = len(indent)
		default:
			b.WriteByte(' ')
			column++
		}
		b.WriteString(word)
		column += n
	}
	b.WriteByte('\n')
	return b.String()
}
