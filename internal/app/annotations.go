package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"

	"gaitwright/internal/store"
	"gaitwright/internal/video"
)

// Lines and angles that a person draws on the frames of a clip. They are one record
// of the clip of a result, of a kind of its own beside the corrections: they change
// no measure.
const docDrawings = "drawings"

// drawingsList names the list in which drawings are undone: those of one clip alone.
func drawingsList(id string, clip int) string { return editsOwner(id, clip) + "/drawings" }

// Bounds of what is drawn on one clip.
const (
	maxMarks    = 200
	maxMarkText = 120
)

// The kinds of mark.
const (
	markLine  = "line"
	markAngle = "angle"
)

// Drawing is a line or an angle drawn by hand. An angle's middle point is its vertex.
// Points are in pixels of the film from its top left corner.
type Drawing struct {
	Kind   string       `json:"kind"` // line or angle
	Frame  int          `json:"frame"`
	Stays  bool         `json:"stays"` // drawn on every frame, not on Frame alone
	Points [][2]float64 `json:"points"`
	Text   string       `json:"text"`
}

// PageDrawing is a mark with what it measures.
type PageDrawing struct {
	Drawing
	// AngleDeg is the angle at the vertex, 0 to 180; of a line the angle to the
	// horizontal, 0 to 90: the world's where the camera's roll is known, else the
	// picture's.
	AngleDeg float64 `json:"angle_deg"`
	// LengthPX is a line's; LengthM where the scale is known, with one standard
	// deviation of the scale and of placing two points by a pixel.
	LengthPX  *float64 `json:"length_px"`
	LengthM   *float64 `json:"length_m"`
	LengthMSD *float64 `json:"length_m_sd"`
	Label     string   `json:"label"` // as it is written into pictures
}

// PageDrawings are the marks on one clip: GET /api/results/{id}/clips/{n}/drawings.
type PageDrawings struct {
	Version int64         `json:"version"`
	Marks   []PageDrawing `json:"marks"`
	// PixelsPerM is the scale in the runner's plane; null where it is not known,
	// and ScaleText says where it came from.
	PixelsPerM *float64 `json:"pixels_per_m"`
	RelativeSD *float64 `json:"scale_relative_sd"`
	ScaleText  string   `json:"scale_text"`
	// RollDeg is how far the picture has to be turned clockwise to be level.
	RollDeg float64 `json:"roll_deg"`
	Undo    string  `json:"undo"`
	Redo    string  `json:"redo"`
}

// PageDrawingsChange is what the page sends: PUT the same.
type PageDrawingsChange struct {
	Version int64     `json:"version"` // that was read
	What    string    `json:"what"`    // one sentence for the journal
	Marks   []Drawing `json:"marks"`
}

// check refuses marks that cannot be of the clip, and tidies their texts.
func checkMarks(marks []Drawing, c *Clip) error {
	if len(marks) > maxMarks {
		return problem(KindUsage, "", "Remove some that are not needed.", "there are %d drawings; a clip holds at most %d", len(marks), maxMarks)
	}
	last := c.FirstFrame + c.Mended.Frames() - 1
	w, h := float64(c.Info.WidthPX), float64(c.Info.HeightPX)
	for i := range marks {
		m := &marks[i]
		want := map[string]int{markLine: 2, markAngle: 3}[m.Kind]
		wrong := func(format string, args ...any) error {
			return problem(KindUsage, "", "Draw it again.", "drawing %d %s", i+1, fmt.Sprintf(format, args...))
		}
		switch {
		case want == 0:
			return wrong("is a %q; it must be a line or an angle", clean(m.Kind, 20))
		case len(m.Points) != want:
			return wrong("has %d points; a %s has %d", len(m.Points), m.Kind, want)
		case m.Frame < c.FirstFrame || m.Frame > last:
			return wrong("is on frame %d; the clip has frames %d to %d", m.Frame, c.FirstFrame, last)
		}
		for k, p := range m.Points {
			// NaN fails this.
			if !(p[0] >= 0 && p[0] <= w && p[1] >= 0 && p[1] <= h) {
				return wrong("has a point outside the picture of %g × %g pixels", w, h)
			}
			if k > 0 && math.Hypot(p[0]-m.Points[k-1][0], p[1]-m.Points[k-1][1]) < 1 {
				return wrong("has two points in one place")
			}
			m.Points[k] = [2]float64{math.Round(p[0]*100) / 100, math.Round(p[1]*100) / 100}
		}
		m.Text = clean(m.Text, maxMarkText)
	}
	return nil
}

