package app

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
	"gaitwright/gait/norm"
	"gaitwright/internal/trialset"
	"gaitwright/num/agree"
)

// TrialRow is one measure of one trial. What is not known is null.
type TrialRow struct {
	Set      string   `parquet:"set" json:"set"`
	Subject  string   `parquet:"subject" json:"subject"`
	Sex      string   `parquet:"sex" json:"sex"`
	AgeY     *float64 `parquet:"age_y,optional" json:"age_y"`
	HeightM  *float64 `parquet:"height_m,optional" json:"height_m"`
	MassKG   *float64 `parquet:"mass_kg,optional" json:"mass_kg"`
	Trial    string   `parquet:"trial" json:"trial"`
	File     string   `parquet:"file" json:"file"`
	View     string   `parquet:"view" json:"view"`
	SpeedMPS *float64 `parquet:"speed_mps,optional" json:"speed_mps"`
	SpeedBy  string   `parquet:"speed_by" json:"speed_by"`
	Measure  string   `parquet:"measure" json:"measure"`
	Side     string   `parquet:"side" json:"side"`
	Value    *float64 `parquet:"value,optional" json:"value"`
	Text     string   `parquet:"text" json:"text"`
	Unit     string   `parquet:"unit" json:"unit"`
	SD       *float64 `parquet:"sd,optional" json:"sd"`
	SEM      *float64 `parquet:"sem,optional" json:"sem"`
	MDC95    *float64 `parquet:"mdc95,optional" json:"mdc95"`
	Strides  int32    `parquet:"strides" json:"strides"`
	Origin   string   `parquet:"origin" json:"origin"`
	Contacts string   `parquet:"contacts" json:"contacts"`
	Flag     string   `parquet:"flag" json:"flag"`
	Reason   string   `parquet:"reason" json:"reason"`
}

// trialColumns explain the columns of the table of trials, in their order.
var trialColumns = [][3]string{
	{"set", "text", "Name of the set's layout"},
	{"subject", "text", "The participant, as the files' names tell"},
	{"sex", "text", "female, male, or empty where the set does not tell"},
	{"age_y", "number", "Age in years by the set's table"},
	{"height_m", "number", "Height by the set's table, m"},
	{"mass_kg", "number", "Body mass by the set's table, kg"},
	{"trial", "text", "What the file's name tells of the trial beside subject and speed; empty where nothing"},
	{"file", "text", "The file that was measured, from the set's folder"},
	{"view", "text", "left, right, rear, front, or spatial for markers in space"},
	{"speed_mps", "number", "Speed of running, m/s"},
	{"speed_by", "text", "given: by the set; else how it was measured"},
	{"measure", "text", "Name of the measure; gaitwright explain NAME tells its definition, sign and source"},
	{"side", "text", "left, right, or both for measures of both feet together"},
	{"value", "number", "The mean over the strides used, in unit; empty where it is withheld, and then reason says why"},
	{"text", "text", "The value in words where a number alone does not say it"},
	{"unit", "text", "Unit of value, sd, sem and mdc95"},
	{"sd", "number", "Standard deviation from stride to stride"},
	{"sem", "number", "Standard error of measurement of value: strides, landmarks, frame rate and scale"},
	{"mdc95", "number", "Smallest real change between two such values, 1.96·√2·sem (Weir 2005, J Strength Cond Res 19:231)"},
	{"strides", "integer", "Strides (steps for step measures) behind value"},
	{"origin", "text", "What the value rests on: marker file, pose model, force"},
	{"contacts", "text", "How the ground contacts were found: force or motion"},
	{"flag", "text", "A caution; empty where there is none"},
	{"reason", "text", "Why value is withheld"},
}

func (r TrialRow) fields() []string {
	return []string{r.Set, r.Subject, r.Sex, numberCell(r.AgeY), numberCell(r.HeightM), numberCell(r.MassKG), r.Trial, r.File, r.View, numberCell(r.SpeedMPS), r.SpeedBy, r.Measure, r.Side,
		numberCell(r.Value), r.Text, r.Unit, numberCell(r.SD), numberCell(r.SEM), numberCell(r.MDC95), strconv.Itoa(int(r.Strides)), r.Origin, r.Contacts, r.Flag, r.Reason}
}

// trialRows are the rows of a measured trial. The name of the set is put in when the
// table is written.
func trialRows(p *trialPlan, s *Session) []TrialRow {
	rows := []TrialRow{}
	for _, c := range s.Clips {
		base := TrialRow{Subject: p.Subject, Sex: p.Person.Sex, AgeY: known(p.Person.AgeY), HeightM: number(p.Person.HeightM, 4), MassKG: number(p.Person.MassKG, 3), Trial: p.Trial.Trial,
			View: c.Info.View.String(), SpeedMPS: known(c.Info.BeltSpeedMPS), SpeedBy: c.Info.BeltSpeedSource, Contacts: string(c.Contacts.Method)}
		if base.SpeedMPS != nil {
			base.SpeedMPS = number(*base.SpeedMPS, 3)
		}
		for i, f := range p.request.Files {
			if abs, err := filepath.Abs(f); err == nil && abs == c.Path {
				base.File = p.Files[i].Path
			}
		}
		for _, m := range c.Measures {
			row := base
			row.Measure, row.Side, row.Text, row.Unit = m.Name, m.Side.String(), m.Text, m.Unit
			row.Value, row.SD, row.SEM, row.MDC95 = number(m.Value, 5), number(m.SD, 5), number(m.SEM, 5), number(m.MDC95, 5)
			row.Strides, row.Origin, row.Flag, row.Reason = int32(m.Strides), m.Origin, m.Flag, m.Reason
			rows = append(rows, row)
		}
	}
	return rows
}

