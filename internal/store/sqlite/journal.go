package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"math"

	"gaitwright/internal/store"
)

// Undo takes back the last deed of a list that is not undone.
func (s *Store) Undo(ctx context.Context, visitID, who string) (store.Deed, error) {
	var d store.Deed
	err := s.alter(ctx, func(w *writer) (err error) {
		d, err = w.back(visitID, who)
		return err
	})
	if err != nil {
		d = store.Deed{}
	}
	return d, s.said(err)
}

// Redo does the last undone deed of a list again.
func (s *Store) Redo(ctx context.Context, visitID, who string) (store.Deed, error) {
	var d store.Deed
	err := s.alter(ctx, func(w *writer) (err error) {
		d, err = w.again(visitID)
		return err
	})
	if err != nil {
		d = store.Deed{}
	}
	return d, s.said(err)
}

// Undoable tells the deeds that Undo and Redo would take.
func (s *Store) Undoable(ctx context.Context, visitID string) (undo, redo string, err error) {
	err = s.see(ctx, func(r *reader) error {
		u, _, err := r.next(undoNext, visitID)
		if err != nil && !errors.Is(err, store.ErrNothing) {
			return err
		}
		d, _, err := r.next(redoNext, visitID)
		if err != nil && !errors.Is(err, store.ErrNothing) {
			return err
		}
		undo, redo = u.What, d.What
		return nil
	})
	return undo, redo, s.said(err)
}

// Journal lists what was done, newest first.
func (s *Store) Journal(ctx context.Context, visitID string, limit int) ([]store.Entry, error) {
	if limit <= 0 {
		limit = math.MaxInt32
	}
	query, args := `SELECT id, at, who, what, list, state FROM deed ORDER BY id DESC LIMIT ?`, []any{limit}
	if visitID != "" {
		query, args = `SELECT id, at, who, what, list, state FROM deed WHERE list = ? ORDER BY id DESC LIMIT ?`, []any{visitID, limit}
	}
	var out []store.Entry
	err := s.see(ctx, func(r *reader) error {
		return r.each(func(scan func(...any) error) error {
			var e store.Entry
			var at, state int64
			if err := scan(&e.ID, &at, &e.Who, &e.What, &e.VisitID, &state); err != nil {
				return err
			}
			e.At, e.Undone = micro(at), state != 0
			out = append(out, e)
			return nil
		}, query, args...)
	})
	return out, s.said(err)
}

// The deed that is next to be undone, or to be done again.
const (
	undoNext = `SELECT id, who, what, list FROM deed WHERE list = ? AND state = 0 ORDER BY id DESC LIMIT 1`
	redoNext = `SELECT id, who, what, list FROM deed WHERE list = ? AND state = 1 ORDER BY id LIMIT 1`
)

func (r *reader) next(which, list string) (d store.Deed, id int64, err error) {
	if list == "" {
		return d, 0, store.ErrNothing
	}
	err = r.tx.QueryRowContext(r.ctx, which, list).Scan(&id, &d.Who, &d.What, &d.VisitID)
	if errors.Is(err, sql.ErrNoRows) {
		err = store.ErrNothing
	}
	return d, id, err
}

// move is the step of one record from the content of one deed to that of
// another.
type move struct {
	id       string
	from, to int64 // deeds; 0 is before the record was made
	version  int64 // that the deed to be undone gave it
}

func (w *writer) back(list, who string) (store.Deed, error) {
	d, id, err := w.next(undoNext, list)
	if err != nil {
		return d, err
	}
	moves, err := w.moves(`SELECT record, deed, before, version FROM content WHERE deed = ? ORDER BY record`, id)
	if err != nil {
		return d, err
	}
	if err := w.take(moves); err != nil {
		return d, err
	}
	return d, w.exec(`UPDATE deed SET state = 1, undone_at = ?, undone_by = ? WHERE id = ?`, w.now.UnixMicro(), who, id)
}

