package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"gaitwright/internal/store"
)

// writer writes within one transaction.
type writer struct {
	reader
	s    *Store
	now  time.Time
	deed store.Deed
	id   int64 // of the deed in the journal, 0 until a record is touched

	runners map[string]bool // whose line in the list is to be made again
	texts   map[string]bool // runners whose words are
	written map[string]bool // documents that may say something a runner is found by
	given   []given
}

// given is what a caller's record said before it was put.
type given struct {
	meta *store.Meta
	was  store.Meta
}

// restore gives callers back what their records said, where a change was not
// kept.
func (w *writer) restore() {
	for i := len(w.given) - 1; i >= 0; i-- {
		*w.given[i].meta = w.given[i].was
	}
}

// Change gives fn a transaction.
func (s *Store) Change(ctx context.Context, deed store.Deed, fn func(store.Writer) error) error {
	return s.said(s.alter(ctx, func(w *writer) error {
		w.deed = deed
		return fn(w)
	}))
}

// journal makes the deed's line, once a record is touched.
func (w *writer) journal() error {
	if w.id != 0 {
		return nil
	}
	if w.deed.What == "" {
		return errors.New("a change of records needs a name for the journal")
	}
	if w.deed.VisitID != "" {
		// A new deed is where the list goes on; what was undone stays so.
		if err := w.exec(`UPDATE deed SET state = 2 WHERE list = ? AND state = 1`, w.deed.VisitID); err != nil {
			return err
		}
	}
	res, err := w.tx.ExecContext(w.ctx, `INSERT INTO deed (at, who, what, list) VALUES (?, ?, ?, ?)`, w.now.UnixMicro(), w.deed.Who, w.deed.What, w.deed.VisitID)
	if err != nil {
		return err
	}
	w.id, err = res.LastInsertId()
	return err
}

func (w *writer) exec(query string, args ...any) error {
	_, err := w.tx.ExecContext(w.ctx, query, args...)
	return err
}

// kept is what stands of a record.
type kept struct {
	id               string
	kind             store.Kind
	version, created int64
	deed             int64
	removed          bool
	parent           string
}

// find returns what stands of a record, also of a removed one; nil for none.
func (w *writer) find(id string) (*kept, error) {
	k := kept{id: id}
	err := w.tx.QueryRowContext(w.ctx, `SELECT kind, version, created, deed, removed, parent FROM record WHERE id = ?`, id).
		Scan(&k.kind, &k.version, &k.created, &k.deed, &k.removed, &k.parent)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	return &k, err
}

// visible finds a record that is not removed.
func (w *writer) visible(kind store.Kind, id string) (*kept, error) {
	k, err := w.find(id)
	if err == nil && (k == nil || k.removed || k.kind != kind) {
		err = notFound(kind, id)
	}
	return k, err
}

// put writes a record of any journalled kind.
func (w *writer) put(kind store.Kind, m *store.Meta, f form) error {
	body, err := encode(f)
	if err != nil {
		return err
	}
	k, err := f.keys()
	if err != nil {
		return err
	}
	if above := parentKind(kind); above != "" && (k.parent != "" || kind == store.KindVisit || kind == store.KindClip || kind == store.KindRun) {
		if _, err := w.visible(above, k.parent); err != nil {
			return err
		}
	}
	if kind == store.KindDocument {
		if k.label == "" || k.owner == "" {
			return errors.New("a document needs a kind and an owner")
		}
	}
	if kind == store.KindRun && k.owner == "" {
		return errors.New("a run needs the hash of its file")
	}
	if err := w.alone(kind, k, m.ID, m.Version); err != nil {
		return err
	}
	next := store.Meta{ID: m.ID, Version: 1, Created: w.now, Changed: w.now}
	var before int64
	oldParent := ""
	if m.ID != "" {
		old, err := w.visible(kind, m.ID)
		if err != nil {
			return err
		}
		if old.version != m.Version {
			return &store.Conflict{Kind: kind, ID: m.ID, Have: m.Version, Kept: old.version}
		}
		next.Version, next.Created = old.version+1, micro(old.created)
		before, oldParent = old.deed, old.parent
	} else {
		next.ID = w.s.ids.Next()
	}
	if err := w.journal(); err != nil {
		return err
	}
	at := k.at
	if at.IsZero() {
		at = next.Created
	}
	if err := w.exec(`INSERT INTO record (id, kind, version, created, changed, removed, deed, parent, label, owner, at, body)
		VALUES (?, ?, ?, ?, ?, 0, ?, ?, ?, ?, ?, ?)
		ON CONFLICT (id) DO UPDATE SET version = excluded.version, changed = excluded.changed, deed = excluded.deed, parent = excluded.parent,
			label = excluded.label, owner = excluded.owner, at = excluded.at, body = excluded.body`,
		next.ID, string(kind), next.Version, next.Created.UnixMicro(), next.Changed.UnixMicro(), w.id, k.parent, k.label, k.owner, at.UnixMicro(), string(body)); err != nil {
		return err
	}
	if err := w.remember(next.ID, before, next.Version, false, pack(body)); err != nil {
		return err
	}
	for _, h := range hashes(body) {
		if err := w.exec(`INSERT OR IGNORE INTO file (hash, record) VALUES (?, ?)`, h, next.ID); err != nil {
			return err
		}
	}
	w.mark(kind, next.ID, k.parent, oldParent)
	w.given = append(w.given, given{m, *m})
	*m = next
	return nil
}

