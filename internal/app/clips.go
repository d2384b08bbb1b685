package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"gaitwright/gait/clip"
	"gaitwright/gait/exam"
	"gaitwright/gait/retest"
	"gaitwright/internal/pose"
	"gaitwright/internal/store"
	"gaitwright/internal/video"
)

// clipRecord is a clip of a visit with what is said of it.
type clipRecord struct {
	store.Clip
	facts   clipFacts
	probe   clipProbe
	tracked bool // its landmarks were found
	gone    bool // its file was looked for and is not there
	// stickers is a mark of the paths of stickers that a measurement uses; empty
	// where there are none.
	stickers string
}

// clipFacts is what the analyst says of a clip, as it is kept. Rev counts the
// changes of it and of the clip's name: a page that read one is not refused
// because the program itself wrote the clip's landmarks meanwhile.
type clipFacts struct {
	Rev int64 `json:"rev"`
	PageClipFacts
}

// clipProbe is what a file says of itself, as it is kept.
type clipProbe struct {
	Format        string   `json:"format"` // film, c3d, trc, csv or json
	WidthPX       int      `json:"width_px,omitempty"`
	HeightPX      int      `json:"height_px,omitempty"`
	RateHz        float64  `json:"rate_hz,omitempty"`
	DurationS     float64  `json:"duration_s,omitempty"`
	Frames        int      `json:"frames,omitempty"`
	CaptureRateHz float64  `json:"capture_rate_hz,omitempty"` // that the file records
	Warnings      []string `json:"warnings,omitempty"`
}

func parseClip(c store.Clip) (clipRecord, error) {
	out := clipRecord{Clip: c}
	if err := json.Unmarshal(c.Facts, &out.facts); err != nil {
		return out, fmt.Errorf("clip %s: what is said of it cannot be read: %w", c.ID, err)
	}
	if len(c.Probe) == 0 {
		return out, nil // nothing is known of the file yet
	}
	if err := json.Unmarshal(c.Probe, &out.probe); err != nil {
		return out, fmt.Errorf("clip %s: what the file says of itself cannot be read: %w", c.ID, err)
	}
	return out, nil
}

// put writes the clip with its facts counted on.
func (c *clipRecord) put(w store.Writer) error {
	c.facts.Rev++
	var err error
	if c.Facts, err = json.Marshal(c.facts); err != nil {
		return err
	}
	if c.Probe, err = json.Marshal(c.probe); err != nil {
		return err
	}
	return w.PutClip(&c.Clip)
}

// said is what is said of the clip as far as a measurement rests on it.
func (c *clipRecord) said() string {
	f := c.facts.PageClipFacts
	f.Shoes, f.Click = "", ""
	b, err := json.Marshal(f)
	if err != nil {
		panic("app: " + err.Error()) // numbers were checked when they were written
	}
	return string(b)
}

func (c *clipRecord) isFilm() bool { return c.Kind == "film" }

// aside tells whether the clip does not show running, so that it is not measured
// by itself: a standing trial, or a test of the exam.
func (c *clipRecord) aside() bool { return c.facts.StaticOf != "" || c.facts.Test != "" }

// view is from where the clip was seen; empty where it is not said.
func (c *clipRecord) view() string {
	if c.Kind == "markers" {
		return clip.Spatial.String()
	}
	return c.facts.View
}

// missing is what the clip lacks.
func (c *clipRecord) missing(f *visitRecords) []PageMissing {
	out := []PageMissing{}
	if c.aside() {
		return out
	}
	add := func(holds bool, code string, needed bool, text string) {
		if holds {
			out = append(out, PageMissing{Code: code, Text: c.Name + ": " + text, Needed: needed, Clip: c.ID})
		}
	}
	t := c.facts
	treadmill := !t.Overground && c.Kind != "markers"
	add(c.gone, "gone", true, "its file is gone from the studio's folder; take the same file in again.")
	add(c.Kind != "markers" && t.View == "", "view", true, "say from where it was filmed.")
	add(treadmill && t.SpeedMPS == nil && t.Belt == nil, "speed", true, "give the belt speed; lengths and scale rest on it.")
	add(c.isFilm() && t.Scale == nil && f.runner.HeightM == 0 && f.runner.LegLengthM == 0, "scale", false,
		"set the scale by two clicks on a known length, or give the runner's height.")
	add(treadmill && c.isFilm() && t.Belt == nil, "belt", false, "check the belt speed by the passes of its seam; a display may be off by several percent.")
	add(c.isFilm() && c.probe.RateHz > 0 && c.probe.RateHz < 50 && t.CaptureRateHz == nil && c.probe.CaptureRateHz == 0, "rate", false,
		fmt.Sprintf("it has %.0f frames a second, too few for contact times; film at 120 or more, or give the rate at which it was filmed.", c.probe.RateHz))
	return out
}

