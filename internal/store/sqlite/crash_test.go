package sqlite

import (
	"bufio"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"gaitwright/internal/store"
	"gaitwright/internal/store/folder"
)

// The tests with a second program run this test binary again with childEnv set
// to what it is to do and where.
const childEnv = "GAITWRIGHT_STORE_CHILD"

func TestMain(m *testing.M) {
	if job, dir, ok := strings.Cut(os.Getenv(childEnv), " "); ok {
		var err error
		switch job {
		case "work":
			err = work(dir)
		case "hold":
			err = hold(dir)
		default:
			err = fmt.Errorf("no such job %q", job)
		}
		fmt.Fprintln(os.Stderr, "child:", err)
		os.Exit(3)
	}
	code := m.Run()
	if largeDir != "" {
		os.RemoveAll(largeDir)
	}
	os.Exit(code)
}

// child starts this test binary to do a job in a folder.
func child(t *testing.T, job, dir string) (*exec.Cmd, *bufio.Scanner) {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Skip("this program cannot be started again:", err)
	}
	cmd := exec.Command(self)
	cmd.Env = append(os.Environ(), childEnv+"="+job+" "+dir)
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		cmd.Process.Kill()
		cmd.Wait()
	})
	return cmd, bufio.NewScanner(out)
}

// step is the deed of which each part says the same number: it counts the
// runner up, dates a visit by it, keeps a film under it with its clip, rewrites a
// document and takes away the one before, takes in a run with its samples, says of
// the run before that it counts, and notes a setting.
func step(ctx context.Context, s *Store, f *folder.Folder) error {
	var r store.Runner
	if err := s.Read(ctx, func(rd store.Reader) (err error) { r, err = counted(rd); return err }); err != nil {
		return err
	}
	n := r.BornYear + 1
	name, size, err := f.Put(ctx, bytes.NewReader(film(n)), 0)
	if err != nil {
		return err
	}
	samples, _, err := f.Put(ctx, bytes.NewReader(ranAt(n)), 0)
	if err != nil {
		return err
	}
	return s.Change(ctx, store.Deed{What: fmt.Sprint("Step ", n), VisitID: "list"}, func(w store.Writer) error {
		r.BornYear = n
		r.Name = fmt.Sprintf("Runner word%d", n)
		if err := w.PutRunner(&r); err != nil {
			return err
		}
		v := store.Visit{RunnerID: r.ID, Date: time.Date(2026, 1, 1, 0, 0, n, 0, time.UTC), Tags: []string{"tag"}}
		if err := w.PutVisit(&v); err != nil {
			return err
		}
		d, err := w.Document("count", r.ID)
		if err != nil && !errors.Is(err, store.ErrNotFound) {
			return err
		}
		if n%7 == 0 && err == nil {
			if err := w.Remove(store.KindDocument, d.ID, d.Version); err != nil {
				return err
			}
			d = store.Document{}
		}
		d.Kind, d.Owner, d.Body = "count", r.ID, fmt.Appendf(nil, `{"n":%d,"fill":%q}`, n, strings.Repeat("x", 6000))
		runs, err := w.RunsOf(r.ID)
		if err != nil {
			return err
		}
		if len(runs) > 0 {
			last := runs[len(runs)-1]
			last.Use = "yes"
			if err := w.PutRun(&last); err != nil {
				return err
			}
		}
		run := store.Run{RunnerID: r.ID, Start: v.Date, Name: fmt.Sprint("run ", n), Hash: fmt.Sprintf("%064x", n), Samples: samples, Facts: fmt.Appendf(nil, `{"n":%d}`, n)}
		return errors.Join(
			w.PutRun(&run),
			w.PutClip(&store.Clip{VisitID: v.ID, Kind: "film", Hash: name, Bytes: size}),
			w.PutDocument(&d),
			w.PutSetting("count", strconv.Itoa(n)))
	})
}