func parentKind(kind store.Kind) store.Kind {
	switch kind {
	case store.KindRunner:
		return ""
	case store.KindVisit, store.KindRun:
		return store.KindRunner
	}
	return store.KindVisit
}

// alone refuses a document where another of its kind has the owner, and a run
// where another is of the same file.
func (w *writer) alone(kind store.Kind, k keys, id string, version int64) error {
	if kind != store.KindDocument && kind != store.KindRun {
		return nil
	}
	var other string
	var kept int64
	err := w.tx.QueryRowContext(w.ctx, `SELECT id, version FROM record WHERE owner = ? AND label = ? AND kind = ? AND removed = 0 AND id <> ?`, k.owner, k.label, string(kind), id).Scan(&other, &kept)
	if errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	if err != nil {
		return err
	}
	return &store.Conflict{Kind: kind, ID: other, Have: version, Kept: kept}
}

// remember writes what a record becomes by the deed.
func (w *writer) remember(id string, before, version int64, removed bool, content any) error {
	return w.exec(`INSERT INTO content (record, deed, before, version, removed, body) VALUES (?, ?, ?, ?, ?, ?)
		ON CONFLICT (record, deed) DO UPDATE SET version = excluded.version, removed = excluded.removed, body = excluded.body`,
		id, w.id, before, version, removed, content)
}

// mark notes what of the lists is to be made again.
func (w *writer) mark(kind store.Kind, id string, parents ...string) {
	switch kind {
	case store.KindRunner:
		w.runners[id], w.texts[id] = true, true
	case store.KindVisit:
		for _, p := range parents {
			if p != "" {
				w.runners[p], w.texts[p] = true, true
			}
		}
	case store.KindDocument:
		w.written[id] = true
	}
}

func (w *writer) PutRunner(v *store.Runner) error {
	var c times
	f := &runnerForm{Name: v.Name, Sex: v.Sex, BornYear: v.BornYear, HeightM: v.HeightM, MassKG: v.MassKG,
		LegLengthM: v.LegLengthM, LegLengthHow: v.LegLengthHow, Note: v.Note,
		ConsentFilming: c.text(v.ConsentFilming), ConsentRecords: c.text(v.ConsentRecords), ConsentResearch: c.text(v.ConsentResearch), ConsentPlaces: c.text(v.ConsentPositions)}
	if c.err != nil {
		return c.err
	}
	return w.put(store.KindRunner, &v.Meta, f)
}

func (w *writer) PutVisit(v *store.Visit) error {
	var c times
	f := &visitForm{Runner: v.RunnerID, Date: c.text(v.Date), Tags: v.Tags, Note: v.Note}
	if c.err != nil {
		return c.err
	}
	return w.put(store.KindVisit, &v.Meta, f)
}

func (w *writer) PutClip(v *store.Clip) error {
	return w.put(store.KindClip, &v.Meta, &clipForm{Visit: v.VisitID, Name: v.Name, Kind: v.Kind, Hash: v.Hash, Bytes: v.Bytes,
		Facts: v.Facts, Probe: v.Probe, Track: v.Track, TrackedWith: v.TrackedWith})
}

func (w *writer) PutDocument(v *store.Document) error {
	return w.put(store.KindDocument, &v.Meta, &documentForm{Visit: v.VisitID, Kind: v.Kind, Owner: v.Owner, Body: v.Body})
}

func (w *writer) PutResult(v *store.Result) error {
	return w.put(store.KindResult, &v.Meta, &resultForm{Visit: v.VisitID, Clips: v.ClipIDs, Runner: v.Runner, Hash: v.Hash, Summary: v.Summary})
}

func (w *writer) PutRun(v *store.Run) error {
	var c times
	f := &runForm{Runner: v.RunnerID, Start: c.text(v.Start), Name: v.Name, Hash: v.Hash, Bytes: v.Bytes, Samples: v.Samples, Original: v.Original, Use: v.Use, Facts: v.Facts}
	if c.err != nil {
		return c.err
	}
	return w.put(store.KindRun, &v.Meta, f)
}