// page is the clip as the browser gets it.
func (c *clipRecord) page(f *visitRecords) PageVisitClip {
	p := PageVisitClip{ID: c.ID, Version: c.facts.Rev, VisitID: c.VisitID, Name: c.Name, Kind: c.Kind, Bytes: c.Bytes, Facts: c.facts.PageClipFacts,
		WidthPX: c.probe.WidthPX, HeightPX: c.probe.HeightPX, FrameRateHz: known(c.probe.RateHz), DurationS: known(c.probe.DurationS), Frames: c.probe.Frames,
		Missing: c.missing(f), Track: c.trackState(f.jobs), Warnings: emptyNotNil(c.probe.Warnings)}
	if c.probe.CaptureRateHz > 0 && p.Facts.CaptureRateHz == nil {
		p.Warnings = append(slices.Clone(p.Warnings), fmt.Sprintf("The file says that it was filmed at %.0f frames a second.", c.probe.CaptureRateHz))
	}
	if c.facts.Belt.ready() {
		if b, err := c.pageBelt(&c.facts.PageClipFacts); err == nil {
			p.Belt = &b
		}
	}
	if c.gone {
		p.Problem = "The file of this clip is gone from the studio's folder: take it in again."
	} else if c.isFilm() {
		url := "/api/clips/" + c.ID + "/poster"
		p.Poster = &url
	}
	return p
}

// path is where the clip's file lies; a Problem where it is gone.
func (c *clipRecord) path(files store.FileKeeper) (string, error) {
	path, err := files.Path(c.Hash)
	if err == nil {
		_, err = os.Stat(path)
	}
	if err != nil {
		return "", fileGone(c.Name, err)
	}
	return path, nil
}

// fileGone says of a clip that the studio no longer has its file.
func fileGone(name string, err error) *Problem {
	return &Problem{Kind: KindNoResult, File: name, What: "the file of this clip is gone from the studio's folder", Mend: "Take it in again at the station Film.", Err: err}
}

// pictureProblem is why a clip's film cannot be seen, under the name by which the
// analyst knows it; nil for nil.
func (c *Clip) pictureProblem(err error) error {
	switch {
	case err == nil:
		return nil
	case c.Hash == "":
		return videoProblem(c.Path, err)
	case errors.Is(err, video.ErrMissing):
		return fileGone(c.name(), err)
	}
	return nameIn(videoProblem(c.Path, err), c.Path, c.name())
}

// trackState tells how far the finding of landmarks is.
func (c *clipRecord) trackState(jobs []store.Job) string {
	state := "none"
	if c.tracked {
		state = "done"
	}
	for _, j := range jobs {
		ask, err := parseMeasureJob(j)
		if err != nil || !slices.Contains(ask.Clips, c.ID) {
			continue
		}
		if j.State == store.JobFailed && state == "done" {
			continue
		}
		state = string(j.State)
	}
	return state
}

