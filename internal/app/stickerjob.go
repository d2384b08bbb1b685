package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"time"

	"gaitwright/internal/sticker"
	"gaitwright/internal/store"
	"gaitwright/internal/video"
)

// What a person clicked is one record of the clip, and what was followed from it
// another, so that the work in the background never makes a page's record stale.
const (
	docStickers     = "stickers"
	docStickerPaths = "sticker_paths"
	jobFollow       = "follow"
)

// stickerFormat is the version of kept paths.
const stickerFormat = 2

// keptStickers are the paths of one clip's stickers over all frames of its file.
type keptStickers struct {
	Format int
	TimeS  []float64 // on the file's clock
	Paths  []StickerPath
}

// stickerRecord says which file holds the paths, and of what clicks they came.
type stickerRecord struct {
	File   string         `json:"file"` // hash
	Points []StickerPoint `json:"points"`
	at     time.Time
}

type askedStickers struct {
	Points []StickerPoint `json:"points"`
	// Doubts are what was told of points at their first click, by their names; a point
	// that is good as far as a glance tells has none.
	Doubts map[string]string `json:"doubts,omitempty"`
}

// first is the point's first click in the film; its clicks are in order.
func (p *StickerPoint) first() StickerPoint {
	return StickerPoint{Name: p.Name, Clicks: p.Clicks[:1], DiameterPX: p.DiameterPX, Shape: p.Shape}
}

// glances looks at the first clicks that are not those of before, and returns what is to
// be told of each point.
func (a askedStickers) glances(ctx context.Context, points []StickerPoint, facts *video.Facts) map[string]string {
	doubts := map[string]string{}
	for _, p := range points {
		same := func(q StickerPoint) bool { return reflect.DeepEqual(p.first(), q.first()) }
		doubt := a.Doubts[p.Name]
		if !slices.ContainsFunc(a.Points, same) {
			doubt = p.glance(ctx, facts)
		}
		if doubt != "" {
			doubts[p.Name] = doubt
		}
	}
	return doubts
}

// PageStickers are a clip's stickers as the browser gets them.
type PageStickers struct {
	Version  int64          `json:"version"`
	Points   []StickerPoint `json:"points"`
	Followed []PageFollowed `json:"followed"`
	// Fresh tells whether all points were followed with these clicks.
	Fresh bool `json:"fresh"`
	// Doubts are what a glance at the first click of a point told, by its name:
	// "nothing" where there is nothing to follow, "fleeting" where it would be lost at
	// once.
	Doubts map[string]string `json:"doubts"`
	// FollowedAt is when they were followed last (RFC 3339), empty where they were
	// not: a result that was made before knows nothing of it.
	FollowedAt string `json:"followed_at"`
}

// PageFollowed is a path in the browser: one value for each frame of the file.
type PageFollowed struct {
	Name    string     `json:"name"`
	Shape   string     `json:"shape"`
	X       []*float64 `json:"x"`
	Y       []*float64 `json:"y"`
	SDPX    []*float64 `json:"sd_px"`
	Quality []*float64 `json:"quality"`
	State   []string   `json:"state"`
	Seen    int        `json:"seen"`
	// Lost are the ranges of frames, both ends included, without the point, and
	// Doubtful those in which another place is as likely.
	Lost     [][2]int `json:"lost"`
	Doubtful [][2]int `json:"doubtful"`
	// Current tells whether the path came of the clicks that stand now.
	Current bool `json:"current"`
}

// PageStickerChange is what the browser sends.
type PageStickerChange struct {
	Version int64          `json:"version"`
	Points  []StickerPoint `json:"points"`
}

func readStickers(r store.Reader, clipID string) (store.Document, askedStickers, stickerRecord, error) {
	var asked askedStickers
	var rec stickerRecord
	doc, err := r.Document(docStickers, clipID)
	if err == nil {
		err = json.Unmarshal(doc.Body, &asked)
	}
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return doc, asked, rec, err
	}
	made, err := r.Document(docStickerPaths, clipID)
	if err == nil {
		err = json.Unmarshal(made.Body, &rec)
		rec.at = made.Changed
	}
	if errors.Is(err, store.ErrNotFound) {
		err = nil
	}
	return doc, asked, rec, err
}

func (k *records) openStickers(hash string) (keptStickers, error) {
	path, err := k.files.Path(hash)
	if err != nil {
		return keptStickers{}, err
	}
	return readStickersFile(path)
}

