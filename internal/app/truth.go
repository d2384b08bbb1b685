package app

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
	"gaitwright/internal/synth"
	"gaitwright/num/signal"
)

// TruthRequest says how the synthetic runner is filmed to try the chain on it.
type TruthRequest struct {
	Film              bool // render and find the landmarks with the pose model; otherwise use the exact ones
	Model             string
	SpeedMPS          float64
	StepRate          float64 // steps a minute; 0 is the usual one for height and speed
	RateHz, Seconds   float64
	WidthPX, HeightPX int
	YawDeg            float64 // of the side camera off square, carried so far toward the right of its picture
	TellCamera        bool    // tell the chain the side camera's turn and distance, so that it corrects for them
	NoisePX           float64 // random error of each landmark where no film is made
	Seed              uint64

	dress           uint64  // body and clothes of the figure drawn; 0 for the demonstration's
	stepRatePercent float64 // against the usual one, in the grid
	fault           int     // one more than the index in gridFaults; 0 for none
}

// TruthResult is the errors of one run of the chain on the synthetic runner.
type TruthResult struct {
	Request   TruthRequest
	Measures  []TruthRow
	Landmarks []LandmarkError // where a film was made
	Contacts  []ViewContacts
}

// TruthRow is the error of one measure.
type TruthRow struct {
	View           string
	Name, Title    string
	Side           body.Side
	Unit           string
	Decimals       int
	True, Measured float64
	SEM            float64 // as the program states it
	Withheld       string  // why there is no value
}

// Error is measured minus true.
func (r TruthRow) Error() float64 { return r.Measured - r.True }

// Within tells whether the error is within 1.96 times the stated one.
func (r TruthRow) Within() bool { return math.Abs(r.Error()) <= 1.96*r.SEM }

// LandmarkError is how far a landmark of the film lies from where it is, in
// millimetres at the runner's plane.
type LandmarkError struct {
	View                     string
	Landmark                 body.Landmark
	MedianMM, Percentile95MM float64
	BiasForwardMM, BiasUpMM  float64 // to the right of the picture and upward
	MissingPercent           float64
}

// ViewContacts is the error of the contact times of one view.
type ViewContacts struct {
	View string
	ContactComparison
}

// Truth runs the whole chain on the synthetic runner of the demonstration and
// returns each measure's error.
func (st *Studio) Truth(ctx context.Context, q TruthRequest, progress Progress) (*TruthResult, error) {
	if q.Seconds < 4 || q.Seconds > 300 || q.RateHz < 20 || q.RateHz > 500 {
		return nil, problem(KindUsage, "", "", "the film must last 4 to 300 s at 20 to 500 frames a second")
	}
	p := synth.Demo()
	if q.SpeedMPS > 0 || q.StepRate > 0 {
		speed := q.SpeedMPS
		if speed == 0 {
			speed = p.SpeedMPS
		}
		base := synth.NewParams(p.HeightM, speed, q.StepRate)
		p.SpeedMPS, p.StepRateSPM, p.DutyFactor = speed, base.StepRateSPM, base.DutyFactor
		p.OverstrideM = synth.Both(base.OverstrideM.Left + 0.035)
		p.SwingKneeFlexionDeg, p.SwingThighDeg = base.SwingKneeFlexionDeg, base.SwingThighDeg
	}
	p.DurationS, p.Seed = q.Seconds+1, q.Seed
	return st.truthOf(ctx, p, q, progress)
}

// truthOf runs the chain on one synthetic runner.
func (st *Studio) truthOf(ctx context.Context, p synth.Params, q TruthRequest, progress Progress) (*TruthResult, error) {
	runner, err := synth.New(p)
	if err != nil {
		return nil, &Problem{Kind: KindUsage, What: err.Error(), Err: err}
	}
	return st.truthOfRunner(ctx, runner, q, progress)
}

