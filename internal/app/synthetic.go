package app

import (
	"context"
	"image"
	"os"
	"path/filepath"

	"gaitwright/gait/clip"
	"gaitwright/internal/synth"
	"gaitwright/internal/video"
)

// shootFilm renders the synthetic runner from one view into an H.264 file.
func shootFilm(ctx context.Context, r *synth.Runner, view clip.View, path string, o filmOptions, progress Progress) (synth.Camera, error) {
	cam := o.camera(view)
	film, err := synth.NewFilm(r, cam, synth.Clock(o.RateHz, o.Seconds), synth.Look{Shutter: o.Shutter, Dress: o.Dress})
	if err != nil {
		return cam, err
	}
	e, err := video.NewEncoder(ctx, path, video.EncodeOptions{WidthPX: o.WidthPX, HeightPX: o.HeightPX, RateHz: o.RateHz, Quality: 20})
	if err != nil {
		return cam, videoProblem(path, err)
	}
	defer e.Abort()
	progress.Stage("filming", path, film.Frames())
	picture := image.NewRGBA(image.Rect(0, 0, o.WidthPX, o.HeightPX))
	err = film.Render(ctx, func(_ int, timeS float64, rgb []byte) error {
		for i, j := 0, 0; j+2 < len(rgb); i, j = i+4, j+3 {
			picture.Pix[i], picture.Pix[i+1], picture.Pix[i+2], picture.Pix[i+3] = rgb[j], rgb[j+1], rgb[j+2], 255
		}
		progress.Advance(1)
		return e.Write(picture, timeS)
	})
	if err != nil {
		return cam, videoProblem(path, err)
	}
	return cam, videoProblem(path, e.Finish())
}

// filmOptions say how a synthetic film is taken.
type filmOptions struct {
	WidthPX, HeightPX int
	RateHz, Seconds   float64
	DistanceM         float64 // from the camera to the middle of the belt
	YawDeg            float64 // off square
	Shutter           float64 // share of the frame interval for which it is open
	Dress             uint64  // body and clothes; 0 for the demonstration's
}

// camera is the one that takes the film.
func (o filmOptions) camera(view clip.View) synth.Camera {
	return synth.NewCamera(view, o.WidthPX, o.HeightPX, o.DistanceM).OffSquare(o.YawDeg)
}

var demoFilm = filmOptions{WidthPX: 720, HeightPX: 1280, RateHz: 120, Seconds: 8, DistanceM: 4}

// DemoRequest says how the demonstration is made.
type DemoRequest struct {
	Dir     string // for the films and the report
	Seconds float64
	Model   string
}

// DemoResult is what the demonstration made.
type DemoResult struct {
	Session            *Session
	Returning          string // the newest visit of the runner who comes back
	SideFilm, RearFilm string
	Report             string
}

// demonstration is the invented runner with her faults as large as a coach sees
// them: beyond the error of film, so that the visit leads to findings.
func demonstration() synth.Params {
	p := synth.Demo()
	p.StepRateSPM = 150
	p.KneeValgusDeg.Right = 17
	p.HipExtensionShiftDeg = synth.Both(-9)
	return p
}

// Demo films the invented runner of the demonstration from the left and from
// behind, takes the two films into a visit of the demonstration's runner, measures
// them as any others and writes the report.
func (st *Studio) Demo(ctx context.Context, d DemoRequest, progress Progress) (*DemoResult, error) {
	if !(d.Seconds >= 3 && d.Seconds <= 120) {
		return nil, problem(KindUsage, "", "", "--seconds must lie between 3 and 120")
	}
	if err := modelReady(d.Model); err != nil {
		return nil, err
	}
	if err := os.MkdirAll(d.Dir, 0o755); err != nil {
		return nil, &Problem{Kind: KindUnexpected, File: d.Dir, What: err.Error(), Mend: "Name another folder with --dir.", Err: err}
	}
	o := demoFilm
	o.Seconds = d.Seconds
	p := demonstration()
	p.DurationS = o.Seconds + 1
	runner, err := synth.New(p)
	if err != nil {
		return nil, err
	}
	dir, err := filepath.Abs(d.Dir)
	if err != nil {
		return nil, err
	}
	out := &DemoResult{SideFilm: filepath.Join(dir, "side.mp4"), RearFilm: filepath.Join(dir, "rear.mp4"), Report: filepath.Join(dir, "report.pdf")}
	progress.Stage("drawn as a runner who comes back", returningRunner, 0)
	if out.Returning, err = st.DemoReturn(ctx); err != nil {
		return nil, err
	}
	if _, err := shootFilm(ctx, runner, clip.LeftSide, out.SideFilm, o, progress); err != nil {
		return nil, err
	}
	if _, err := shootFilm(ctx, runner, clip.Rear, out.RearFilm, o, progress); err != nil {
		return nil, err
	}
	if out.Session, err = st.demoVisit(ctx, p, d.Model, out.SideFilm, out.RearFilm, progress); err != nil {
		return nil, err
	}
	if err := out.Session.WriteReport(ctx, out.Report, "a4", "metric"); err != nil {
		return nil, err
	}
	return out, nil
}
