package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"

	"gaitwright/internal/store"
)

// editsKind is the kind of the documents that hold corrections.
const editsKind = "edits"

// editsOwner names one clip of a result, as the owner of its corrections and as
// the list in which their deeds are undone: the bench takes back what was done at
// the bench, and nothing else of the visit.
func editsOwner(id string, clip int) string { return fmt.Sprintf("%s/%d", id, clip) }

// recordedEdits keeps corrections among the studio's records.
type recordedEdits struct{ store.Store }

func (k recordedEdits) editsOf(ctx context.Context, id string, clips int) (map[int]keptEdits, error) {
	out := map[int]keptEdits{}
	err := k.Read(ctx, func(r store.Reader) error {
		for n := range clips {
			d, err := r.Document(editsKind, editsOwner(id, n))
			if errors.Is(err, store.ErrNotFound) {
				continue
			}
			if err != nil {
				return err
			}
			var p PageEdits
			if err := json.Unmarshal(d.Body, &p); err != nil {
				return fmt.Errorf("the corrections of clip %d of result %s cannot be read: %w", n, id, err)
			}
			e, err := p.edits()
			if err != nil {
				return fmt.Errorf("the corrections of clip %d of result %s cannot be read: %w", n, id, err)
			}
			out[n] = keptEdits{Version: d.Version, Edits: e}
		}
		return nil
	})
	return out, recordProblem(err, "")
}

func (k recordedEdits) putEdits(ctx context.Context, id string, clip int, version int64, e Edits, who, what string) error {
	p := pageEdits(keptEdits{Edits: e})
	body, err := json.Marshal(struct {
		Landmarks []Move        `json:"landmarks"`
		Swaps     []Swap        `json:"swaps"`
		Placed    []PageContact `json:"placed"`
		Removed   []PageContact `json:"removed"`
	}{p.Landmarks, p.Swaps, p.Placed, p.Removed})
	if err != nil {
		return err
	}
	owner := editsOwner(id, clip)
	return recordProblem(k.Change(ctx, store.Deed{Who: who, What: what, VisitID: owner}, func(w store.Writer) error {
		d, err := w.Document(editsKind, owner)
		if err != nil && !errors.Is(err, store.ErrNotFound) {
			return err
		}
		if d.Version != version {
			return &store.Conflict{Kind: store.KindDocument, ID: owner, Have: version, Kept: d.Version}
		}
		d.Kind, d.Owner, d.Body = editsKind, owner, body
		switch result, err := w.Result(id); {
		case err == nil:
			d.VisitID = result.VisitID
		case !errors.Is(err, store.ErrNotFound):
			return err
		}
		return w.PutDocument(&d)
	}), "")
}

func (k recordedEdits) undoEdits(ctx context.Context, id string, clip int, who string, again bool) (string, error) {
	do := k.Undo
	if again {
		do = k.Redo
	}
	d, err := do(ctx, editsOwner(id, clip), who)
	if errors.Is(err, store.ErrNothing) {
		return "", nil
	}
	return d.What, recordProblem(err, "")
}

func (k recordedEdits) undoable(ctx context.Context, id string, clip int) (undo, redo string, err error) {
	undo, redo, err = k.Undoable(ctx, editsOwner(id, clip))
	return undo, redo, recordProblem(err, "")
}
