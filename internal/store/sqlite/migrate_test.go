package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"gaitwright/internal/store"
)

// filled is a studio's records, invented, as the program of the first schema
// wrote them: two runners, three visits, a document changed twice and once
// undone, a removed clip, a result, a job and a setting. Later schemas have them
// by migration, as in life.
const filled = `
INSERT INTO record (id, kind, version, created, changed, removed, deed, parent, label, owner, at, body) VALUES
('01KG0000000000000000000001', 'runner', 1, 1767225600000000, 1767225600000000, 0, 1, '', '', '', 1767225600000000, '{"name":"Åsa Ñuñez","sex":"female","born_year":1987,"height_m":1.71,"consent_filming":"2026-01-01T00:00:00Z","note":"knee pain"}'),
('01KG0000000000000000000002', 'runner', 1, 1767225600000000, 1767225600000000, 0, 2, '', '', '', 1767225600000000, '{"name":"Łukasz Żółć"}'),
('01KG0000000000000000000003', 'visit', 1, 1767225600000000, 1767225600000000, 0, 3, '01KG0000000000000000000001', '', '', 1767225600000000, '{"runner":"01KG0000000000000000000001","date":"2026-01-01T00:00:00Z","tags":["overstride"]}'),
('01KG0000000000000000000004', 'visit', 1, 1769904000000000, 1769904000000000, 0, 3, '01KG0000000000000000000001', '', '', 1769904000000000, '{"runner":"01KG0000000000000000000001","date":"2026-02-01T01:00:00+01:00","tags":["overstride","pelvic drop"]}'),
('01KG0000000000000000000005', 'visit', 2, 1769904000000000, 1769904000000000, 1, 7, '01KG0000000000000000000002', '', '', 1769904000000000, '{"runner":"01KG0000000000000000000002","date":"2026-02-01T00:00:00Z","tags":["gone"]}'),
('01KG0000000000000000000006', 'document', 3, 1769904000000000, 1769904000000003, 0, 4, '01KG0000000000000000000004', 'intake', '01KG0000000000000000000004', 1769904000000000, '{"visit":"01KG0000000000000000000004","kind":"intake","owner":"01KG0000000000000000000004","body":{"goals":"first","complaint":"Achilles tendon, mornings"}}'),
('01KG0000000000000000000007', 'result', 1, 1769904000000000, 1769904000000000, 0, 6, '01KG0000000000000000000004', '', '', 1769904000000000, '{"visit":"01KG0000000000000000000004","clips":["c"],"runner_name":"Åsa Ñuñez","hash":"00000000000000000000000000000000000000000000000000000000000000aa"}');
INSERT INTO deed (id, at, who, what, list, state, undone_at, undone_by) VALUES
(1, 1767225600000000, 'Ida', 'Took in Åsa', '', 0, NULL, NULL),
(2, 1767225600000000, 'Ida', 'Took in Łukasz', '', 0, NULL, NULL),
(3, 1767225600000000, 'Ida', 'Began visits', '', 0, NULL, NULL),
(4, 1769904000000001, 'Ida', 'Wrote the intake', '01KG0000000000000000000004', 0, NULL, NULL),
(5, 1769904000000002, 'Ida', 'Changed the goals', '01KG0000000000000000000004', 1, 1769904000000003, 'Ida'),
(6, 1769904000000002, '', 'Measured', '', 0, NULL, NULL),
(7, 1769904000000002, 'Ida', 'Removed a visit', '01KG0000000000000000000005', 0, NULL, NULL);
INSERT INTO content (record, deed, before, version, removed, body)
SELECT id, CASE deed WHEN 7 THEN 3 ELSE deed END, 0, 1, 0, body FROM record;
INSERT INTO content (record, deed, before, version, removed, body) VALUES
('01KG0000000000000000000005', 7, 3, 2, 1, NULL),
('01KG0000000000000000000006', 5, 4, 2, 0, '{"visit":"01KG0000000000000000000004","kind":"intake","owner":"01KG0000000000000000000004","body":{"goals":"second"}}');
INSERT INTO file (hash, record) VALUES ('00000000000000000000000000000000000000000000000000000000000000aa', '01KG0000000000000000000007');
INSERT INTO job (id, version, created, changed, state, body) VALUES
('01KG0000000000000000000008', 4, 1769904000000000, 1769904000000000, 'queued', '{"visit":"01KG0000000000000000000004","kind":"measure","request":{"model":"full"},"share":0.5}');
INSERT INTO setting (name, value) VALUES ('units', 'metric');
`

