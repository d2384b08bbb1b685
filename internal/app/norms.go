package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/measure"
	"gaitwright/gait/norm"
)

// NormsFile is the user's own file of reference ranges: GAITWRIGHT_NORMS where
// that is set, norms.yaml in the configuration folder otherwise. It need not
// exist.
func NormsFile() string { return ownFile("GAITWRIGHT_NORMS", "norms.yaml") }

// Norms returns the built-in reference ranges with the user's own laid over
// them: those of file, or of NormsFile for an empty name, which may be absent.
// notes are sentences about the file.
func Norms(file string) (table *norm.Table, notes []string, err error) {
	named := file != ""
	if !named {
		file = NormsFile()
	}
	own, err := readNorms(file)
	switch {
	case errors.Is(err, fs.ErrNotExist) && !named:
		return norm.BuiltIn(), nil, nil
	case err != nil:
		return nil, nil, err
	}
	for _, id := range norm.BuiltIn().Unknown(own) {
		notes = append(notes, fmt.Sprintf("%s hides %q, but no built-in row has that id", file, id))
	}
	return norm.BuiltIn().With(own), notes, nil
}

// normsOrBuiltIn returns the ranges in use, or the built-in ones with a note where
// the user's own file has a fault: a result is not held back for that.
func normsOrBuiltIn() (table *norm.Table, notes []string) {
	table, notes, err := Norms("")
	if err != nil {
		return norm.BuiltIn(), []string{"Your own reference ranges are not used: " + err.Error()}
	}
	return table, notes
}

// conditions are what decides which range holds for a clip of the session.
func (s *Session) conditions(c *Clip) norm.Conditions {
	return norm.Conditions{View: c.Info.View, SpeedMPS: c.Info.BeltSpeedMPS, HeightM: s.Runner.HeightM, Sex: s.Runner.Sex}
}

func readNorms(file string) (*norm.Table, error) {
	return readOwn(file, ownKind{"file of reference ranges", "`gaitwright norms --show` prints rows to copy.", norm.MaxBytes}, norm.Parse)
}

// CheckNorms says in a sentence that a file of ranges is sound, or fails with
// what is wrong in it.
func CheckNorms(file string) (string, error) {
	own, err := readNorms(file)
	if err != nil {
		return "", err
	}
	replaced, low := 0, 0
	for _, r := range own.Rows {
		if slices.ContainsFunc(norm.BuiltIn().Rows, func(b norm.Row) bool { return b.ID == r.ID }) {
			replaced++
		}
		if !r.Usable() {
			low++
		}
	}
	text := fmt.Sprintf("%s is sound: %s, of which %d replace built-in ones; %d hidden.\n", file, plural(len(own.Rows), "row", "rows"), replaced, len(own.Hide))
	if low > 0 {
		text += fmt.Sprintf("%s of low confidence: listed, but not used as a norm.\n", plural(low, "row is", "rows are"))
	}
	for _, id := range norm.BuiltIn().Unknown(own) {
		text += fmt.Sprintf("It hides %q, but no built-in row has that id.\n", id)
	}
	return text, nil
}

// ShowNorms returns the built-in ranges as YAML to copy.
func ShowNorms() (string, error) {
	rows, err := norm.BuiltIn().Marshal()
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("# Reference ranges built into the program. To use your own, copy rows to\n# %s\n# and change them there: the same id replaces a row, another id adds one, and ids\n# listed under hide leave rows out.\n%s", NormsFile(), rows), nil
}

// NormsAsked narrows the list of reference ranges; zero values mean "all".
type NormsAsked struct {
	Measure string
	norm.Conditions
	File string // the user's own rows; NormsFile where empty
}

// narrowed tells whether conditions are given, so that only what holds for them
// is listed.
func (a NormsAsked) narrowed() bool { return a.Conditions != norm.Conditions{} }

// NormsOf lists the rows of one measure.
type NormsOf struct {
	Measure measure.Definition
	Rows    []norm.Row
}

