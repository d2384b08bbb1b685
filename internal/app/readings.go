package app

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// maxReadingsBytes bounds a file of repeated measurements.
const maxReadingsBytes = 64 << 20

// What a table may hold: far more than any study, and no more than is worked out
// in a moment.
const (
	maxSeries   = 500
	maxSubjects = 2000
	maxRaters   = 100
)

// readReadings reads CSV tables and results of `measure --json`. Results are
// gathered by runner: a runner's first file is the first reading, and so on.
func readReadings(r ReliabilityRequest) ([]Readings, []string, error) {
	if len(r.Files) == 0 {
		return nil, nil, problem(KindUsage, "", "Name a table (CSV) or results of `measure --json`.", "there is nothing to compare")
	}
	var tables []Readings
	var results []Document
	for _, file := range r.Files {
		i, err := os.Stat(file)
		if err != nil {
			return nil, nil, &Problem{Kind: KindUsage, File: file, What: "cannot be read: " + err.Error(), Mend: "Check the name and the folder.", Err: err}
		}
		if i.IsDir() || i.Size() > maxReadingsBytes {
			return nil, nil, problem(KindUsage, file, "Name a table (CSV) or results of `measure --json`.", "is a folder, or larger than %d MB", maxReadingsBytes>>20)
		}
		data, err := os.ReadFile(file)
		if err != nil {
			return nil, nil, &Problem{Kind: KindUsage, File: file, What: err.Error(), Err: err}
		}
		if strings.EqualFold(filepath.Ext(file), ".json") {
			d, err := parseResult(data)
			if err != nil {
				return nil, nil, &Problem{Kind: KindNoResult, File: file, What: err.Error(), Mend: "Write it with `gaitwright measure … --name RUNNER --json FILE`.", Err: err}
			}
			results = append(results, d)
			continue
		}
		t, err := parseReadings(data)
		if err != nil {
			return nil, nil, &Problem{Kind: KindNoResult, File: file, What: err.Error(), Mend: "`gaitwright reliability --help` tells the two forms of a table.", Err: err}
		}
		tables = append(tables, t...)
	}
	if len(tables) > 0 && len(results) > 0 {
		return nil, nil, problem(KindUsage, "", "Give either tables or results.", "tables and results cannot be compared together")
	}
	if len(results) > 0 {
		out, notes := gatherResults(results)
		return out, notes, nil
	}
	return tables, nil, nil
}

// parseResult reads a result of `measure --json`.
func parseResult(data []byte) (Document, error) {
	var d Document
	if err := json.Unmarshal(data, &d); err != nil {
		return d, fmt.Errorf("is no result of this program: %w", err)
	}
	switch {
	case d.Schema != DocumentSchema:
		return d, fmt.Errorf("is no result of this program, or one of another version (schema %d, and %d is read)", d.Schema, DocumentSchema)
	case strings.TrimSpace(d.Runner.Name) == "":
		return d, fmt.Errorf("does not say whose result it is: it carries no runner's name")
	}
	return d, nil
}

// The columns of a long table, by the names they may have.
var longColumns = map[string][]string{
	"subject": {"subject", "runner", "person", "target"},
	"rater":   {"rater", "session", "occasion", "visit", "analyst", "day", "trial"},
	"measure": {"measure"}, "side": {"side"}, "value": {"value"}, "unit": {"unit"}, "origin": {"origin"},
}

// parseReadings reads a table of either form.
//
// Long: a header with the columns subject, rater (or session) and value, and
// where wanted measure, side, unit and origin; one reading a line. Wide: one row
// a subject and one column a rater, with a header of the raters' names or
// without; a first column headed subject or runner, or that holds no numbers,
// names the subjects. An empty cell is a missing reading.
func parseReadings(data []byte) ([]Readings, error) {
	text := strings.TrimPrefix(string(data), "\ufeff")
	c := csv.NewReader(strings.NewReader(text))
	c.TrimLeadingSpace, c.Comment = true, '#'
	if first, _, _ := strings.Cut(text, "\n"); !strings.Contains(first, ",") {
		switch {
		case strings.Contains(first, ";"):
			c.Comma = ';'
		case strings.Contains(first, "\t"):
			c.Comma = '\t'
		}
	}
	rows, err := c.ReadAll()
	if err != nil {
		return nil, fmt.Errorf("is no table: %w", err)
	}
	if len(rows) == 0 {
		return nil, fmt.Errorf("the table is empty")
	}
	for i := range rows {
		for j := range rows[i] {
			rows[i][j] = strings.TrimSpace(rows[i][j])
		}
	}
	at := map[string]int{}
	for what, names := range longColumns {
		at[what] = slices.IndexFunc(rows[0], func(s string) bool { return slices.Contains(names, strings.ToLower(s)) })
	}
	if at["value"] >= 0 {
		return longReadings(rows, at, c.Comma)
	}
	w, err := wideReadings(rows, at["subject"], c.Comma)
	return []Readings{w}, err
}

