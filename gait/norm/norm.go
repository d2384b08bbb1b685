package norm

import (
	"fmt"
	"math"
	"slices"

	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
	"gaitwright/num/agree"
)

// Tag says how a figure was come by.
type Tag string

// The tags.
const (
	Seen           Tag = "seen"            // read in the source
	Computed       Tag = "computed"        // worked out from data, as the method says
	FromMemory     Tag = "from memory"     // remembered, not looked up
	CommonPractice Tag = "common practice" // a figure of the trade
)

// rank is larger for what was read or worked out than for what was remembered.
func (t Tag) rank() int {
	if t == Seen || t == Computed {
		return 1
	}
	return 0
}

// Confidence says how far a figure is to be trusted.
type Confidence string

// The degrees of confidence. A row of low confidence is never used as a norm.
const (
	High   Confidence = "high"
	Medium Confidence = "medium"
	Low    Confidence = "low"
)

// rank is larger for more confidence.
func (c Confidence) rank() int { return slices.Index([]Confidence{Low, Medium, High}, c) }

// Span is a range with one or both ends; nil is an open end.
type Span struct {
	Low  *float64 `yaml:"low,omitempty"`
	High *float64 `yaml:"high,omitempty"`
}

// Holds tells whether v lies in the span, its ends included.
func (s *Span) Holds(v float64) bool {
	return s == nil || (s.Low == nil || v >= *s.Low) && (s.High == nil || v <= *s.High)
}

// middle is the middle of the span, or its one end.
func (s *Span) middle() float64 {
	switch {
	case s.Low == nil:
		return *s.High
	case s.High == nil:
		return *s.Low
	}
	return (*s.Low + *s.High) / 2
}

// Row is the values of one measure usual in one sample. Speeds are metres a
// second, heights metres, values in Unit, which is the catalogue's.
type Row struct {
	ID         string      `yaml:"id"`
	Measure    string      `yaml:"measure"`
	Views      []clip.View `yaml:"views,omitempty,flow"` // views for which it holds; all that give the measure where empty
	SpeedMPS   *Span       `yaml:"speed_mps,omitempty,flow"`
	Sex        string      `yaml:"sex,omitempty"` // "female", "male", or empty for both
	HeightM    *Span       `yaml:"height_m,omitempty,flow"`
	Low        *float64    `yaml:"low,omitempty"`
	High       *float64    `yaml:"high,omitempty"`
	Mean       *float64    `yaml:"mean,omitempty"`
	SD         *float64    `yaml:"sd,omitempty"`
	N          int         `yaml:"n,omitempty"` // people in the sample; 0 where not known
	Unit       string      `yaml:"unit"`
	Source     string      `yaml:"source"`
	Sample     string      `yaml:"sample"`
	Method     string      `yaml:"method"`
	Tag        Tag         `yaml:"tag"`
	Confidence Confidence  `yaml:"confidence"`
	Contested  string      `yaml:"contested,omitempty"`
	Note       string      `yaml:"note,omitempty"`

	// Own is true for a row of the user's own file.
	Own bool `yaml:"-"`
}

// Usable tells whether the row may be shown as a norm.
func (r Row) Usable() bool { return r.Confidence != Low }

// Range returns the ends of the usual values in the row's unit: its own, or
// where a mean and SD are given those between which one more person of the same
// population lies with 95 % probability (agree.PredictionInterval). An open end
// is infinite.
func (r Row) Range() (low, high float64) {
	if r.Mean != nil && r.SD != nil {
		i := agree.PredictionInterval(*r.Mean, *r.SD, r.N)
		return i.Low, i.High
	}
	low, high = math.Inf(-1), math.Inf(1)
	if r.Low != nil {
		low = *r.Low
	}
	if r.High != nil {
		high = *r.High
	}
	return low, high
}

// RangeText prints the range with the measure's decimals, such as "160 to 185".
func (r Row) RangeText() string {
	d, _ := measure.Lookup(r.Measure)
	low, high := r.Range()
	switch {
	case math.IsInf(low, -1):
		return "up to " + d.Format(high)
	case math.IsInf(high, 1):
		return d.Format(low) + " or more"
	}
	return d.Format(low) + " to " + d.Format(high)
}