func readStickersFile(path string) (keptStickers, error) {
	var out keptStickers
	f, err := os.Open(path)
	if err != nil {
		return out, err
	}
	defer f.Close()
	if err := readGob(f, &out); err != nil {
		return out, err
	}
	if out.Format != stickerFormat {
		return out, fmt.Errorf("kept paths have the format %d", out.Format)
	}
	return out, nil
}

// current tells whether the points still have the clicks that the paths came of.
func (r stickerRecord) current(p StickerPoint) bool {
	return slices.ContainsFunc(r.Points, func(q StickerPoint) bool { return reflect.DeepEqual(p, q) })
}

// used is a mark of the paths that a measurement takes: of points that are asked
// for with the clicks of which the paths came. Empty where there is none.
func (r stickerRecord) used(asked askedStickers) string {
	var names []string
	for _, p := range asked.Points {
		if r.current(p) {
			names = append(names, p.Name)
		}
	}
	if len(names) == 0 {
		return ""
	}
	slices.Sort(names)
	return r.File + " " + strings.Join(names, ",")
}

// Stickers are the stickers of a clip with their paths.
func (st *Studio) Stickers(ctx context.Context, clipID string) (PageStickers, error) {
	kept, err := st.records()
	if err != nil {
		return PageStickers{}, err
	}
	var doc store.Document
	var asked askedStickers
	var rec stickerRecord
	err = kept.Read(ctx, func(r store.Reader) error {
		if _, err := r.Clip(clipID); err != nil {
			return missingRecord(err, "clip")
		}
		var err error
		doc, asked, rec, err = readStickers(r, clipID)
		return err
	})
	if err != nil {
		return PageStickers{}, recordProblem(err, "")
	}
	out := PageStickers{Version: doc.Version, Points: emptyNotNil(asked.Points), Followed: []PageFollowed{}, Fresh: len(asked.Points) > 0, Doubts: asked.Doubts}
	if out.Doubts == nil {
		out.Doubts = map[string]string{}
	}
	for _, p := range asked.Points {
		out.Fresh = out.Fresh && rec.current(p)
	}
	if rec.File == "" {
		return out, nil
	}
	made, err := kept.openStickers(rec.File)
	if err != nil {
		out.Fresh = false // they can be followed again
		return out, nil
	}
	out.FollowedAt = rec.at.UTC().Format(time.RFC3339)
	for _, p := range made.Paths {
		i := slices.IndexFunc(asked.Points, func(q StickerPoint) bool { return q.Name == p.Name })
		if i >= 0 {
			out.Followed = append(out.Followed, p.page(rec.current(asked.Points[i])))
		}
	}
	return out, nil
}

func (p StickerPath) page(current bool) PageFollowed {
	out := PageFollowed{Name: p.Name, Shape: p.Shape, Current: current, Seen: p.framesSeen(), Lost: [][2]int{}, Doubtful: [][2]int{}}
	for i := range p.X {
		out.X = append(out.X, number(p.X[i], 2))
		out.Y = append(out.Y, number(p.Y[i], 2))
		out.SDPX = append(out.SDPX, number(p.SD[i], 2))
		out.Quality = append(out.Quality, number(p.Quality[i], 2))
		out.State = append(out.State, sticker.State(p.State[i]).String())
		switch {
		case math.IsNaN(p.X[i]):
			out.Lost = extended(out.Lost, i)
		case p.doubtful(i):
			out.Doubtful = extended(out.Doubtful, i)
		}
	}
	return out
}

// extended adds a frame to ranges of frames.
func extended(ranges [][2]int, frame int) [][2]int {
	if n := len(ranges); n > 0 && ranges[n-1][1] == frame-1 {
		ranges[n-1][1] = frame
		return ranges
	}
	return append(ranges, [2]int{frame, frame})
}

