package app

import (
	"context"
	_ "embed"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"text/template"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
	"gaitwright/gait/track"
	"gaitwright/internal/synth"
	"gaitwright/num/agree"
	"gaitwright/num/signal"
)

// AccuracyRequest says what the account of accuracy is made from.
type AccuracyRequest struct {
	ForceDir string // folder of marker files with force; empty leaves that table out
	Runners  int    // synthetic runners in each condition
	Film     bool   // render the synthetic runner and follow it with the pose model
	Model    string
	Command  string // how it was called, to be said in it
}

//go:embed accuracy.md.tmpl
var accuracyTemplate string

// WriteAccuracy runs the chain on everything whose truth is known and writes what
// can be trusted and what cannot. All tables are measured while it is written.
func (st *Studio) WriteAccuracy(ctx context.Context, w io.Writer, q AccuracyRequest, progress Progress) error {
	a := accuracy{Command: q.Command, ForceDir: q.ForceDir}
	if q.ForceDir != "" {
		if _, err := os.Stat(q.ForceDir); err != nil {
			return &Problem{Kind: KindUsage, File: q.ForceDir, What: err.Error(), Err: err}
		}
		trials, err := st.ContactTrials(ctx, q.ForceDir, progress)
		if err != nil {
			return err
		}
		a.Trials = trials
	}
	cells, err := st.TruthGrid(ctx, GridRequest{Runners: q.Runners, Seconds: 8}, progress)
	if err != nil {
		return err
	}
	a.Runners, a.cells = q.Runners, cells
	if q.Film {
		bench, err := st.FilmBench(ctx, q.Runners, q.Model, progress)
		if err != nil {
			return err
		}
		a.film = bench
	}
	t, err := template.New("accuracy").Parse(accuracyTemplate)
	if err != nil {
		return err
	}
	return t.Execute(w, &a)
}

// accuracy is what the template may ask for.
type accuracy struct {
	Command, ForceDir string
	Trials            []ContactTrial
	Runners           int
	cells             []GridCell
	film              *FilmBench
}

// Passed is how many trials meet every bar.
func (a *accuracy) Passed() int { return len(a.Trials) - FailedTrials(a.Trials) }

// ContactTable is the contacts by motion against force, one run a line.
func (a *accuracy) ContactTable() string { return ContactTable(a.Trials) }

// ContactTable sets trials as a Markdown table.
func ContactTable(ts []ContactTrial) string {
	var b strings.Builder
	b.WriteString("| run | m/s | contacts | missed, extra | contact, ms | toe-off, ms | contact time, ms | steps/min | |\n|---|---|---|---|---|---|---|---|---|\n")
	for _, t := range ts {
		verdict := "meets all"
		if len(t.Fails) > 0 {
			verdict = "misses: " + strings.Join(t.Fails, ", ")
		}
		if len(t.Rows) < 3 {
			fmt.Fprintf(&b, "| %s | | 0 | | | | | | %s |\n", strings.TrimSuffix(t.File, filepath.Ext(t.File)), verdict)
			continue
		}
		pm := func(r ComparisonRow) string { return signed(1000*r.BiasS, 1) + " ± " + figureOf(1000*r.SDS, 1) }
		fmt.Fprintf(&b, "| %s | %s | %d | %d, %d | %s | %s | %s | %s | %s |\n", strings.TrimSuffix(t.File, filepath.Ext(t.File)), figureOf(t.SpeedMPS, 1), t.Rows[0].Pairs,
			t.Missed, t.Extra, pm(t.Rows[0]), pm(t.Rows[1]), pm(t.Rows[2]), signed(t.MotionStepRate-t.ForceStepRate, 2), verdict)
	}
	return b.String()
}

func signed(v float64, decimals int) string {
	if math.IsNaN(v) {
		return "–"
	}
	s := fmt.Sprintf("%+.*f", decimals, v)
	if strings.Trim(s, "+-0.") == "" {
		s = s[1:]
	}
	return s
}