// placingSDPX is how well a point is placed by hand, in pixels of the film: our own
// choice, about the width of an edge.
const placingSDPX = 1.0

// measured works out what a mark measures.
func (m Drawing) measured(c *Clip) PageDrawing {
	p := PageDrawing{Drawing: m}
	between := func(i, j int) (dx, dy float64) {
		return m.Points[j][0] - m.Points[i][0], m.Points[j][1] - m.Points[i][1]
	}
	if m.Kind == markAngle {
		ax, ay := between(1, 0)
		bx, by := between(1, 2)
		p.AngleDeg = *number(math.Abs(math.Atan2(ax*by-ay*bx, ax*bx+ay*by))*180/math.Pi, 2)
		p.Label = fmt.Sprintf("%.1f°", p.AngleDeg)
	} else {
		dx, dy := between(0, 1)
		length := math.Hypot(dx, dy)
		// The direction once the picture is turned level; lines have no head and no tail.
		turn := math.Mod(math.Atan2(dy, dx)*180/math.Pi+c.Info.RollDeg+540, 180)
		p.AngleDeg = *number(math.Min(turn, 180-turn), 2)
		p.LengthPX = number(length, 2)
		p.Label = fmt.Sprintf("%.0f px, %.1f°", length, p.AngleDeg)
		if s := c.Info.Scale; s.Known() {
			metres := length / s.PixelsPerM
			p.LengthM = number(metres, 4)
			p.LengthMSD = number(metres*math.Hypot(s.RelativeSD, math.Sqrt2*placingSDPX/length), 4)
			p.Label = fmt.Sprintf("%.1f cm, %.1f°", 100*metres, p.AngleDeg)
		}
	}
	if m.Text != "" {
		p.Label = m.Text + ": " + p.Label
	}
	return p
}

// on tells whether a mark is drawn on a frame of the film.
func (m Drawing) on(frame int) bool { return m.Stays || m.Frame == frame }

// drawn prepares the marks of one frame for a picture.
func drawnMarks(marks []Drawing, c *Clip, frame int, at lens) []video.Mark {
	var out []video.Mark
	for _, m := range marks {
		if !m.on(frame) {
			continue
		}
		v := video.Mark{Label: m.measured(c).Label}
		for _, p := range m.Points {
			x, y := at.place(p[0], p[1])
			v.Points = append(v.Points, video.Point{XPX: x, YPX: y, Confidence: 1})
		}
		out = append(out, v)
	}
	return out
}

func readDrawings(r store.Reader, id string, n int) (store.Document, []Drawing, error) {
	d, err := r.Document(docDrawings, editsOwner(id, n))
	if errors.Is(err, store.ErrNotFound) {
		return store.Document{Kind: docDrawings, Owner: editsOwner(id, n)}, nil, nil
	}
	if err != nil {
		return d, nil, err
	}
	var body struct {
		Marks []Drawing `json:"marks"`
	}
	if err := json.Unmarshal(d.Body, &body); err != nil {
		return d, nil, fmt.Errorf("the drawings on clip %d of result %s cannot be read: %w", n, id, err)
	}
	for _, m := range body.Marks {
		if len(m.Points) != map[string]int{markLine: 2, markAngle: 3}[m.Kind] {
			return d, nil, fmt.Errorf("the drawings on clip %d of result %s cannot be read: a %q of %d points", n, id, m.Kind, len(m.Points))
		}
	}
	return d, body.Marks, nil
}

// marksOf returns the marks on one clip of a result.
func (st *Studio) marksOf(ctx context.Context, id string, n int) (marks []Drawing, err error) {
	err = st.readRecords(ctx, func(r store.Reader) (err error) {
		_, marks, err = readDrawings(r, id, n)
		return err
	})
	return marks, err
}

// Drawings returns the marks on one clip of a result.
func (st *Studio) Drawings(ctx context.Context, id string, n int) (PageDrawings, error) {
	s, c, err := st.shown(PageShown{Result: id, Clip: n})
	if err != nil {
		return PageDrawings{}, err
	}
	kept, err := st.records()
	if err != nil {
		return PageDrawings{}, err
	}
	out := PageDrawings{Marks: []PageDrawing{}, ScaleText: pageWords(c.Info.Scale.Description), RollDeg: c.Info.RollDeg}
	if c.Info.Scale.Known() {
		out.PixelsPerM, out.RelativeSD = number(c.Info.Scale.PixelsPerM, 4), number(c.Info.Scale.RelativeSD, 5)
	}
	var marks []Drawing
	err = kept.Read(ctx, func(r store.Reader) error {
		d, all, err := readDrawings(r, s.ID, n)
		out.Version, marks = d.Version, all
		return err
	})
	if err == nil {
		out.Undo, out.Redo, err = kept.Undoable(ctx, drawingsList(s.ID, n))
	}
	for _, m := range marks {
		out.Marks = append(out.Marks, m.measured(c))
	}
	return out, recordProblem(err, "")
}

