package app

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/measure"
	"gaitwright/internal/render"
	"gaitwright/internal/video"
)

const (
	keyFrameHeightPX = 1080
	keyFrameWeight   = 1.5 // of what is drawn in them: they are printed small
	reportDPI        = 150
	maxCurves        = 6
)

// reportCurves are the curves the report shows, in order, as far as the clips
// have them.
var reportCurves = []string{"knee_flexion", "hip_flexion", "ankle_dorsiflexion", "pelvis_height", "pelvic_obliquity", "knee_frontal_angle", "hip_adduction"}

// reportMeasures are the measures the one page shows; the result file and the
// browser page have all.
var reportMeasures = []string{"step_rate", "contact_time", "flight_time", "duty_factor", "step_length", "vertical_oscillation",
	"overstride", "foot_angle_at_contact", "strike_class", "shank_angle_at_contact", "knee_flexion_at_contact", "knee_flexion_peak_stance",
	"hip_extension_at_toe_off", "trunk_lean", "pelvic_drop", "hip_adduction", "knee_frontal_angle", "knee_separation", "step_width", "crossover_share", "heel_whip"}

// WriteReport draws the session's one-page report to a file whose ending says
// the kind: .pdf, .png, .svg or .html. units are metric or us; metric where none are
// said.
func (s *Session) WriteReport(ctx context.Context, path, paper, units string) error {
	format := strings.TrimPrefix(strings.ToLower(filepath.Ext(path)), ".")
	data, _, _, err := s.report(ctx, format, paper, units, decodedStills)
	if err != nil {
		return err
	}
	return WriteFileWhole(path, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
}

// report draws the report in a format and returns it with its content type; it is
// whole where every film could be read for its pictures.
func (s *Session) report(ctx context.Context, format, paper, units string, stills stillSource) (data []byte, contentType string, whole bool, err error) {
	if units, err = knownUnits(units); err != nil {
		return nil, "", false, err
	}
	r, whole := s.reportPage(ctx, paper, stills)
	if units == "us" {
		r.About = s.Runner.inUSWords()
		pageInUS(r)
	}
	var b bytes.Buffer
	switch format {
	case "pdf":
		contentType, err = "application/pdf", r.WritePDF(&b)
	case "png":
		contentType, err = "image/png", r.WritePNG(&b, reportDPI)
	case "svg":
		contentType, err = "image/svg+xml", r.WriteSVG(&b)
	case "html":
		contentType, err = "text/html; charset=utf-8", r.WriteHTML(&b)
	default:
		return nil, "", false, problem(KindUsage, "", "Choose .pdf, .png, .svg or .html.", "a report cannot be written as %q", format)
	}
	return b.Bytes(), contentType, whole, err
}

// reportPage gathers what stands on the report.
func (s *Session) reportPage(ctx context.Context, paper string, stills stillSource) (r *render.Report, whole bool) {
	whole = true
	r = &render.Report{Paper: render.A4, Runner: s.runnerName(), About: s.Runner.inWords(), Made: s.Created,
		Foot: "gaitwright " + s.Version}
	r.Studio.Name = s.Studio
	if strings.EqualFold(paper, "letter") {
		r.Paper = render.Letter
	}
	for _, c := range s.Clips {
		elsewhere := s.shownElsewhere(c)
		for _, m := range c.Measures {
			if !slices.Contains(reportMeasures, m.Name) {
				continue
			}
			if m.Withheld() && (elsewhere[m.Name] || m.OtherView || withheldBefore(r.Measures, m)) || s.measuredBefore(c, m) {
				continue
			}
			r.Measures = append(r.Measures, m)
		}
		r.Clips = append(r.Clips, render.Clip{Info: c.Info, Steps: len(c.Contacts.Contacts)})
		for _, w := range forRunner(c.Warnings) {
			if strings.Contains(w, roughFromBehind) && s.fromTheSide() {
				continue // the times are those of the side view
			}
			if len(s.Clips) > 1 {
				w = capital(viewInWords(c.Info.View)) + ": " + small(w)
			}
			r.Warnings = append(r.Warnings, w)
		}
		r.Method = append(r.Method, c.howMeasured())
		frames, err := c.keyFrames(ctx, stills)
		if err != nil {
			// The report is worth having without its pictures.
			whole = false
			r.Warnings = append(r.Warnings, "The pictures are missing: "+c.name()+" could not be read.")
		}
		r.KeyFrames = append(r.KeyFrames, frames...)
	}
	r.Remarks = plainMeasures(r.Measures)
	r.Asymmetries = measure.Asymmetries(r.Measures)
	for _, n := range s.Notes {
		if p := inPlainWords(n); p != "" {
			r.Warnings = append(r.Warnings, p)
		}
	}
	shown := 0
	for _, name := range reportCurves {
		before := len(r.Curves)
		for _, c := range s.Clips {
			for _, k := range c.Curves {
				if k.Name == name && !hasCurve(r.Curves, k) {
					r.Curves = append(r.Curves, k)
				}
			}
		}
		if len(r.Curves) > before {
			shown++
		}
		if shown == maxCurves {
			break
		}
	}
	return r, whole
}

// runnerName is the runner's name, or words where none was given.
func (s *Session) runnerName() string {
	if s.Runner.Name == "" {
		return "Runner (no name given)"
	}
	return s.Runner.Name
}

// measuredBefore tells whether an earlier clip of the session gives the measure
// already; the earlier one, in the order given, is printed.
func (s *Session) measuredBefore(c *Clip, m measure.Measure) bool {
	for _, o := range s.Clips {
		if o == c {
			return false
		}
		for _, x := range o.Measures {
			if x.Name == m.Name && x.Side == m.Side && !x.Withheld() {
				return true
			}
		}
	}
	return false
}

// fromTheSide tells whether a clip of the session shows the runner from the side.
func (s *Session) fromTheSide() bool {
	return slices.ContainsFunc(s.Clips, func(c *Clip) bool { return c.Info.View.Sagittal() })
}

// withheldBefore tells whether a measure that is withheld stands so already.
func withheldBefore(in []measure.Measure, m measure.Measure) bool {
	return slices.ContainsFunc(in, func(o measure.Measure) bool { return o.Name == m.Name && o.Side == m.Side && o.Withheld() })
}

func hasCurve(in []measure.Curve, k measure.Curve) bool {
	return slices.ContainsFunc(in, func(o measure.Curve) bool { return o.Name == k.Name && o.Side == k.Side })
}

func (r RunnerFacts) inWords() string {
	var p []string
	if r.HeightM > 0 {
		p = append(p, fmt.Sprintf("%.0f cm", 100*r.HeightM))
	}
	if r.LegLengthM > 0 {
		p = append(p, fmt.Sprintf("leg %.0f cm", 100*r.LegLengthM))
	}
	if r.MassKG > 0 {
		p = append(p, fmt.Sprintf("%.0f kg", r.MassKG))
	}
	if r.Sex != "" {
		p = append(p, r.Sex)
	}
	return strings.Join(p, ", ")
}

func (c *Clip) landmarksInWords() string {
	if c.Model != "" {
		return "pose model, " + c.Model
	}
	return c.origin().String()
}

// keyFrames decodes the clip's key moments and draws the skeleton in them. A
// marker file has none.
func (c *Clip) keyFrames(ctx context.Context, stills stillSource) ([]render.KeyFrame, error) {
	moments := c.keyMoments()
	if !c.IsVideo() || len(moments) == 0 {
		return nil, nil
	}
	var wanted []int
	for _, m := range moments {
		wanted = append(wanted, c.FirstFrame+m.frame)
	}
	pictures, err := stills(ctx, c, wanted)
	if err != nil {
		return nil, err
	}
	live := c.liveAngles()
	var out []render.KeyFrame
	for i, m := range moments {
		// The same frame may be asked for twice; each gets its own drawing.
		picture := cloneRGBA(pictures[i])
		scale := float64(picture.Rect.Dy()) / float64(c.Info.HeightPX)
		o := c.withAngles(c.overlayAt(m.frame, scale), live, m.frame)
		o.Weight = keyFrameWeight
		video.Annotate(picture, o)
		out = append(out, render.KeyFrame{Title: m.title, Image: picture, Focus: c.around(m.frame, scale), View: c.Info.View, Side: m.side,
			Label: keyLabel(live, m), TimeS: c.Track.TimeS[m.frame]})
	}
	return out, nil
}

func cloneRGBA(p *image.RGBA) *image.RGBA {
	return &image.RGBA{Pix: slices.Clone(p.Pix), Stride: p.Stride, Rect: p.Rect}
}

// around is the part of the picture that holds the runner in frame i, with room
// about it.
func (c *Clip) around(i int, scale float64) image.Rectangle {
	low, high := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{math.Inf(-1), math.Inf(-1)}
	for l, p := range c.Mended.Paths {
		if body.Landmark(l) >= body.NumPose || p == nil || !p.Seen(i) {
			continue
		}
		for k, v := range [2]float64{p.X[i] * scale, p.Y[i] * scale} {
			low[k], high[k] = math.Min(low[k], v), math.Max(high[k], v)
		}
	}
	if math.IsInf(low[0], 0) {
		return image.Rectangle{}
	}
	pad := 0.09 * (high[1] - low[1])
	return image.Rect(int(low[0]-pad), int(low[1]-pad), int(high[0]+pad), int(high[1]+pad))
}

// keyLabel says what to see in a key frame: the shank where the foot lands, the
// knee and the trunk from the side, the knee's line from behind.
func keyLabel(live map[string][]float64, m keyMoment) string {
	var p []string
	at := func(key string) (float64, bool) {
		v := live[key]
		return valueAt(v, m.frame), !math.IsNaN(valueAt(v, m.frame))
	}
	if v, ok := at("knee_flexion/" + m.side.String()); ok {
		p = append(p, "knee "+degrees(v))
	}
	if v, ok := at("shank_angle/" + m.side.String()); ok && m.contact {
		p = append(p, "shank "+degrees(v))
	}
	if v, ok := at("trunk_lean/both"); ok {
		p = append(p, "trunk "+degrees(v))
	}
	if v, ok := at("knee_frontal_angle/" + m.side.String()); ok {
		way := " inward"
		if v < 0 {
			way = " outward"
		}
		p = append(p, "knee "+degrees(math.Abs(v))+way)
	}
	return strings.Join(p, ", ")
}

func valueAt(v []float64, i int) float64 {
	if i < len(v) {
		return v[i]
	}
	return math.NaN()
}

// degrees prints an angle whole, with a true minus sign.
func degrees(v float64) string {
	v = math.Round(v)
	if v < 0 {
		return fmt.Sprintf("−%.0f°", -v)
	}
	return fmt.Sprintf("%.0f°", math.Abs(v))
}
