package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

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

// trackMemory holds the landmarks of one clip between measurements.
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

// recall reads landmarks that were kept. Whatever is wrong with them, they can be
// found again, so nothing of it is an error.
func (m *trackMemory) recall(ctx context.Context, w trackRecord) (*track.Track, []string, bool) {
	var doc store.Document
	if err := m.kept.Read(ctx, func(r store.Reader) (err error) { doc, err = r.Document(docTrack, m.clip.ID); return err }); err != nil {
		return nil, nil, false
	}
	var t trackRecord
	if err := json.Unmarshal(doc.Body, &t); err != nil || !t.covers(w) {
		return nil, nil, false
	}
	f, err := m.kept.files.Open(t.File)
	if err != nil {
		return nil, nil, false
	}
	defer f.Close()
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

// remember keeps landmarks that were just found. The record is one of its own and
// in no list of deeds, so that a person's undo is not held up by it.
func (m *trackMemory) remember(ctx context.Context, w trackRecord, t *track.Track, notes []string) error {
	var err error
	if w.File, err = putGob(ctx, m.kept.files, keptTrack{Format: trackFormat, Track: t, Notes: notes}); err != nil {
		return recordProblem(err, "")
	}
	body, err := json.Marshal(w)
	if err != nil {
		return err
	}
	err = m.kept.Change(ctx, store.Deed{What: fmt.Sprintf("Found the landmarks in %s (%s)", m.clip.Name, w.Model)}, func(wr store.Writer) error {
		doc, err := wr.Document(docTrack, m.clip.ID)
		if errors.Is(err, store.ErrNotFound) {
			doc = store.Document{VisitID: m.clip.VisitID, Kind: docTrack, Owner: m.clip.ID}
		} else if err != nil {
			return err
		}
		doc.Body = body
		return wr.PutDocument(&doc)
	})
	return recordProblem(err, "")
}