// carryDrawings gives a fresh result what was drawn on its clips: of each clip what
// is drawn in the newest other result of the visit that has it. Marks on frames that
// were not measured this time stay with that result.
func carryDrawings(w store.Writer, clips []clipTold, visit, id string) error {
	results, err := w.ResultsOf(visit)
	if err != nil {
		return err
	}
	for n, c := range clips {
		if c.ID == "" || !c.Film {
			continue
		}
		for _, r := range results {
			at := slices.Index(r.ClipIDs, c.ID)
			if r.ID == id || at < 0 {
				continue
			}
			_, marks, err := readDrawings(w, r.ID, at)
			if err != nil {
				return err
			}
			last := c.First + c.Frames - 1
			marks = slices.DeleteFunc(marks, func(m Drawing) bool { return !m.Stays && (m.Frame < c.First || m.Frame > last) })
			if len(marks) > 0 {
				for i := range marks {
					marks[i].Frame = min(max(marks[i].Frame, c.First), last)
				}
				d := store.Document{Kind: docDrawings, Owner: editsOwner(id, n), VisitID: visit, Body: drawingsBody(marks)}
				if err := w.PutDocument(&d); err != nil {
					return err
				}
			}
			break
		}
	}
	return nil
}

// drawingsBody is how marks are kept.
func drawingsBody(marks []Drawing) json.RawMessage {
	return rawJSON(struct {
		Marks []Drawing `json:"marks"`
	}{emptyNotNil(marks)})
}

// ChangeDrawings replaces the marks on one clip of a result.
func (st *Studio) ChangeDrawings(ctx context.Context, who, id string, n int, ask PageDrawingsChange) (PageDrawings, error) {
	s, c, err := st.shown(PageShown{Result: id, Clip: n})
	if err != nil {
		return PageDrawings{}, err
	}
	if err := checkMarks(ask.Marks, c); err != nil {
		return PageDrawings{}, err
	}
	what := clean(ask.What, maxWhat)
	if what == "" {
		what = "Changed the drawings"
	}
	kept, err := st.records()
	if err != nil {
		return PageDrawings{}, err
	}
	err = kept.Change(ctx, store.Deed{Who: clean(who, maxWho), What: what, VisitID: drawingsList(s.ID, n)}, func(w store.Writer) error {
		d, _, err := readDrawings(w, s.ID, n)
		if err != nil {
			return err
		}
		if d.Version != ask.Version {
			return stale("What is drawn on this clip", d.Version)
		}
		d.VisitID = s.VisitID
		d.Body = drawingsBody(ask.Marks)
		return w.PutDocument(&d)
	})
	if err != nil {
		return PageDrawings{}, recordProblem(err, "")
	}
	st.tellDrawn(s, who)
	return st.Drawings(ctx, s.ID, n)
}

// UndoDrawings takes back what was drawn last on one clip, or does it again.
func (st *Studio) UndoDrawings(ctx context.Context, who, id string, n int, again bool) (PageDrawings, error) {
	s, _, err := st.shown(PageShown{Result: id, Clip: n})
	if err != nil {
		return PageDrawings{}, err
	}
	kept, err := st.records()
	if err != nil {
		return PageDrawings{}, err
	}
	do, word := kept.Undo, "take back"
	if again {
		do, word = kept.Redo, "do again"
	}
	if _, err := do(ctx, drawingsList(s.ID, n), clean(who, maxWho)); errors.Is(err, store.ErrNothing) {
		return PageDrawings{}, problem(KindUsage, "", "", "there is nothing to %s", word)
	} else if err != nil {
		return PageDrawings{}, recordProblem(err, "")
	}
	st.tellDrawn(s, who)
	return st.Drawings(ctx, s.ID, n)
}

func (st *Studio) tellDrawn(s *Session, who string) {
	if s.VisitID != "" {
		st.tellVisit(s.VisitID, who)
	}
}
