package app_test

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/event"
	"gaitwright/gait/measure"
	"gaitwright/gait/track"
	"gaitwright/internal/app"
	"gaitwright/internal/pose"
	"gaitwright/internal/video"
)

// TestMeasuresOfRenderedClips puts the pose model's measures of four rendered
// clips beside those of the known motion, with the contacts given, so that what
// the landmarks alone do to each measure is seen, half-way to the anatomical
// points as they are measured. Together with the film of the synthetic runner
// (`gaitwright truth`) it is where the pose model's errors in package measure
// come from. It takes some minutes: set GAITWRIGHT_LONG=1.
func TestMeasuresOfRenderedClips(t *testing.T) {
	if os.Getenv("GAITWRIGHT_LONG") == "" {
		t.Skip("takes some minutes: set GAITWRIGHT_LONG=1")
	}
	engine, err := pose.Open(pose.Options{Model: pose.Full, Dir: filepath.Join("..", "..", "setup")})
	if errors.Is(err, pose.ErrNotInstalled) {
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	defer engine.Close()
	for _, name := range []string{"RBDS001-35-side", "RBDS012-35-side", "RBDS001-35-rear", "RBDS012-35-rear"} {
		t.Run(name, func(t *testing.T) {
			known := readRendered(t, name)
			view := clip.LeftSide
			if strings.HasSuffix(name, "rear") {
				view = clip.Rear
			}
			info := clip.Info{View: view, FrameRateHz: 150, BeltSpeedMPS: known.BeltMPS, Scale: clip.Scale{PixelsPerM: known.PixelsPerM, Source: clip.ScaleFromStick}}
			in := measure.Input{Info: info, Contacts: known.contacts(), Origin: track.PoseModel, Runner: measure.Runner{HeightM: 1.80}}
			in.Track = filmed(t, engine, name, view, known.PixelsPerM)
			seen := measure.Compute(in)
			in.Track, in.Origin, in.Info.View = known.track(in.Track.TimeS), track.Synthetic, clip.Spatial
			truth := measure.Compute(in)
			compared := 0
			for i, m := range seen.Measures {
				w := truth.Measures[i]
				d, _ := measure.Lookup(m.Name)
				if len(d.Views()) == 5 || w.Withheld() || m.Withheld() || m.Text != "" || m.Name == "crossover_share" {
					continue
				}
				compared++
				off := m.Value - w.Value
				t.Logf("%-30s %-5s true %8s  seen %8s  off %+8.3f  of which known %+8.3f, sem %.3f", m.Name, m.Side, d.Format(w.Value), d.Format(m.Value), off, m.Bias, m.SEM)
				if math.Abs(off-m.Bias) > 2.5*m.SEM {
					t.Errorf("%s %s: true %.4g, seen %.4g: beyond the stated bias %.3g and 2.5 times the error %.3g", m.Name, m.Side, w.Value, m.Value, m.Bias, m.SEM)
				}
			}
			if compared < 5 {
				t.Errorf("only %d measures were compared", compared)
			}
		})
	}
}

// rendered is the truth beside a rendered clip.
type rendered struct {
	PixelsPerM float64                `json:"px_per_m_midplane"`
	BeltMPS    float64                `json:"belt_speed_rendered_m_s"`
	Points     map[string][][]float64 `json:"points_m"`
	Contacts   []struct {
		InitialContactS float64 `json:"contact_s"`
		ToeOffS         float64 `json:"toe_off_s"`
		Side            string  `json:"side"`
	} `json:"contacts"`
}

func renderedFile(t *testing.T, name string) string {
	t.Helper()
	dir := os.Getenv("GAITWRIGHT_SHARED")
	if dir == "" {
		dir = filepath.Join("..", "..", "..", "shared")
	}
	path := filepath.Join(dir, "data", "clips", name)
	if _, err := os.Stat(path); err != nil {
		t.Skipf("the rendered clips are absent: %v", err)
	}
	return path
}

func readRendered(t *testing.T, name string) rendered {
	t.Helper()
	b, err := os.ReadFile(renderedFile(t, name+".json"))
	if err != nil {
		t.Fatal(err)
	}
	var r rendered
	if err := json.Unmarshal(b, &r); err != nil {
		t.Fatal(err)
	}
	return r
}

func (r rendered) contacts() event.Series {
	s := event.Series{Method: event.FromForce}
	for _, c := range r.Contacts {
		side := body.Left
		if strings.HasPrefix(strings.ToLower(c.Side), "r") {
			side = body.Right
		}
		s.Contacts = append(s.Contacts, event.Contact{Side: side, InitialContactS: c.InitialContactS, ToeOffS: c.ToeOffS})
	}
	return s
}

// track is the known motion as landmarks; the nose stands for the ears.
func (r rendered) track(timeS []float64) *track.Track {
	t := track.New(track.Runner, track.Metre, timeS)
	set := func(l body.Landmark, name string) {
		p := &track.Path{Origin: track.Synthetic}
		for _, xyz := range r.Points[name] {
			p.X, p.Y, p.Z = append(p.X, xyz[0]), append(p.Y, xyz[1]), append(p.Z, xyz[2])
		}
		t.Paths[l] = p
	}
	for l, name := range map[body.Landmark]string{
		body.LeftHip: "hip", body.LeftKnee: "knee", body.LeftAnkle: "ankle", body.LeftHeel: "heel", body.LeftToe: "toe",
		body.LeftShoulder: "shoulder", body.LeftElbow: "elbow", body.LeftWrist: "wrist",
	} {
		set(l, "L"+name)
		set(l.On(body.Right), "R"+name)
	}
	set(body.LeftEar, "nose")
	set(body.RightEar, "nose")
	return t
}

// filmed follows the runner through a clip and returns the cleaned landmarks in
// runner space, on the truth's clock.
func filmed(t *testing.T, engine *pose.Engine, name string, view clip.View, pixelsPerM float64) *track.Track {
	t.Helper()
	ctx := t.Context()
	facts, err := video.Probe(ctx, renderedFile(t, name+".mp4"))
	if errors.Is(err, video.ErrNoFFmpeg) {
		t.Skip(err)
	}
	if err != nil {
		t.Fatal(err)
	}
	reader, err := video.Decode(ctx, facts, video.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer reader.Close()
	frames := make(chan pose.Frame, 1)
	failed := make(chan error, 1)
	go func() {
		defer close(frames)
		failed <- handFrames(ctx, reader, frames)
	}()
	tracker := pose.NewTracker(engine, nil)
	if err := tracker.Run(ctx, frames, nil); err != nil {
		t.Fatal(err)
	}
	if err := <-failed; err != nil {
		t.Fatal(err)
	}
	person, _ := tracker.Runner()
	if person == nil {
		t.Fatal("nobody was found")
	}
	options := track.DefaultClean(track.PoseModel)
	mended, _ := track.MendSwaps(tracker.Track(person))
	mended, report := track.Mend(mended, options)
	smooth, err := track.Smooth(mended, options, &report)
	if err != nil {
		t.Fatal(err)
	}
	out, err := track.ToRunner(smooth, view, pixelsPerM, 0)
	if err != nil {
		t.Fatal(err)
	}
	if view.Sagittal() {
		out = track.Anatomical(out)
	}
	return out
}

func handFrames(ctx context.Context, reader *video.Reader, frames chan<- pose.Frame) error {
	for {
		f, err := reader.Next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		g := pose.Frame{Index: f.Index, TimeS: f.TimeS, Width: reader.WidthPX, Height: reader.HeightPX, RGB: slices.Clone(f.RGB)}
		f.Release()
		select {
		case frames <- g:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// The whole program on the rendered clips of two runners' real motion: nine tenths
// of its values lie within 1.96 times their stated error of the measures of the
// known motion. It takes some minutes: set GAITWRIGHT_LONG=1.
func TestClipsAreCovered(t *testing.T) {
	if os.Getenv("GAITWRIGHT_LONG") == "" {
		t.Skip("takes some minutes: set GAITWRIGHT_LONG=1")
	}
	needModel(t)
	within, values := 0, 0
	all := map[string][2]int{}
	for _, runner := range []struct {
		name    string
		heightM float64
	}{{"RBDS001-35", 1.81}, {"RBDS012-35", 1.786}} {
		side, rear := renderedFile(t, runner.name+"-side.mp4"), renderedFile(t, runner.name+"-rear.mp4")
		st, err := app.OpenStudio(t.TempDir())
		if err != nil {
			t.Fatal(err)
		}
		s, err := st.Measure(t.Context(), app.Request{Files: []string{side, rear}, SpeedMPS: readRendered(t, runner.name+"-side").BeltMPS,
			Runner: app.RunnerFacts{HeightM: runner.heightM}}, app.NoProgress{})
		if err != nil {
			t.Fatal(err)
		}
		for i, view := range []string{"-side", "-rear"} {
			known := readRendered(t, runner.name+view)
			c := s.Clips[i]
			in := measure.Input{Info: c.Info, Contacts: known.contacts(), Origin: track.Synthetic, Runner: measure.Runner{HeightM: runner.heightM}}
			in.Track, in.Info.View = known.track(c.Track.TimeS), clip.Spatial
			truth := measure.Compute(in)
			for k, m := range c.Measures {
				w := truth.Measures[k]
				if w.Withheld() || m.Withheld() || m.Text != "" {
					continue
				}
				n := all[m.Name]
				values, n[1] = values+1, n[1]+1
				verdict := "OUTSIDE"
				if math.Abs(m.Value-w.Value) <= 1.96*m.SEM {
					within, n[0], verdict = within+1, n[0]+1, "within"
				}
				all[m.Name] = n
				t.Logf("%s%s %-30s %-5s true %9.3f, measured %9.3f ± %.3f  %s", runner.name, view, m.Name, m.Side, w.Value, m.Value, m.SEM, verdict)
			}
		}
	}
	t.Logf("%d of %d within", within, values)
	if float64(within) < 0.9*float64(values) {
		t.Errorf("%d of %d values lie within 1.96 times their stated error", within, values)
	}
	for name, n := range all {
		if n[0] == 0 && n[1] > 2 {
			t.Errorf("%s: all %d values are outside", name, n[1])
		}
	}
}