// film is what the n-th clip holds.
func film(n int) []byte { return bytes.Repeat(fmt.Appendf(nil, "film %d ", n), 2000) }

// ranAt are the samples of the n-th run.
func ranAt(n int) []byte { return bytes.Repeat(fmt.Appendf(nil, "run %d ", n), 300) }

// counted finds the runner that work counts up.
func counted(r store.Reader) (store.Runner, error) {
	rows, err := r.Runners(store.Query{})
	if err != nil {
		return store.Runner{}, err
	}
	if len(rows) != 1 {
		return store.Runner{}, fmt.Errorf("there are %d runners", len(rows))
	}
	return rows[0].Runner, nil
}

// work does steps without end, now and then one back and forth, and prints the
// number reached after each.
func work(dir string) error {
	s, err := Open(filepath.Join(dir, "records.db"))
	if err != nil {
		return err
	}
	f, err := folder.Open(filepath.Join(dir, "films"))
	if err != nil {
		return err
	}
	ctx := context.Background()
	say := func() error {
		return s.Read(ctx, func(rd store.Reader) error {
			r, err := counted(rd)
			fmt.Println(r.BornYear)
			return err
		})
	}
	if err := say(); err != nil {
		return err
	}
	for i := 0; ; i++ {
		if err := step(ctx, s, f); err != nil {
			return err
		}
		if err := say(); err != nil {
			return err
		}
		if i%4 != 3 {
			continue
		}
		if _, err := s.Undo(ctx, "list", ""); err != nil {
			return err
		}
		if err := say(); err != nil {
			return err
		}
		if _, err := s.Redo(ctx, "list", ""); err != nil {
			return err
		}
		if err := say(); err != nil {
			return err
		}
	}
}

// TestKilled kills a program that works on the records again and again, at any
// moment. Each time the records must be those after its last deed or after the
// one it was at, whole in every part.
func TestKilled(t *testing.T) {
	t.Parallel()
	kills := 40
	if testing.Short() {
		kills = 5
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "records.db")
	s, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Change(t.Context(), store.Deed{What: "Took in"}, func(w store.Writer) error { return w.PutRunner(&store.Runner{}) }); err != nil {
		t.Fatal(err)
	}
	s.Close()
	seed := uint64(time.Now().UnixNano())
	rnd := rand.New(rand.NewPCG(seed, 0))
	midway, deeds := 0, 0
	for kill := range kills {
		cmd, lines := child(t, "work", dir)
		if !lines.Scan() {
			t.Fatalf("kill %d: the program did not start", kill)
		}
		last, _ := strconv.Atoi(lines.Text())
		go func() {
			time.Sleep(time.Duration(rnd.IntN(150_000)) * time.Microsecond)
			cmd.Process.Kill()
		}()
		for lines.Scan() {
			last, _ = strconv.Atoi(lines.Text())
			deeds++
		}
		cmd.Wait()
		n := whole(t, dir, last)
		if n != last {
			midway++
		}
		if t.Failed() {
			t.Fatalf("at kill %d of seed %d", kill, seed)
		}
	}
	t.Logf("%d kills among %d deeds; at %d of them a deed was kept and its program had not yet heard of it", kills, deeds, midway)
}

