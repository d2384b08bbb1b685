package app

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"time"

	"gaitwright/gait/event"
	"gaitwright/gait/measure"
	"gaitwright/gait/norm"
)

// DocumentSchema is the version of the JSON document that measure writes; it
// changes only when a name or a unit changes its meaning.
const DocumentSchema = 1

// Document is the machine-readable result: what `measure --json` writes.
// docs/output.md describes it and docs/measures.schema.json checks it. Numbers
// not known are null.
type Document struct {
	Schema  int            `json:"schema"`
	Program string         `json:"program"`
	Created string         `json:"created"`
	Studio  string         `json:"studio,omitempty"`
	Runner  DocumentRunner `json:"runner"`
	Clips   []DocumentClip `json:"clips"`
	Notes   []string       `json:"notes"`
}

// DocumentRunner is what was given of the runner.
type DocumentRunner struct {
	Name       string   `json:"name,omitempty"`
	HeightM    *float64 `json:"height_m"`
	LegLengthM *float64 `json:"leg_length_m"`
	MassKG     *float64 `json:"mass_kg"`
	Sex        string   `json:"sex,omitempty"`
}

// DocumentClip is one clip's result.
type DocumentClip struct {
	File            string            `json:"file"`
	View            string            `json:"view"`
	Surface         string            `json:"surface"`
	FrameRateHz     float64           `json:"frame_rate_hz"`
	Slowdown        float64           `json:"slowdown"`
	FirstFrame      int               `json:"first_frame"`
	Frames          int               `json:"frames"`
	StartS          float64           `json:"start_s"`
	EndS            float64           `json:"end_s"`
	BeltSpeedMPS    *float64          `json:"belt_speed_mps"`
	BeltSpeedSource string            `json:"belt_speed_source,omitempty"`
	PixelsPerM      *float64          `json:"pixels_per_m"`
	ScaleSource     string            `json:"scale_source,omitempty"`
	ScaleRelativeSD *float64          `json:"scale_relative_sd"`
	PoseModel       string            `json:"pose_model,omitempty"`
	Origin          string            `json:"origin"`
	ContactMethod   string            `json:"contact_method"`
	ContactRule     string            `json:"contact_rule"`
	Contacts        []PageContact     `json:"contacts"`
	OtherContacts   *OtherContacts    `json:"other_contacts,omitempty"`
	RemovedContacts []PageContact     `json:"removed_contacts,omitempty"` // by hand
	PlacedLandmarks []Move            `json:"placed_landmarks,omitempty"` // by hand; frames of the file
	Exchanges       []Swap            `json:"exchanges,omitempty"`        // of left and right, by hand
	Measures        []DocumentMeasure `json:"measures"`
	Asymmetries     []DocumentPair    `json:"asymmetries"`
	Curves          []DocumentCurve   `json:"curves"`
	Treatment       DocumentTreatment `json:"treatment"`
	Warnings        []string          `json:"warnings"`
}

// OtherContacts are the contacts found by the method that was not used.
type OtherContacts struct {
	Method   string        `json:"method"`
	Contacts []PageContact `json:"contacts"`
}

// DocumentMeasure is one measure. Value is null where the measure is withheld,
// and Reason says why.
type DocumentMeasure struct {
	Name    string   `json:"name"`
	Side    string   `json:"side"`
	Value   *float64 `json:"value"`
	Text    string   `json:"text,omitempty"`
	Unit    string   `json:"unit"`
	SD      *float64 `json:"sd"`
	SEM     *float64 `json:"sem"`
	MDC95   *float64 `json:"mdc95"`
	Strides int      `json:"strides"`
	// StridesNeeded is how many strides like these make the mean stable to a
	// difference worth resolving; left out where not known.
	StridesNeeded int `json:"strides_needed,omitempty"`
	// SEMParts are what the SEM is made of, each in the measure's unit; the SEM is
	// the root of the sum of their squares. Left out where the measure is withheld.
	SEMParts *DocumentErrors `json:"sem_parts,omitempty"`
	// KnownBias is the known mean error of what found the landmarks, measured minus
	// true; the value is not corrected for it. Left out where none is known.
	KnownBias *float64 `json:"known_bias,omitempty"`
	Origin    string   `json:"origin"`
	Flag      string   `json:"flag"`
	Reason    string   `json:"reason,omitempty"`
	// Range is the reference range for the speed, view and runner; left out where
	// none holds or the measure is withheld.
	Range *DocumentRange `json:"range,omitempty"`
}

// DocumentErrors are the parts of an error, one standard deviation each.
type DocumentErrors struct {
	Strides  float64 `json:"strides"`  // spread between strides over those used, neighbours being alike
	Frames   float64 `json:"frames"`   // frame interval and random error of contacts, where it hides that spread
	Contacts float64 `json:"contacts"` // uncertain bias of the contact rule
	Origin   float64 `json:"origin"`   // what found the landmarks, between sessions and bodies
	Scale    float64 `json:"scale"`
	Speed    float64 `json:"speed"` // of the belt
	Camera   float64 `json:"camera"`
	Method   float64 `json:"method"` // the formula itself, for estimates
	Placed   float64 `json:"placed"` // points placed by hand
}