func (w *writer) PutJob(v *store.Job) error {
	var c times
	body, err := encode(&jobForm{Visit: v.VisitID, Clip: v.ClipID, Kind: v.Kind, Request: v.Request, Share: v.Share,
		Message: v.Message, Started: c.text(v.Started), Ended: c.text(v.Ended), Outcome: v.Outcome, Broken: v.Broken})
	if err = errors.Join(err, c.err); err != nil {
		return err
	}
	next := store.Meta{ID: v.ID, Version: 1, Created: w.now, Changed: w.now}
	if v.ID == "" {
		next.ID = w.s.ids.Next()
	} else {
		old, err := w.Job(v.ID)
		if err != nil {
			return err
		}
		if old.Version != v.Version {
			return &store.Conflict{Kind: store.KindJob, ID: v.ID, Have: v.Version, Kept: old.Version}
		}
		next.Version, next.Created = old.Version+1, old.Created
	}
	if err := w.exec(`INSERT INTO job (id, version, created, changed, state, body) VALUES (?, ?, ?, ?, ?, ?)
		ON CONFLICT (id) DO UPDATE SET version = excluded.version, changed = excluded.changed, state = excluded.state, body = excluded.body`,
		next.ID, next.Version, next.Created.UnixMicro(), next.Changed.UnixMicro(), string(v.State), string(body)); err != nil {
		return err
	}
	w.given = append(w.given, given{&v.Meta, v.Meta})
	v.Meta = next
	return nil
}

func (w *writer) PutSetting(name, value string) error {
	if name == "" {
		return errors.New("a setting needs a name")
	}
	return w.exec(`INSERT INTO setting (name, value) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value`, name, value)
}

func (w *writer) Remove(kind store.Kind, id string, version int64) error {
	if _, err := formOf(kind); err != nil {
		return err
	}
	k, err := w.visible(kind, id)
	if err != nil {
		return err
	}
	if k.version != version {
		return &store.Conflict{Kind: kind, ID: id, Have: version, Kept: k.version}
	}
	if err := w.journal(); err != nil {
		return err
	}
	return w.remove(k)
}

// remove takes a record and what belongs to it out of sight.
func (w *writer) remove(k *kept) error {
	below, err := w.below(k)
	if err != nil {
		return err
	}
	for _, id := range below {
		c, err := w.find(id)
		if err != nil {
			return err
		}
		if !c.removed { // it may belong to two that were
			if err := w.remove(c); err != nil {
				return err
			}
		}
	}
	if err := w.exec(`UPDATE record SET removed = 1, version = ?, changed = ?, deed = ? WHERE id = ?`, k.version+1, w.now.UnixMicro(), w.id, k.id); err != nil {
		return err
	}
	w.mark(k.kind, k.id, k.parent)
	return w.remember(k.id, k.deed, k.version+1, true, nil)
}

// below lists the visible records that belong to one.
func (w *writer) below(k *kept) ([]string, error) {
	var out []string
	err := w.each(func(scan func(...any) error) error {
		var id string
		err := scan(&id)
		out = append(out, id)
		return err
	}, `SELECT id FROM record WHERE parent = ?1 AND removed = 0
		UNION SELECT id FROM record WHERE kind = 'document' AND removed = 0 AND id <> ?1 AND owner >= ?1 AND owner < ?1 || char(1114111)`, k.id)
	return out, err
}

// derive makes again what of the lists the change has touched.
func (w *writer) derive() error {
	for id := range w.written {
		if err := w.each(func(scan func(...any) error) error {
			var runner string
			err := scan(&runner)
			w.texts[runner] = true
			return err
		}, `SELECT v.parent FROM record d JOIN record v ON v.id = d.parent WHERE d.id = ? AND d.label = 'intake' AND v.parent <> ''`, id); err != nil {
			return err
		}
	}
	for id := range w.texts {
		if err := w.exec(`DELETE FROM word WHERE runner = ?`, id); err != nil {
			return err
		}
		v, err := w.Runner(id)
		if errors.Is(err, store.ErrNotFound) {
			continue
		}
		if err != nil {
			return err
		}
		told, err := w.complaints(id)
		if err != nil {
			return err
		}
		if err := putWords(w.ctx, w.tx, id, v.Name+" "+v.Note+" "+told); err != nil {
			return fmt.Errorf("the words of %s: %w", id, err)
		}
	}
	for id := range w.runners {
		for _, q := range []string{
			`DELETE FROM seen WHERE runner = ?1`,
			`DELETE FROM tag WHERE runner = ?1`,
			`INSERT INTO seen (runner, at, visits, last, last_id)
			SELECT r.id, coalesce(v.at, r.created),
				(SELECT count(*) FROM record n WHERE n.parent = r.id AND n.kind = 'visit' AND n.removed = 0),
				coalesce(json_extract(v.body, '$.date'), ''), coalesce(v.id, '')
			FROM record r LEFT JOIN record v ON v.id = (
				SELECT l.id FROM record l WHERE l.parent = r.id AND l.kind = 'visit' AND l.removed = 0 ORDER BY l.at DESC, l.id DESC LIMIT 1)
			WHERE r.id = ?1 AND r.kind = 'runner' AND r.removed = 0`,
			`INSERT INTO tag (runner, name, visits)
			SELECT v.parent, j.value, count(DISTINCT v.id)
			FROM record v, json_each(v.body, '$.tags') j
			WHERE v.parent = ?1 AND v.kind = 'visit' AND v.removed = 0 AND j.value <> ''
			GROUP BY j.value`,
		} {
			if err := w.exec(q, id); err != nil {
				return err
			}
		}
	}
	return nil
}