// Overall is the mean error and its spread between the trials, in words.
func (a *accuracy) Overall() string {
	var down, up, stance []float64
	for _, t := range a.Trials {
		if len(t.Rows) == 3 {
			down, up, stance = append(down, 1000*t.Rows[0].BiasS), append(up, 1000*t.Rows[1].BiasS), append(stance, 1000*t.Rows[2].BiasS)
		}
	}
	say := func(v []float64) string {
		mean, sd, _ := signal.MeanSD(v)
		return signed(mean, 1) + " ± " + figureOf(sd, 1) + " ms"
	}
	return fmt.Sprintf("initial contact %s, toe-off %s, contact time %s", say(down), say(up), say(stance))
}

// keyMeasures are those a coach looks at first.
var keyMeasures = []struct {
	view clip.View
	name string
}{
	{clip.LeftSide, "step_rate"}, {clip.LeftSide, "contact_time"}, {clip.LeftSide, "step_length"}, {clip.LeftSide, "overstride"}, {clip.LeftSide, "vertical_oscillation"},
	{clip.LeftSide, "foot_angle_at_contact"}, {clip.LeftSide, "shank_angle_at_contact"}, {clip.LeftSide, "knee_flexion_at_contact"}, {clip.LeftSide, "knee_flexion_peak_stance"},
	{clip.LeftSide, "hip_extension_at_toe_off"}, {clip.LeftSide, "ankle_dorsiflexion_peak"}, {clip.LeftSide, "trunk_lean"},
	{clip.Rear, "thigh_adduction"}, {clip.Rear, "knee_frontal_angle"}, {clip.Rear, "step_width"}, {clip.Rear, "lateral_trunk_lean"},
}

// RateTable is the key measures' error over the frame rate.
func (a *accuracy) RateTable() string {
	var b strings.Builder
	columns := []gridColumn{{"30", level("frames/s", "30")}, {"60", level("frames/s", "60")}, {"120", level("usual", "")}, {"240", level("frames/s", "240")}}
	b.WriteString("| measure | unit | 30 frames/s | 60 | 120 | 240 | camera 10° off | 20° off | 20°, given |\n|---|---|---|---|---|---|---|---|---|\n")
	columns = append(columns, gridColumn{"", level("camera turned", "10°")}, gridColumn{"", level("camera turned", "20°")}, gridColumn{"", level("camera turned", "20°, given")})
	for _, k := range keyMeasures {
		d, _ := measure.Lookup(k.name)
		fmt.Fprintf(&b, "| %s | %s |", d.Title, d.Unit)
		for i, g := range columns {
			r, ok := g.pick(a.cells, k.view.String(), k.name)
			switch {
			case k.view == clip.Rear && i > 3:
				b.WriteString(" |")
			case !ok || r.Values == 0:
				b.WriteString(" withheld |")
			default:
				fmt.Fprintf(&b, " %s ± %s |", signed(r.Bias, d.Decimals), d.Format(r.SD))
			}
		}
		b.WriteString("\n")
	}
	return b.String()
}

// OriginTable is what the pose model alone adds to the key measures, and the
// smallest change between two visits that can be beyond it.
func (a *accuracy) OriginTable() string {
	var b strings.Builder
	b.WriteString("| measure | unit | near leg | far leg | smallest real change, near leg |\n|---|---|---|---|---|\n")
	for _, k := range keyMeasures {
		d, _ := measure.Lookup(k.name)
		near, far := d.OriginError(track.PoseModel, false), d.OriginError(track.PoseModel, true)
		if near == 0 {
			continue
		}
		show := func(far bool, v float64) string {
			s := "± " + fine(d, v)
			if bias := d.KnownBias(track.PoseModel, far); bias != 0 {
				s += fmt.Sprintf(", reads %+.0f", bias)
				if d.TooBiased(bias) {
					s = "withheld"
				}
			}
			return s
		}
		farText := show(true, far)
		if !d.Sided || k.view == clip.Rear {
			farText = ""
		}
		fmt.Fprintf(&b, "| %s | %s | %s | %s | %s |\n", d.Title, d.Unit, show(false, near), farText, fine(d, agree.MDC95(near)))
	}
	return b.String()
}

func fine(d measure.Definition, v float64) string { return fmt.Sprintf("%.*f", max(d.Decimals, 1), v) }

