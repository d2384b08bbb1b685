package app

import (
	"compress/gzip"
	"context"
	"encoding/gob"
	"errors"
	"os"
	"path/filepath"

	"gaitwright/gait/track"
	"gaitwright/internal/store"
	"gaitwright/internal/synth"
)

// SetFree replaces what is said of the room on the disk.
func (st *Studio) SetFree(free func(dir string) (int64, error)) { st.free = free }

// ErrandGreeting is the first line an errand hears.
func ErrandGreeting() string { return errandGreeting() }

// Records opens the records as the studio does.
func (st *Studio) Records() (store.Store, store.FileKeeper, error) {
	r, err := st.records()
	if err != nil {
		return nil, nil, err
	}
	return r.Store, r.files, nil
}

// DemoVisit does what the demonstration does once its films are made.
func (st *Studio) DemoVisit(p synth.Params, side, rear string) (*Session, error) {
	return st.demoVisit(context.Background(), p, "", side, rear, NoProgress{})
}

// WriteFolder keeps a result as versions before the records did.
func WriteFolder(dir, name string, s *Session) error {
	if err := os.MkdirAll(filepath.Join(dir, name), 0o755); err != nil {
		return err
	}
	f, err := os.Create(filepath.Join(dir, name, folderSession))
	if err != nil {
		return err
	}
	defer f.Close()
	z := gzip.NewWriter(f)
	if err := gob.NewEncoder(z).Encode(storedSession{Format: sessionFormat, Session: s}); err != nil {
		return err
	}
	return z.Close()
}

// RememberLandmarks keeps landmarks of a clip as if the pose network had found
// them, on the file's clock.
func (st *Studio) RememberLandmarks(ctx context.Context, clipID string, t *track.Track) error {
	kept, err := st.records()
	if err != nil {
		return err
	}
	var c store.Clip
	if err := kept.Read(ctx, func(r store.Reader) (err error) { c, err = r.Clip(clipID); return err }); err != nil {
		return err
	}
	m := trackMemory{kept: kept, clip: c}
	return m.remember(ctx, trackRecord{Model: "full", From: 0, To: t.Frames(), Slowdown: 1}, t, nil)
}

// RememberPaths keeps paths of a clip's stickers as if they had been followed from
// these clicks.
func (st *Studio) RememberPaths(ctx context.Context, clipID, file string, points []StickerPoint) error {
	kept, err := st.records()
	if err != nil {
		return err
	}
	return kept.Change(ctx, store.Deed{What: "Followed the stickers"}, func(w store.Writer) error {
		c, err := w.Clip(clipID)
		if err != nil {
			return err
		}
		doc := store.Document{VisitID: c.VisitID, Kind: docStickerPaths, Owner: clipID, Body: rawJSON(stickerRecord{File: file, Points: points})}
		if old, err := w.Document(docStickerPaths, clipID); err == nil {
			doc.Meta = old.Meta
		}
		asked := store.Document{VisitID: c.VisitID, Kind: docStickers, Owner: clipID, Body: rawJSON(askedStickers{Points: points})}
		if old, err := w.Document(docStickers, clipID); err == nil {
			asked.Meta = old.Meta
		}
		return errors.Join(w.PutDocument(&doc), w.PutDocument(&asked))
	})
}

// Patiently makes a change again while the records are busy.
var Patiently = patiently
