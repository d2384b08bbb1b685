package sqlite

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"

	"gaitwright/internal/store"
)

// Look notes that someone opened records of a runner.
func (s *Store) Look(ctx context.Context, l store.Look) error {
	return s.said(s.alter(ctx, func(w *writer) error {
		if _, err := w.visible(store.KindRunner, l.RunnerID); err != nil {
			return err
		}
		return w.exec(`INSERT INTO look (at, who, runner, what) SELECT ?1, ?2, ?3, ?4
			WHERE NOT EXISTS (SELECT 1 FROM look WHERE runner = ?3 AND who = ?2 AND what = ?4 AND at > ?5)`,
			w.now.UnixMicro(), l.Who, l.RunnerID, l.What, w.now.Add(-store.LookAgain).UnixMicro())
	}))
}

// Trail lists who saw and changed what.
func (s *Store) Trail(ctx context.Context, runnerID string, limit int) ([]store.TrailLine, error) {
	if limit <= 0 {
		limit = -1
	}
	const looks = `SELECT at, who, what, 1 AS saw, runner, 0 AS undone_at, '' AS undone_by, id FROM look`
	const deeds = `SELECT at, who, what, 0, %s, coalesce(undone_at, 0), coalesce(undone_by, ''), id FROM deed`
	// Whose a deed is, is told by the records it touched.
	const touched = `WITH RECURSIVE mine (id) AS (
		SELECT ?1 UNION SELECT r.id FROM record r JOIN mine m ON r.parent = m.id AND m.id <> '')
		`
	query := looks + ` UNION ALL ` + fmt.Sprintf(deeds, `''`) + ` ORDER BY at DESC, saw, id DESC LIMIT ?`
	args := []any{limit}
	if runnerID != "" {
		query = touched + looks + ` WHERE runner = ?1 UNION ALL ` + fmt.Sprintf(deeds, `?1`) +
			` WHERE id IN (SELECT deed FROM content WHERE record IN mine) OR list IN mine ORDER BY at DESC, saw, id DESC LIMIT ?2`
		args = []any{runnerID, limit}
	}
	var out []store.TrailLine
	err := s.see(ctx, func(r *reader) error {
		return r.each(func(scan func(...any) error) error {
			var l store.TrailLine
			var at, undone, id int64
			if err := scan(&at, &l.Who, &l.What, &l.Saw, &l.RunnerID, &undone, &l.UndoneBy, &id); err != nil {
				return err
			}
			l.At = micro(at)
			if undone != 0 {
				l.UndoneAt = micro(undone)
			}
			out = append(out, l)
			return nil
		}, query, args...)
	})
	return out, s.said(err)
}

// belonging are records, in sight or not, with all that has them for a parent, and
// the documents whose owner begins with the ID of one: documents of clips and
// results. %s selects the first of them.
const belonging = `
CREATE TEMP TABLE erased AS
	WITH RECURSIVE mine (id) AS (
		%s
		UNION SELECT r.id FROM record r JOIN mine m ON m.id <> '' AND (r.parent = m.id
			OR r.kind = 'document' AND r.owner >= m.id AND r.owner < m.id || char(1114111)))
	SELECT r.id FROM record r WHERE r.id IN mine`

// Erase removes a runner for good.
func (s *Store) Erase(ctx context.Context, runnerID, who string, results []string) (store.Erased, error) {
	return s.erase(ctx, runnerID, store.Deed{Who: who, What: "Erased a runner and all that belonged to that runner"}, func(w *writer) error {
		for _, id := range results {
			if k, err := w.find(id); err != nil || k == nil || k.kind != store.KindResult || k.parent != "" {
				return errors.Join(err, fmt.Errorf("%w: %.40q is no result that belongs to no visit", store.ErrNotFound, id))
			}
		}
		list, err := encode(append([]string{}, results...))
		if err != nil {
			return err
		}
		return w.exec(fmt.Sprintf(belonging, `SELECT ?1 UNION SELECT value FROM json_each(?2)`), runnerID, string(list))
	})
}

// EraseFilms removes the films of a runner for good.
func (s *Store) EraseFilms(ctx context.Context, runnerID, who string) (store.Erased, error) {
	return s.erase(ctx, runnerID, store.Deed{Who: who, What: "Erased the films of a runner who withdrew the consent to filming"}, func(w *writer) error {
		return w.exec(fmt.Sprintf(belonging, `SELECT c.id FROM record c JOIN record v ON v.id = c.parent
			WHERE v.parent = ?1 AND c.kind = 'clip' AND json_extract(c.body, '$.kind') = 'film'`), runnerID)
	})
}

// settingErasures counts how often something was erased, so that whoever holds records
// in memory knows that some may be gone without a trace.
const settingErasures = "erasures"

