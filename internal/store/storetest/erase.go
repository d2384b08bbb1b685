package storetest

import (
	"context"
	"encoding/json"
	"errors"
	"path/filepath"
	"slices"
	"strings"

	"gaitwright/internal/store"
)

// erase checks that erasing takes a runner out of everything, and no one else.
func erase(d *desk, snapshot string) {
	ctx := context.Background()
	hash := func(c string) string { return strings.Repeat(c, 64) }
	anna, bo := d.runner("Anna Erased"), d.runner("Bo Stays")
	va, vb := d.visit(anna.ID, "2026-03-01", "overstride"), d.visit(bo.ID, "2026-03-02", "overstride")
	hidden := d.visit(anna.ID, "2026-03-03")
	clip := func(visit, name, hash string) store.Clip {
		c := store.Clip{VisitID: visit, Name: name, Kind: "film", Hash: hash}
		d.must(visit, "Took in "+name, func(w store.Writer) error { return w.PutClip(&c) })
		return c
	}
	ca := clip(va.ID, "anna.mp4", hash("a"))
	clip(va.ID, "both.mp4", hash("c"))
	clip(vb.ID, "bo.mp4", hash("b"))
	clip(vb.ID, "both.mp4", hash("c"))
	d.document(va.ID, va.ID, "intake", va.ID, `{"goals":"Anna wants to run"}`)
	d.document("", "", "drawings", ca.ID+"/0", `{"lines":["Anna's knee"]}`)
	loose := store.Result{Runner: "Anna Erased", Hash: hash("d")}
	run := store.Run{RunnerID: anna.ID, Name: "anna.fit", Hash: hash("8"), Samples: hash("9")}
	d.must("", "Took in a run", func(w store.Writer) error { return w.PutRun(&run) })
	d.must("", "Measured Anna", func(w store.Writer) error { return w.PutResult(&loose) })
	d.must("", "Removed Anna's last visit", func(w store.Writer) error { return w.Remove(store.KindVisit, hidden.ID, 1) })
	// One deed that touches both.
	both := store.Document{VisitID: vb.ID, Kind: "note", Owner: vb.ID, Body: json.RawMessage(`{"text":"Bo"}`)}
	d.must("", "Compared Anna with Bo", func(w store.Writer) error {
		if err := w.PutDocument(&both); err != nil {
			return err
		}
		r, err := w.Runner(anna.ID)
		if err != nil {
			return err
		}
		r.Note = "Anna again"
		return w.PutRunner(&r)
	})
	job := store.Job{VisitID: va.ID, Kind: "measure", State: store.JobDone, Message: "anna.mp4"}
	d.must("", "", func(w store.Writer) error {
		return errors.Join(w.PutJob(&job), w.PutSetting("keep/"+anna.ID, "2030-01-01"), w.PutSetting("keep/"+bo.ID, "2030-01-01"))
	})
	for _, who := range []string{"Ida", "Ida", "Uwe"} {
		if err := d.Look(ctx, store.Look{RunnerID: anna.ID, Who: who, What: "Opened Anna"}); err != nil {
			d.t.Fatalf("look: %v", err)
		}
	}
	if err := d.Look(ctx, store.Look{RunnerID: "01KG0000000000000000000009", Who: "Ida", What: "Opened nobody"}); !errors.Is(err, store.ErrNotFound) {
		d.t.Fatalf("a look at nobody: %v", err)
	}
	trail, err := d.Trail(ctx, anna.ID, 0)
	if err != nil {
		d.t.Fatalf("trail: %v", err)
	}
	var saw, did int
	for _, l := range trail {
		if l.Saw {
			saw++
		} else {
			did++
		}
		if l.RunnerID != anna.ID || strings.Contains(l.What, "bo.mp4") {
			d.t.Fatalf("the trail of Anna has %+v", l)
		}
	}
	// Taken in, two visits begun, two clips, intake, a run, the last visit removed, the
	// deed with both; drawings and the loose result name no visit of hers.
	if saw != 2 || did != 9 {
		d.t.Fatalf("the trail has %d looks and %d deeds, want 2 and 9: %+v", saw, did, trail)
	}
	if some, err := d.Trail(ctx, "", 3); err != nil || len(some) != 3 {
		d.t.Fatalf("the newest three lines are %d (%v)", len(some), err)
	}

	// Films first, as when the consent to filming is withdrawn: also one that was
	// only taken out of sight, and not what another runner has.
	dropped := clip(va.ID, "dropped.mp4", hash("e"))
	d.must(va.ID, "Removed a film", func(w store.Writer) error { return w.Remove(store.KindClip, dropped.ID, 1) })
	markers := store.Clip{VisitID: va.ID, Name: "anna.c3d", Kind: "markers", Hash: hash("f")}
	d.must(va.ID, "Took in markers", func(w store.Writer) error { return w.PutClip(&markers) })
	films, err := d.EraseFilms(ctx, anna.ID, "Ida")
	if err != nil {
		d.t.Fatalf("erasing films: %v", err)
	}
	slices.Sort(films.Files)
	if want := []string{hash("a"), hash("e")}; !slices.Equal(films.Files, want) || films.Records != 4 {
		d.t.Fatalf("%d records and the files %q of films, want 4 and %q", films.Records, films.Files, want)
	}
	d.look(func(r store.Reader) error {
		if list, err := r.ClipsOf(va.ID); err != nil || len(list) != 1 || list[0].ID != markers.ID {
			d.t.Fatalf("left are the clips %+v, %v", list, err)
		}
		return nil
	})
	if _, err := d.Undo(ctx, va.ID, "Ida"); err != nil { // of the markers
		d.t.Fatalf("undo after erasing films: %v", err)
	}
	if none, err := d.EraseFilms(ctx, anna.ID, "Ida"); err != nil || none.Records != 0 {
		d.t.Fatalf("erasing films again: %+v, %v", none, err)
	}

	if _, err := d.Erase(ctx, "01KG0000000000000000000009", "Ida", nil); !errors.Is(err, store.ErrNotFound) {
		d.t.Fatalf("erasing nobody: %v", err)
	}
	if _, err := d.Erase(ctx, anna.ID, "Ida", []string{bo.ID}); !errors.Is(err, store.ErrNotFound) {
		d.t.Fatalf("erasing with what is no result: %v", err)
	}
	got, err := d.Erase(ctx, anna.ID, "Ida", []string{loose.ID})
	if err != nil {
		d.t.Fatalf("erase: %v", err)
	}
	slices.Sort(got.Files)
	if want := []string{hash("8"), hash("9"), hash("d"), hash("f")}; !slices.Equal(got.Files, want) {
		d.t.Fatalf("files %q, want %q", got.Files, want)
	}
	// The runner, two visits, intake, markers, the loose result, the run; and the job.
	if got.Records != 7 || len(got.IDs) != 8 || !slices.Contains(got.IDs, run.ID) || !slices.Contains(got.IDs, job.ID) || !slices.Contains(got.IDs, hidden.ID) {
		d.t.Fatalf("erased %d records, %q", got.Records, got.IDs)
	}
	if err := d.Purge(ctx); err != nil {
		d.t.Fatalf("purge: %v", err)
	}
	if _, err := d.Erase(ctx, anna.ID, "Ida", nil); !errors.Is(err, store.ErrNotFound) {
		d.t.Fatalf("erasing again: %v", err)
	}
	d.look(func(r store.Reader) error {
		rows, err := r.Runners(store.Query{})
		if err != nil || len(rows) != 1 || rows[0].ID != bo.ID || rows[0].Visits != 1 {
			d.t.Fatalf("left are %+v, %v", rows, err)
		}
		if rows, err := r.Runners(store.Query{Text: "anna"}); err != nil || len(rows) != 0 {
			d.t.Fatalf("found %+v, %v", rows, err)
		}
		used, err := r.FilesInUse()
		if err != nil || len(used) != 2 || !used[hash("b")] || !used[hash("c")] {
			d.t.Fatalf("files in use %v, %v", used, err)
		}
		mine, err := r.Setting("keep/" + anna.ID)
		his, err2 := r.Setting("keep/" + bo.ID)
		if err != nil || err2 != nil || mine != "" || his == "" {
			d.t.Fatalf("settings %q and %q, %v, %v", mine, his, err, err2)
		}
		if list, err := r.Jobs(); err != nil || len(list) != 0 {
			d.t.Fatalf("jobs %+v, %v", list, err)
		}
		return nil
	})
	rest, err := d.Trail(ctx, "", 0)
	if err != nil {
		d.t.Fatalf("trail: %v", err)
	}
	for _, l := range rest {
		if strings.Contains(strings.ToLower(l.What), "anna") {
			d.t.Fatalf("the trail still has %q", l.What)
		}
	}
	if l := rest[0]; l.Who != "Ida" || !strings.HasPrefix(l.What, "Erased a runner") {
		d.t.Fatalf("the newest line is %+v", l)
	}
	// Bo's list goes on, undo and redo with it.
	d.undo(vb.ID)
	d.look(func(r store.Reader) error {
		if list, err := r.ClipsOf(vb.ID); err != nil || len(list) != 1 {
			d.t.Fatalf("after undo %d clips, %v", len(list), err)
		}
		return nil
	})
	if err := d.Check(ctx); err != nil {
		d.t.Fatalf("after all this: %v", err)
	}
	if err := d.Snapshot(ctx, filepath.Join(snapshot, "copy.db")); err != nil {
		d.t.Fatalf("snapshot: %v", err)
	}
	if err := d.Snapshot(ctx, filepath.Join(snapshot, "copy.db")); err == nil {
		d.t.Fatalf("a snapshot was written over another file")
	}
}
