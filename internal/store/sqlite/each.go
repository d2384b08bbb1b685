package sqlite

import (
	"database/sql"
	"errors"
	"fmt"

	"gaitwright/internal/store"
)

// goThrough goes through the records that a clause after FROM gives.
func goThrough[T any](r *reader, from string, read func(*row) (T, error), fn func(T) error, args ...any) error {
	rows, err := r.tx.QueryContext(r.ctx, `SELECT `+rowColumns+` FROM `+from, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var x row
		if err := rows.Scan(&x.id, &x.version, &x.created, &x.changed, &x.body); err != nil {
			return err
		}
		v, err := read(&x)
		if err != nil {
			return err
		}
		if err := fn(v); err != nil {
			return err
		}
	}
	return rows.Err()
}

func (r *reader) Stamp() (string, error) {
	// Two changes of one microsecond still differ in their deeds or their versions.
	var changed, records, deed, undone, digests int64
	err := r.tx.QueryRowContext(r.ctx, `SELECT (SELECT coalesce(max(changed), 0) FROM record), (SELECT count(*) FROM record),
		(SELECT coalesce(max(id), 0) FROM deed), (SELECT coalesce(max(undone_at), 0) FROM deed), (SELECT coalesce(max(rowid), 0) FROM digest)`).
		Scan(&changed, &records, &deed, &undone, &digests)
	return fmt.Sprint(changed, " ", records, " ", deed, " ", undone, " ", digests), err
}

func (r *reader) Touched(since store.Mark) (list []store.Touched, now store.Mark, whole bool, err error) {
	err = r.tx.QueryRowContext(r.ctx, `SELECT (SELECT coalesce(max(changed), 0) FROM record), (SELECT coalesce(max(id), 0) FROM deed),
		(SELECT coalesce(max(rowid), 0) FROM digest), (SELECT coalesce(max(CAST(value AS INTEGER)), 0) FROM setting WHERE name = ?) + 1`, settingErasures).
		Scan(&now.Changed, &now.Deed, &now.Digest, &now.Erasures)
	if err != nil || since.Erasures != now.Erasures {
		return nil, now, false, err
	}
	err = r.each(func(scan func(...any) error) error {
		var one store.Touched
		err := scan(&one.ID, &one.Kind, &one.Parent)
		list = append(list, one)
		return err
	}, `SELECT id, kind, parent FROM record WHERE changed >= ?1
		UNION SELECT id, kind, parent FROM record WHERE id IN (SELECT record FROM content WHERE deed > ?2)
		UNION SELECT id, kind, parent FROM record WHERE id IN (SELECT result FROM digest WHERE rowid > ?3)`, since.Changed, since.Deed, since.Digest)
	return list, now, err == nil, err
}

func (r *reader) EachRunner(fn func(store.Runner) error) error {
	return goThrough(r, `record WHERE kind = 'runner' AND removed = 0 ORDER BY id`, runnerOf, fn)
}

func (r *reader) EachVisit(fn func(store.Visit) error) error {
	return goThrough(r, `record WHERE kind = 'visit' AND removed = 0 ORDER BY id`, visitOf, fn)
}

func (r *reader) EachRun(fn func(store.Run) error) error {
	// Their own index finds them among records that are many more.
	return goThrough(r, `record WHERE id IN (SELECT id FROM record INDEXED BY record_run WHERE kind = 'run' AND removed = 0) ORDER BY id`, runOf, fn)
}

func (r *reader) EachDocument(kind string, known func(id string, version int64) bool, fn func(store.Document) error) error {
	// Two passes, so that bodies that are known are not even fetched.
	rows, err := r.tx.QueryContext(r.ctx, `SELECT id, version, created, changed, parent, label, owner FROM record WHERE kind = 'document' AND label = ? AND removed = 0 ORDER BY id`, kind)
	if err != nil {
		return err
	}
	var all []store.Document
	for rows.Next() {
		var x row
		var d store.Document
		if err := rows.Scan(&x.id, &x.version, &x.created, &x.changed, &d.VisitID, &d.Kind, &d.Owner); err != nil {
			rows.Close()
			return err
		}
		d.Meta = x.meta()
		all = append(all, d)
	}
	if err := rows.Close(); err != nil {
		return err
	}
	if err := rows.Err(); err != nil {
		return err
	}
	body, err := r.tx.PrepareContext(r.ctx, `SELECT body FROM record WHERE id = ?`)
	if err != nil {
		return err
	}
	defer body.Close()
	for _, d := range all {
		if known == nil || !known(d.ID, d.Version) {
			x := row{id: d.ID}
			if err := body.QueryRowContext(r.ctx, d.ID).Scan(&x.body); err != nil {
				return err
			}
			whole, err := documentOf(&x)
			if err != nil {
				return err
			}
			d.Body = whole.Body
		}
		if err := fn(d); err != nil {
			return err
		}
	}
	return nil
}

func (r *reader) EachDigest(results []string, fn func(result string, body []byte) error) error {
	body, err := r.tx.PrepareContext(r.ctx, `SELECT body FROM digest WHERE result = ?`)
	if err != nil {
		return err
	}
	defer body.Close()
	for _, id := range results {
		var b []byte
		err := body.QueryRowContext(r.ctx, id).Scan(&b)
		if errors.Is(err, sql.ErrNoRows) {
			continue
		}
		if err != nil {
			return err
		}
		if err := fn(id, b); err != nil {
			return err
		}
	}
	return nil
}

func (r *reader) Undigested() ([]string, error) {
	return r.names(`SELECT id FROM record WHERE kind = 'result' AND removed = 0 AND id NOT IN (SELECT result FROM digest) ORDER BY id`)
}

// names reads one column of text.
func (r *reader) names(query string, args ...any) ([]string, error) {
	var out []string
	err := r.each(func(scan func(...any) error) error {
		var one string
		err := scan(&one)
		out = append(out, one)
		return err
	}, query, args...)
	return out, err
}

func (w *writer) PutDigest(result string, body []byte) error {
	if _, err := w.visible(store.KindResult, result); err != nil {
		return err
	}
	return w.exec(`INSERT INTO digest (result, body) VALUES (?, ?) ON CONFLICT (result) DO UPDATE SET body = excluded.body`, result, body)
}
