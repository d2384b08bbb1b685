package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/event"
	"gaitwright/gait/track"
)

// landmarkOfPresence is the landmark by which a frame counts as showing the
// runner.
const landmarkOfPresence = body.LeftHip

// Measure is the main job: it measures the files of one runner together. It
// keeps nothing; Save does.
func (st *Studio) Measure(ctx context.Context, r Request, progress Progress) (*Session, error) {
	if err := r.check(); err != nil {
		return nil, err
	}
	beltNote, err := r.settleBelt()
	if err != nil {
		return nil, err
	}
	edits := map[string]Edits{}
	if r.EditsFile != "" {
		if edits, err = readEdits(r.EditsFile); err != nil {
			return nil, err
		}
	}
	s := &Session{Created: st.now(), Studio: r.Studio, Runner: r.Runner, Version: Version, Asked: &r}
	var takes []take
	for i, file := range r.Files {
		t := take{file: file, view: r.viewOf(i), asked: &r, pixelsPerM: r.pixelsPerMOf(i), edits: edits[filepath.Base(file)]}
		if carried, ok := r.Edits[filepath.Base(file)]; ok {
			t.edits = carried
		}
		t.stickers = r.Stickers[i]
		takes = append(takes, t)
	}
	if err := st.measure(ctx, s, takes, progress); err != nil {
		return nil, err
	}
	if beltNote != "" {
		s.Notes = append(s.Notes, beltNote)
	}
	if r.SpeedMPS == 0 && s.anyFilm() {
		s.Notes = append(s.Notes, "no belt speed was given, so step length and other lengths that rest on it are not: give --speed")
	}
	progress.Done()
	return s, nil
}

// take is one file to be measured, with what is known of it.
type take struct {
	file       string
	view       clip.View
	asked      *Request
	pixelsPerM float64 // by a known length; 0 where none was given
	edits      Edits
	name       string         // what the analyst calls it; empty for the file's own name
	hash, id   string         // of a clip of a visit
	stickers   []StickerPoint // to be followed
	followed   keptStickers   // that were followed before
}

// measure measures files of one runner together and adds them to the session. A
// file that gives no result does not take the others with it.
func (st *Studio) measure(ctx context.Context, s *Session, takes []take, progress Progress) error {
	own, ownErr := st.OwnErrors()
	var failed error
	without := func(err error) error {
		if len(takes) == 1 || KindOf(err) != KindNoResult {
			return err
		}
		if failed == nil {
			failed = err
		}
		s.Notes = append(s.Notes, "without a result: "+strings.NewReplacer(".\n  ", ". ", "\n  ", ". ").Replace(err.Error()))
		return nil
	}
	type pending struct {
		clip  *Clip
		force *event.Series
		take
	}
	var read []pending
	for _, t := range takes {
		t.asked.own = own
		c, force, err := readClip(ctx, t.file, t.view, t.asked, progress)
		if err != nil {
			if err := without(nameIn(err, t.file, t.name)); err != nil {
				return err
			}
			continue
		}
		c.takeStickers(t.followed.Paths, t.followed.TimeS)
		if len(t.stickers) > 0 {
			if err := c.followedFor(ctx, t.stickers, progress); err != nil {
				return nameIn(err, t.file, t.name)
			}
		}
		c.Edits, c.Name, c.Hash, c.ID = t.edits, t.name, t.hash, t.id
		if t.asked != s.Asked {
			c.Asked = t.asked
		}
		read = append(read, pending{c, force, t})
	}
	// Side views first: what they tell of the runner's size sets the scale of
	// the others. The order of the files is kept in the session.
	var known *ruler
	finished := map[*Clip]bool{}
	for _, sagittal := range []bool{true, false} {
		for _, p := range read {
			if p.clip.Info.View.Sagittal() != sagittal {
				continue
			}
			if err := ctx.Err(); err != nil {
				return err
			}
			size, err := p.clip.finish(p.asked, p.force, p.pixelsPerM, known)
			if err != nil {
				if err := without(nameIn(err, p.file, p.name)); err != nil {
					return err
				}
				continue
			}
			finished[p.clip] = true
			if known == nil {
				known = size
			}
		}
	}
	for _, p := range read {
		if finished[p.clip] {
			s.Clips = append(s.Clips, p.clip)
		}
	}
	if len(s.Clips) == 0 {
		return failed
	}
	if ownErr != nil {
		s.Notes = append(s.Notes, "the published errors are used: "+ownErr.Error())
	}
	return nil
}