// reading parses a cell; an empty one is NaN. Where cells are parted by
// semicolons, the decimal mark may be a comma.
func reading(cell string, comma rune) (float64, error) {
	if cell == "" {
		return math.NaN(), nil
	}
	if comma == ';' {
		cell = strings.Replace(cell, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(cell, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%q is no number", cell)
	}
	return v, nil
}

func longReadings(rows [][]string, at map[string]int, comma rune) ([]Readings, error) {
	if at["subject"] < 0 || at["rater"] < 0 {
		return nil, fmt.Errorf("a table with a column value needs a column subject (or runner) and a column rater (or session) as well; this one has %s", strings.Join(rows[0], ", "))
	}
	cell := func(row []string, what string) string {
		if i := at[what]; i >= 0 {
			return row[i]
		}
		return ""
	}
	b := newGatherer()
	for i, row := range rows[1:] {
		v, err := reading(cell(row, "value"), comma)
		if err == nil && (cell(row, "subject") == "" || cell(row, "rater") == "") {
			err = fmt.Errorf("the subject or the rater is empty")
		}
		if err == nil {
			err = b.put(cell(row, "measure"), cell(row, "side"), cell(row, "unit"), cell(row, "origin"), cell(row, "subject"), cell(row, "rater"), v)
		}
		if err != nil {
			return nil, fmt.Errorf("row %d: %w", i+2, err)
		}
	}
	return b.all(), nil
}

func wideReadings(rows [][]string, subject int, comma rune) (Readings, error) {
	var r Readings
	header := rows[0]
	numeric := func(row []string, from int) bool {
		return !slices.ContainsFunc(row[from:], func(s string) bool { _, err := reading(s, comma); return err != nil })
	}
	first := 0 // first column of readings
	if subject == 0 || len(header) > 2 && len(rows) > 1 && slices.ContainsFunc(rows[1:], func(row []string) bool { return !numeric(row[:1], 0) }) {
		first = 1
	}
	if len(rows) > maxSubjects+1 || len(header) > maxRaters+1 {
		return r, fmt.Errorf("the table has %d rows and %d columns; %d subjects and %d raters are the most", len(rows), len(header), maxSubjects, maxRaters)
	}
	if subject > 0 {
		return r, fmt.Errorf("the column %q must be the first", header[subject])
	}
	body := rows[1:]
	if numeric(header, first) {
		body = rows
		header = make([]string, len(rows[0]))
		for j := range header {
			header[j] = strconv.Itoa(j - first + 1)
		}
	}
	r.Raters = slices.Clone(header[first:])
	for j, name := range r.Raters {
		if name == "" || slices.Contains(r.Raters[:j], name) {
			return r, fmt.Errorf("column %d has no name of its own in the header", first+j+1)
		}
	}
	for i, row := range body {
		name := strconv.Itoa(i + 1)
		if first == 1 {
			name = row[0]
		}
		if slices.Contains(r.Subjects, name) {
			return r, fmt.Errorf("subject %q has two rows; give one row a subject and one column a rater", name)
		}
		values := make([]float64, len(r.Raters))
		for j := range values {
			v, err := reading(row[first+j], comma)
			if err != nil {
				return r, fmt.Errorf("subject %s, column %s: %w", name, r.Raters[j], err)
			}
			values[j] = v
		}
		r.Subjects, r.Values = append(r.Subjects, name), append(r.Values, values)
	}
	return r, nil
}

// gatherer collects readings one by one into tables.
type gatherer struct {
	order []seriesKey
	by    map[seriesKey]*Readings
}

type seriesKey struct{ measure, side string }

func newGatherer() *gatherer { return &gatherer{by: map[seriesKey]*Readings{}} }

func (g *gatherer) put(measure, side, unit, origin, subject, rater string, v float64) error {
	k := seriesKey{measure, side}
	r := g.by[k]
	if r == nil {
		if len(g.order) == maxSeries {
			return fmt.Errorf("the table has more than %d measures and sides", maxSeries)
		}
		r = &Readings{Measure: measure, Side: side, Unit: unit}
		g.by[k] = r
		g.order = append(g.order, k)
	}
	if r.Unit != unit {
		return fmt.Errorf("%s is in %q here and in %q before", r.Title(), unit, r.Unit)
	}
	if origin != "" && !slices.Contains(strings.Split(r.Origin, " / "), origin) {
		r.Origin = strings.TrimPrefix(r.Origin+" / "+origin, " / ")
	}
	j := slices.Index(r.Raters, rater)
	if j < 0 {
		if len(r.Raters) == maxRaters {
			return fmt.Errorf("%s has more than %d raters; is the column of raters the right one?", r.Title(), maxRaters)
		}
		j = len(r.Raters)
		r.Raters = append(r.Raters, rater)
		for i := range r.Values {
			r.Values[i] = append(r.Values[i], math.NaN())
		}
	}
	i := slices.Index(r.Subjects, subject)
	if i < 0 {
		if len(r.Subjects) == maxSubjects {
			return fmt.Errorf("%s has more than %d subjects", r.Title(), maxSubjects)
		}
		i = len(r.Subjects)
		r.Subjects = append(r.Subjects, subject)
		row := make([]float64, len(r.Raters))
		for k := range row {
			row[k] = math.NaN()
		}
		r.Values = append(r.Values, row)
	}
	if !math.IsNaN(r.Values[i][j]) {
		return fmt.Errorf("%s has two readings of %s by %s; name them as two sessions", subject, r.Title(), rater)
	}
	r.Values[i][j] = v
	return nil
}

func (g *gatherer) all() []Readings {
	out := make([]Readings, len(g.order))
	for i, k := range g.order {
		out[i] = *g.by[k]
	}
	return out
}

// gatherResults turns results into readings: the n-th result of a runner is the
// n-th reading. Runners measured more often than the rest give their first
// readings; those measured once are left out.
func gatherResults(results []Document) ([]Readings, []string) {
	var notes, runners []string
	of := map[string][]Document{}
	for _, d := range results {
		name := strings.TrimSpace(d.Runner.Name)
		if of[name] == nil {
			runners = append(runners, name)
		}
		of[name] = append(of[name], d)
	}
	least := 0
	for _, name := range runners {
		switch n := len(of[name]); {
		case n < 2:
			notes = append(notes, name+" was measured once and is left out")
		case least == 0 || n < least:
			least = n
		}
	}
	g := newGatherer()
	sameClip := ""
	for _, name := range runners {
		if len(of[name]) < 2 {
			continue
		}
		if n := len(of[name]); n > least {
			notes = append(notes, fmt.Sprintf("%s was measured %d times, of which the first %d are used, as many as of the others", name, n, least))
		}
		slowest, fastest := math.Inf(1), 0.0
		var files []string // of this runner's readings before
		for k, d := range of[name][:least] {
			put, seen := map[seriesKey]bool{}, []string{}
			for _, c := range d.Clips {
				if c.BeltSpeedMPS != nil {
					slowest, fastest = math.Min(slowest, *c.BeltSpeedMPS), math.Max(fastest, *c.BeltSpeedMPS)
				}
				if slices.Contains(files, c.File) && sameClip == "" {
					sameClip = c.File
				}
				seen = append(seen, c.File)
				for _, m := range c.Measures {
					key := seriesKey{m.Name, m.Side}
					if m.Value == nil || m.Text != "" || put[key] {
						continue
					}
					put[key] = true
					if err := g.put(m.Name, m.Side, m.Unit, m.Origin, name, fmt.Sprintf("reading %d", k+1), *m.Value); err != nil {
						notes = append(notes, err.Error())
					}
				}
			}
			files = append(files, seen...)
		}
		if fastest > 1.03*slowest {
			notes = append(notes, fmt.Sprintf("%s ran at %.2f to %.2f m/s: the differences hold that of the speeds as well", name, slowest, fastest))
		}
	}
	out := g.all()
	for i := range out {
		out[i].SameClip = sameClip
	}
	return out, notes
}