// ListNorms returns the reference ranges by measure, in the catalogue's order.
func ListNorms(a NormsAsked) ([]NormsOf, []string, error) {
	table, notes, err := Norms(a.File)
	if err != nil {
		return nil, nil, err
	}
	if a.Measure != "" {
		if _, err := measure.Explain(a.Measure); err != nil {
			return nil, nil, &Problem{Kind: KindUsage, What: err.Error(), Mend: "`gaitwright explain` lists all measures.", Err: err}
		}
	}
	var out []NormsOf
	for _, d := range measure.Catalogue() {
		if a.Measure != "" && d.Name != a.Measure {
			continue
		}
		rows := table.Lookup(d.Name, a.Conditions)
		if !a.narrowed() {
			rows = nil
			for _, r := range table.Rows {
				if r.Measure == d.Name {
					rows = append(rows, r)
				}
			}
		}
		if len(rows) > 0 {
			out = append(out, NormsOf{d, rows})
		}
	}
	return out, notes, nil
}

// NormsRequest asks for rows computed from files of many people.
type NormsRequest struct {
	Files          []string
	Person         string // regular expression of the person in a file's name
	Name           string // of the table, and the beginning of its rows' ids
	Source, Sample string
	Method, Note   string
}

// DefaultPerson finds the person in a file's name: all up to the first number,
// and that number.
const DefaultPerson = `^[^0-9]*[0-9]+`