func (st *Studio) truthOfRunner(ctx context.Context, runner *synth.Runner, q TruthRequest, progress Progress) (*TruthResult, error) {
	p := runner.Params()
	r := Request{SpeedMPS: p.SpeedMPS, Model: q.Model, Runner: RunnerFacts{HeightM: p.HeightM, LegLengthM: p.LegLengthM, MassKG: p.MassKG, Sex: "male"}}
	if p.Female {
		r.Runner.Sex = "female"
	}
	q.SpeedMPS = p.SpeedMPS
	if q.TellCamera {
		// Carried to the right of a left-side picture the camera stands behind.
		r.YawDeg, r.CameraDistanceM = -q.YawDeg, demoFilm.DistanceM
	}
	out := &TruthResult{Request: q}
	var known *ruler
	var truth *synth.Truth // of the stretch from..to, most often that of both clips
	var from, to float64
	for _, view := range []clip.View{clip.LeftSide, clip.Rear} {
		c, cam, err := st.syntheticClip(ctx, runner, view, q, &r, progress)
		if err != nil {
			return nil, err
		}
		if q.Film {
			out.Landmarks = append(out.Landmarks, landmarkErrors(runner, cam, c)...)
		}
		size, err := c.finish(&r, nil, 0, known)
		if err != nil {
			return nil, err
		}
		if known == nil {
			known = size
		}
		if t := c.Track.TimeS; truth == nil || t[0] != from || t[len(t)-1] != to {
			from, to = t[0], t[len(t)-1]
			truth = runner.Truth(from, to, synth.HipPoints)
		}
		out.add(truth, c)
	}
	progress.Done()
	return out, nil
}

// syntheticClip films the runner and finds the landmarks, or takes the exact
// ones, with noise where it is asked for.
func (st *Studio) syntheticClip(ctx context.Context, runner *synth.Runner, view clip.View, q TruthRequest, r *Request, progress Progress) (*Clip, synth.Camera, error) {
	o := demoFilm
	o.WidthPX, o.HeightPX, o.RateHz, o.Seconds = q.WidthPX, q.HeightPX, q.RateHz, q.Seconds
	o.Dress = q.dress
	if view.Sagittal() {
		o.YawDeg = q.YawDeg
	}
	if q.Film {
		dir, err := os.MkdirTemp("", "gaitwright-truth-*")
		if err != nil {
			return nil, synth.Camera{}, err
		}
		defer os.RemoveAll(dir)
		path := filepath.Join(dir, view.String()+".mp4")
		cam, err := shootFilm(ctx, runner, view, path, o, progress)
		if err != nil {
			return nil, cam, err
		}
		c, err := trackFilm(ctx, path, view, r, progress)
		if err != nil {
			return nil, cam, err
		}
		return c, cam, settleClip(c, view, r)
	}
	cam := synth.NewCamera(view, o.WidthPX, o.HeightPX, o.DistanceM).OffSquare(o.YawDeg)
	exact := synth.WithoutStickers(runner.Track(synth.Clock(o.RateHz, o.Seconds), cam))
	if q.NoisePX > 0 {
		exact = synth.Noisy(exact, synth.Noise{SD: q.NoisePX, HiddenFactor: 2, Seed: q.Seed + uint64(view)})
	}
	c := &Clip{Path: "synthetic " + view.String(), Raw: exact}
	c.Info = clip.Info{Name: c.Path, View: view, FrameRateHz: q.RateHz, Slowdown: 1, WidthPX: o.WidthPX, HeightPX: o.HeightPX}
	return c, cam, nil
}

func (out *TruthResult) add(truth *synth.Truth, c *Clip) {
	view := c.Info.View.String()
	for _, m := range c.Measures {
		if m.OtherView {
			continue
		}
		v, ok := truth.Value(m.Name, m.Side)
		if !ok {
			continue
		}
		d, _ := measure.Lookup(m.Name)
		out.Measures = append(out.Measures, TruthRow{View: view, Name: m.Name, Title: d.Title, Side: m.Side, Unit: m.Unit, Decimals: d.Decimals,
			True: v, Measured: m.Value, SEM: m.SEM, Withheld: m.Reason})
	}
	out.Contacts = append(out.Contacts, ViewContacts{view, CompareContacts(c.Contacts, truth.Contacts)})
}