// FilmTable is the errors of the key measures on the films, by leg.
func (a *accuracy) FilmTable() string {
	if a.film == nil {
		return ""
	}
	var b strings.Builder
	b.WriteString("| measure | unit | leg | error, mean ± SD | stated error | within |\n|---|---|---|---|---|---|\n")
	rows := a.film.Rows()
	for _, k := range keyMeasures {
		for _, r := range rows {
			if r.Name != k.name || r.View != k.view.String() {
				continue
			}
			d, _ := measure.Lookup(k.name)
			leg := r.Side.String()
			switch {
			case r.Side == body.NoSide:
				leg = ""
			case k.view == clip.LeftSide && d.NeedsLandmarks():
				leg = map[body.Side]string{body.Left: "near", body.Right: "far"}[r.Side]
			}
			if r.Values == 0 {
				fmt.Fprintf(&b, "| %s | %s | %s | withheld | | |\n", d.Title, d.Unit, leg)
				continue
			}
			fmt.Fprintf(&b, "| %s | %s | %s | %s ± %s | ± %s | %d of %d |\n", d.Title, d.Unit, leg, signed(r.Bias, d.Decimals), d.Format(r.SD), d.Format(r.Stated), r.Within, r.Values)
		}
	}
	return b.String()
}

// FilmRunners is how each runner was filmed, and how many of his values are covered
// by their stated error.
func (a *accuracy) FilmRunners() string {
	var b strings.Builder
	b.WriteString("| runner | m/s | frames/s | within |\n|---|---|---|---|\n")
	for i, r := range a.film.Runners {
		who := fmt.Sprintf("invented %d", i)
		if i == 0 {
			who = "of the demonstration"
		}
		one := FilmBench{Runners: []*TruthResult{r}}
		in, n := one.Cover()
		fmt.Fprintf(&b, "| %s | %s | %.0f | %d of %d |\n", who, figureOf(r.Request.SpeedMPS, 2), r.Request.RateHz, in, n)
	}
	return b.String()
}

// FilmCount is how many runners were filmed.
func (a *accuracy) FilmCount() int { return len(a.film.Runners) }

// FilmOutside names the measures of which no value is covered, or says that there is
// none.
func (a *accuracy) FilmOutside() string {
	names := a.film.Outside(3)
	if len(names) == 0 {
		return "No measure has all its values outside."
	}
	return "All values are outside in: " + strings.Join(names, ", ") + "."
}

// HasFilm tells whether a film was rendered and followed.
func (a *accuracy) HasFilm() bool { return a.film != nil }

// FilmCover is how many of the films' values lie within 1.96 stated errors.
func (a *accuracy) FilmCover() string {
	in, n := a.film.Cover()
	return fmt.Sprintf("%d of %d (%.0f %%)", in, n, 100*float64(in)/float64(max(1, n)))
}

// Withheld lists what a good film of a pose model's landmarks does not give, and
// why.
func (a *accuracy) Withheld() (string, error) {
	p := synth.Demo()
	p.DurationS = 13
	runner, err := synth.New(p)
	if err != nil {
		return "", err
	}
	var b strings.Builder
	seen := map[string]bool{}
	for _, view := range []clip.View{clip.LeftSide, clip.Rear} {
		cam := synth.NewCamera(view, demoFilm.WidthPX, demoFilm.HeightPX, demoFilm.DistanceM)
		picture := synth.WithoutStickers(runner.Track(synth.Clock(120, 12), cam))
		t, err := track.ToRunner(picture, view, cam.PixelsPerM(), 0)
		if err != nil {
			return "", err
		}
		for _, path := range t.Paths {
			if path != nil {
				path.Origin = track.PoseModel
			}
		}
		out := measure.Compute(measure.Input{Info: clip.Info{View: view, FrameRateHz: 120, BeltSpeedMPS: p.SpeedMPS}, Track: t, Contacts: runner.Contacts(0, 12),
			Origin: track.PoseModel, Runner: measure.Runner{HeightM: p.HeightM, LegLengthM: p.LegLengthM, MassKG: p.MassKG}})
		for _, m := range out.Measures {
			d, _ := measure.Lookup(m.Name)
			if !m.Withheld() || m.OtherView || seen[m.Name] {
				continue
			}
			seen[m.Name] = true
			fmt.Fprintf(&b, "- %s: %s\n", d.Title, m.Reason)
		}
	}
	return b.String(), nil
}