func (s *Session) anyFilm() bool {
	for _, c := range s.Clips {
		if c.IsVideo() {
			return true
		}
	}
	return false
}

// check refuses a request that cannot be meant.
func (r *Request) check() error {
	if len(r.Files) == 0 {
		return problem(KindUsage, "", "Name a film or a marker file.", "there is nothing to measure")
	}
	if len(r.Views) > len(r.Files) {
		return problem(KindUsage, "", "Give one view for each file, in the same order.", "%d views were given for %d files", len(r.Views), len(r.Files))
	}
	if r.EndS > 0 && r.EndS <= r.StartS {
		return problem(KindUsage, "", "", "--end (%.2f s) must come after --start (%.2f s)", r.EndS, r.StartS)
	}
	for _, q := range []struct {
		what     string
		v        float64
		low, top float64
		unit     string
	}{
		{"the speed", r.SpeedMPS, 0.8, 12, "m/s"},
		{"the height", r.Runner.HeightM, 0.8, 2.5, "m"},
		{"the leg length", r.Runner.LegLengthM, 0.4, 1.4, "m"},
		{"the mass", r.Runner.MassKG, 15, 300, "kg"},
		{"the camera's distance", r.CameraDistanceM, 1, 50, "m"},
		{"the size of the camera's turn", math.Abs(r.YawDeg), 0, 35, "degrees"},
		{"the picture's turn", math.Abs(r.RollDeg), 0, 45, "degrees"},
		{"the incline", math.Abs(r.InclinePct), 0, 45, "%"},
		{"the capture rate", r.CaptureRateHz, 20, 2000, "frames/s"},
	} {
		if q.v != 0 && !(q.v >= q.low && q.v <= q.top) {
			return problem(KindUsage, "", "Check the number and its unit.", "%s of %.4g %s cannot be right (%.4g to %.4g)", q.what, q.v, q.unit, q.low, q.top)
		}
	}
	files := r.Files
	if r.StaticFile != "" {
		files = append(slices.Clone(files), r.StaticFile)
	}
	for _, f := range files {
		i, err := os.Stat(f)
		switch {
		case errors.Is(err, fs.ErrNotExist):
			return &Problem{Kind: KindUsage, File: f, What: "there is no such file", Mend: "Check the name and the folder.", Err: err}
		case err != nil:
			return &Problem{Kind: KindUsage, File: f, What: err.Error(), Err: err}
		case i.IsDir():
			return problem(KindUsage, f, "Name the files in it.", "is a folder")
		case i.Size() == 0:
			return problem(KindNoResult, f, "Copy or export it again.", "the file is empty")
		}
	}
	return nil
}

// readClip reads one file of any kind as far as its raw track and view.
func readClip(ctx context.Context, file string, view clip.View, r *Request, progress Progress) (c *Clip, force *event.Series, err error) {
	path, err := filepath.Abs(file)
	if err != nil {
		return nil, nil, err
	}
	switch formatOf(file) {
	case formatC3D, formatTRC:
		c, force, err = trackMarkers(ctx, file, r, progress)
	case formatCSV, formatJSON:
		c, err = readKeypoints(file, r)
	default:
		c, err = trackFilm(ctx, file, view, r, progress)
	}
	if err != nil {
		return nil, nil, err
	}
	c.Path = file
	if err := settleClip(c, view, r); err != nil {
		return nil, nil, err
	}
	c.Path = path
	return c, force, nil
}

// settleClip checks what every kind of clip must have: a view and a clock that
// can be believed.
func settleClip(c *Clip, view clip.View, r *Request) error {
	if c.Info.View == clip.Spatial {
		if view != clip.UnknownView && view != clip.Spatial {
			c.Warnings = append(c.Warnings, fmt.Sprintf("the view %q was given for a file that has all three axes; it is not needed", view))
		}
	} else if c.Raw.Space == track.Picture {
		if err := settleView(c, view); err != nil {
			return err
		}
	}
	return checkClock(c, r)
}
