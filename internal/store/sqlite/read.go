package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"

	"gaitwright/internal/store"
)

// reader reads within one transaction.
type reader struct {
	ctx context.Context
	tx  *sql.Tx
}

// row is a record as it lies in the file.
type row struct {
	id                        string
	version, created, changed int64
	body                      string
}

const rowColumns = `id, version, created, changed, body`

func (r *row) meta() store.Meta {
	return store.Meta{ID: r.id, Version: r.version, Created: micro(r.created), Changed: micro(r.changed)}
}

func notFound(kind store.Kind, id string) error {
	return fmt.Errorf("%w: %s %.80q", store.ErrNotFound, kind, id)
}

// pick reads one record.
func pick[T any](r *reader, kind store.Kind, id string, read func(*row) (T, error)) (T, error) {
	var none T
	var x row
	err := r.tx.QueryRowContext(r.ctx, `SELECT `+rowColumns+` FROM record WHERE id = ? AND kind = ? AND removed = 0`, id, string(kind)).
		Scan(&x.id, &x.version, &x.created, &x.changed, &x.body)
	if errors.Is(err, sql.ErrNoRows) {
		return none, notFound(kind, id)
	}
	if err != nil {
		return none, err
	}
	return read(&x)
}

// list reads the records that a clause after SELECT … FROM gives.
func list[T any](r *reader, from string, read func(*row) (T, error), args ...any) ([]T, error) {
	rows, err := r.tx.QueryContext(r.ctx, `SELECT `+rowColumns+` FROM `+from, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []T
	for rows.Next() {
		var x row
		if err := rows.Scan(&x.id, &x.version, &x.created, &x.changed, &x.body); err != nil {
			return nil, err
		}
		v, err := read(&x)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, rows.Err()
}

func runnerOf(x *row) (store.Runner, error) {
	var f runnerForm
	if err := decode(x.id, x.body, &f); err != nil {
		return store.Runner{}, err
	}
	var c times
	v := store.Runner{Meta: x.meta(), Name: f.Name, Sex: f.Sex, BornYear: f.BornYear, HeightM: f.HeightM, MassKG: f.MassKG,
		LegLengthM: f.LegLengthM, LegLengthHow: f.LegLengthHow, Note: f.Note,
		ConsentFilming: c.parse(f.ConsentFilming), ConsentRecords: c.parse(f.ConsentRecords), ConsentResearch: c.parse(f.ConsentResearch), ConsentPositions: c.parse(f.ConsentPlaces)}
	return v, c.err
}

func visitOf(x *row) (store.Visit, error) {
	var f visitForm
	if err := decode(x.id, x.body, &f); err != nil {
		return store.Visit{}, err
	}
	var c times
	v := store.Visit{Meta: x.meta(), RunnerID: f.Runner, Date: c.parse(f.Date), Tags: f.Tags, Note: f.Note}
	return v, c.err
}

func clipOf(x *row) (store.Clip, error) {
	var f clipForm
	if err := decode(x.id, x.body, &f); err != nil {
		return store.Clip{}, err
	}
	return store.Clip{Meta: x.meta(), VisitID: f.Visit, Name: f.Name, Kind: f.Kind, Hash: f.Hash, Bytes: f.Bytes,
		Facts: f.Facts, Probe: f.Probe, Track: f.Track, TrackedWith: f.TrackedWith}, nil
}

func documentOf(x *row) (store.Document, error) {
	var f documentForm
	if err := decode(x.id, x.body, &f); err != nil {
		return store.Document{}, err
	}
	return store.Document{Meta: x.meta(), VisitID: f.Visit, Kind: f.Kind, Owner: f.Owner, Body: f.Body}, nil
}

func resultOf(x *row) (store.Result, error) {
	var f resultForm
	if err := decode(x.id, x.body, &f); err != nil {
		return store.Result{}, err
	}
	return store.Result{Meta: x.meta(), VisitID: f.Visit, ClipIDs: f.Clips, Runner: f.Runner, Hash: f.Hash, Summary: f.Summary}, nil
}

func (r *reader) Runner(id string) (store.Runner, error) {
	return pick(r, store.KindRunner, id, runnerOf)
}

func (r *reader) Visit(id string) (store.Visit, error) { return pick(r, store.KindVisit, id, visitOf) }

func (r *reader) VisitsOf(runnerID string) ([]store.Visit, error) {
	return list(r, `record WHERE parent = ? AND kind = 'visit' AND removed = 0 ORDER BY at DESC, id DESC`, visitOf, runnerID)
}

// complaints is what a runner said at the intakes, in their own words, the newest first.
// It is all that is known here of what a document says.
func (r *reader) complaints(runnerID string) (string, error) {
	var all []string
	err := r.each(func(scan func(...any) error) error {
		var one string
		err := scan(&one)
		all = append(all, one)
		return err
	}, `SELECT json_extract(d.body, '$.body.complaint')
		FROM record v JOIN record d ON d.owner = v.id AND d.label = 'intake' AND d.kind = 'document' AND d.removed = 0
		WHERE v.parent = ? AND v.kind = 'visit' AND v.removed = 0 AND json_type(d.body, '$.body.complaint') = 'text'
		ORDER BY v.at DESC, v.id DESC`, runnerID)
	return strings.Join(all, " "), err
}

func (r *reader) Clip(id string) (store.Clip, error) { return pick(r, store.KindClip, id, clipOf) }

func (r *reader) ClipsOf(visitID string) ([]store.Clip, error) {
	return list(r, `record WHERE parent = ? AND kind = 'clip' AND removed = 0 ORDER BY at, id`, clipOf, visitID)
}

func (r *reader) Document(kind, owner string) (store.Document, error) {
	out, err := list(r, `record WHERE owner = ? AND label = ? AND kind = 'document' AND removed = 0`, documentOf, owner, kind)
	if err == nil && len(out) == 0 {
		err = fmt.Errorf("%w: %.80q of %.80q", store.ErrNotFound, kind, owner)
	}
	if err != nil {
		return store.Document{}, err
	}
	return out[0], nil
}

func (r *reader) DocumentsOf(visitID string) ([]store.Document, error) {
	return list(r, `record WHERE parent = ? AND kind = 'document' AND removed = 0 ORDER BY at, id`, documentOf, visitID)
}

func (r *reader) Result(id string) (store.Result, error) {
	return pick(r, store.KindResult, id, resultOf)
}

func (r *reader) ResultsOf(visitID string) ([]store.Result, error) {
	return list(r, `record WHERE parent = ? AND kind = 'result' AND removed = 0 ORDER BY at DESC, id DESC`, resultOf, visitID)
}

func (r *reader) Results(limit int) ([]store.Result, error) {
	if limit <= 0 {
		limit = -1 // none
	}
	return list(r, `record WHERE kind = 'result' AND removed = 0 ORDER BY at DESC, id DESC LIMIT ?`, resultOf, limit)
}

func runOf(x *row) (store.Run, error) {
	var f runForm
	if err := decode(x.id, x.body, &f); err != nil {
		return store.Run{}, err
	}
	var c times
	v := store.Run{Meta: x.meta(), RunnerID: f.Runner, Start: c.parse(f.Start), Name: f.Name, Hash: f.Hash, Bytes: f.Bytes,
		Samples: f.Samples, Original: f.Original, Use: f.Use, Facts: f.Facts}
	return v, c.err
}

func (r *reader) Run(id string) (store.Run, error) { return pick(r, store.KindRun, id, runOf) }

func (r *reader) RunsOf(runnerID string) ([]store.Run, error) {
	return list(r, `record WHERE parent = ? AND kind = 'run' AND removed = 0 ORDER BY at, id`, runOf, runnerID)
}

func (r *reader) RunOfFile(hash string) (store.Run, error) {
	out, err := list(r, `record WHERE owner = ? AND kind = 'run' AND removed = 0`, runOf, hash)
	if err == nil && len(out) == 0 {
		err = notFound(store.KindRun, hash)
	}
	if err != nil {
		return store.Run{}, err
	}
	return out[0], nil
}

const jobColumns = `id, version, created, changed, state, body`

func scanJob(scan func(...any) error) (store.Job, error) {
	var x row
	var state string
	if err := scan(&x.id, &x.version, &x.created, &x.changed, &state, &x.body); err != nil {
		return store.Job{}, err
	}
	var f jobForm
	if err := decode(x.id, x.body, &f); err != nil {
		return store.Job{}, err
	}
	var c times
	v := store.Job{Meta: x.meta(), VisitID: f.Visit, ClipID: f.Clip, Kind: f.Kind, State: store.JobState(state), Request: f.Request,
		Share: f.Share, Message: f.Message, Started: c.parse(f.Started), Ended: c.parse(f.Ended), Outcome: f.Outcome, Broken: f.Broken}
	return v, c.err
}

func (r *reader) Job(id string) (store.Job, error) {
	v, err := scanJob(r.tx.QueryRowContext(r.ctx, `SELECT `+jobColumns+` FROM job WHERE id = ?`, id).Scan)
	if errors.Is(err, sql.ErrNoRows) {
		err = notFound(store.KindJob, id)
	}
	return v, err
}

func (r *reader) Jobs(states ...store.JobState) ([]store.Job, error) {
	where, args := "", []any(nil)
	if len(states) > 0 {
		for _, s := range states {
			args = append(args, string(s))
		}
		where = ` WHERE state IN (?` + strings.Repeat(`, ?`, len(states)-1) + `)`
	}
	rows, err := r.tx.QueryContext(r.ctx, `SELECT `+jobColumns+` FROM job`+where+` ORDER BY id`, args...)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []store.Job
	for rows.Next() {
		v, err := scanJob(rows.Scan)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, rows.Err()
}

func (r *reader) Setting(name string) (string, error) {
	var value string
	err := r.tx.QueryRowContext(r.ctx, `SELECT value FROM setting WHERE name = ?`, name).Scan(&value)
	if errors.Is(err, sql.ErrNoRows) {
		return "", nil
	}
	return value, err
}

func (r *reader) FilesInUse() (map[string]bool, error) {
	out := map[string]bool{}
	err := r.each(func(scan func(...any) error) error {
		var hash string
		if err := scan(&hash); err != nil {
			return err
		}
		out[hash] = true
		return nil
	}, `SELECT DISTINCT hash FROM file`)
	return out, err
}

// each gives fn every row of a query.
func (r *reader) each(fn func(scan func(...any) error) error, query string, args ...any) error {
	rows, err := r.tx.QueryContext(r.ctx, query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := fn(rows.Scan); err != nil {
			return err
		}
	}
	return rows.Err()
}