// ChangeStickers keeps what was clicked.
func (st *Studio) ChangeStickers(ctx context.Context, who, clipID string, p PageStickerChange) (PageStickers, error) {
	kept, err := st.records()
	if err != nil {
		return PageStickers{}, err
	}
	var visit string
	var before askedStickers
	if err := kept.Read(ctx, func(r store.Reader) error {
		c, err := r.Clip(clipID)
		if err != nil {
			return missingRecord(err, "clip")
		}
		visit = c.VisitID
		_, before, _, err = readStickers(r, clipID)
		return err
	}); err != nil {
		return PageStickers{}, recordProblem(err, "")
	}
	// Looked at before the records are written, which nobody is to wait for.
	var doubts map[string]string
	if _, facts, err := st.clipFilm(ctx, clipID); err == nil && checkStickers(p.Points, facts.Frames(), facts.WidthPX, facts.HeightPX) == nil {
		doubts = before.glances(ctx, p.Points, facts)
	}
	err = st.change(ctx, who, fmt.Sprintf("Stickers: %s", plural(len(p.Points), "point", "points")), visit, func(w store.Writer) error {
		c, err := filmOf(w, clipID)
		if err != nil {
			return err
		}
		if err := checkStickers(p.Points, c.probe.Frames, c.probe.WidthPX, c.probe.HeightPX); err != nil {
			return err
		}
		doc, _, _, err := readStickers(w, clipID)
		if err != nil {
			return err
		}
		if doc.Version != p.Version {
			return stale("The stickers of this clip", doc.Version)
		}
		if doc.Version == 0 {
			doc = store.Document{VisitID: c.VisitID, Kind: docStickers, Owner: clipID}
		}
		doc.Body = rawJSON(askedStickers{Points: p.Points, Doubts: doubts})
		return w.PutDocument(&doc)
	})
	if err != nil {
		return PageStickers{}, err
	}
	return st.Stickers(ctx, clipID)
}

// filmOf is a clip that is a film.
func filmOf(r store.Reader, clipID string) (clipRecord, error) {
	raw, err := r.Clip(clipID)
	if err != nil {
		return clipRecord{}, missingRecord(err, "clip")
	}
	c, err := parseClip(raw)
	if err == nil && !c.isFilm() {
		err = problem(KindUsage, c.Name, "", "is no film, so no sticker can be followed in it")
	}
	return c, err
}

// FollowStickers puts the following of a clip's stickers into the queue. Where it
// waits there already, that job is returned.
func (st *Studio) FollowStickers(ctx context.Context, who, clipID string) (PageJob, error) {
	kept, err := st.records()
	if err != nil {
		return PageJob{}, err
	}
	var job store.Job
	err = kept.Change(ctx, store.Deed{}, func(w store.Writer) error {
		c, err := filmOf(w, clipID)
		if err != nil {
			return err
		}
		if err := notStopped(w, c.VisitID); err != nil {
			return err
		}
		if _, err := c.path(kept.files); err != nil {
			return err
		}
		_, asked, _, err := readStickers(w, clipID)
		if err != nil {
			return err
		}
		if len(asked.Points) == 0 {
			return problem(KindUsage, c.Name, "Click a sticker first.", "has no sticker to follow")
		}
		for _, p := range asked.Points {
			if asked.Doubts[p.Name] == clickNothing {
				return problem(KindUsage, c.Name, "Click the middle of the sticker in a frame in which it is plainly seen, or remove the point.",
					"there is nothing to follow at the click for %s in frame %d", sayLandmark(p.Name), p.Clicks[0].Frame)
			}
		}
		waiting, err := w.Jobs(store.JobQueued)
		if err != nil {
			return err
		}
		for _, j := range waiting {
			if j.Kind == jobFollow && j.ClipID == clipID {
				job = j
				return nil
			}
		}
		job = store.Job{VisitID: c.VisitID, ClipID: clipID, Kind: jobFollow, State: store.JobQueued, Message: "waiting", Request: rawJSON(struct{}{})}
		return w.PutJob(&job)
	})
	if err != nil {
		return PageJob{}, recordProblem(err, "")
	}
	st.tellJob(job)
	st.tellVisit(job.VisitID, who)
	st.queue.nudge()
	return st.pageJob(job), nil
}

// notStopped refuses to work on a film while a warning sign stops its visit.
func notStopped(r store.Reader, visitID string) error {
	f, _, err := openVisit(r, visitID)
	if err == nil && f.intake.refer().stops() {
		err = f.mayFilm()
	}
	return err
}