// DocumentPair compares the left and right values of one measure of a clip.
type DocumentPair struct {
	Name         string   `json:"name"`
	Difference   *float64 `json:"difference"` // right minus left
	SEM          *float64 `json:"sem"`        // of the difference, without what both sides share
	Beyond       bool     `json:"beyond"`     // 1.96 times that, and the known biases of both
	IndexPercent *float64 `json:"symmetry_index_percent"`
	AnglePercent *float64 `json:"symmetry_angle_percent"`
}

// DocumentRange is a reference range beside a measure, in its unit: what was
// common among the people measured, not what is good. An open end is null.
type DocumentRange struct {
	Low  *float64 `json:"low"`
	High *float64 `json:"high"`
	// Verdict is "inside", "below", "above", "at the border" (the error reaches
	// across it) or "cannot be said".
	Verdict   string `json:"verdict"`
	Source    string `json:"source"`
	Sample    string `json:"sample"`
	Contested string `json:"contested,omitempty"`
	Own       bool   `json:"own"` // from the user's own file
}

// DocumentCurve is one stride-normalised curve of 101 points.
type DocumentCurve struct {
	Name    string     `json:"name"`
	Side    string     `json:"side"`
	Unit    string     `json:"unit"`
	Mean    []*float64 `json:"mean"`
	SD      []*float64 `json:"sd"`
	ToeOff  *float64   `json:"toe_off_percent"`
	Strides int        `json:"strides"`
}

// DocumentTreatment says what was mended and smoothed.
type DocumentTreatment struct {
	CutoffHz      map[string]float64 `json:"cutoff_hz"`
	FramesMissing int                `json:"frames_without_runner"`
	SwapsMended   int                `json:"frames_with_left_right_swap_mended"`
	Outliers      int                `json:"samples_rejected"`
	GapsFilled    int                `json:"samples_filled"`
}

// number returns nil for a value that is not finite, rounded to digits
// significant after the point otherwise.
func number(v float64, decimals int) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	p := math.Pow(10, float64(decimals))
	r := math.Round(v*p) / p
	if math.IsInf(r, 0) {
		r = v // too large for a fraction
	}
	return &r
}

// known returns nil for 0, which stands for "not given".
func known(v float64) *float64 {
	if v == 0 {
		return nil
	}
	return number(v, 6)
}

func numbers(v []float64, decimals int) []*float64 {
	out := make([]*float64, len(v))
	for i, x := range v {
		out[i] = number(x, decimals)
	}
	return out
}

func pageContacts(s event.Series) []PageContact {
	out := make([]PageContact, 0, len(s.Contacts))
	for _, c := range s.Contacts {
		out = append(out, PageContact{Side: c.Side.String(), InitialContactS: *number(c.InitialContactS, 5),
			ToeOffS: *number(c.ToeOffS, 5), Edited: c.Edited, Doubt: c.Doubt})
	}
	return out
}

func documentMeasure(m measure.Measure, table *norm.Table, at norm.Conditions) DocumentMeasure {
	d := DocumentMeasure{Name: m.Name, Side: m.Side.String(), Value: number(m.Value, 5), Text: m.Text, Unit: m.Unit,
		SD: number(m.SD, 5), SEM: number(m.SEM, 5), MDC95: number(m.MDC95, 5),
		Strides: m.Strides, StridesNeeded: m.StridesNeeded, Origin: m.Origin, Flag: m.Flag, Reason: m.Reason}
	if !m.Withheld() && m.Text == "" {
		part := func(v float64) float64 {
			if p := number(v, 6); p != nil {
				return *p
			}
			return 0
		}
		e := m.Error
		d.SEMParts = &DocumentErrors{part(e.Strides), part(e.Frame), part(e.Event), part(e.Origin), part(e.Scale), part(e.Speed), part(e.Camera), part(e.Method), part(e.Placed)}
		d.KnownBias = known(m.Bias)
	}
	if r := pageRange(table, m, at); r != nil {
		d.Range = &DocumentRange{Low: r.Low, High: r.High, Verdict: r.Verdict, Source: r.Source, Sample: r.Sample, Contested: r.Contested, Own: r.Own}
	}
	return d
}

// Document returns the session as its machine-readable document. Reference ranges
// are those in use at the time of writing.
func (s *Session) Document() Document {
	table, notes := normsOrBuiltIn()
	d := Document{Schema: DocumentSchema, Program: "gaitwright " + s.Version, Created: s.Created.UTC().Format(time.RFC3339),
		Studio: s.Studio, Notes: append(append([]string{}, s.Notes...), notes...),
		Runner: DocumentRunner{Name: s.Runner.Name, HeightM: known(s.Runner.HeightM), LegLengthM: known(s.Runner.LegLengthM),
			MassKG: known(s.Runner.MassKG), Sex: s.Runner.Sex}}
	for _, c := range s.Clips {
		d.Clips = append(d.Clips, c.document(table, s.conditions(c)))
	}
	return d
}