// schemaAt makes a file of an earlier schema, with what a studio had by then.
func schemaAt(t *testing.T, version int64) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "records.db")
	s := &Store{path: path, wait: busyWait}
	db, err := s.pool(1, "")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	p, err := migrator(db)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := p.UpTo(t.Context(), 1); err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec(filled); err != nil {
		t.Fatal(err)
	}
	if _, err := p.UpTo(t.Context(), version); err != nil {
		t.Fatal(err)
	}
	if got, err := p.GetDBVersion(t.Context()); got != version || err != nil {
		t.Fatalf("the schema is number %d (%v), want %d", got, err, version)
	}
	return path
}

// latest is the number of the newest schema.
func latest(t *testing.T) int64 {
	t.Helper()
	db, err := sql.Open("sqlite", ":memory:")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	p, err := migrator(db)
	if err != nil {
		t.Fatal(err)
	}
	all := p.ListSources()
	return all[len(all)-1].Version
}

func TestEveryEarlierSchema(t *testing.T) {
	for version := int64(1); version <= latest(t); version++ {
		t.Run(fmt.Sprint(version), func(t *testing.T) {
			s, err := Open(schemaAt(t, version))
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			intact(t, s)
			sound(t, s)
		})
	}
}

// intact checks the records of filled through the store.
func intact(t *testing.T, s *Store) {
	t.Helper()
	const asa, last, gone = "01KG0000000000000000000001", "01KG0000000000000000000004", "01KG0000000000000000000005"
	read := func(fn func(r store.Reader)) {
		t.Helper()
		if err := s.Read(t.Context(), func(r store.Reader) error { fn(r); return nil }); err != nil {
			t.Fatal(err)
		}
	}
	names := func(r store.Reader, q store.Query) (out []string) {
		t.Helper()
		rows, err := r.Runners(q)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range rows {
			out = append(out, x.Name)
		}
		return out
	}
	read(func(r store.Reader) {
		v, err := r.Runner(asa)
		if err != nil || v.Name != "Åsa Ñuñez" || v.BornYear != 1987 || v.HeightM != 1.71 || !v.ConsentFilming.Equal(time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)) || v.Version != 1 {
			t.Errorf("runner %+v, %v", v, err)
		}
		if got := names(r, store.Query{}); !slices.Equal(got, []string{"Åsa Ñuñez", "Łukasz Żółć"}) {
			t.Errorf("the list is %q", got)
		}
		if got := names(r, store.Query{Text: "zolc"}); !slices.Equal(got, []string{"Łukasz Żółć"}) {
			t.Errorf("found %q", got)
		}
		if got := names(r, store.Query{Text: "knee nunez", Tag: "pelvic drop", From: time.Date(2026, 2, 1, 0, 0, 0, 0, time.UTC)}); !slices.Equal(got, []string{"Åsa Ñuñez"}) {
			t.Errorf("found %q", got)
		}
		if got := names(r, store.Query{Text: "tend morning"}); !slices.Equal(got, []string{"Åsa Ñuñez"}) {
			t.Errorf("by a complaint found %q", got)
		}
		rows, err := r.Runners(store.Query{Text: "asa"})
		if err != nil || len(rows) != 1 || rows[0].Visits != 2 || rows[0].LastID != last || !slices.Equal(rows[0].Tags, []string{"overstride", "pelvic drop"}) {
			t.Errorf("the row is %+v, %v", rows, err)
		}
		if tags, err := r.Tags(); err != nil || !slices.Equal(tags, []string{"overstride", "pelvic drop"}) {
			t.Errorf("tags %q, %v", tags, err)
		}
		if d, err := r.Document("intake", last); err != nil || string(d.Body) != `{"goals":"first","complaint":"Achilles tendon, mornings"}` {
			t.Errorf("document %+v, %v", d, err)
		}
		if _, err := r.Visit(gone); !errors.Is(err, store.ErrNotFound) {
			t.Errorf("a removed visit: %v", err)
		}
		if j, err := r.Jobs(store.JobQueued); err != nil || len(j) != 1 || j[0].Share != 0.5 || j[0].Version != 4 {
			t.Errorf("jobs %+v, %v", j, err)
		}
		if v, err := r.Results(0); err != nil || len(v) != 1 || v[0].Runner != "Åsa Ñuñez" {
			t.Errorf("results %+v, %v", v, err)
		}
		if v, err := r.Setting("units"); v != "metric" || err != nil {
			t.Errorf("setting %q, %v", v, err)
		}
		if f, err := r.FilesInUse(); err != nil || len(f) != 1 {
			t.Errorf("files %v, %v", f, err)
		}
	})
	// What was done before can be undone and redone now.
	if d, err := s.Redo(t.Context(), last, "Ida"); err != nil || d.What != "Changed the goals" {
		t.Errorf("redo: %+v, %v", d, err)
	}
	if d, err := s.Undo(t.Context(), gone, "Ida"); err != nil || d.What != "Removed a visit" {
		t.Errorf("undo: %+v, %v", d, err)
	}
	read(func(r store.Reader) {
		if d, err := r.Document("intake", last); err != nil || string(d.Body) != `{"goals":"second"}` || d.Version != 4 {
			t.Errorf("document %+v, %v", d, err)
		}
		if got := names(r, store.Query{Tag: "gone"}); !slices.Equal(got, []string{"Łukasz Żółć"}) {
			t.Errorf("found %q", got)
		}
	})
}