// TrialSummary is a measure over the participants at one speed: a participant counts
// once, with the mean of both legs and of repeated trials.
type TrialSummary struct {
	Measure  measure.Definition
	SpeedMPS float64
	N        int
	Mean, SD float64 // SD is NaN for one participant
	SEM      float64 // the middle of the participants' standard errors of measurement
	// Ref is the reference range for the speed that stands beside it; nil for none.
	Ref *norm.Row
}

// eachTrial reads the finished trials in their order, one at a time.
func eachTrial(plans []trialPlan, set string, do func(trialRecord) error) error {
	for i := range plans {
		t, err := readTrial(plans[i].record)
		if err != nil {
			return err
		}
		for k := range t.Rows {
			t.Rows[k].Set = set
		}
		if err := do(t); err != nil {
			return err
		}
	}
	return nil
}

// writeTrials writes the tables of a batch; the finished trials are read one at a
// time, so that a large set needs no more memory than a small one.
func writeTrials(r TrialsRequest, l *trialset.Layout, plans []trialPlan, done *TrialsDone) error {
	t := trialTally{at: map[tallyKey]map[string]*trialSums{}, views: map[clip.View]bool{}}
	var trials []norm.Trial
	err := eachTrial(plans, l.Name, func(x trialRecord) error {
		if x.Reason != "" {
			done.Broken = append(done.Broken, TrialFault{Files: x.Files, Reason: x.Reason})
		}
		done.Rows += len(x.Rows)
		t.add(x.Rows)
		if r.Norms != "" {
			trials = append(trials, normTrials(x.Rows)...)
		}
		return nil
	})
	if err != nil {
		return err
	}
	done.Summary = t.summary(l)
	write := func(name string, to func(io.Writer) error) error {
		done.Files = append(done.Files, name)
		return WriteFileWhole(filepath.Join(r.Out, name), to)
	}
	rows := dataTable[TrialRow]{trialColumns, TrialRow.fields, func(do func([]TrialRow) error) error {
		return eachTrial(plans, l.Name, func(x trialRecord) error { return do(x.Rows) })
	}}
	for _, f := range []struct {
		name string
		to   func(io.Writer) error
	}{
		{"measures.csv", rows.writeCSV},
		{"measures.json", rows.writeJSON},
		{"measures.parquet", rows.writeParquet},
		{"dictionary.csv", rows.writeDictionary},
		{"summary.csv", func(w io.Writer) error {
			return writeCSV(w, summaryHeader, func(put func(...string)) error {
				for _, s := range done.Summary {
					put(s.fields()...)
				}
				return nil
			})
		}},
		{"left-out.csv", func(w io.Writer) error {
			return writeCSV(w, []string{"files", "reason"}, func(put func(...string)) error {
				for _, b := range done.Broken {
					put(strings.Join(b.Files, ";"), b.Reason)
				}
				return nil
			})
		}},
	} {
		if err := write(f.name, f.to); err != nil {
			return err
		}
	}
	if r.Norms == "" {
		return nil
	}
	ranges := norm.Compute(trials, norm.Origin{ID: l.Name + "-set", Source: cmp.Or(l.Source, "own measurements") + ", measured by this program", Confidence: norm.Medium,
		Sample: fmt.Sprintf("%d participants of the set %s", done.Subjects, l.Name), Method: "gaitwright trials (a person counts once, with the mean of both legs)"})
	if len(ranges) == 0 {
		return problem(KindNoResult, "", "", "no reference range can be computed: no measure is given by %d people or more at one speed", norm.Fewest)
	}
	text, err := (&norm.Table{Name: l.Name + "-set", Rows: ranges}).Marshal()
	if err != nil {
		return err
	}
	return WriteFileWhole(r.Norms, func(w io.Writer) error { _, err := w.Write(text); return err })
}

// trialTally gathers one number a participant, measure and speed.
type trialTally struct {
	at    map[tallyKey]map[string]*trialSums
	views map[clip.View]bool
}

type tallyKey struct {
	measure string
	speed   float64
}

type trialSums struct {
	sum, sem, n float64
}

// speedGroup is the speed under which a trial is summed up: as the set gives it, else
// to the nearest half metre a second.
func speedGroup(row TrialRow) float64 {
	switch {
	case row.SpeedMPS == nil:
		return 0
	case row.SpeedBy == "given":
		return math.Round(100**row.SpeedMPS) / 100
	}
	return math.Round(2**row.SpeedMPS) / 2
}

