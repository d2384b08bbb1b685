package sqlite

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"

	"github.com/pressly/goose/v3"

	"gaitwright/internal/store"
)

// applicationID marks a file as records of this program: "Gait".
const applicationID = 1197566324

//go:embed migrations/*.sql
var migrations embed.FS

// versionTable is where the schema's version is kept.
const versionTable = "schema_version"

func migrator(db *sql.DB) (*goose.Provider, error) {
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return nil, err
	}
	return goose.NewProvider(goose.DialectSQLite3, db, files,
		goose.WithTableName(versionTable),
		goose.WithLogger(goose.NopLogger()),
		goose.WithDisableGlobalRegistry(true),
		goose.WithGoMigrations(
			goose.NewGoMigration(2, &goose.GoFunc{RunTx: addWords}, nil),
			goose.NewGoMigration(8, &goose.GoFunc{RunTx: addComplaints}, nil)))
}

// addWords is the second schema: the words by which runners are found. Folding
// them takes Unicode tables that SQL has not, so this step is a program.
func addWords(ctx context.Context, tx *sql.Tx) error {
	for _, q := range []string{
		`CREATE TABLE word (word TEXT NOT NULL, runner TEXT NOT NULL REFERENCES record (id), PRIMARY KEY (word, runner)) STRICT, WITHOUT ROWID`,
		`CREATE INDEX word_runner ON word (runner)`,
	} {
		if _, err := tx.ExecContext(ctx, q); err != nil {
			return err
		}
	}
	texts := map[string]string{}
	rows, err := tx.QueryContext(ctx, `SELECT id, coalesce(json_extract(body, '$.name'), '') || ' ' || coalesce(json_extract(body, '$.note'), '')
		FROM record WHERE kind = 'runner' AND removed = 0`)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var id, text string
		if err := rows.Scan(&id, &text); err != nil {
			return err
		}
		texts[id] = text
	}
	if err := rows.Err(); err != nil {
		return err
	}
	for id, text := range texts {
		if err := putWords(ctx, tx, id, text); err != nil {
			return err
		}
	}
	return nil
}

// addComplaints is the eighth schema: what runners said at the intake in their own words
// is among the words by which they are found.
func addComplaints(ctx context.Context, tx *sql.Tx) error {
	r := &reader{ctx: ctx, tx: tx}
	var runners []string
	err := r.each(func(scan func(...any) error) error {
		var id string
		err := scan(&id)
		runners = append(runners, id)
		return err
	}, `SELECT DISTINCT v.parent FROM record d JOIN record v ON v.id = d.owner
		WHERE d.label = 'intake' AND d.kind = 'document' AND d.removed = 0 AND v.kind = 'visit' AND v.removed = 0
		AND json_type(d.body, '$.body.complaint') = 'text'`)
	if err != nil {
		return err
	}
	for _, id := range runners {
		v, err := r.Runner(id)
		if errors.Is(err, store.ErrNotFound) {
			continue
		}
		if err != nil {
			return err
		}
		told, err := r.complaints(id)
		if err != nil {
			return err
		}
		if _, err := tx.ExecContext(ctx, `DELETE FROM word WHERE runner = ?`, id); err != nil {
			return err
		}
		if err := putWords(ctx, tx, id, v.Name+" "+v.Note+" "+told); err != nil {
			return err
		}
	}
	return nil
}

// putWords writes the words of one runner.
func putWords(ctx context.Context, tx *sql.Tx, runner, text string) error {
	put, err := tx.PrepareContext(ctx, `INSERT INTO word (word, runner) VALUES (?, ?)`)
	if err != nil {
		return err
	}
	defer put.Close()
	for _, w := range store.Words(text) {
		if _, err := put.ExecContext(ctx, w, runner); err != nil {
			return err
		}
	}
	return nil
}

// examine tells whether a file may be opened by this program: it is empty, or
// its own and not of a later version. It writes nothing. It returns the version
// of the schema, 0 for none.
func examine(ctx context.Context, db *sql.DB, latest int64) (int64, error) {
	var app, tables int64
	var versioned bool
	err := db.QueryRowContext(ctx, `SELECT (SELECT application_id FROM pragma_application_id),
		(SELECT count(*) FROM sqlite_master WHERE name NOT LIKE 'sqlite_%' AND name <> ?),
		(SELECT count(*) FROM sqlite_master WHERE name = ?)`, versionTable, versionTable).Scan(&app, &tables, &versioned)
	if err != nil {
		return 0, err
	}
	if app != applicationID {
		if tables > 0 {
			return 0, store.ErrForeign
		}
		return 0, nil
	}
	if !versioned {
		return 0, fmt.Errorf("%w: it does not say of which version it is", store.ErrDamaged)
	}
	var version int64
	if err := db.QueryRowContext(ctx, `SELECT coalesce(max(version_id), 0) FROM `+versionTable+` WHERE is_applied`).Scan(&version); err != nil {
		return 0, err
	}
	if version > latest {
		return 0, fmt.Errorf("%w (their form is number %d, and this one knows up to %d); install the newest gaitwright", store.ErrNewer, version, latest)
	}
	return version, nil
}