// check refuses what cannot be true of the clip. others are the clips of its
// visit.
func (t *PageClipFacts) check(e *entries, c *clipRecord, others []clipRecord) {
	e.choice("facts.view", "the view", t.View, "", "left", "right", "rear", "front", "spatial")
	if t.View == "spatial" && c.isFilm() {
		e.fail("facts.view", "Say left, right, rear or front.", "a film does not show all three axes")
	}
	e.number("facts.speed_mps", "a speed", t.SpeedMPS, 0.8, 12, " m/s")
	e.number("facts.incline_percent", "an incline", t.InclinePercent, -45, 45, " %")
	e.number("facts.capture_rate_hz", "a capture rate", t.CaptureRateHz, 20, 2000, " frames/s")
	e.number("facts.roll_deg", "the picture's turn", t.RollDeg, -45, 45, " degrees")
	e.number("facts.yaw_deg", "the camera's turn", t.YawDeg, -35, 35, " degrees")
	e.number("facts.camera_distance_m", "a camera distance", t.CameraDistanceM, 1, 50, " m")
	e.choice("facts.click", "what is said of the click", t.Click, "", retest.WithClick, retest.WithoutClick)
	e.prose("facts.shoes", "what is said of the shoes", &t.Shoes, maxLine)
	if t.Model != "" {
		if _, err := pose.ParseModel(t.Model); err != nil {
			e.fail("facts.model", "", "the model is %q; it must be lite, full or heavy", clean(t.Model, 40))
		}
	}
	slow := c.slowdown(t)
	if slow < 0.97 {
		e.fail("facts.capture_rate_hz", "Give the rate at which the camera filmed.", "the film runs at %.0f frames a second, faster than the capture rate %.0f", c.probe.RateHz, orZero(t.CaptureRateHz))
		slow = 1
	}
	lastS := c.probe.DurationS / slow
	if lastS <= 0 {
		lastS = 24 * 3600
	}
	e.number("facts.start_s", "a start", t.StartS, 0, lastS, " s")
	e.number("facts.end_s", "an end", t.EndS, 0, lastS+0.5, " s")
	if s, end := orZero(t.StartS), orZero(t.EndS); end > 0 && end <= s {
		e.fail("facts.end_s", "", "the end (%.2f s) must come after the start (%.2f s)", end, s)
	}
	t.checkPlaces(e, c, lastS)
	t.checkBelt(e, c, slow, lastS)
	if t.Test != "" {
		if k, ok := exam.Lookup(t.Test); !ok || k.Film == "" || !c.isFilm() {
			e.fail("facts.test", "Choose the single-leg squat or the step-down.", "the test %q is not read from this file", clean(t.Test, 40))
		}
	}
	if t.StaticOf != "" {
		i := slices.IndexFunc(others, func(o clipRecord) bool { return o.ID == t.StaticOf })
		switch {
		case t.StaticOf == c.ID || i < 0:
			e.fail("facts.static_of", "Choose another clip of this visit.", "a standing trial must belong to another clip of the visit")
		case c.Kind != "markers" || others[i].Kind != "markers":
			e.fail("facts.static_of", "", "only marker files have a standing trial")
		case others[i].facts.StaticOf != "":
			e.fail("facts.static_of", "", "%s is a standing trial itself", others[i].Name)
		}
	}
}

func (t *PageClipFacts) checkPlaces(e *entries, c *clipRecord, lastS float64) {
	inside := func(x, y float64) bool {
		return x >= 0 && y >= 0 && x <= float64(max(1, c.probe.WidthPX)) && y <= float64(max(1, c.probe.HeightPX))
	}
	if s := t.Scale; s != nil {
		switch {
		case !c.isFilm():
			e.fail("facts.scale", "", "only a film has a picture to set the scale in")
		case !inside(s.X1, s.Y1) || !inside(s.X2, s.Y2):
			e.fail("facts.scale", "Click both ends in the picture.", "the ends of the known length lie outside the picture of %d × %d pixels", c.probe.WidthPX, c.probe.HeightPX)
		case !(s.LengthM >= 0.1 && s.LengthM <= 10):
			e.fail("facts.scale.length_m", "A stick of a metre or more in the runner's plane is best.", "a known length of %.4g m cannot be used (0.1 to 10 m)", s.LengthM)
		case s.pixels() < 20:
			e.fail("facts.scale", "Take a longer one.", "the known length covers only %.0f pixels; that is too rough", s.pixels())
		case s.Frame < 0 || s.Frame >= max(1, c.probe.Frames):
			e.fail("facts.scale.frame", "", "the film has %d frames, counted from 0; there is no frame %d", c.probe.Frames, s.Frame)
		}
	}
	if p := t.Point; p != nil {
		switch {
		case !c.isFilm():
			e.fail("facts.point", "", "only a film has a picture to point into")
		case !inside(p.X, p.Y):
			e.fail("facts.point", "Click on the middle of the runner's body.", "the place that was pointed at lies outside the picture")
		case !(p.TimeS >= 0 && p.TimeS <= lastS):
			e.fail("facts.point.time_s", "", "the place was pointed at in %.2f s, and the film ends at %.2f s", p.TimeS, lastS)
		}
	}
}

// maxSeamTimes bounds the passes of the belt's seam.
const maxSeamTimes = 500

