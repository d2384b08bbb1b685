package app

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/measure"
	"gaitwright/gait/track"
)

// Results lists the results for the browser, newest first.
func (st *Studio) Results() ([]PageSummary, error) { return st.results() }

// Result returns one kept result for the browser.
func (st *Studio) Result(id string) (PageSession, error) {
	s, err := st.Load(id)
	if err != nil {
		return PageSession{}, err
	}
	return s.page(), nil
}

func (s *Session) page() PageSession {
	p := PageSession{PageSummary: s.summary(), ClipIDs: s.clipIDs(), HeightM: known(s.Runner.HeightM), Notes: allOnPage(s.Notes)}
	norms, notes := normsOrBuiltIn()
	p.Notes = append(p.Notes, allOnPage(notes)...)
	for i, c := range s.Clips {
		page := c.page(i)
		at := s.conditions(c)
		for k, m := range c.Measures {
			page.Measures[k].Range = pageRange(norms, m, at)
		}
		p.Clips = append(p.Clips, page)
	}
	return p
}

func (s *Session) summary() PageSummary {
	p := PageSummary{ID: s.ID, VisitID: s.VisitID, Created: s.Created.Format(time.RFC3339), Runner: s.Runner.Name, Studio: s.Studio, Views: []string{}}
	for _, c := range s.Clips {
		p.Views = append(p.Views, c.Info.View.String())
		if p.SpeedMPS == nil {
			p.SpeedMPS = known(c.Info.BeltSpeedMPS)
		}
		for _, m := range c.Measures {
			if m.Name == "step_rate" && p.StepRate == nil {
				p.StepRate = number(m.Value, 2)
			}
		}
	}
	return p
}

func (c *Clip) page(index int) PageClip {
	p := PageClip{Index: index, Name: c.name(), View: c.Info.View.String(), Video: c.IsVideo(),
		WidthPX: c.Info.WidthPX, HeightPX: c.Info.HeightPX, FrameRateHz: *number(c.Info.FrameRateHz, 3), Slowdown: c.Info.Slowdown,
		Frames: c.Track.Frames(), FirstFrame: c.FirstFrame, BeltSpeedMPS: known(c.Info.BeltSpeedMPS), Scale: c.Info.Scale.Description,
		Origin: c.origin().String(), ContactMethod: string(c.Contacts.Method), Contacts: pageContacts(c.Contacts), OtherContacts: []PageContact{},
		Measures: c.pageMeasures(), Curves: []PageCurve{}, Warnings: allOnPage(c.Warnings)}
	if c.Other != nil {
		p.OtherContacts = pageContacts(*c.Other)
	}
	for _, k := range c.Curves {
		p.Curves = append(p.Curves, pageCurve(k))
	}
	return p
}

func (c *Clip) pageMeasures() []PageMeasure {
	out := make([]PageMeasure, 0, len(c.Measures))
	for _, m := range c.Measures {
		d, _ := measure.Lookup(m.Name)
		out = append(out, PageMeasure{Name: m.Name, Title: d.Title, Side: m.Side.String(), Value: number(m.Value, 5), Text: m.Text,
			Unit: m.Unit, SD: number(m.SD, 5), SEM: number(m.SEM, 5), MDC95: number(m.MDC95, 5), Strides: m.Strides, Origin: m.Origin,
			Flag: pageWords(m.Flag), Reason: onPage(m.Reason), Decimals: d.Decimals})
	}
	return out
}

func pageCurve(k measure.Curve) PageCurve {
	return PageCurve{Name: k.Name, Title: measure.CurveTitle(k.Name), Side: k.Side.String(), Unit: k.Unit,
		Mean: numbers(k.Mean[:], 3), SD: numbers(k.SD[:], 3), ToeOff: number(k.ToeOff, 2), Strides: k.Strides}
}

func (st *Studio) clip(id string, n int) (*Clip, error) {
	s, err := st.Load(id)
	if err != nil {
		return nil, err
	}
	if n < 0 || n >= len(s.Clips) {
		return nil, problem(KindUsage, "", "", "result %s has %d clips, counted from 0; there is no clip %d", id, len(s.Clips), n)
	}
	return s.Clips[n], nil
}

