package app

import (
	"context"
	"fmt"
	"image"
	"io"
	"math"
	"path/filepath"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/event"
	"gaitwright/gait/track"
	"gaitwright/internal/video"
	"gaitwright/num/signal"
)

// overlayAt returns what is drawn over frame i of the clip's tracks, in a
// picture scale times the size of the film.
func (c *Clip) overlayAt(i int, scale float64) video.Overlay {
	var o video.Overlay
	for l := range o.Points {
		p := c.Mended.Paths[l]
		if p == nil || !p.Seen(i) {
			o.Points[l] = video.Unseen
			continue
		}
		o.Points[l] = video.Point{XPX: p.X[i] * scale, YPX: p.Y[i] * scale, Confidence: p.ConfidenceAt(i)}
	}
	o.Near = c.near()
	at := c.Mended.TimeS[i]
	o.ContactsKnown = true
	for _, k := range c.Contacts.Contacts {
		if k.InitialContactS <= at && at <= k.ToeOffS {
			o.OnGround[k.Side] = true
		}
	}
	o.Frame, o.TimeS = c.FirstFrame+i, at
	return o
}

// near is the side toward the camera; NoSide from behind or in front.
func (c *Clip) near() body.Side {
	switch c.Info.View {
	case clip.LeftSide:
		return body.Left
	case clip.RightSide:
		return body.Right
	}
	return body.NoSide
}

// liveAngles are the series that are written into the picture, by name and side.
func (c *Clip) liveAngles() map[string][]float64 {
	m := map[string][]float64{}
	for _, a := range c.lines.Angles(c.Track, c.Info.View, c.Contacts) {
		m[liveKey(a)] = a.Values
	}
	return m
}

// withAngles adds the angles of the near leg and the trunk to an overlay.
func (c *Clip) withAngles(o video.Overlay, live map[string][]float64, i int) video.Overlay {
	if !c.Info.View.Sagittal() {
		return o
	}
	at := func(key string) float64 {
		if v := live[key]; i < len(v) {
			return v[i]
		}
		return math.NaN()
	}
	if a, ok := video.KneeFlexion(&o.Points, o.Near, at("knee_flexion/"+o.Near.String())); ok {
		o.Angles = append(o.Angles, a)
	}
	if a, ok := video.TrunkLean(&o.Points, at("trunk_lean/both")); ok {
		o.Angles = append(o.Angles, a)
	}
	return o
}

// WriteAnnotated writes each film of the session with its skeleton drawn in it,
// slowBy times slower, and returns the paths: path itself for a single film, and
// with the view before the ending for several.
func (s *Session) WriteAnnotated(ctx context.Context, path string, slowBy float64, progress Progress) ([]string, error) {
	var films []*Clip
	for _, c := range s.Clips {
		if c.IsVideo() {
			films = append(films, c)
		}
	}
	if len(films) == 0 {
		return nil, problem(KindUsage, "", "Leave --annotated out.", "there is no film among the files, so nothing can be annotated")
	}
	var out []string
	for i, c := range films {
		name := path
		if len(films) > 1 {
			ext := filepath.Ext(path)
			name = fmt.Sprintf("%s-%s%s", strings.TrimSuffix(path, ext), c.Info.View, ext)
			for _, o := range out {
				if o == name {
					name = fmt.Sprintf("%s-%s-%d%s", strings.TrimSuffix(path, ext), c.Info.View, i+1, ext)
				}
			}
		}
		if err := c.writeAnnotated(ctx, name, slowBy, s.caption(c), progress); err != nil {
			return out, err
		}
		out = append(out, name)
	}
	return out, nil
}

func (s *Session) caption(c *Clip) string {
	parts := []string{}
	if s.Runner.Name != "" {
		parts = append(parts, s.Runner.Name)
	}
	parts = append(parts, viewInWords(c.Info.View))
	if v := c.Info.BeltSpeedMPS; v > 0 {
		parts = append(parts, fmt.Sprintf("%.2f m/s", v))
	}
	return strings.Join(parts, ", ")
}