func (t *PageClipFacts) checkBelt(e *entries, c *clipRecord, slow, lastS float64) {
	b := t.Belt
	if b == nil {
		return
	}
	n := len(b.SeamTimesS)
	switch {
	case t.Overground:
		e.fail("facts.belt", "Leave out the belt, or say that it was a treadmill.", "over ground there is no belt")
	case n > maxSeamTimes:
		e.fail("facts.belt.seam_times_s", "Ten passes are plenty.", "%d passes are more than %d", n, maxSeamTimes)
	case n > 0 && b.SeamTimesS[n-1] > lastS+0.5:
		e.fail("facts.belt.seam_times_s", "Read the times from this film.", "the film ends at %.2f s, before the last pass at %.2f s", lastS, b.SeamTimesS[n-1])
	case n < 2:
		// One click is a beginning; the check speaks from the second on.
		if !(b.LengthM == 0 || b.LengthM >= 1 && b.LengthM <= 20) {
			e.fail("facts.belt.length_m", "Measure it once around.", "a belt length of %.4g m cannot be right (1 to 20 m)", b.LengthM)
		}
	default:
		if _, err := c.beltSpeed(t); err != nil && b.LengthM != 0 {
			p := *err.(*Problem)
			p.Field = "facts.belt"
			if e.err == nil {
				e.err = &p
			}
		}
	}
}

func (s *PageClipScale) pixels() float64 { return math.Hypot(s.X2-s.X1, s.Y2-s.Y1) }

// slowdown is how many times slower the file's clock ran than the world.
func (c *clipRecord) slowdown(t *PageClipFacts) float64 {
	rate := orZero(t.CaptureRateHz)
	if rate == 0 {
		rate = c.probe.CaptureRateHz
	}
	if rate == 0 || c.probe.RateHz == 0 || math.Abs(rate/c.probe.RateHz-1) < 0.03 {
		return 1
	}
	return rate / c.probe.RateHz
}

// beltSpeed is the true belt speed by the passes of the seam.
func (c *clipRecord) beltSpeed(t *PageClipFacts) (BeltSpeed, error) {
	return BeltSeam{LengthM: t.Belt.LengthM, TimesS: t.Belt.SeamTimesS, FrameRateHz: c.probe.RateHz * c.slowdown(t)}.Speed()
}

// ready tells whether the passes of the seam give a speed.
func (b *PageClipBelt) ready() bool { return b != nil && b.LengthM > 0 && len(b.SeamTimesS) >= 2 }

// openClip reads a clip and the visit it belongs to.
func openClip(r store.Reader, id string) (clipRecord, visitRecords, error) {
	c, err := r.Clip(id)
	if err != nil {
		return clipRecord{}, visitRecords{}, missingRecord(err, "clip")
	}
	f, _, err := openVisit(r, c.VisitID)
	if err != nil {
		return clipRecord{}, f, err
	}
	for _, one := range f.clips {
		if one.ID == id {
			return one, f, nil
		}
	}
	return clipRecord{}, f, missingRecord(store.ErrNotFound, "clip")
}

// Clip gives one clip of a visit.
func (st *Studio) Clip(ctx context.Context, id string) (PageVisitClip, error) {
	kept, err := st.records()
	if err != nil {
		return PageVisitClip{}, err
	}
	var p PageVisitClip
	err = kept.Read(ctx, func(r store.Reader) error {
		c, f, err := openClip(r, id)
		if err == nil {
			_, err := c.path(kept.files)
			c.gone = err != nil
			p = c.page(&f)
		}
		return err
	})
	return p, recordProblem(err, "")
}

// ChangeClip writes what is said of a clip.
func (st *Studio) ChangeClip(ctx context.Context, who, id string, p PageClipChange) (PageVisitClip, error) {
	var before clipRecord
	var f visitRecords
	err := st.readRecords(ctx, func(r store.Reader) (err error) { before, f, err = openClip(r, id); return err })
	if err != nil {
		return PageVisitClip{}, err
	}
	var e entries
	p.Facts.check(&e, &before, f.clips)
	name := before.Name
	if p.Name != nil {
		name = clean(*p.Name, maxName)
		if name == "" {
			e.fail("name", "", "a clip needs a name")
		}
	}
	if e.err != nil {
		return PageVisitClip{}, e.err
	}
	after := before
	after.Name, after.facts.PageClipFacts = name, p.Facts
	deed := clipDeed(before, after)
	if deed == "" {
		return st.Clip(ctx, id)
	}
	err = st.change(ctx, who, deed, before.VisitID, func(w store.Writer) error {
		c, _, err := openClip(w, id)
		if err != nil {
			return err
		}
		if c.facts.Rev != p.Version {
			return stale("What is said of this clip", c.facts.Rev)
		}
		c.Name, c.facts.PageClipFacts = name, p.Facts
		return c.put(w)
	})
	if err != nil {
		return PageVisitClip{}, err
	}
	return st.Clip(ctx, id)
}