// sound asks the engine whether the file is whole.
func sound(t testing.TB, s *Store) {
	t.Helper()
	var said string
	if err := s.write.QueryRow(`PRAGMA integrity_check`).Scan(&said); err != nil || said != "ok" {
		t.Errorf("integrity: %s, %v", said, err)
	}
	rows, err := s.write.Query(`PRAGMA foreign_key_check`)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	if rows.Next() {
		t.Error("a row names another that is not there")
	}
}

// TestListsCanBeMadeAgain compares the lists that the changes kept with those
// that the migrations would make from the records.
func TestListsCanBeMadeAgain(t *testing.T) {
	s, err := Open(schemaAt(t, 1))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	var runners []string
	if err := s.see(t.Context(), func(r *reader) error {
		return r.each(func(scan func(...any) error) error {
			var id string
			err := scan(&id)
			runners = append(runners, id)
			return err
		}, `SELECT id FROM record WHERE kind = 'runner'`)
	}); err != nil || len(runners) != 2 {
		t.Fatal(runners, err)
	}
	before := lists(t, s)
	if err := s.alter(t.Context(), func(w *writer) error {
		for _, id := range runners {
			w.mark(store.KindRunner, id)
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	if after := lists(t, s); after != before {
		t.Errorf("made by the changes:\n%s\nmade by the migrations:\n%s", after, before)
	}
}

func lists(t *testing.T, s *Store) string {
	t.Helper()
	var b strings.Builder
	for _, q := range []string{`SELECT json_array(runner, at, visits, last, last_id) FROM seen ORDER BY runner`, `SELECT json_array(runner, name, visits) FROM tag ORDER BY 1`, `SELECT json_array(word, runner) FROM word ORDER BY 1`} {
		rows, err := s.write.Query(q)
		if err != nil {
			t.Fatal(err)
		}
		defer rows.Close()
		for rows.Next() {
			var line string
			if err := rows.Scan(&line); err != nil {
				t.Fatal(err)
			}
			b.WriteString(line + "\n")
		}
	}
	return b.String()
}

func TestNewerSchemaIsLeftAlone(t *testing.T) {
	path := schemaAt(t, latest(t))
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec(`INSERT INTO `+versionTable+` (version_id, is_applied) VALUES (?, 1)`, latest(t)+1); err != nil {
		t.Fatal(err)
	}
	db.Close()
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if s, err := Open(path); !errors.Is(err, store.ErrNewer) {
		t.Errorf("opened %v, %v", s, err)
	}
	if after, _ := os.ReadFile(path); string(after) != string(before) {
		t.Error("the file was changed")
	}
}

func TestFilesThatAreNotRecords(t *testing.T) {
	foreign := filepath.Join(t.TempDir(), "foreign.db")
	db, err := sql.Open("sqlite", foreign)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.Exec(`CREATE TABLE record (x)`); err != nil {
		t.Fatal(err)
	}
	db.Close()
	if _, err := Open(foreign); err == nil || !errors.Is(err, store.ErrForeign) {
		t.Errorf("a file of another program: %v", err)
	}
	if _, err := Open(t.TempDir()); err == nil || !strings.Contains(err.Error(), "folder") {
		t.Errorf("a folder: %v", err)
	}
	text := filepath.Join(t.TempDir(), "text.db")
	if err := os.WriteFile(text, []byte(strings.Repeat("not records ", 1000)), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(text); !errors.Is(err, store.ErrDamaged) || !strings.Contains(err.Error(), text) {
		t.Errorf("a text: %v", err)
	}
	inFile := filepath.Join(text, "records.db")
	if _, err := Open(inFile); err == nil {
		t.Error("records within a file")
	}
}

// TestDamagedRecords overwrites the middle of the file: what is read from there
// is said to be damaged, and nothing panics.
func TestDamagedRecords(t *testing.T) {
	path := schemaAt(t, latest(t))
	s, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Change(t.Context(), store.Deed{What: "Took in many"}, func(w store.Writer) error {
		for i := range 500 {
			if err := w.PutRunner(&store.Runner{Name: fmt.Sprint("Runner ", i), Note: strings.Repeat("note ", 50)}); err != nil {
				return err
			}
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for i := 8192; i < len(b); i++ {
		b[i] ^= 0x5a
	}
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
	s, err = Open(path)
	if err == nil {
		err = s.Read(t.Context(), func(r store.Reader) error { _, err := r.Runners(store.Query{Limit: 1000}); return err })
		s.Close()
	}
	if !errors.Is(err, store.ErrDamaged) {
		t.Errorf("damaged records: %v", err)
	}
}

// TestTwoProgramsStartAtOnce opens one new file from several sides.
func TestTwoProgramsStartAtOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "records.db")
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			s, err := Open(path)
			if err != nil {
				t.Errorf("opening: %v", err)
				return
			}
			defer s.Close()
			if err := s.Change(context.Background(), store.Deed{What: "Took in"}, func(w store.Writer) error { return w.PutRunner(&store.Runner{}) }); err != nil {
				t.Errorf("writing: %v", err)
			}
		})
	}
	wg.Wait()
	s, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := s.Read(t.Context(), func(r store.Reader) error {
		rows, err := r.Runners(store.Query{})
		if len(rows) != 4 {
			t.Errorf("%d runners", len(rows))
		}
		return err
	}); err != nil {
		t.Error(err)
	}
}

// TestRecordsAreTheOwnersAlone: nobody else of the machine reads new records, nor the
// engine's files beside them.
func TestRecordsAreTheOwnersAlone(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("permissions are not those of Unix here")
	}
	dir := filepath.Join(t.TempDir(), "studio")
	s, err := Open(filepath.Join(dir, "records.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if err := s.Change(t.Context(), store.Deed{What: "Took in"}, func(w store.Writer) error { return w.PutRunner(&store.Runner{}) }); err != nil {
		t.Fatal(err)
	}
	seen := 0
	if err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		i, err := d.Info()
		if err == nil && i.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s is open to others: %v", path, i.Mode())
		}
		seen++
		return err
	}); err != nil || seen < 3 {
		t.Errorf("%d files and folders seen, %v", seen, err)
	}
}
