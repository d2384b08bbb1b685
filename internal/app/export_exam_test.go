package app

import (
	"context"

	"gaitwright/gait/track"
	"gaitwright/internal/store"
)

// RememberTrack keeps landmarks for a clip as if they had been found in it.
func (st *Studio) RememberTrack(clipID string, t *track.Track) error {
	r, err := st.records()
	if err != nil {
		return err
	}
	var c store.Clip
	if err := r.Read(context.Background(), func(r store.Reader) (err error) { c, err = r.Clip(clipID); return err }); err != nil {
		return err
	}
	m := trackMemory{kept: r, clip: c}
	return m.remember(context.Background(), (&Request{}).wanted(0, t.Frames(), 1), t, nil)
}
