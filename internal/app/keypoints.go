package app

import (
	"gaitwright/gait/clip"
	"gaitwright/gait/track"
	"gaitwright/internal/keypoint"
)

// readKeypoints reads a plain keypoint file as a clip with its raw track.
func readKeypoints(path string, r *Request) (*Clip, error) {
	f, err := keypoint.Open(path)
	if err != nil {
		return nil, fileProblem(path, err)
	}
	t := f.Track
	c := &Clip{Path: path, Raw: t}
	c.Info = clip.Info{Name: path, View: f.View, Slowdown: 1, FrameRateHz: t.RateHz(), RollDeg: r.RollDeg, WidthPX: f.WidthPX, HeightPX: f.HeightPX}
	if r.Overground {
		c.Info.Surface = clip.Overground
	}
	if t.Frames() < 8 {
		return nil, problem(KindNoResult, path, "A clip needs at least two strides, about two seconds.", "has only %d frames", t.Frames())
	}
	if r.CaptureRateHz > 0 {
		if c.Info.Slowdown = r.CaptureRateHz / c.Info.FrameRateHz; c.Info.Slowdown < 0.97 {
			return nil, problem(KindUsage, path, "Check --capture-rate.", "the file has %.0f frames a second, more than the capture rate %.0f that was given", c.Info.FrameRateHz, r.CaptureRateHz)
		}
		for i := range t.TimeS {
			t.TimeS[i] /= c.Info.Slowdown
		}
		c.Info.FrameRateHz = r.CaptureRateHz
	}
	if t.Space == track.Runner && c.Info.View == clip.UnknownView {
		c.Info.View = viewOfAxes(t)
	}
	for i := range t.TimeS {
		if !t.Paths[landmarkOfPresence].Seen(i) {
			c.Treatment.FramesMissing++
		}
	}
	return c, nil
}

// viewOfAxes tells the view of a runner-space track from the axes it has.
func viewOfAxes(t *track.Track) clip.View {
	hasX, hasZ := false, false
	for _, p := range t.Paths {
		if p != nil {
			hasX, hasZ = hasX || p.X != nil, hasZ || p.Z != nil
		}
	}
	switch {
	case hasX && hasZ:
		return clip.Spatial
	case hasZ:
		return clip.Rear
	}
	return clip.LeftSide
}