var tableName = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,29}$`)

// measuredPeople are the measured files of many people.
type measuredPeople struct {
	measures []norm.Trial
	curves   []norm.CurveTrial
	origin   norm.Origin
	notes    []string
}

// trials measures each file for computing what is usual.
func (st *Studio) trials(ctx context.Context, r NormsRequest, progress Progress) (*measuredPeople, error) {
	person, err := regexp.Compile(r.Person)
	if err != nil {
		return nil, problem(KindUsage, "", "The usual one is "+DefaultPerson+".", "--person is no regular expression: %v", err)
	}
	out := &measuredPeople{}
	var people, methods []string
	for _, file := range r.Files {
		who := person.FindString(strings.TrimSuffix(filepath.Base(file), filepath.Ext(file)))
		if who == "" {
			return nil, problem(KindUsage, file, "Say with --person what part of a file's name is the person.", "the name does not tell whose file it is")
		}
		s, err := st.Measure(ctx, Request{Files: []string{file}}, progress)
		if err != nil {
			return nil, err
		}
		for _, c := range s.Clips {
			if !(c.Info.BeltSpeedMPS > 0) {
				out.notes = append(out.notes, filepath.Base(file)+" was left out: its speed is not known")
				continue
			}
			out.curves = append(out.curves, norm.CurveTrial{Person: who, View: c.Info.View, SpeedMPS: c.Info.BeltSpeedMPS, Curves: c.Curves})
			out.measures = append(out.measures, norm.Trial{Person: who, View: c.Info.View, SpeedMPS: c.Info.BeltSpeedMPS, Measures: c.Measures})
			if how := fmt.Sprintf("%s, contacts by %s", c.origin(), c.Contacts.Method); !slices.Contains(methods, how) {
				methods = append(methods, how)
			}
		}
		if !slices.Contains(people, who) {
			people = append(people, who)
		}
	}
	o := &out.origin
	*o = norm.Origin{ID: r.Name, Source: r.Source, Sample: r.Sample, Method: r.Method, Confidence: norm.Medium, Note: r.Note}
	if o.Sample == "" {
		o.Sample = fmt.Sprintf("%d people: %s", len(people), strings.Join(people, ", "))
	}
	o.Method = strings.TrimSpace(fmt.Sprintf("%s (%s; a person counts once, with the mean of both legs)", o.Method, strings.Join(methods, "; ")))
	if len(people) < 20 {
		out.notes = append(out.notes, fmt.Sprintf("%d people are few: the ranges are wide to allow for it, and another %d people would give others", len(people), len(people)))
	}
	return out, nil
}

// ComputeNorms measures each file and returns reference ranges over the people in
// them, by speed. notes are sentences for the one who asked.
func (st *Studio) ComputeNorms(ctx context.Context, r NormsRequest, progress Progress) (*norm.Table, []string, error) {
	if !tableName.MatchString(r.Name) {
		return nil, nil, problem(KindUsage, "", "Use small letters, figures and hyphens, at most 30.", "the name %q cannot begin the ids of rows", r.Name)
	}
	t, err := st.trials(ctx, r, progress)
	if err != nil {
		return nil, nil, err
	}
	rows := norm.Compute(t.measures, t.origin)
	if len(rows) == 0 {
		return nil, nil, problem(KindNoResult, "", "Give files of more people at the same speed.", "no measure is given by %d people or more at one speed", norm.Fewest)
	}
	return &norm.Table{Name: r.Name, Rows: rows}, t.notes, nil
}

// CurveBandsFile is where bands of curves are kept: curves.yaml beside the user's own
// ranges. It need not exist.
func CurveBandsFile() string { return filepath.Join(filepath.Dir(NormsFile()), "curves.yaml") }

// ComputeBands measures each file and returns, as the text of such a file, what is
// usual of the curves over the stride among the people in them, by speed.
func (st *Studio) ComputeBands(ctx context.Context, r NormsRequest, progress Progress) ([]byte, []string, error) {
	t, err := st.trials(ctx, r, progress)
	if err != nil {
		return nil, nil, err
	}
	bands := norm.ComputeBands(t.curves, t.origin)
	if len(bands) == 0 {
		return nil, nil, problem(KindNoResult, "", "Give files of more people at the same speed.", "no curve is given by %d people or more at one speed", norm.Fewest)
	}
	text, err := norm.MarshalBands(bands)
	return text, append(t.notes, "Kept as "+CurveBandsFile()+" the bands are drawn in reports."), err
}

// curveBands are the bands in use, with a note where the file has a fault: a report is
// not held back for that.
func curveBands() ([]norm.Band, string) {
	file := CurveBandsFile()
	bands, err := readOwn(file, ownKind{"file of bands of curves", "`gaitwright norms compute` writes one.", norm.MaxBytes}, norm.ParseBands)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, ""
	case err != nil:
		return nil, "Your own bands of curves are not used: " + InOneLine(err)
	}
	return bands, ""
}

// RangeLine is one measure beside its reference range, for reading.
type RangeLine struct {
	Title, Side, Value, Unit string
	Verdict                  string
	Range, Source            string
	Contested                string
}

// RangeTable holds the measures of each clip against the best reference range for
// its speed, view and runner. Measures without one are not listed.
func (s *Session) RangeTable(table *norm.Table) [][]RangeLine {
	var out [][]RangeLine
	for _, c := range s.Clips {
		var lines []RangeLine
		at := s.conditions(c)
		for _, m := range c.Measures {
			rows := table.Lookup(m.Name, at)
			if m.Withheld() || len(rows) == 0 {
				continue
			}
			d, _ := measure.Lookup(m.Name)
			k := norm.Compare(m, rows[0])
			line := RangeLine{Title: d.Title, Value: d.Format(m.Value), Unit: d.Unit, Verdict: k.Verdict.String(), Range: k.Row.RangeText(),
				Source: rangeSource(k.Row), Contested: k.Row.Contested}
			if m.Side != body.NoSide {
				line.Side = m.Side.String()
			}
			if k.Reason != "" {
				line.Verdict = k.Reason
			}
			if !math.IsNaN(m.SEM) {
				line.Value += " ± " + d.Format(m.SEM)
			}
			lines = append(lines, line)
		}
		out = append(out, lines)
	}
	return out
}

// rangeSource is the source of a row with what has to be said of it.
func rangeSource(r norm.Row) string {
	s := r.Source
	if r.N > 0 {
		s += fmt.Sprintf(", n = %d", r.N)
	}
	if r.Tag == norm.FromMemory && !strings.Contains(s, string(r.Tag)) {
		s += ", " + string(r.Tag)
	}
	if r.Own {
		s += " (own row)"
	}
	return s
}

// RangeNote explains the comparison.
const RangeNote = "Ranges are what was common among the people measured, not what is good; outside is said only where 1.96 standard errors do not reach the border. Hardly any single value predicts injury (30 prospective studies, Sports Med Open 2022, 8:38)."

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
