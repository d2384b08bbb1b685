package norm

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
)

// Conditions are what is known of the runner and the clip; zero values mean "not
// known".
type Conditions struct {
	View     clip.View
	SpeedMPS float64
	HeightM  float64
	Sex      string // "female", "male" or empty
}

// Lookup returns the rows that hold for a measure under the conditions, best
// first: the user's own, then the one that says most about speed, sex and height,
// then the surer, then what was read or computed before what
// was remembered, then the one of more people. A row of low confidence is never
// among them, nor one that asks for what is not known. Where the speed lies
// between those of two rows of the same sample, a row in a straight line between
// them stands for both.
func (t *Table) Lookup(name string, c Conditions) []Row {
	var out []Row
	type sample struct {
		source, sample, sex string
	}
	apart := map[sample][]Row{} // rows of other speeds, by sample
	for _, r := range t.Rows {
		if r.Measure != name || !r.Usable() || !r.holdsBesidesSpeed(c) {
			continue
		}
		switch {
		case r.SpeedMPS == nil || c.SpeedMPS > 0 && r.SpeedMPS.Holds(c.SpeedMPS):
			out = append(out, r)
		case c.SpeedMPS > 0:
			k := sample{r.Source, r.Sample, r.Sex}
			apart[k] = append(apart[k], r)
		}
	}
	for k, rows := range apart {
		if slices.ContainsFunc(out, func(r Row) bool { return r.SpeedMPS != nil && k == sample{r.Source, r.Sample, r.Sex} }) {
			continue
		}
		if r, ok := between(rows, c.SpeedMPS); ok {
			out = append(out, r)
		}
	}
	slices.SortFunc(out, func(a, b Row) int {
		return cmp.Or(b.fit()-a.fit(), b.Confidence.rank()-a.Confidence.rank(), b.Tag.rank()-a.Tag.rank(), b.N-a.N, cmp.Compare(a.ID, b.ID))
	})
	return out
}

func (r Row) holdsBesidesSpeed(c Conditions) bool {
	if c.View != clip.UnknownView && len(r.Views) > 0 && !slices.Contains(r.Views, c.View) {
		return false
	}
	if d, ok := measure.Lookup(r.Measure); ok && c.View != clip.UnknownView && !d.SeenFrom(c.View) {
		return false
	}
	if r.Sex != "" && r.Sex != c.Sex {
		return false
	}
	return r.HeightM == nil || c.HeightM > 0 && r.HeightM.Holds(c.HeightM)
}

// fit is larger the more a row says about whom it is for.
func (r Row) fit() int {
	n := 0
	if r.Own {
		n += 8
	}
	if r.SpeedMPS != nil {
		n += 4
	}
	if r.Sex != "" {
		n += 2
	}
	if r.HeightM != nil {
		n++
	}
	return n
}

// between returns the row at a speed in a straight line between the nearest
// slower and faster rows of one sample, both with mean and SD or both with the
// same ends.
func between(rows []Row, speedMPS float64) (Row, bool) {
	var slow, fast *Row
	for i := range rows {
		r := &rows[i]
		m := r.SpeedMPS.middle()
		if m < speedMPS && (slow == nil || m > slow.SpeedMPS.middle()) {
			slow = r
		}
		if m > speedMPS && (fast == nil || m < fast.SpeedMPS.middle()) {
			fast = r
		}
	}
	if slow == nil || fast == nil {
		return Row{}, false
	}
	from, to := slow.SpeedMPS.middle(), fast.SpeedMPS.middle()
	share := (speedMPS - from) / (to - from)
	line := func(a, b *float64) *float64 {
		if a == nil || b == nil {
			return nil
		}
		v := *a + share*(*b-*a)
		return &v
	}
	r := *slow
	r.ID = slow.ID + ".." + fast.ID
	r.SpeedMPS = &Span{&speedMPS, &speedMPS}
	r.Mean, r.SD, r.Low, r.High = line(slow.Mean, fast.Mean), line(slow.SD, fast.SD), line(slow.Low, fast.Low), line(slow.High, fast.High)
	r.N = min(slow.N, fast.N)
	if fast.Confidence.rank() < slow.Confidence.rank() {
		r.Confidence = fast.Confidence
	}
	if (slow.Mean == nil) != (fast.Mean == nil) || (slow.Low == nil) != (fast.Low == nil) || (slow.High == nil) != (fast.High == nil) {
		return Row{}, false
	}
	r.Note = strings.TrimSpace(fmt.Sprintf("In a straight line between %.3g and %.3g m/s of the same sample. %s", from, to, slow.Note))
	return r, true
}
