package exam

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/num/quantity"
)

// MaxRows bounds a table of trials.
const MaxRows = 5000

// columns of a table of trials; those not needed may be left out.
var columns = []string{"test", "side", "value", "unit", "lever", "pain", "invalid", "felt", "stage", "note"}

// Columns lists the columns that ReadTable knows.
func Columns() []string { return slices.Clone(columns) }

// ReadTable reads trials from a table (CSV, comma or semicolon, header line): one
// trial a line, test and side, and value with its unit either in the same cell
// ("220 N", "12.5 cm") or in the column unit. Strength needs a lever arm ("0.41
// m"). Lines of the same test, side and stage are the trials of one entry. The
// error names line and column.
func ReadTable(r io.Reader) (Sheet, error) {
	rows, at, err := openTable(r)
	if err != nil {
		return Sheet{}, err
	}
	for _, need := range []string{"test", "value"} {
		if _, ok := at[need]; !ok {
			return Sheet{}, fmt.Errorf("line 1: the column %q is missing; the columns are %s", need, strings.Join(columns, ", "))
		}
	}
	for name := range at {
		if !slices.Contains(columns, name) {
			return Sheet{}, fmt.Errorf("line 1: there is no column %q; the columns are %s", name, strings.Join(columns, ", "))
		}
	}
	var s Sheet
	var lines []int // of each trial, by entry and trial in order
	where := map[[2]int]int{}
	for {
		rec, err := rows.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return Sheet{}, fmt.Errorf("this is no well-formed table: %w", err)
		}
		line, _ := rows.FieldPos(0)
		cell := func(name string) string {
			if i, ok := at[name]; ok && i < len(rec) {
				return strings.TrimSpace(rec[i])
			}
			return ""
		}
		if strings.Join(rec, "") == "" {
			continue
		}
		if len(lines) >= MaxRows {
			return Sheet{}, fmt.Errorf("line %d: more than %d trials: is it the right file?", line, MaxRows)
		}
		lines = append(lines, line)
		wrong := func(column string, err error) error { return fmt.Errorf("line %d, column %s: %w", line, column, err) }
		e := Entry{Test: strings.ToLower(strings.ReplaceAll(cell("test"), " ", "_")), Felt: cell("felt"), Stage: cell("stage"), Note: cell("note")}
		t, ok := Lookup(e.Test)
		if !ok {
			return Sheet{}, wrong("test", fmt.Errorf("there is no test %q; `gaitwright exam --tests` lists them", cell("test")))
		}
		if text := cell("side"); text != "" {
			if e.Side, err = body.ParseSide(text); err != nil {
				return Sheet{}, wrong("side", err)
			}
		}
		tr := Trial{Invalid: cell("invalid")}
		if text := cell("pain"); text != "" {
			if tr.Pain, err = strconv.Atoi(text); err != nil || tr.Pain < 0 || tr.Pain > 10 {
				return Sheet{}, wrong("pain", fmt.Errorf("%q is not a whole number from 0 to 10", text))
			}
		}
		if text := cell("value"); text != "" || tr.Invalid == "" && tr.Pain == 0 {
			if err := tr.read(t, text, cell("unit")); err != nil {
				return Sheet{}, wrong("value", err)
			}
			if t.Kind == Strength {
				l, err := quantity.ParseLength(cell("lever"))
				if err != nil {
					return Sheet{}, wrong("lever", err)
				}
				tr.LeverM = l.M()
			}
		}
		i := slices.IndexFunc(s.Entries, func(x Entry) bool { return x.Test == e.Test && x.Side == e.Side && x.Stage == e.Stage })
		if i < 0 {
			i = len(s.Entries)
			s.Entries = append(s.Entries, e)
		}
		x := &s.Entries[i]
		if e.Felt != "" {
			x.Felt = e.Felt
		}
		if e.Note != "" && x.Note != e.Note {
			x.Note = strings.TrimPrefix(x.Note+"; "+e.Note, "; ")
		}
		x.Trials = append(x.Trials, tr)
		where[[2]int{i, len(x.Trials) - 1}] = line
		where[[2]int{i, -1}] = line
	}
	if len(s.Entries) == 0 {
		return Sheet{}, errors.New("the table has no trials")
	}
	for _, err := range s.Check() {
		var p *Problem
		if errors.As(err, &p) {
			return Sheet{}, fmt.Errorf("line %d: %s", where[[2]int{p.Entry, p.Trial}], p.What)
		}
		return Sheet{}, err
	}
	return s, nil
}

// read takes a number with its unit, which is in the same cell or in its own.
func (tr *Trial) read(t *Test, text, unit string) error {
	if unit != "" {
		text += " " + unit
	}
	bare := func() (float64, error) {
		f := strings.Fields(strings.TrimSuffix(strings.TrimSuffix(text, "°"), "x"))
		if len(f) == 0 {
			return 0, errors.New("a number is missing")
		}
		if len(f) > 1 && !slices.Contains([]string{t.Unit, "deg", "degrees", "°", "reps", "rep"}, f[1]) {
			return 0, fmt.Errorf("%q: the unit of this test is %s", text, t.Unit)
		}
		v, err := strconv.ParseFloat(f[0], 64)
		if err != nil {
			return 0, fmt.Errorf("%q is not a number", text)
		}
		return v, nil
	}
	// A plain number is in the test's own unit, which a force has not.
	if v, err := strconv.ParseFloat(strings.TrimSpace(text), 64); err == nil && t.Kind != Strength {
		tr.Value = v
		return nil
	}
	var err error
	switch {
	case t.Kind == Strength:
		var f quantity.Force
		f, err = quantity.ParseForce(text)
		tr.ForceN = f.N()
	case t.Unit == "cm":
		var l quantity.Length
		l, err = quantity.ParseLength(text)
		tr.Value = l.CM()
	case t.Unit == "s":
		var d quantity.Time
		d, err = quantity.ParseTime(text)
		tr.Value = d.Seconds()
	default:
		tr.Value, err = bare()
	}
	return err
}

// openTable reads the header of a table with commas or semicolons.
func openTable(r io.Reader) (*csv.Reader, map[string]int, error) {
	data, err := io.ReadAll(io.LimitReader(r, 4<<20))
	if err != nil {
		return nil, nil, err
	}
	text := strings.TrimPrefix(string(data), "\ufeff")
	first, _, _ := strings.Cut(text, "\n")
	rows := csv.NewReader(strings.NewReader(text))
	rows.FieldsPerRecord = -1
	rows.TrimLeadingSpace = true
	if strings.Count(first, ";") > strings.Count(first, ",") {
		rows.Comma = ';'
	}
	head, err := rows.Read()
	if err != nil {
		return nil, nil, fmt.Errorf("this is no table with a header line: %w", err)
	}
	at := map[string]int{}
	for i, h := range head {
		h = strings.ToLower(strings.TrimSpace(h))
		if h == "" {
			continue
		}
		if _, twice := at[h]; twice {
			return nil, nil, fmt.Errorf("line 1: the column %q is there twice", h)
		}
		at[h] = i
	}
	return rows, at, nil
}
