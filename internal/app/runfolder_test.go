package app

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"gaitwright/internal/runfile/runtest"
	"gaitwright/internal/store"
)

// crowd puts runners into a studio, each with so many runs of a watch of their own
// like one, which is a run that was taken in.
func crowd(t testing.TB, st *Studio, runners, runs int, one store.Run) {
	t.Helper()
	kept, err := st.records()
	if err != nil {
		t.Fatal(err)
	}
	rec, err := parseRun(one)
	if err != nil {
		t.Fatal(err)
	}
	err = kept.Change(t.Context(), store.Deed{Who: "the desk", What: "Took them in"}, func(w store.Writer) error {
		for i := range runners {
			v := store.Runner{Name: fmt.Sprintf("Runner %d (invented)", i), ConsentRecords: time.Date(2026, 3, 7, 0, 0, 0, 0, time.UTC)}
			if err := w.PutRunner(&v); err != nil {
				return err
			}
			rec.facts.Device = fmt.Sprintf("%08x", i)
			facts, err := json.Marshal(rec.facts)
			if err != nil {
				return err
			}
			for k := range runs {
				r := store.Run{RunnerID: v.ID, Start: one.Start.AddDate(0, 0, -k), Name: "run.fit", Hash: fmt.Sprintf("%064x", i*runs+k+1), Bytes: one.Bytes, Samples: one.Samples, Facts: facts}
				if err := w.PutRun(&r); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// ofWatch is a run of a watch with a number.
func ofWatch(day int, serial uint32) []byte {
	r := runtest.Easy(time.Date(2026, 3, day, 6, 30, 0, 0, time.UTC), uint64(day), 10, 2.8, 162)
	r.Serial = serial
	return r.FIT()
}

// layFile puts a file into a folder as if it had lain there for an hour.
func layFile(t testing.TB, path string, data []byte) {
	t.Helper()
	hourAgo := time.Now().Add(-time.Hour)
	if err := errors.Join(os.WriteFile(path, data, 0o600), os.Chtimes(path, hourAgo, hourAgo)); err != nil {
		t.Fatal(err)
	}
}

// keptRun is a run as it is kept.
func keptRun(t testing.TB, st *Studio, id string) (run store.Run) {
	t.Helper()
	if err := st.readRecords(t.Context(), func(r store.Reader) (err error) { run, err = r.Run(id); return err }); err != nil {
		t.Fatal(err)
	}
	return run
}

// A file that is found is offered to the runner whose watch it is, however many there
// are and however long ago that one came; and what is known of watches follows every
// change.
func TestOwnersAmongAllRunners(t *testing.T) {
	st, runner, visit := runStudio(t)
	first := takeIn(t, st, runner, "first.fit", ofWatch(1, 77))
	crowd(t, st, 450, 1, keptRun(t, st, first.Run.ID))
	dir := t.TempDir()
	layFile(t, filepath.Join(dir, "found.fit"), ofWatch(3, 77))
	owner := func(p PageRunFolder, err error) string {
		t.Helper()
		if err != nil || len(p.Files) != 1 {
			t.Fatalf("%v: %+v", err, p)
		}
		if f := p.Files[0]; f.Runner == runner && (f.RunnerName == "" || f.Visit != visit) {
			t.Errorf("offered without a name or the visit: %+v", f)
		}
		return p.Files[0].Runner
	}
	if got := owner(st.SetRunFolder(t.Context(), "", dir)); got != runner {
		t.Errorf("offered to %q, want %q", got, runner)
	}
	now := func() string { t.Helper(); return owner(st.RunFolder(t.Context())) }
	// Another has a run of the same watch: nobody is named. It is given to the first,
	// and that is taken back; then it is removed.
	other, err := st.NewRunner(t.Context(), "", "Ben (invented)")
	if err != nil {
		t.Fatal(err)
	}
	agreed := "2026-03-07"
	other.Consent.Records = &agreed
	if _, err := st.ChangeRunner(t.Context(), "", other.ID, "", other); err != nil {
		t.Fatal(err)
	}
	second := takeIn(t, st, other.ID, "second.fit", ofWatch(2, 77))
	if got := now(); got != "" {
		t.Errorf("two have runs of the watch, and it is offered to %q", got)
	}
	if err := st.ChangeRun(t.Context(), "", second.Run.ID, PageRunChange{Version: 1, Runner: runner, Visit: visit}); err != nil {
		t.Fatal(err)
	}
	if got := now(); got != runner {
		t.Errorf("both runs are of one, and it is offered to %q", got)
	}
	if _, err := st.Undo(t.Context(), "", visit); err != nil {
		t.Fatal(err)
	}
	if got := now(); got != "" {
		t.Errorf("taken back, and it is offered to %q", got)
	}
	if err := st.RemoveRun(t.Context(), "", second.Run.ID, "", keptRun(t, st, second.Run.ID).Version); err != nil {
		t.Fatal(err)
	}
	if got := now(); got != runner {
		t.Errorf("the other's run is gone, and it is offered to %q", got)
	}
	// A program that was just started knows the same.
	again, err := OpenStudio(st.Dir())
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	if got := owner(again.RunFolder(t.Context())); got != runner {
		t.Errorf("after a start it is offered to %q", got)
	}
}

// BenchmarkFolderOfMany looks into the folder of a studio with 5,000 runners and
// 20,000 runs: the first time, and after one more was taken in.
func BenchmarkFolderOfMany(b *testing.B) {
	st, runner, _ := runStudio(b)
	first := takeIn(b, st, runner, "first.fit", ofWatch(1, 77))
	crowd(b, st, 5000, 4, keptRun(b, st, first.Run.ID))
	dir := b.TempDir()
	layFile(b, filepath.Join(dir, "found.fit"), ofWatch(3, 77))
	look := func(b *testing.B) {
		if p, err := st.RunFolder(b.Context()); err != nil || len(p.Files) != 1 || p.Files[0].Runner != runner {
			b.Fatalf("%v: %+v", err, p)
		}
	}
	if _, err := st.SetRunFolder(b.Context(), "", dir); err != nil {
		b.Fatal(err)
	}
	b.Run("first", func(b *testing.B) {
		for b.Loop() {
			st.watches = watches{}
			look(b)
		}
	})
	// All that the crowd has was written in one moment, which is listed once more.
	takeIn(b, st, runner, "second.fit", ofWatch(2, 77))
	look(b)
	b.Run("again", func(b *testing.B) {
		for b.Loop() {
			look(b)
		}
	})
}
