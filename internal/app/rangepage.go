package app

import (
	"gaitwright/gait/measure"
	"gaitwright/gait/norm"
)

// PageRange is a measure's reference range for the clip's speed, view and runner:
// what was usual among the people measured, not what is good. An open end is null.
type PageRange struct {
	Low  *float64 `json:"low"`
	High *float64 `json:"high"`
	// Verdict is "inside", "at the border" (the error reaches across it),
	// "below", "above", or "cannot be said".
	Verdict string `json:"verdict"`
	// MarginBelow and MarginAbove are how far off the value may be: 1.96 standard
	// errors and any known bias of what found the landmarks.
	MarginBelow *float64 `json:"margin_below"`
	MarginAbove *float64 `json:"margin_above"`
	Reason      string   `json:"reason,omitempty"` // why nothing can be said
	Speed       string   `json:"speed,omitempty"`  // the speeds for which it holds, m/s; empty for any
	Height      string   `json:"height,omitempty"` // the heights for which it holds, m; empty for any
	People      int      `json:"people"`           // 0 where not known
	Sample      string   `json:"sample"`
	Method      string   `json:"method"`
	Source      string   `json:"source"`
	Contested   string   `json:"contested,omitempty"`
	Note        string   `json:"note,omitempty"`
	Own         bool     `json:"own"` // from the user's own file
}

// pageRange holds a measure against the best range for it; nil where there is
// none.
func pageRange(table *norm.Table, m measure.Measure, at norm.Conditions) *PageRange {
	if m.Withheld() || m.Text != "" {
		return nil
	}
	rows := table.Lookup(m.Name, at)
	if len(rows) == 0 {
		return nil
	}
	k := norm.Compare(m, rows[0])
	r := k.Row
	p := &PageRange{Low: number(k.Low, 5), High: number(k.High, 5), Verdict: k.Verdict.String(), MarginBelow: number(k.MarginBelow, 5), MarginAbove: number(k.MarginAbove, 5),
		Reason: k.Reason, People: r.N, Sample: r.Sample, Method: r.Method, Source: rangeSource(r), Contested: r.Contested, Note: r.Note, Own: r.Own}
	if r.SpeedMPS != nil {
		p.Speed = r.SpeedText()
	}
	if r.HeightM != nil {
		p.Height = r.HeightText()
	}
	return p
}
