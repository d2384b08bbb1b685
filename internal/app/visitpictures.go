package app

import (
	"context"
	"fmt"
	"image"
	"image/draw"
	"math"
	"slices"
	"sync"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/finding"
	"gaitwright/gait/track"
	"gaitwright/internal/video"
)

// reportPicture is a frame of the film with the skeleton and one angle.
type reportPicture struct {
	image    image.Image
	focus    image.Rectangle
	mirrored bool // the runner runs to the left in it
}

// stillKey names a frame of a kept result.
type stillKey struct {
	result      string
	clip, frame int
}

// maxStills bounds the frames that are kept ready, each cut to the runner.
const maxStills = 24

// stillCache keeps frames that were decoded for reports.
type stillCache struct {
	mu    sync.Mutex
	at    map[stillKey]*image.RGBA
	order []stillKey
}

func (c *stillCache) get(k stillKey) *image.RGBA {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at[k]
}

func (c *stillCache) put(k stillKey, m *image.RGBA) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.at == nil {
		c.at = map[stillKey]*image.RGBA{}
	}
	if _, ok := c.at[k]; ok {
		return
	}
	for len(c.order) >= maxStills {
		delete(c.at, c.order[0])
		c.order = slices.Delete(c.order, 0, 1)
	}
	c.at[k], c.order = m, append(c.order, k)
}

// drop forgets all, as when a runner was erased.
func (c *stillCache) drop() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at, c.order = nil, nil
}

// stills decodes frames of one clip of a result, those that are not kept ready.
// Each is cut to the runner with some air and keeps its place in the whole frame.
func (st *Studio) stills(ctx context.Context, s *Session, n int, frames []int) (map[int]*image.RGBA, error) {
	c := s.Clips[n]
	out := map[int]*image.RGBA{}
	var missing, wanted []int
	for _, k := range frames {
		if m := st.reportStills.get(stillKey{s.ID, n, k}); m != nil {
			out[k] = m
		} else if !slices.Contains(missing, k) {
			missing, wanted = append(missing, k), append(wanted, c.FirstFrame+k)
		}
	}
	if len(missing) == 0 {
		return out, nil
	}
	pictures, err := st.keptStills(ctx, c, wanted)
	if err != nil {
		return out, err
	}
	for i, k := range missing {
		whole := pictures[i]
		part := c.around(k, float64(whole.Rect.Dy())/float64(c.Info.HeightPX)).Inset(-60).Intersect(whole.Rect)
		if part.Dx() < 40 || part.Dy() < 40 {
			part = whole.Rect
		}
		cut := image.NewRGBA(part)
		draw.Draw(cut, part, whole, part.Min, draw.Src)
		out[k] = cut
		st.reportStills.put(stillKey{s.ID, n, k}, cut)
	}
	return out, nil
}

// reportPictures are the pictures of findings by their names.
func (st *Studio) reportPictures(ctx context.Context, f *reasoned, all []agreed) (map[string]*reportPicture, error) {
	out := map[string]*reportPicture{}
	type want struct {
		name string
		e    finding.Evidence
		k    int
	}
	byClip := map[int][]want{}
	for _, a := range all {
		if a.of == nil {
			continue
		}
		e, ok := f.mainEvidence(a.of)
		if !ok {
			continue
		}
		if p := f.pictureFor(e); p != nil {
			byClip[p.Clip] = append(byClip[p.Clip], want{a.name, e, p.Frame})
		}
	}
	for n := range len(sessionClips(f)) {
		var frames []int
		for _, w := range byClip[n] {
			frames = append(frames, w.k)
		}
		if len(frames) == 0 {
			continue
		}
		c := f.session.Clips[n]
		got, err := st.stills(ctx, f.session, n, frames)
		if err != nil {
			return out, fmt.Errorf("the pictures of %s: %w", c.name(), err)
		}
		for _, w := range byClip[n] {
			scale := st.stillScale(c)
			// The cut begins at 0, and so do the points in it.
			m, from := cloneRGBA(got[w.k]), got[w.k].Rect.Min
			m.Rect = m.Rect.Sub(from)
			o := c.overlayAt(w.k, scale)
			for l := range o.Points {
				o.Points[l].XPX -= float64(from.X)
				o.Points[l].YPX -= float64(from.Y)
			}
			o.Weight = keyFrameWeight
			c.markEvidence(&o, w.e, scale)
			video.Annotate(m, o)
			out[w.name] = &reportPicture{image: m, focus: c.around(w.k, scale).Sub(from), mirrored: c.runsLeft(w.k)}
		}
	}
	return out, nil
}