// landmarkErrors compares the raw landmarks of a film with where the runner's
// points are in the picture.
func landmarkErrors(runner *synth.Runner, cam synth.Camera, c *Clip) []LandmarkError {
	exact := runner.Track(c.Raw.TimeS, cam)
	mm := 1000 / cam.PixelsPerM()
	var out []LandmarkError
	for l := range body.NumPose {
		a, b := c.Raw.Paths[l], exact.Paths[l]
		if a == nil || b == nil {
			continue
		}
		var far, right, up []float64
		for i := range c.Raw.TimeS {
			if a.Seen(i) && b.Seen(i) {
				dx, dy := (a.X[i]-b.X[i])*mm, (b.Y[i]-a.Y[i])*mm
				far, right, up = append(far, math.Hypot(dx, dy)), append(right, dx), append(up, dy)
			}
		}
		if len(far) == 0 {
			continue
		}
		out = append(out, LandmarkError{View: c.Info.View.String(), Landmark: l, MedianMM: signal.Median(far), Percentile95MM: signal.Quantile(far, 0.95),
			BiasForwardMM: signal.Median(right), BiasUpMM: signal.Median(up), MissingPercent: 100 * (1 - float64(len(far))/float64(c.Raw.Frames()))})
	}
	return out
}

// Summary is one line about the run.
func (q TruthRequest) Summary() string {
	how := "exact landmarks"
	if q.Film {
		how = "rendered film, pose model " + modelName(q.Model)
	} else if q.NoisePX > 0 {
		how = fmt.Sprintf("exact landmarks with %.1f px of noise", q.NoisePX)
	}
	return fmt.Sprintf("%s, %.2f m/s, %.0f frames/s, %d×%d, %.0f s", how, q.SpeedMPS, q.RateHz, q.WidthPX, q.HeightPX, q.Seconds)
}

// TruthDocument is the machine-readable form of a TruthResult.
type TruthDocument struct {
	Summary  string               `json:"summary"`
	Measures []TruthDocumentRow   `json:"measures"`
	Contacts []TruthDocumentTimes `json:"contacts"`
}

// TruthDocumentRow is one measure's error.
type TruthDocumentRow struct {
	View     string   `json:"view"`
	Name     string   `json:"name"`
	Side     string   `json:"side"`
	Unit     string   `json:"unit"`
	True     *float64 `json:"true"`
	Measured *float64 `json:"measured"`
	Error    *float64 `json:"error"`
	SEM      *float64 `json:"sem"`
	Reason   string   `json:"reason,omitempty"`
}

// TruthDocumentTimes is the error of the contact times in one view, seconds.
type TruthDocumentTimes struct {
	View   string   `json:"view"`
	What   string   `json:"what"`
	BiasS  *float64 `json:"bias_s"`
	SDS    *float64 `json:"sd_s"`
	Pairs  int      `json:"pairs"`
	Missed int      `json:"missed"`
	Extra  int      `json:"extra"`
}

// Document returns the result in its machine-readable form.
func (t *TruthResult) Document() TruthDocument {
	d := TruthDocument{Summary: t.Request.Summary(), Measures: []TruthDocumentRow{}, Contacts: []TruthDocumentTimes{}}
	for _, m := range t.Measures {
		d.Measures = append(d.Measures, TruthDocumentRow{View: m.View, Name: m.Name, Side: m.Side.String(), Unit: m.Unit, True: number(m.True, 5),
			Measured: number(m.Measured, 5), Error: number(m.Error(), 5), SEM: number(m.SEM, 5), Reason: m.Withheld})
	}
	for _, c := range t.Contacts {
		for _, r := range c.Rows {
			d.Contacts = append(d.Contacts, TruthDocumentTimes{c.View, r.What, number(r.BiasS, 6), number(r.SDS, 6), r.Pairs, c.Missed, c.Extra})
		}
	}
	return d
}
