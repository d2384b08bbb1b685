package sqlite

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"testing"

	"gaitwright/internal/store"
)

// fill writes runners until it is refused, and returns how many were kept.
func fill(t *testing.T, s *Store, most int) (int, error) {
	t.Helper()
	note := make([]byte, 20_000)
	for i := range most {
		for k := range note {
			note[k] = byte('a' + rand.IntN(26))
		}
		err := s.Change(t.Context(), store.Deed{What: "Took in", VisitID: "list"}, func(w store.Writer) error {
			// Two records, of which never one alone.
			return errors.Join(w.PutRunner(&store.Runner{Name: "Twin", Note: string(note)}), w.PutRunner(&store.Runner{Name: "Twin", Note: string(note)}))
		})
		if err != nil {
			return i, err
		}
	}
	return most, nil
}

// twins counts the runners.
func twins(t *testing.T, s *Store) int {
	t.Helper()
	n := 0
	if err := s.Read(t.Context(), func(r store.Reader) error {
		rows, err := r.Runners(store.Query{Text: "twin", Limit: 1000})
		n = len(rows)
		return err
	}); err != nil {
		t.Errorf("reading: %v", err)
	}
	return n
}

// TestNoRoom limits the size of the file.
func TestNoRoom(t *testing.T) {
	s := openTemp(t)
	var pages int
	if err := s.write.QueryRow(`PRAGMA page_count`).Scan(&pages); err != nil {
		t.Fatal(err)
	}
	if _, err := s.write.Exec(fmt.Sprintf(`PRAGMA max_page_count = %d`, pages+200)); err != nil {
		t.Fatal(err)
	}
	n, err := fill(t, s, 1000)
	if !errors.Is(err, store.ErrFull) {
		t.Fatalf("after %d: %v", n, err)
	}
	if got := twins(t, s); got != 2*n {
		t.Errorf("%d runners, want %d: nothing of the refused change", got, 2*n)
	}
	if j, err := s.Journal(t.Context(), "list", 0); err != nil || len(j) != n {
		t.Errorf("the journal has %d lines (%v), want %d", len(j), err, n)
	}
	sound(t, s)
	if _, err := s.write.Exec(`PRAGMA max_page_count = 1000000`); err != nil {
		t.Fatal(err)
	}
	if k, err := fill(t, s, 3); k != 3 {
		t.Errorf("after making room: %v", err)
	}
}

// TestDiskFull fills a small disk of its own; it needs the rights to make one.
func TestDiskFull(t *testing.T) {
	if runtime.GOOS != "linux" || os.Geteuid() != 0 {
		t.Skip("needs Linux and the rights to mount a small disk; TestNoRoom limits the file instead")
	}
	dir := t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=3m", "none", dir).CombinedOutput(); err != nil {
		t.Skipf("no small disk can be mounted: %s", out)
	}
	t.Cleanup(func() {
		if out, err := exec.Command("umount", dir).CombinedOutput(); err != nil {
			t.Errorf("the small disk stays: %s", out)
		}
	})
	ballast := filepath.Join(dir, "ballast")
	if err := os.WriteFile(ballast, make([]byte, 1<<20), 0o600); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "records", "records.db")
	s, err := Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	n, err := fill(t, s, 1000)
	if !errors.Is(err, store.ErrFull) || n == 0 {
		t.Fatalf("after %d: %v", n, err)
	}
	for range 3 {
		if _, err := fill(t, s, 1); !errors.Is(err, store.ErrFull) {
			t.Errorf("again: %v", err)
		}
	}
	if got := twins(t, s); got != 2*n {
		t.Errorf("%d runners, want %d: nothing of the refused change", got, 2*n)
	}
	// Nor does a start on a full disk lose anything.
	s.Close()
	if s, err = Open(path); err != nil {
		if !errors.Is(err, store.ErrFull) {
			t.Errorf("opening on a full disk: %v", err)
		}
	} else if got := twins(t, s); got != 2*n {
		t.Errorf("%d runners after a start on a full disk, want %d", got, 2*n)
	}
	if _, err := Open(filepath.Join(dir, "new", "records.db")); !errors.Is(err, store.ErrFull) {
		t.Errorf("new records on a full disk: %v", err)
	}
	if err := os.Remove(ballast); err != nil {
		t.Fatal(err)
	}
	if s == nil {
		if s, err = Open(path); err != nil {
			t.Fatalf("after making room: %v", err)
		}
	}
	defer s.Close()
	if k, err := fill(t, s, 3); k != 3 {
		t.Errorf("after making room: %v", err)
	}
	if got := twins(t, s); got != 2*n+6 {
		t.Errorf("%d runners, want %d", got, 2*n+6)
	}
	sound(t, s)
}
