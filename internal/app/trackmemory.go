package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"gaitwright/gait/track"
	"gaitwright/internal/store"
	"gaitwright/internal/video"
)

// Finding a runner's landmarks takes minutes, all that follows a fraction of a
// second. So the landmarks of a clip, as first seen, are kept as a file, and a
// record of the clip tells which and by what they were found. A measurement with
// other facts begins from there.

const docTrack = "track"

// trackFormat is the version of kept landmarks.
const trackFormat = 1

// keptTrack is the landmarks of a film as first seen, on the file's own clock.
type keptTrack struct {
	Format int
	Track  *track.Track
	Notes  []string
}

// trackRecord says which file holds a clip's landmarks and how they were found.
type trackRecord struct {
	File     string  `json:"file"` // hash
	Model    string  `json:"model"`
	Point    *Point  `json:"point,omitempty"` // the runner pointed at, on the file's clock
	From     int     `json:"from"`            // frames of the film, To not included
	To       int     `json:"to"`
	Slowdown float64 `json:"slowdown"`
}

// trackKeeper holds the landmarks of one clip between measurements.
type trackKeeper interface {
	// recall returns landmarks that were kept and will do for what is wanted.
	// Whatever is wrong with them, they can be found again, so nothing of it is an
	// error.
	recall(ctx context.Context, w trackRecord) (*track.Track, []string, bool)
	// remember keeps landmarks that were just found.
	remember(ctx context.Context, w trackRecord, t *track.Track, notes []string) error
}

// trackMemory is the keeper that has the records.
type trackMemory struct {
	kept *records
	clip store.Clip
}

// wanted describes the landmarks that a measurement needs.
func (r *Request) wanted(from, to int, slowdown float64) trackRecord {
	w := trackRecord{Model: modelName(r.Model), From: from, To: to, Slowdown: slowdown}
	if r.Point != nil {
		w.Point = &Point{X: r.Point.X, Y: r.Point.Y, TimeS: r.Point.TimeS * slowdown}
	}
	return w
}

// covers tells whether landmarks found so will do for what is wanted.
func (t trackRecord) covers(w trackRecord) bool {
	same := t.Point == nil && w.Point == nil || t.Point != nil && w.Point != nil && *t.Point == *w.Point
	return same && t.Model == w.Model && t.Slowdown == w.Slowdown && t.From <= w.From && t.To >= w.To
}

// landmarks finds the runner's landmarks, or takes those that were found before.
func (r *Request) landmarks(ctx context.Context, facts *video.Facts, from, to int, slowdown float64, progress Progress, glance *glance) (*track.Track, []string, error) {
	m := r.remembered
	if m == nil {
		return followRunner(ctx, facts, from, to, slowdown, r, progress, glance)
	}
	w := r.wanted(from, to, slowdown)
	if t, notes, ok := m.recall(ctx, w); ok {
		return t, notes, nil
	}
	t, notes, err := followRunner(ctx, facts, from, to, slowdown, r, progress, glance)
	if err != nil {
		return nil, nil, err
	}
	return t, notes, m.remember(ctx, w, t, notes)
}

// record reads how the clip's landmarks were found, and in which file they stand.
func (m *trackMemory) record(ctx context.Context) (trackRecord, bool) {
	var doc store.Document
	if err := m.kept.Read(ctx, func(r store.Reader) (err error) { doc, err = r.Document(docTrack, m.clip.ID); return err }); err != nil {
		return trackRecord{}, false
	}
	var t trackRecord
	err := json.Unmarshal(doc.Body, &t)
	return t, err == nil
}

// known is the same for an errand.
func (m *trackMemory) known(ctx context.Context) knownTrack {
	t, ok := m.record(ctx)
	if !ok {
		return knownTrack{}
	}
	path, err := m.kept.files.Path(t.File)
	if err != nil {
		return knownTrack{}
	}
	return knownTrack{How: t, Path: path}
}

func (m *trackMemory) recall(ctx context.Context, w trackRecord) (*track.Track, []string, bool) {
	t, ok := m.record(ctx)
	if !ok || !t.covers(w) {
		return nil, nil, false
	}
	f, err := m.kept.files.Open(t.File)
	if err != nil {
		return nil, nil, false
	}
	defer f.Close()
	return t.read(f, w)
}

// read reads kept landmarks as they are wanted.
func (t trackRecord) read(f io.Reader, w trackRecord) (*track.Track, []string, bool) {
	var k keptTrack
	if err := readGob(f, &k); err != nil || k.Format != trackFormat || k.Track == nil {
		return nil, nil, false
	}
	if t.From == w.From && t.To == w.To {
		return k.Track, k.Notes, true
	}
	if k.Track.Frames() != t.To-t.From { // frames that could not be decoded shift the rest
		return nil, nil, false
	}
	return k.Track.Slice(w.From-t.From, w.To-t.From), k.Notes, true
}

func (m *trackMemory) remember(ctx context.Context, w trackRecord, t *track.Track, notes []string) error {
	var err error
	if w.File, err = putGob(ctx, m.kept.files, keptTrack{Format: trackFormat, Track: t, Notes: notes}); err != nil {
		return recordProblem(err, "")
	}
	return m.write(ctx, w)
}

// takeOver keeps landmarks that an errand found.
func (m *trackMemory) takeOver(ctx context.Context, e *errand, found errandTrack) error {
	w := found.How
	var err error
	if w.File, _, err = e.keep(ctx, m.kept.files, found.Name); err != nil {
		return err
	}
	return m.write(ctx, w)
}

// write writes the record, which is one of its own and in no list of deeds, so that a
// person's undo is not held up by it.
func (m *trackMemory) write(ctx context.Context, w trackRecord) error {
	body, err := json.Marshal(w)
	if err != nil {
		return err
	}
	deed := store.Deed{What: fmt.Sprintf("Found the landmarks in %s (%s)", m.clip.Name, w.Model)}
	err = patiently(ctx, func() error {
		return m.kept.Change(ctx, deed, func(wr store.Writer) error {
			doc, err := wr.Document(docTrack, m.clip.ID)
			if errors.Is(err, store.ErrNotFound) {
				doc = store.Document{VisitID: m.clip.VisitID, Kind: docTrack, Owner: m.clip.ID}
			} else if err != nil {
				return err
			}
			doc.Body = body
			return wr.PutDocument(&doc)
		})
	})
	return recordProblem(err, "")
}