// Track returns one clip's landmarks and live curves for the browser.
func (st *Studio) Track(id string, n int) (PageTrack, error) {
	c, err := st.clip(id, n)
	if err != nil {
		return PageTrack{}, err
	}
	drawn := c.Mended
	p := PageTrack{Space: "picture", Unit: drawn.Unit.String(), TimeS: make([]float64, drawn.Frames()), Series: map[string]PageAngle{}}
	if drawn.Space == track.Runner {
		p.Space = "runner"
	}
	for i, t := range drawn.TimeS {
		p.TimeS[i] = math.Round(t*1e6) / 1e6
	}
	decimals := 1
	if drawn.Unit == track.Metre {
		decimals = 4
	}
	for l, path := range drawn.Paths {
		if path == nil {
			continue
		}
		p.Landmarks = append(p.Landmarks, body.Landmark(l).String())
		p.X, p.Y = append(p.X, numbers(path.X, decimals)), append(p.Y, numbers(path.Y, decimals))
		if path.Z != nil {
			p.Z = append(p.Z, numbers(path.Z, decimals))
		}
		conf := make([]float64, drawn.Frames())
		for i := range conf {
			conf[i] = path.ConfidenceAt(i)
		}
		p.Conf = append(p.Conf, numbers(conf, 2))
		if raw := c.Raw.Paths[l]; c.IsVideo() && raw != nil {
			p.RawX, p.RawY = append(p.RawX, numbers(raw.X, decimals)), append(p.RawY, numbers(raw.Y, decimals))
		}
	}
	for _, b := range body.Skeleton {
		p.Bones = append(p.Bones, [2]string{b.From.String(), b.To.String()})
	}
	for _, a := range c.lines.Angles(c.Track, c.Info.View, c.Contacts) {
		p.Series[liveKey(a)] = PageAngle{Name: a.Name, Title: a.Title, Side: a.Side.String(), Unit: a.Unit, Values: numbers(a.Values, 2)}
	}
	return p, nil
}

// Definitions explains every measure, for the browser.
func (st *Studio) Definitions() []PageDefinition {
	var out []PageDefinition
	for _, d := range measure.Catalogue() {
		out = append(out, PageDefinition{Name: d.Name, Title: d.Title, Group: d.Group, Unit: d.Unit, Definition: d.Definition, Sign: d.Sign, Formula: strings.TrimSpace(d.Formula + "\n" + d.Letters()),
			Source: d.Source, Error: d.Error, Caution: d.Caution, Instead: d.Instead})
	}
	return out
}

// Report draws a kept result's report as "pdf", "png" or "html", in metric or us
// units, and keeps the last few in memory.
func (st *Studio) Report(ctx context.Context, id, format, units string) (data []byte, contentType string, err error) {
	s, err := st.Load(id)
	if err != nil {
		return nil, "", err
	}
	if d, ok := st.reports.get(s, format, units); ok {
		return d.data, d.contentType, nil
	}
	data, contentType, whole, err := s.report(ctx, format, "a4", units, st.keptStills)
	if err == nil && whole {
		st.reports.put(drawnReport{s, format, units, data, contentType})
	}
	return data, contentType, err
}

// FrameJPEG returns the picture of one frame of a clip's track.
func (st *Studio) FrameJPEG(ctx context.Context, id string, n, frame int) ([]byte, error) {
	c, err := st.clip(id, n)
	if err != nil {
		return nil, err
	}
	if !c.IsVideo() {
		return nil, problem(KindUsage, c.Path, "", "a marker file has no pictures")
	}
	if frame < 0 || frame >= c.Track.Frames() {
		return nil, problem(KindUsage, c.Path, "", "the clip has %d frames, counted from 0; there is no frame %d", c.Track.Frames(), frame)
	}
	jpg, err := st.frames(fmt.Sprintf("%s/%d", id, n), c.Path, c.FirstFrame, c.FirstFrame+c.Track.Frames()).get(ctx, frame)
	return jpg, c.pictureProblem(err)
}