// followJob follows the stickers of a clip, as they stand when it begins, through
// the whole film and keeps their paths.
func (st *Studio) followJob(ctx context.Context, job store.Job) error {
	kept, err := st.records()
	if err != nil {
		return err
	}
	var c clipRecord
	var asked askedStickers
	var before stickerRecord
	err = kept.Read(ctx, func(r store.Reader) (err error) {
		if c, err = filmOf(r, job.ClipID); err != nil {
			return err
		}
		if err := notStopped(r, c.VisitID); err != nil {
			return err
		}
		_, asked, before, err = readStickers(r, job.ClipID)
		return err
	})
	if err != nil {
		return recordProblem(err, "")
	}
	path, err := c.path(kept.files)
	if err != nil {
		return err
	}
	order := &followOrder{File: path, Points: asked.Points, BeforePoints: before.Points}
	if before.File != "" {
		if order.Before, err = kept.files.Path(before.File); err != nil {
			order.Before = ""
		}
	}
	st.queue.mu.Lock()
	live := st.queue.now[job.ID]
	st.queue.mu.Unlock()
	e, err := st.sendOut(ctx, errandOrder{Follow: order})
	if err != nil {
		return err
	}
	defer e.close()
	progress := &jobProgress{st: st, ctx: ctx, live: live, names: map[string]string{path: c.Name}, alone: true}
	if _, err := e.finish(progress, nil); err != nil {
		return nameIn(err, path, c.Name)
	}
	rec := stickerRecord{Points: asked.Points}
	if rec.File, _, err = e.keep(ctx, kept.files, followedFile); err != nil {
		return err
	}
	e.close()
	err = patiently(ctx, func() error {
		return kept.Change(ctx, store.Deed{What: "Followed the stickers in " + c.Name}, func(w store.Writer) error {
			if _, err := w.Clip(c.ID); err != nil {
				return missingRecord(err, "clip")
			}
			doc, err := w.Document(docStickerPaths, c.ID)
			if errors.Is(err, store.ErrNotFound) {
				doc = store.Document{VisitID: c.VisitID, Kind: docStickerPaths, Owner: c.ID}
			} else if err != nil {
				return err
			}
			doc.Body = rawJSON(rec)
			if err := w.PutDocument(&doc); err != nil {
				return err
			}
			job.State, job.Share, job.Message, job.Outcome = store.JobDone, 1, "followed", c.ID
			return st.putEnd(w, &job)
		})
	})
	if err != nil {
		return recordProblem(err, "")
	}
	st.jobEnded(job)
	return nil
}

// followedFile is the file in which an errand leaves the paths it followed.
const followedFile = "followed"

// followOrder is the following of a film's stickers as an errand.
type followOrder struct {
	File         string
	Points       []StickerPoint
	Before       string // file of the paths of the last time; empty for none
	BeforePoints []StickerPoint
}

// carryOut follows, on the errand, and leaves the paths as a file.
func (o *followOrder) carryOut(ctx context.Context, order *errandOrder, say *errandTongue) (frames int, err error) {
	facts, err := video.Probe(ctx, o.File)
	if err != nil {
		return 0, videoProblem(o.File, err)
	}
	if err := checkStickers(o.Points, facts.Frames(), facts.WidthPX, facts.HeightPX); err != nil {
		return 0, err
	}
	last := -1
	paths, err := followStickers(ctx, facts, 0, facts.Frames(), o.Points, func(done, total int) {
		if last < 0 {
			last = 0
			say.Stage("following stickers", o.File, total)
		}
		say.Advance(done - last)
		last = done
	})
	if err != nil {
		return 0, err
	}
	if o.Before != "" {
		if made, err := readStickersFile(o.Before); err == nil {
			uphold(made.Paths, o.BeforePoints, paths, o.Points)
		}
	}
	return facts.Frames(), writeGob(filepath.Join(order.Dir, followedFile), keptStickers{Format: stickerFormat, TimeS: facts.TimeS, Paths: paths})
}

// followedOf are the paths of a clip's stickers that came of the clicks that stand
// now; none where there are none. A note says what is left out.
func (k *records) followedOf(ctx context.Context, clipID string) (keptStickers, string) {
	var asked askedStickers
	var rec stickerRecord
	err := k.Read(ctx, func(r store.Reader) (err error) { _, asked, rec, err = readStickers(r, clipID); return err })
	if err != nil || len(asked.Points) == 0 {
		return keptStickers{}, ""
	}
	var made keptStickers
	if rec.File != "" {
		if made, err = k.openStickers(rec.File); err != nil {
			made = keptStickers{}
		}
	}
	out := keptStickers{TimeS: made.TimeS}
	left := 0
	for _, p := range asked.Points {
		i := slices.IndexFunc(made.Paths, func(q StickerPath) bool { return q.Name == p.Name })
		if i < 0 || !rec.current(p) {
			left++
			continue
		}
		out.Paths = append(out.Paths, made.Paths[i])
	}
	if left == 0 {
		return out, ""
	}
	return out, fmt.Sprintf("%s not followed yet since the last click and left out", plural(left, "sticker was", "stickers were"))
}