// clipDeed names what was changed; empty where nothing was.
func clipDeed(a, b clipRecord) string {
	fields := func(c clipRecord) map[string]json.RawMessage {
		raw, err := json.Marshal(c.facts.PageClipFacts)
		if err != nil {
			panic("app: " + err.Error())
		}
		var out map[string]json.RawMessage
		if err := json.Unmarshal(raw, &out); err != nil {
			panic("app: " + err.Error())
		}
		return out
	}
	was, is := fields(a), fields(b)
	var what []string
	for _, k := range factOrder {
		if string(was[k.field]) != string(is[k.field]) && !slices.Contains(what, k.name) {
			what = append(what, k.name)
		}
	}
	if a.Name != b.Name {
		what = append(what, "name")
	}
	if len(what) == 0 {
		return ""
	}
	return "Said of " + b.Name + ": " + inWords(what)
}

// factOrder names what can be said of a clip for the list of deeds.
var factOrder = []struct{ field, name string }{
	{"view", "view"}, {"speed_mps", "speed"}, {"incline_percent", "incline"}, {"shoes", "shoes"}, {"click", "click"}, {"capture_rate_hz", "capture rate"}, {"overground", "surface"},
	{"scale", "scale"}, {"belt", "belt seam"}, {"start_s", "part used"}, {"end_s", "part used"}, {"roll_deg", "camera"}, {"yaw_deg", "camera"},
	{"camera_distance_m", "camera"}, {"point", "runner in the picture"}, {"model", "model"}, {"static_of", "standing trial"},
}

// RemoveClip takes a clip out of sight; undo brings it back.
func (st *Studio) RemoveClip(ctx context.Context, who, id string, version int64) (PageVisit, error) {
	var visit, name string
	err := st.readRecords(ctx, func(r store.Reader) error {
		c, err := r.Clip(id)
		visit, name = c.VisitID, c.Name
		return missingRecord(err, "clip")
	})
	if err != nil {
		return PageVisit{}, err
	}
	err = st.change(ctx, who, "Removed "+name, visit, func(w store.Writer) error {
		c, f, err := openClip(w, id)
		if err != nil {
			return err
		}
		if c.facts.Rev != version {
			return stale("What is said of this clip", c.facts.Rev)
		}
		if c.inWork(f.jobs) {
			return problem(KindUsage, c.Name, "Cancel it first, or wait.", "this clip is being measured")
		}
		if f.reads(c.ID) {
			return problem(KindUsage, c.Name, "Cancel it first, or wait.", "a test is being read from this clip")
		}
		return w.Remove(store.KindClip, id, c.Clip.Version)
	})
	if err != nil {
		return PageVisit{}, err
	}
	return st.Visit(ctx, visit)
}

func (c *clipRecord) inWork(jobs []store.Job) bool {
	s := c.trackState(jobs)
	return s == string(store.JobQueued) || s == string(store.JobRunning)
}

// Belt tells what the passes of the belt's seam say of its speed.
func (st *Studio) Belt(ctx context.Context, id string) (PageBeltCheck, error) {
	var c clipRecord
	err := st.readRecords(ctx, func(r store.Reader) (err error) { c, _, err = openClip(r, id); return err })
	if err != nil {
		return PageBeltCheck{}, err
	}
	t := &c.facts.PageClipFacts
	if t.Belt == nil {
		return PageBeltCheck{}, &Problem{Kind: KindUsage, Field: "facts.belt", What: "the belt's seam was not timed in this clip", Mend: "Give the belt's length and click each pass of its seam."}
	}
	return c.pageBelt(t)
}

// pageBelt is what the passes of the seam say, as the browser gets it.
func (c *clipRecord) pageBelt(t *PageClipFacts) (PageBeltCheck, error) {
	s, err := c.beltSpeed(t)
	if err != nil {
		return PageBeltCheck{}, err
	}
	p := PageBeltCheck{SpeedMPS: s.SpeedMPS, SD: s.SpeedMPS * s.RelativeSD, Turns: s.Turns, Said: t.SpeedMPS, Agrees: true, Text: "The belt ran at " + s.String() + "."}
	if t.SpeedMPS != nil {
		p.DifferencePercent = number(100*(*t.SpeedMPS/s.SpeedMPS-1), 2)
		p.Agrees = s.agrees(*t.SpeedMPS)
		p.Text = capital(s.Against(*t.SpeedMPS)) + "."
	}
	return p, nil
}

// displayName makes a file's name fit to be shown; it is never used as a path.
func displayName(name string) string {
	name = strings.ReplaceAll(name, `\`, "/")
	name = clean(filepath.Base(name), maxName)
	if name == "." || name == "/" || name == "" {
		return "film"
	}
	return name
}