// erase removes for good what choose puts into the table erased.
func (s *Store) erase(ctx context.Context, runnerID string, deed store.Deed, choose func(*writer) error) (store.Erased, error) {
	var out store.Erased
	err := s.alter(ctx, func(w *writer) error {
		out = store.Erased{}
		// A runner who was only taken out of sight can be erased too.
		k, err := w.find(runnerID)
		if err != nil {
			return err
		}
		if k == nil || k.kind != store.KindRunner {
			return notFound(store.KindRunner, runnerID)
		}
		if err := w.exec(`INSERT INTO setting (name, value) VALUES (?, '1') ON CONFLICT (name) DO UPDATE SET value = CAST(CAST(value AS INTEGER) + 1 AS TEXT)`, settingErasures); err != nil {
			return err
		}
		if err := w.exec(`DROP TABLE IF EXISTS temp.erased`); err != nil {
			return err
		}
		if err := choose(w); err != nil {
			return err
		}
		column := func(query string) (list []string, err error) {
			err = w.each(func(scan func(...any) error) error {
				var one string
				err := scan(&one)
				list = append(list, one)
				return err
			}, query)
			return list, err
		}
		if out.IDs, err = column(`SELECT id FROM temp.erased ORDER BY id`); err != nil {
			return err
		}
		out.Records = len(out.IDs)
		if out.Records == 0 {
			return w.exec(`DROP TABLE temp.erased`)
		}
		// A job that measured or followed may name a clip in what was asked of it.
		const theirs = ` FROM job WHERE EXISTS (SELECT 1 FROM temp.erased e WHERE instr(job.body, '"' || e.id || '"') > 0)`
		jobs, err := column(`SELECT id` + theirs)
		if err != nil {
			return err
		}
		out.IDs = append(out.IDs, jobs...)
		if out.Files, err = column(`SELECT DISTINCT hash FROM file WHERE record IN temp.erased
			AND hash NOT IN (SELECT hash FROM file WHERE record NOT IN temp.erased)`); err != nil {
			return err
		}
		for _, q := range []string{
			`DELETE` + theirs,
			`DELETE FROM setting WHERE EXISTS (SELECT 1 FROM temp.erased e WHERE instr(setting.name || ' ' || setting.value, e.id) > 0)`,
			`DELETE FROM digest WHERE result IN temp.erased`,
			`DELETE FROM look WHERE runner IN temp.erased`,
			`DELETE FROM word WHERE runner IN temp.erased`,
			`DELETE FROM tag WHERE runner IN temp.erased`,
			`DELETE FROM seen WHERE runner IN temp.erased`,
			`DELETE FROM file WHERE record IN temp.erased`,
			`CREATE TEMP TABLE gone AS SELECT id FROM deed WHERE list IN temp.erased OR id IN (SELECT deed FROM content WHERE record IN temp.erased)`,
			`DELETE FROM content WHERE record IN temp.erased`,
			// What one deed did to others as well stays done, without its words.
			`UPDATE deed SET what = 'Something that was erased since' WHERE id IN (SELECT id FROM temp.gone)`,
			`UPDATE deed SET list = '' WHERE list IN temp.erased`,
			`DELETE FROM deed WHERE id IN (SELECT id FROM temp.gone) AND id NOT IN (SELECT deed FROM content)`,
			`DROP TABLE temp.gone`,
			`DELETE FROM record WHERE id IN temp.erased`,
			`DROP TABLE temp.erased`,
		} {
			if err := w.exec(q); err != nil {
				return fmt.Errorf("%w (%.40s)", err, strings.TrimSpace(q))
			}
		}
		return w.exec(`INSERT INTO deed (at, who, what, list) VALUES (?, ?, ?, '')`, w.now.UnixMicro(), deed.Who, deed.What)
	})
	if err != nil {
		out = store.Erased{}
	}
	return out, s.said(err)
}

// Purge writes the file anew and empties its log.
func (s *Store) Purge(ctx context.Context) error {
	select {
	case s.turn <- struct{}{}:
	case <-ctx.Done():
		return ctx.Err()
	}
	defer func() { <-s.turn }()
	if _, err := s.write.ExecContext(ctx, `VACUUM`); err != nil {
		return s.said(err)
	}
	var busy, pages, moved int
	if err := s.write.QueryRowContext(ctx, `PRAGMA wal_checkpoint(TRUNCATE)`).Scan(&busy, &pages, &moved); err != nil {
		return s.said(err)
	}
	if busy != 0 {
		return fmt.Errorf("%w: someone was reading; the log could not be emptied", store.ErrBusy)
	}
	return nil
}

// Snapshot writes the records of one moment into a new file.
func (s *Store) Snapshot(ctx context.Context, path string) error {
	if _, err := os.Lstat(path); err == nil {
		return fmt.Errorf("%s is there already", path)
	}
	db, err := s.pool(1, "") // the readers may write nowhere, not even there
	if err != nil {
		return err
	}
	defer db.Close()
	if _, err := db.ExecContext(ctx, `VACUUM INTO ?`, path); err != nil {
		os.Remove(path)
		return s.said(err)
	}
	f, err := os.OpenFile(path, os.O_RDWR, 0o600)
	if err != nil {
		return err
	}
	return errors.Join(f.Chmod(0o600), f.Sync(), f.Close())
}

// Check reads the file through.
func (s *Store) Check(ctx context.Context) error {
	err := s.see(ctx, func(r *reader) error {
		var faults []string
		err := r.each(func(scan func(...any) error) error {
			var line string
			err := scan(&line)
			if line != "ok" {
				faults = append(faults, line)
			}
			return err
		}, `PRAGMA integrity_check(10)`)
		if err != nil {
			return err
		}
		err = r.each(func(scan func(...any) error) error {
			var table, parent string
			var row, key any
			err := scan(&table, &row, &parent, &key)
			faults = append(faults, "a row of "+table+" without its "+parent)
			return err
		}, `PRAGMA foreign_key_check`)
		if err == nil && len(faults) > 0 {
			err = fmt.Errorf("%w: %s", store.ErrDamaged, strings.Join(faults, "; "))
		}
		return err
	})
	return s.said(err)
}