func (w *writer) again(list string) (store.Deed, error) {
	d, id, err := w.next(redoNext, list)
	if err != nil {
		return d, err
	}
	moves, err := w.moves(`SELECT record, before, deed, version FROM content WHERE deed = ? ORDER BY record`, id)
	if err != nil {
		return d, err
	}
	if err := w.take(moves); err != nil {
		return d, err
	}
	return d, w.exec(`UPDATE deed SET state = 0, undone_at = NULL, undone_by = NULL WHERE id = ?`, id)
}

func (w *writer) moves(query string, deed int64) ([]move, error) {
	var out []move
	err := w.each(func(scan func(...any) error) error {
		var m move
		err := scan(&m.id, &m.from, &m.to, &m.version)
		out = append(out, m)
		return err
	}, query, deed)
	return out, err
}

// take makes the moves, if every record stands where its move begins and none
// is left without what it belongs to.
func (w *writer) take(moves []move) error {
	stands := make([]*kept, len(moves))
	var coming []int
	for i, m := range moves {
		k, err := w.find(m.id)
		if err != nil {
			return err
		}
		if k == nil {
			return store.ErrDamaged
		}
		if k.deed != m.from {
			return &store.Conflict{Kind: k.kind, ID: k.id, Have: m.version, Kept: k.version}
		}
		stands[i] = k
		gone := m.to == 0
		if !gone {
			if err := w.tx.QueryRowContext(w.ctx, `SELECT removed FROM content WHERE record = ? AND deed = ?`, m.id, m.to).Scan(&gone); err != nil {
				return err
			}
		}
		// What goes makes way for what comes.
		if !gone {
			coming = append(coming, i)
			continue
		}
		if err := w.exec(`UPDATE record SET removed = 1, version = version + 1, changed = ?, deed = ? WHERE id = ?`, w.now.UnixMicro(), m.to, m.id); err != nil {
			return err
		}
		w.mark(k.kind, k.id, k.parent)
	}
	for _, i := range coming {
		if err := w.bring(moves[i], stands[i]); err != nil {
			return err
		}
	}
	return w.whole(moves)
}

// bring puts the content of a deed in place.
func (w *writer) bring(m move, k *kept) error {
	var packed any
	if err := w.tx.QueryRowContext(w.ctx, `SELECT body FROM content WHERE record = ? AND deed = ?`, m.id, m.to).Scan(&packed); err != nil {
		return err
	}
	body, err := unpack(packed)
	if err != nil {
		return err
	}
	f, err := formOf(k.kind)
	if err != nil {
		return err
	}
	if err := decode(m.id, body, f); err != nil {
		return err
	}
	keys, err := f.keys()
	if err != nil {
		return err
	}
	if err := w.alone(k.kind, keys, m.id, m.version); err != nil {
		return err
	}
	at := k.created
	if !keys.at.IsZero() {
		at = keys.at.UnixMicro()
	}
	w.mark(k.kind, k.id, k.parent, keys.parent)
	return w.exec(`UPDATE record SET removed = 0, version = version + 1, changed = ?, deed = ?, parent = ?, label = ?, owner = ?, at = ?, body = ? WHERE id = ?`,
		w.now.UnixMicro(), m.to, keys.parent, keys.label, keys.owner, at, body, m.id)
}

// whole refuses moves that would leave a record in sight whose runner or visit
// is not.
func (w *writer) whole(moves []move) error {
	for _, m := range moves {
		k, err := w.find(m.id)
		if err != nil {
			return err
		}
		var torn *kept
		if k.removed {
			below, err := w.below(k)
			if err != nil {
				return err
			}
			if len(below) > 0 {
				torn, err = w.find(below[0])
				if err != nil {
					return err
				}
			}
		} else if k.parent != "" {
			above, err := w.find(k.parent)
			if err != nil {
				return err
			}
			if above.removed {
				torn = above
			}
		}
		if torn != nil {
			return &store.Conflict{Kind: torn.kind, ID: torn.id, Have: torn.version - 1, Kept: torn.version}
		}
	}
	return nil
}