func (c *Clip) document(table *norm.Table, at norm.Conditions) DocumentClip {
	d := DocumentClip{File: c.said(), View: c.Info.View.String(), Surface: c.Info.Surface.String(),
		FrameRateHz: *number(c.Info.FrameRateHz, 4), Slowdown: c.Info.Slowdown, FirstFrame: c.FirstFrame,
		BeltSpeedMPS: known(c.Info.BeltSpeedMPS), BeltSpeedSource: c.Info.BeltSpeedSource,
		PixelsPerM: known(c.Info.Scale.PixelsPerM), ScaleSource: string(c.Info.Scale.Source), ScaleRelativeSD: known(c.Info.Scale.RelativeSD),
		PoseModel: c.Model, Origin: c.origin().String(), ContactMethod: string(c.Contacts.Method), ContactRule: c.Contacts.Rule,
		Contacts: pageContacts(c.Contacts), Measures: []DocumentMeasure{}, Asymmetries: []DocumentPair{}, Curves: []DocumentCurve{},
		Treatment: DocumentTreatment{CutoffHz: c.Treatment.CutoffHz, FramesMissing: c.Treatment.FramesMissing,
			SwapsMended: c.Treatment.SwapsMended, Outliers: c.Treatment.Outliers, GapsFilled: c.Treatment.GapsFilled},
		Warnings: emptyNotNil(c.Warnings)}
	if d.Treatment.CutoffHz == nil {
		d.Treatment.CutoffHz = map[string]float64{}
	}
	if t := c.Track; t != nil && t.Frames() > 0 {
		d.Frames = t.Frames()
		d.StartS, d.EndS = *number(t.TimeS[0], 5), *number(t.TimeS[t.Frames()-1], 5)
	}
	d.RemovedContacts = pageContacts(event.Series{Contacts: c.Edits.Removed})
	d.PlacedLandmarks, d.Exchanges = c.Edits.Moves, c.Edits.Swaps
	if c.Other != nil {
		d.OtherContacts = &OtherContacts{Method: string(c.Other.Method), Contacts: pageContacts(*c.Other)}
	}
	for _, m := range c.Measures {
		d.Measures = append(d.Measures, documentMeasure(m, table, at))
	}
	for _, a := range measure.Asymmetries(c.Measures) {
		d.Asymmetries = append(d.Asymmetries, DocumentPair{Name: a.Name, Difference: number(a.Difference, 5), SEM: number(a.SEM, 5), Beyond: a.Beyond,
			IndexPercent: number(a.IndexPercent, 2), AnglePercent: number(a.AnglePercent, 2)})
	}
	for _, k := range c.Curves {
		d.Curves = append(d.Curves, DocumentCurve{Name: k.Name, Side: k.Side.String(), Unit: k.Unit,
			Mean: numbers(k.Mean[:], 4), SD: numbers(k.SD[:], 4), ToeOff: number(k.ToeOff, 2), Strides: k.Strides})
	}
	return d
}

func emptyNotNil[T any](s []T) []T {
	if s == nil {
		return []T{}
	}
	return s
}

// WriteJSON writes the session's document, indented.
func (s *Session) WriteJSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", " ")
	e.SetEscapeHTML(false)
	return e.Encode(s.Document())
}

// csvHeader names the columns of the CSV output, one row a measure.
var csvHeader = []string{"file", "view", "measure", "side", "value", "text", "unit", "sd", "sem", "mdc95", "strides", "origin", "contact_method", "belt_speed_mps", "flag", "reason", "range_low", "range_high", "range_verdict", "range_source"}

// WriteCSV writes one row for each measure of each clip, with a header.
func (s *Session) WriteCSV(w io.Writer) error {
	table, _ := normsOrBuiltIn()
	return writeCSV(w, csvHeader, func(put func(...string)) error {
		for _, c := range s.Clips {
			for _, m := range c.Measures {
				d := documentMeasure(m, table, s.conditions(c))
				var usual DocumentRange
				if d.Range != nil {
					usual = *d.Range
				}
				put(c.said(), c.Info.View.String(), d.Name, d.Side, numberCell(d.Value), d.Text, d.Unit, numberCell(d.SD), numberCell(d.SEM),
					numberCell(d.MDC95), fmt.Sprint(d.Strides), d.Origin, string(c.Contacts.Method), numberCell(known(c.Info.BeltSpeedMPS)), d.Flag, d.Reason,
					numberCell(usual.Low), numberCell(usual.High), usual.Verdict, usual.Source)
			}
		}
		return nil
	})
}