// whole checks that every part of the records says the same number, last or next
// to it, and returns it.
func whole(t *testing.T, dir string, last int) int {
	t.Helper()
	s, err := Open(filepath.Join(dir, "records.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	f, err := folder.Open(filepath.Join(dir, "films"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	sound(t, s)
	n := 0
	if err := s.Read(t.Context(), func(r store.Reader) error {
		rows, err := r.Runners(store.Query{})
		if err != nil || len(rows) != 1 {
			return fmt.Errorf("%d rows, %w", len(rows), err)
		}
		n = rows[0].BornYear
		if n < last-1 || n > last+1 {
			t.Errorf("the records are at %d, and %d was done", n, last)
		}
		visits, err := r.VisitsOf(rows[0].ID)
		if err != nil {
			return err
		}
		if len(visits) != n || rows[0].Visits != n {
			t.Errorf("%d visits, in the list %d, want %d", len(visits), rows[0].Visits, n)
		}
		for i, v := range visits {
			clips, err := r.ClipsOf(v.ID)
			if err != nil || len(clips) != 1 {
				return fmt.Errorf("%d clips in a visit, %w", len(clips), err)
			}
			file, err := f.Open(clips[0].Hash)
			if err != nil {
				return err
			}
			sum := sha256.New()
			_, err = io.Copy(sum, file)
			file.Close()
			want := sha256.Sum256(film(n - i))
			if err != nil || hex.EncodeToString(sum.Sum(nil)) != clips[0].Hash || !bytes.Equal(sum.Sum(nil), want[:]) {
				t.Errorf("the film of step %d is not what was kept (%v)", n-i, err)
			}
		}
		runs, err := r.RunsOf(rows[0].ID)
		if err != nil {
			return err
		}
		if len(runs) != n {
			t.Errorf("%d runs, want %d", len(runs), n)
		}
		for i, v := range runs {
			use := ""
			if i < len(runs)-1 {
				use = "yes"
			}
			if v.Name != fmt.Sprint("run ", i+1) || string(v.Facts) != fmt.Sprintf(`{"n":%d}`, i+1) || v.Use != use {
				t.Errorf("run %d is %+v", i+1, v)
			}
			file, err := f.Open(v.Samples)
			if err != nil {
				return err
			}
			kept, err := io.ReadAll(file)
			file.Close()
			if err != nil || !bytes.Equal(kept, ranAt(i+1)) {
				t.Errorf("the samples of run %d are not what was kept (%v)", i+1, err)
			}
		}
		said, err := r.Setting("count")
		if err != nil {
			return err
		}
		if n == 0 {
			return nil
		}
		d, err := r.Document("count", rows[0].ID)
		var body struct{ N int }
		if err == nil {
			err = json.Unmarshal(d.Body, &body)
		}
		if err != nil || body.N != n {
			t.Errorf("the document is at %d (%v), want %d", body.N, err, n)
		}
		found, err := r.Runners(store.Query{Text: fmt.Sprintf("word%d", n), Tag: "tag"})
		if err != nil || len(found) != 1 {
			t.Errorf("%d found by name and tag (%v)", len(found), err)
		}
		// Settings are not undone: after an undo it may be one ahead.
		if k, _ := strconv.Atoi(said); k != n && k != n+1 {
			t.Errorf("the setting is at %s, want %d", said, n)
		}
		return nil
	}); err != nil {
		t.Error(err)
	}
	entries, err := s.Journal(t.Context(), "list", 0)
	done := 0
	for _, e := range entries {
		if !e.Undone {
			done++
		}
	}
	if err != nil || done != n {
		t.Errorf("the journal has %d deeds done (%v), want %d", done, err, n)
	}
	return n
}

// hold keeps the records to itself until it is killed.
func hold(dir string) error {
	s := &Store{path: filepath.Join(dir, "records.db"), wait: busyWait}
	db, err := s.pool(1, "&_pragma=locking_mode(EXCLUSIVE)&_txlock=exclusive")
	if err != nil {
		return err
	}
	tx, err := db.Begin()
	if err != nil {
		return err
	}
	if _, err := tx.Exec(`INSERT INTO setting (name, value) VALUES ('held', 'x')`); err != nil {
		return err
	}
	fmt.Println("held")
	time.Sleep(time.Hour)
	return tx.Rollback()
}

// TestHeldByAnotherProgram wants a clear answer in a bearable time where another
// program keeps the records to itself, and all well after it ends.
func TestHeldByAnotherProgram(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("waits for the patience of the store, some seconds; left out with -short")
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "records.db")
	s, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	r := store.Runner{Name: "Ann"}
	put := func(ctx context.Context) error {
		return s.Change(ctx, store.Deed{What: "Wrote"}, func(w store.Writer) error { return w.PutRunner(&r) })
	}
	if err := put(t.Context()); err != nil {
		t.Fatal(err)
	}
	s.Close()
	cmd, lines := child(t, "hold", dir)
	if !lines.Scan() {
		t.Fatal("the other program did not start")
	}
	// That it returns at all shows its patience to be bounded: the other holds on.
	if _, err := Open(path); !errors.Is(err, store.ErrBusy) {
		t.Errorf("opening held records: %v", err)
	}
	cmd.Process.Kill()
	cmd.Wait()
	hasty := func(s *Store) { s.wait = time.Second }
	s, err = Open(path, hasty)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	// A writer of another program in the middle of its deed.
	other, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	// One that would wait for an hour is called off, which only its caller can do.
	patient, err := Open(path, func(s *Store) { s.wait = time.Hour })
	if err != nil {
		t.Fatal(err)
	}
	defer patient.Close()
	if err := other.Change(t.Context(), store.Deed{What: "Slow"}, func(w store.Writer) error {
		if err := w.PutRunner(&store.Runner{Name: "Bea"}); err != nil {
			return err
		}
		ctx, cancel := context.WithTimeout(t.Context(), 200*time.Millisecond)
		defer cancel()
		late := store.Runner{Name: "Cid"}
		if err := patient.Change(ctx, store.Deed{What: "Wrote"}, func(w store.Writer) error { return w.PutRunner(&late) }); !errors.Is(err, context.DeadlineExceeded) && !errors.Is(err, store.ErrBusy) {
			t.Errorf("given up early: %v", err)
		}
		if err := put(t.Context()); !errors.Is(err, store.ErrBusy) {
			t.Errorf("writing to held records: %v", err)
		}
		// Reading goes on.
		return s.Read(t.Context(), func(rd store.Reader) error { _, err := rd.Runner(r.ID); return err })
	}); err != nil {
		t.Error(err)
	}
	if r.Version != 1 {
		t.Errorf("the refused record has version %d", r.Version)
	}
	if err := put(t.Context()); err != nil {
		t.Errorf("after the other was done: %v", err)
	}
	sound(t, s)
}

// TestRecordsTakenAway takes the file away under a program, or puts another in its
// place: what is written then would be lost with it, so that nothing is.
func TestRecordsTakenAway(t *testing.T) {
	t.Parallel()
	if runtime.GOOS == "windows" {
		t.Skip("the system lets nobody take away a file that is open")
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "records.db")
	s, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	put := func(name string) error {
		return s.Change(t.Context(), store.Deed{What: "Wrote"}, func(w store.Writer) error { return w.PutRunner(&store.Runner{Name: name}) })
	}
	if err := put("Ann"); err != nil {
		t.Fatal(err)
	}
	move := func(from, to string) {
		t.Helper()
		for _, ending := range []string{"", "-wal", "-shm"} {
			if err := os.Rename(filepath.Join(dir, from)+ending, filepath.Join(dir, to)+ending); err != nil && !errors.Is(err, fs.ErrNotExist) {
				t.Fatal(err)
			}
		}
	}
	move("records.db", "away.db")
	if err := put("Bea"); !errors.Is(err, store.ErrGone) || !strings.Contains(err.Error(), path) {
		t.Errorf("written into what is gone: %v", err)
	}
	other, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := put("Bea"); !errors.Is(err, store.ErrGone) {
		t.Errorf("written where another has taken its place: %v", err)
	}
	if err := other.Close(); err != nil {
		t.Error(err)
	}
	move("records.db", "other.db")
	move("away.db", "records.db")
	if err := put("Bea"); err != nil {
		t.Errorf("put back: %v", err)
	}
	sound(t, s)
}