func (c *Clip) writeAnnotated(ctx context.Context, path string, slowBy float64, caption string, progress Progress) error {
	facts, err := video.Probe(ctx, c.Path)
	if err != nil {
		return videoProblem(c.Path, err)
	}
	n := c.Track.Frames()
	reader, err := video.Decode(ctx, facts, video.Options{From: c.FirstFrame, To: c.FirstFrame + n, MaxHeightPX: 1080})
	if err != nil {
		return videoProblem(c.Path, err)
	}
	defer reader.Close()
	e, err := video.NewEncoder(ctx, path, video.EncodeOptions{WidthPX: reader.WidthPX, HeightPX: reader.HeightPX,
		RateHz: c.Info.FrameRateHz, SlowBy: slowBy})
	if err != nil {
		return videoProblem(path, err)
	}
	defer e.Abort()
	progress.Stage("drawing the skeleton", c.Path, n)
	live := c.liveAngles()
	var picture *image.RGBA
	for {
		f, err := reader.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return videoProblem(c.Path, err)
		}
		picture = f.RGBA(picture)
		i := f.Index - c.FirstFrame
		f.Release()
		o := c.withAngles(c.overlayAt(i, reader.Scale), live, i)
		o.Caption, o.Legend, o.Panel = caption, true, true
		video.Annotate(picture, o)
		if err := e.Write(picture, c.Mended.TimeS[i]); err != nil {
			return videoProblem(path, err)
		}
		progress.Advance(1)
	}
	if err := e.Finish(); err != nil {
		return videoProblem(path, err)
	}
	return nil
}

// keyMoment is a frame worth showing: which foot, and what it is.
type keyMoment struct {
	title   string
	side    body.Side
	frame   int  // of the clip's tracks
	contact bool // the foot lands in it
}

// keyMoments picks contact, mid-stance and toe-off of a typical step of the near
// leg from the side, and mid-stance of each leg from behind: the contact whose
// duration is nearest the side's median.
func (c *Clip) keyMoments() []keyMoment {
	near := c.near()
	at := func(t float64) int { return track.NearestFrame(c.Track.TimeS, t) }
	if near != body.NoSide {
		k, ok := c.typicalContact(near)
		if !ok {
			return nil
		}
		return []keyMoment{
			{title: "Contact", side: near, frame: at(k.InitialContactS), contact: true},
			{title: "Mid-stance", side: near, frame: at((k.InitialContactS + k.ToeOffS) / 2)},
			{title: "Toe-off", side: near, frame: at(k.ToeOffS)},
		}
	}
	var out []keyMoment
	for _, s := range body.Sides {
		if k, ok := c.typicalContact(s); ok {
			out = append(out, keyMoment{title: "Mid-stance", side: s, frame: at((k.InitialContactS + k.ToeOffS) / 2)})
		}
	}
	return out
}

// typicalContact returns the sound contact of a side whose duration is nearest to
// the side's median, preferring the middle of the clip.
func (c *Clip) typicalContact(side body.Side) (event.Contact, bool) {
	var sound []event.Contact
	var durations []float64
	for _, k := range c.Contacts.Of(side) {
		if k.Doubt == "" {
			sound = append(sound, k)
			durations = append(durations, k.DurationS())
		}
	}
	if len(sound) == 0 {
		return event.Contact{}, false
	}
	typical := signal.Median(durations)
	middle := (c.Track.TimeS[0] + c.Track.TimeS[c.Track.Frames()-1]) / 2
	best, least := sound[0], math.Inf(1)
	for _, k := range sound {
		d := math.Abs(k.DurationS()-typical)/typical + 0.05*math.Abs(k.InitialContactS-middle)/math.Max(1, c.Track.DurationS())
		if d < least {
			best, least = k, d
		}
	}
	return best, true
}
