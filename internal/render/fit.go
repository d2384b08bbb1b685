package render

import (
	"fmt"
	"strings"
)

// density is one way to arrange the page.
type density struct {
	table, text  float64 // sizes of type
	air          float64 // above and below a row of the table, in parts of its type size
	columns      int     // of the table
	plotsARow    int
	plotRows     int // at most
	gap          float64
	picture, max float64 // least and greatest height of a picture
	plot, plotTo float64 // least and greatest height of a plot
}

// densities from roomy to dense. Where even the last is too small, rows are left
// out and counted.
var densities = []density{
	{8, 7.2, 0.46, 1, 3, 2, 15, 150, 240, 84, 112},
	{7.6, 7, 0.42, 1, 3, 2, 13, 150, 235, 74, 106},
	{7.4, 6.8, 0.44, 2, 3, 2, 14, 160, 230, 74, 100},
	{7.2, 6.6, 0.38, 2, 3, 2, 12, 156, 195, 66, 94},
	{7, 6.4, 0.31, 2, 3, 2, 11, 152, 190, 60, 88},
	{6.8, 6.2, 0.27, 2, 3, 2, 10, 150, 185, 56, 80},
	{6.8, 6.2, 0.27, 2, 6, 1, 10, 150, 185, 64, 80},
	{6.5, 6, 0.23, 2, 6, 1, 9, 138, 180, 58, 76},
	{6.3, 5.9, 0.22, 2, 6, 1, 9, 112, 170, 56, 74},
	{6, 5.8, 0.22, 2, 6, 1, 9, 80, 150, 52, 72},
	{5.6, 5.6, 0.2, 2, 6, 1, 8, 56, 130, 46, 70},
	{5.4, 5.4, 0.2, 3, 6, 1, 7, 46, 110, 44, 60},
}

// Page lays the report out.
func (r *Report) Page() (*Page, error) {
	if err := r.check(); err != nil {
		return nil, err
	}
	t := tabulate(r.Measures, r.Asymmetries)
	for _, d := range densities {
		if s := newSheet(r, t, d); s.slack() >= 0 {
			return s.draw(), nil
		}
	}
	last := densities[len(densities)-1]
	short := *r
	short.Warnings, short.Notes, short.Method, short.Remarks = nil, nil, nil, nil
	fits := newSheet(&short, table{}, last).slack() >= 0 // with all left out that may be
	for short = *r; fits; fits = shorten(&short, &t) {
		if s := newSheet(&short, t, last); s.slack() >= 0 {
			return s.draw(), nil
		}
	}
	return nil, fmt.Errorf("the report of %q does not fit one page: shorten its names, facts, captions and cautions", fitted(r.Runner, 60))
}

// fitted is text of at most n characters, for messages.
func fitted(text string, n int) string {
	if r := []rune(printable(text)); len(r) > n {
		return string(r[:n]) + "…"
	}
	return printable(text)
}

// shorten leaves out a tenth of the longest part of the page: rows of the table,
// or lines of a list. What is gone is counted; false
// where nothing was left to leave out.
func shorten(r *Report, t *table) bool {
	rows := 0
	for _, s := range t.sections {
		rows += len(s.rows)
	}
	// About so many characters take the room of a row in two columns.
	const rowOfText = 60
	var longest *[]string
	size := 0
	for _, list := range []*[]string{&t.withheld, &t.flags, &r.Remarks, &r.Method, &r.Notes, &r.Warnings} {
		n := 0
		for _, s := range *list {
			n += 1 + len(s)/rowOfText
		}
		if n > size {
			longest, size = list, n
		}
	}
	switch {
	case rows > 0 && rows/2 >= size:
		t.cutRows(max(1, rows/10))
	case longest != nil:
		t.linesOut += cut(longest)
	default:
		return false
	}
	return true
}

// cutRows drops the last n rows.
func (t *table) cutRows(n int) {
	sections := append([]section(nil), t.sections...)
	for n > 0 && len(sections) > 0 {
		s := &sections[len(sections)-1]
		k := min(n, len(s.rows))
		s.rows = s.rows[:len(s.rows)-k]
		n -= k
		t.rowsOut += k
		if len(s.rows) == 0 {
			sections = sections[:len(sections)-1]
		}
	}
	t.sections = sections
}

// cut drops the last tenth of a list and returns how many entries that is; a
// long entry that stands alone is ended early instead.
func cut(list *[]string) int {
	n := len(*list)
	if n > 1 {
		k := max(1, n/10)
		*list = (*list)[:n-k]
		return k
	}
	if r := []rune((*list)[0]); len(r) > 300 {
		*list = []string{strings.TrimRight(string(r[:len(r)*3/4]), " …") + "…"}
		return 0
	}
	*list = nil
	return 1
}