// add takes in the rows of one trial. A measure of a side counts only where the other
// side has it too.
func (t *trialTally) add(rows []TrialRow) {
	type sum struct {
		trialSums
		sides []string
	}
	of := map[tallyKey]*sum{}
	subject := ""
	for _, row := range rows {
		if row.Value == nil || row.Text != "" {
			continue
		}
		subject = row.Subject
		if v, err := clip.ParseView(row.View); err == nil {
			t.views[v] = true
		}
		k := tallyKey{row.Measure, speedGroup(row)}
		x := of[k]
		if x == nil {
			x = &sum{}
			of[k] = x
		}
		x.sum += *row.Value
		if row.SEM != nil {
			x.sem += *row.SEM
		}
		x.n++
		if !slices.Contains(x.sides, row.Side) {
			x.sides = append(x.sides, row.Side)
		}
	}
	for k, x := range of {
		if d, ok := measure.Lookup(k.measure); !ok || d.Sided && len(x.sides) < 2 {
			continue
		}
		if t.at[k] == nil {
			t.at[k] = map[string]*trialSums{}
		}
		p := t.at[k][subject]
		if p == nil {
			p = &trialSums{}
			t.at[k][subject] = p
		}
		p.sum += x.sum / x.n
		p.sem += x.sem / x.n
		p.n++
	}
}

// summary sums up, in the order of the catalogue and of speed, with the reference
// range beside it that does not come from this very set.
func (t *trialTally) summary(l *trialset.Layout) []TrialSummary {
	table, _ := normsOrBuiltIn()
	view := clip.UnknownView
	if len(t.views) == 1 {
		for v := range t.views {
			view = v
		}
	}
	var out []TrialSummary
	for _, d := range measure.Catalogue() {
		var speeds []float64
		for k := range t.at {
			if k.measure == d.Name {
				speeds = append(speeds, k.speed)
			}
		}
		slices.Sort(speeds)
		for _, speed := range speeds {
			var values, sems []float64
			for _, p := range t.at[tallyKey{d.Name, speed}] {
				values = append(values, p.sum/p.n)
				sems = append(sems, p.sem/p.n)
			}
			slices.Sort(values) // so that sums do not depend on the order of a map
			slices.Sort(sems)
			m := agree.MeanOf(values)
			s := TrialSummary{Measure: d, SpeedMPS: speed, N: m.N, Mean: m.Value, SD: m.SD, SEM: sems[len(sems)/2]}
			for _, row := range table.Lookup(d.Name, norm.Conditions{View: view, SpeedMPS: speed}) {
				if l.RangesFrom == "" || !strings.HasPrefix(row.ID, l.RangesFrom) {
					s.Ref = &row
					break
				}
			}
			out = append(out, s)
		}
	}
	return out
}

var summaryHeader = []string{"measure", "title", "unit", "speed_mps", "participants", "mean", "sd", "sem", "ref_mean", "ref_sd", "ref_low", "ref_high", "ref_n", "ref_source", "ref_sample", "ref_contested"}

func (s TrialSummary) fields() []string {
	cell := func(v *float64) string {
		if v == nil || math.IsNaN(*v) {
			return ""
		}
		return strconv.FormatFloat(*number(*v, 6), 'f', -1, 64)
	}
	out := []string{s.Measure.Name, s.Measure.Title, s.Measure.Unit, cell(known(s.SpeedMPS)), strconv.Itoa(s.N), cell(&s.Mean), cell(&s.SD), cell(&s.SEM)}
	if s.Ref == nil {
		return append(out, make([]string, len(summaryHeader)-len(out))...)
	}
	r := s.Ref
	n := ""
	if r.N > 0 {
		n = strconv.Itoa(r.N)
	}
	return append(out, cell(r.Mean), cell(r.SD), cell(r.Low), cell(r.High), n, rangeSource(*r), r.Sample, r.Contested)
}

// Main tells whether the measure is among those shown where not all are asked for.
func (s TrialSummary) Main() bool { return slices.Contains(mainMeasures, s.Measure.Name) }

// normTrials are the rows as reference ranges are computed from them.
func normTrials(rows []TrialRow) []norm.Trial {
	var out []norm.Trial
	at := map[string]int{}
	for _, row := range rows {
		if row.SpeedMPS == nil || row.Value == nil {
			continue
		}
		i, ok := at[row.File]
		if !ok {
			view, _ := clip.ParseView(row.View)
			i = len(out)
			at[row.File] = i
			out = append(out, norm.Trial{Person: row.Subject, View: view, SpeedMPS: *row.SpeedMPS})
		}
		side := body.NoSide
		switch row.Side {
		case body.Left.String():
			side = body.Left
		case body.Right.String():
			side = body.Right
		}
		out[i].Measures = append(out[i].Measures, measure.Measure{Name: row.Measure, Side: side, Value: *row.Value, Text: row.Text, Unit: row.Unit})
	}
	return out
}