// SpeedText prints the speeds for which the row holds, "any" where it says none.
func (r Row) SpeedText() string { return r.SpeedMPS.text() }

// HeightText prints the heights in metres for which the row holds, "any" where it
// says none.
func (r Row) HeightText() string { return r.HeightM.text() }

// text prints the span, such as "2.4-3.4", "any" where there is none.
func (s *Span) text() string {
	switch {
	case s == nil:
		return "any"
	case s.Low == nil:
		return fmt.Sprintf("up to %.3g", *s.High)
	case s.High == nil:
		return fmt.Sprintf("from %.3g", *s.Low)
	case *s.Low == *s.High:
		return fmt.Sprintf("%.3g", *s.Low)
	}
	return fmt.Sprintf("%.3g-%.3g", *s.Low, *s.High)
}

// Table is a set of rows under a name.
type Table struct {
	Name  string   `yaml:"name"`
	About string   `yaml:"about,omitempty"`
	Hide  []string `yaml:"hide,omitempty"`
	Rows  []Row    `yaml:"rows,omitempty"`
}

// check finds what the schema cannot: names, units and ends that do not fit.
func (t *Table) check() error {
	seen := map[string]bool{}
	for _, r := range t.Rows {
		fault := func(format string, args ...any) error {
			return fmt.Errorf("row %q: %s", r.ID, fmt.Sprintf(format, args...))
		}
		d, ok := measure.Lookup(r.Measure)
		switch {
		case seen[r.ID]:
			return fault("the id is used twice; give each row its own")
		case !ok:
			return fault("measure %q is not known; `gaitwright explain` lists the names", r.Measure)
		case d.Unit != r.Unit:
			return fault("%s is in %q, not %q: convert the figures", r.Measure, d.Unit, r.Unit)
		case r.Low != nil && r.High != nil && *r.Low >= *r.High:
			return fault("low (%g) must be less than high (%g)", *r.Low, *r.High)
		}
		seen[r.ID] = true
		for _, s := range []struct {
			what     string
			span     *Span
			low, top float64
		}{{"speed_mps", r.SpeedMPS, 0.5, 12}, {"height_m", r.HeightM, 0.5, 2.5}} {
			if s.span == nil {
				continue
			}
			for _, v := range []*float64{s.span.Low, s.span.High} {
				if v != nil && !(*v >= s.low && *v <= s.top) {
					return fault("%s of %g cannot be right (%g to %g)", s.what, *v, s.low, s.top)
				}
			}
			if s.span.Low != nil && s.span.High != nil && *s.span.Low > *s.span.High {
				return fault("%s: low (%g) is more than high (%g)", s.what, *s.span.Low, *s.span.High)
			}
		}
		for _, v := range r.Views {
			if !d.SeenFrom(v) {
				return fault("%s is not seen from the view %q", r.Measure, v)
			}
		}
	}
	return nil
}

// With returns the table with the user's own laid over it: rows of the same id
// replaced, those under hide left out, the others added.
func (t *Table) With(own *Table) *Table {
	out := &Table{Name: t.Name, About: t.About}
	gone := map[string]bool{}
	for _, id := range own.Hide {
		gone[id] = true
	}
	for _, r := range own.Rows {
		gone[r.ID] = true
		r.Own = true
		out.Rows = append(out.Rows, r)
	}
	for _, r := range t.Rows {
		if !gone[r.ID] {
			out.Rows = append(out.Rows, r)
		}
	}
	return out
}

// Unknown returns the ids under own's hide that the table does not have, which
// are slips of the pen more often than not.
func (t *Table) Unknown(own *Table) []string {
	var out []string
	for _, id := range own.Hide {
		if !slices.ContainsFunc(t.Rows, func(r Row) bool { return r.ID == id }) {
			out = append(out, id)
		}
	}
	return out
}