// pictureFor is the frame of a number, and of one that is read in no single frame
// a contact from the side.
func (f *reasoned) pictureFor(e finding.Evidence) *PagePicture {
	if p := f.picture(e); p != nil {
		return p
	}
	for n, c := range sessionClips(f) {
		side := c.near()
		if !c.IsVideo() || side == body.NoSide {
			continue
		}
		if k, ok := c.typicalContact(side); ok {
			return &PagePicture{Clip: n, Frame: track.NearestFrame(c.Track.TimeS, k.InitialContactS), Moment: "contact", Side: side.String()}
		}
	}
	return nil
}

func sessionClips(f *reasoned) []*Clip {
	if f.session == nil {
		return nil
	}
	return f.session.Clips
}

// stillScale is the pixels of a still for one of the film.
func (st *Studio) stillScale(c *Clip) float64 {
	h := float64(c.Info.HeightPX)
	return math.Min(1, keyFrameHeightPX/h)
}

// runsLeft tells whether the runner runs to the left of the picture: the toes are
// left of the heels.
func (c *Clip) runsLeft(k int) bool {
	if !c.Info.View.Sagittal() {
		return false
	}
	p := c.overlayAt(k, 1).Points
	ahead := 0.0
	for _, pair := range [][2]body.Landmark{{body.LeftHeel, body.LeftToe}, {body.RightHeel, body.RightToe}} {
		if a, b := p[pair[0]], p[pair[1]]; a.Seen() && b.Seen() {
			ahead += b.XPX - a.XPX
		}
	}
	if ahead == 0 {
		return c.Info.View == clip.LeftSide
	}
	return ahead < 0
}

// markEvidence puts the one angle into a picture that a number is about, or for a
// length the line from which it counts.
func (c *Clip) markEvidence(o *video.Overlay, e finding.Evidence, scale float64) {
	side := e.Side
	if side == body.NoSide {
		side = body.Left
		if n := c.near(); n != body.NoSide {
			side = n
		}
	}
	at := func(l body.Landmark) video.Point { return o.Points[l.On(side)] }
	hip, knee, ankle, heel, toe := at(body.LeftHip), at(body.LeftKnee), at(body.LeftAnkle), at(body.LeftHeel), at(body.LeftToe)
	far := o.Points[body.LeftHip.On(side.Other())]
	up, down := -math.Pi/2, math.Pi/2
	angle := func(vertex video.Point, from float64, to video.Point) {
		if !vertex.Seen() || !to.Seen() {
			return
		}
		a := video.Angle{Vertex: vertex, Side: side, From: from, To: math.Atan2(to.YPX-vertex.YPX, to.XPX-vertex.XPX), ValueDeg: e.Value,
			LengthPX: 0.85 * math.Hypot(to.XPX-vertex.XPX, to.YPX-vertex.YPX)}
		a.To = a.From + math.Remainder(a.To-a.From, 2*math.Pi)
		a.LabelLeft = math.Cos(a.To) > math.Cos(a.From)
		o.Angles = append(o.Angles, a)
	}
	level := func(of, toward video.Point) float64 {
		if toward.XPX < of.XPX {
			return math.Pi
		}
		return 0
	}
	switch e.Condition.Measure {
	case "thigh_adduction", "hip_adduction", "thigh_angle_at_toe_off":
		angle(hip, down, knee)
	case "pelvic_drop":
		angle(hip, level(hip, far), far)
	case "trunk_lean", "lateral_trunk_lean":
		if a, ok := video.TrunkLean(&o.Points, e.Value); ok {
			a.Name = ""
			o.Angles = append(o.Angles, a)
		}
	case "hip_extension_at_toe_off":
		if a, ok := video.TrunkLean(&o.Points, 0); ok {
			angle(hip, a.To+math.Pi, knee)
		}
	case "shank_angle_at_contact":
		angle(ankle, up, knee)
	case "ankle_dorsiflexion_peak":
		angle(ankle, up, knee)
	case "knee_flexion_at_contact", "knee_flexion_peak_stance", "knee_frontal_angle":
		if a, ok := video.KneeFlexion(&o.Points, side, e.Value); ok {
			a.Name = ""
			o.Angles = append(o.Angles, a)
		}
	case "foot_angle_at_contact":
		angle(heel, level(heel, toe), toe)
	case "overstride", "heel_to_com_at_contact":
		if hip.Seen() && far.Seen() && heel.Seen() {
			x := (hip.XPX + far.XPX) / 2
			y := math.Max(heel.YPX, toe.YPX) + 14*scale
			o.Marks = append(o.Marks, video.Mark{Points: []video.Point{{XPX: x, YPX: (hip.YPX + far.YPX) / 2, Confidence: 1}, {XPX: x, YPX: y, Confidence: 1}}},
				video.Mark{Points: []video.Point{{XPX: x, YPX: y, Confidence: 1}, {XPX: heel.XPX, YPX: y, Confidence: 1}}})
		}
	}
}
