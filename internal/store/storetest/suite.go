package storetest

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"

	"gaitwright/internal/store"
)

// Suite tests the engine that open opens. Each call of open must give a store
// that holds nothing; Suite closes it.
func Suite(t *testing.T, open func(t *testing.T) store.Store) {
	for _, c := range []struct {
		name string
		test func(*testing.T, *desk)
	}{
		{"RoundTrip", roundTrip},
		{"Versions", versions},
		{"WholeOrNot", wholeOrNot},
		{"OneMoment", oneMoment},
		{"Belonging", belonging},
		{"Remove", remove},
		{"UndoRedo", undoRedo},
		{"UndoConflict", undoConflict},
		{"UndoLeavesNothingLoose", undoLoose},
		{"Journal", journal},
		{"Order", order},
		{"Search", search},
		{"SearchHostile", searchHostile},
		{"Paging", paging},
		{"Runs", runs},
		{"Jobs", jobs},
		{"Files", files},
		{"Each", func(_ *testing.T, d *desk) { every(d) }},
		{"Erase", func(t *testing.T, d *desk) { erase(d, t.TempDir()) }},
		{"ManyAtOnce", manyAtOnce},
		{"Random", random},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := open(t)
			t.Cleanup(func() {
				if err := s.Close(); err != nil {
					t.Errorf("closing: %v", err)
				}
			})
			c.test(t, &desk{t, s})
		})
	}
}

// failer is a test, whoever runs it.
type failer interface {
	Helper()
	Fatalf(format string, args ...any)
}

// desk is a store with helpers that fail the test.
type desk struct {
	t failer
	store.Store
}

func (d *desk) do(list, what string, fn func(store.Writer) error) error {
	return d.Change(context.Background(), store.Deed{Who: "Tester", What: what, VisitID: list}, fn)
}

func (d *desk) must(list, what string, fn func(store.Writer) error) {
	d.t.Helper()
	if err := d.do(list, what, fn); err != nil {
		d.t.Fatalf("%s: %v", what, err)
	}
}

func (d *desk) look(fn func(store.Reader) error) {
	d.t.Helper()
	if err := d.Read(context.Background(), fn); err != nil {
		d.t.Fatalf("reading: %v", err)
	}
}

func (d *desk) runner(name string) store.Runner {
	d.t.Helper()
	v := store.Runner{Name: name}
	d.must("", "Took in "+name, func(w store.Writer) error { return w.PutRunner(&v) })
	return v
}

func (d *desk) visit(runner string, date string, tags ...string) store.Visit {
	d.t.Helper()
	v := store.Visit{RunnerID: runner, Date: day(date), Tags: tags}
	d.must("", "Began a visit", func(w store.Writer) error { return w.PutVisit(&v) })
	return v
}

func (d *desk) document(list, visit, kind, owner, body string) store.Document {
	d.t.Helper()
	v := store.Document{VisitID: visit, Kind: kind, Owner: owner, Body: json.RawMessage(body)}
	d.must(list, "Wrote "+kind, func(w store.Writer) error { return w.PutDocument(&v) })
	return v
}

// body reads the body of a document, "" where there is none.
func (d *desk) body(kind, owner string) string {
	d.t.Helper()
	var out string
	d.look(func(r store.Reader) error {
		v, err := r.Document(kind, owner)
		if errors.Is(err, store.ErrNotFound) {
			return nil
		}
		out = string(v.Body)
		return err
	})
	return out
}

func (d *desk) undo(list string) {
	d.t.Helper()
	if _, err := d.Undo(context.Background(), list, "Tester"); err != nil {
		d.t.Fatalf("undo: %v", err)
	}
}

func (d *desk) redo(list string) {
	d.t.Helper()
	if _, err := d.Redo(context.Background(), list, "Tester"); err != nil {
		d.t.Fatalf("redo: %v", err)
	}
}

func day(s string) time.Time {
	if s == "" {
		return time.Time{}
	}
	t, err := time.Parse("2006-01-02", s)
	if err != nil {
		panic(err)
	}
	return t
}

func roundTrip(t *testing.T, d *desk) {
	zone := time.FixedZone("", 5*3600+45*60)
	r := store.Runner{Name: "Åsa Ñuñez <&>\x00\u2028", Sex: "female", BornYear: 1987, HeightM: 1.71, MassKG: 61.25, LegLengthM: 0.887, LegLengthHow: "measured",
		ConsentFilming: time.Date(2026, 2, 3, 4, 5, 6, 789, zone), ConsentRecords: day("2026-02-03"), ConsentResearch: day("2025-12-31"), ConsentPositions: day("2026-02-05"), Note: "two\nlines"}
	empty := store.Runner{}
	v := store.Visit{Date: time.Date(2026, 3, 1, 23, 30, 0, 0, zone), Tags: []string{"overstride", "knee pain"}, Note: "n"}
	c := store.Clip{Name: "../side left.mp4", Kind: "film", Hash: hash(1), Bytes: 1 << 40, Facts: json.RawMessage(`{"view":"left","speed_mps":3.1}`),
		Probe: json.RawMessage(`[1,2.5e-7,null]`), Track: hash(2), TrackedWith: "full"}
	doc := store.Document{Kind: "edits", Body: json.RawMessage(`{"a":"ü<>\u0000"}`)}
	res := store.Result{Runner: "Åsa", Hash: hash(3), Summary: json.RawMessage(`{"strides":12}`)}
	loose := store.Result{Runner: "nobody's"}
	run := store.Run{Start: time.Date(2026, 3, 2, 6, 30, 0, 0, zone), Name: "morning.fit", Hash: hash(4), Bytes: 90001, Samples: hash(5), Original: hash(6), Use: "no", Facts: json.RawMessage(`{"seconds":1800.5}`)}
	job := store.Job{Kind: "measure", State: store.JobRunning, Request: json.RawMessage(`{"m":"full"}`), Share: 0.25, Message: "m", Started: time.Date(2026, 3, 1, 1, 2, 3, 4000, time.UTC), Ended: time.Date(2026, 3, 1, 2, 2, 3, 0, zone), Outcome: "o", Broken: 2}
	began := time.Now()
	d.must("", "All", func(w store.Writer) error {
		if err := errors.Join(w.PutRunner(&r), w.PutRunner(&empty)); err != nil {
			return err
		}
		v.RunnerID, run.RunnerID = r.ID, r.ID
		if err := errors.Join(w.PutVisit(&v), w.PutRun(&run)); err != nil {
			return err
		}
		c.VisitID, doc.VisitID, res.VisitID, job.VisitID = v.ID, v.ID, v.ID, v.ID
		if err := w.PutClip(&c); err != nil {
			return err
		}
		doc.Owner, job.ClipID, res.ClipIDs = c.ID+"/0", c.ID, []string{c.ID, "other"}
		return errors.Join(w.PutDocument(&doc), w.PutResult(&res), w.PutResult(&loose), w.PutJob(&job), w.PutSetting("units", "miles ü"))
	})
	for _, m := range []store.Meta{r.Meta, empty.Meta, v.Meta, c.Meta, doc.Meta, res.Meta, run.Meta, job.Meta} {
		if !store.ValidID(m.ID) || m.Version != 1 || !m.Created.Equal(m.Changed) || m.Created.Before(began.Add(-time.Minute)) && !m.Created.IsZero() && m.Created.After(began.Add(time.Minute)) {
			t.Errorf("a new record got %+v", m)
		}
	}
	if !(r.ID < empty.ID && empty.ID < v.ID && v.ID < c.ID) {
		t.Error("IDs do not sort by the order made")
	}
	d.look(func(rd store.Reader) error {
		same(t, r, try(rd.Runner(r.ID)))
		same(t, empty, try(rd.Runner(empty.ID)))
		same(t, v, try(rd.Visit(v.ID)))
		same(t, c, try(rd.Clip(c.ID)))
		same(t, doc, try(rd.Document("edits", c.ID+"/0")))
		same(t, res, try(rd.Result(res.ID)))
		same(t, loose, try(rd.Result(loose.ID)))
		same(t, run, try(rd.Run(run.ID)))
		same(t, run, try(rd.RunOfFile(run.Hash)))
		same(t, []store.Run{run}, try(rd.RunsOf(r.ID)))
		same(t, job, try(rd.Job(job.ID)))
		same(t, []store.Visit{v}, try(rd.VisitsOf(r.ID)))
		same(t, []store.Clip{c}, try(rd.ClipsOf(v.ID)))
		same(t, []store.Document{doc}, try(rd.DocumentsOf(v.ID)))
		same(t, []store.Result{res}, try(rd.ResultsOf(v.ID)))
		if got, want := try(rd.Visit(v.ID)).Date.Format(time.RFC3339), "2026-03-01T23:30:00+05:45"; got != want {
			t.Errorf("the visit is on %s, want %s: the zone belongs to it", got, want)
		}
		if s, err := rd.Setting("units"); s != "miles ü" || err != nil {
			t.Errorf("setting %q, %v", s, err)
		}
		if s, err := rd.Setting("none"); s != "" || err != nil {
			t.Errorf("a setting never set is %q, %v", s, err)
		}
		for _, id := range []string{"", "x", v.ID, "' OR 1=1 --", string(make([]byte, 1<<16))} {
			if _, err := rd.Runner(id); !errors.Is(err, store.ErrNotFound) {
				t.Errorf("runner %.20q: %v", id, err)
			}
		}
		if _, err := rd.Document("none", v.ID); !errors.Is(err, store.ErrNotFound) {
			t.Errorf("a document that is not there: %v", err)
		}
		return nil
	})
	for what, fn := range map[string]func(store.Writer) error{
		"a mass that is no number": func(w store.Writer) error { return w.PutRunner(&store.Runner{MassKG: nan()}) },
		"facts that are no JSON":   func(w store.Writer) error { return w.PutClip(&store.Clip{VisitID: v.ID, Facts: json.RawMessage(`{`)}) },
		"a run without its file":   func(w store.Writer) error { return w.PutRun(&store.Run{RunnerID: r.ID}) },
		"a document without owner": func(w store.Writer) error { return w.PutDocument(&store.Document{Kind: "plan"}) },
		"a year beyond the calendar": func(w store.Writer) error {
			return w.PutVisit(&store.Visit{RunnerID: r.ID, Date: time.Date(12026, 1, 1, 0, 0, 0, 0, time.UTC)})
		},
		"a setting without a name": func(w store.Writer) error { return w.PutSetting("", "x") },
	} {
		if d.do("", what, fn) == nil {
			t.Errorf("%s was kept", what)
		}
	}
}

func versions(t *testing.T, d *desk) {
	r := d.runner("Ann")
	mine, yours := r, r
	mine.Note, yours.Note = "mine", "yours"
	d.must("", "Mine", func(w store.Writer) error { return w.PutRunner(&mine) })
	if mine.Version != 2 || mine.ID != r.ID || !mine.Created.Equal(r.Created) {
		t.Errorf("after a second writing: %+v", mine.Meta)
	}
	err := d.do("", "Yours", func(w store.Writer) error { return w.PutRunner(&yours) })
	var c *store.Conflict
	if !errors.As(err, &c) || *c != (store.Conflict{Kind: store.KindRunner, ID: r.ID, Have: 1, Kept: 2}) {
		t.Fatalf("a stale writing: %v", err)
	}
	if yours.Version != 1 {
		t.Errorf("a refused record has version %d", yours.Version)
	}
	d.look(func(rd store.Reader) error { same(t, mine, try(rd.Runner(r.ID))); return nil })
	err = d.do("", "Remove", func(w store.Writer) error { return w.Remove(store.KindRunner, r.ID, 1) })
	if !errors.As(err, &c) {
		t.Errorf("a stale removal: %v", err)
	}
	for _, id := range []string{"01ARZ3NDEKTSV4RRFFQ69G5FAV", "x"} {
		err = d.do("", "Unknown", func(w store.Writer) error { return w.PutRunner(&store.Runner{Meta: store.Meta{ID: id, Version: 1}}) })
		if !errors.Is(err, store.ErrNotFound) {
			t.Errorf("a record with an ID that is not kept: %v", err)
		}
	}
	// The ID of a record of another kind is none of this kind.
	err = d.do("", "Mixed", func(w store.Writer) error { return w.PutVisit(&store.Visit{Meta: mine.Meta, RunnerID: r.ID}) })
	if !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a visit with the ID of a runner: %v", err)
	}
}

func wholeOrNot(t *testing.T, d *desk) {
	r := d.runner("Ann")
	boom := errors.New("boom")
	var made store.Visit
	kept := r
	begin := func(w store.Writer) error {
		made = store.Visit{RunnerID: r.ID, Date: day("2026-01-01")}
		kept.Note = "changed"
		if err := errors.Join(w.PutVisit(&made), w.PutRunner(&kept), w.PutSetting("s", "v"), w.PutJob(&store.Job{State: store.JobQueued})); err != nil {
			return err
		}
		if got := try(w.Runner(r.ID)); got.Note != "changed" || got.Version != 2 {
			t.Errorf("the writer does not see its own writing: %+v", got)
		}
		return nil
	}
	untouched := func(how string) {
		t.Helper()
		if made.ID != "" || made.Version != 0 || kept.Version != 1 {
			t.Errorf("%s: the records still say %+v and %+v", how, made.Meta, kept.Meta)
		}
		d.look(func(rd store.Reader) error {
			same(t, r, try(rd.Runner(r.ID)))
			if n := len(try(rd.VisitsOf(r.ID))) + len(try(rd.Jobs())); n > 0 || try(rd.Setting("s")) != "" {
				t.Errorf("%s: something is left", how)
			}
			return nil
		})
		if j, err := d.Journal(context.Background(), "list", 0); err != nil || len(j) > 0 {
			t.Errorf("%s: the journal has %v, %v", how, j, err)
		}
	}
	if err := d.do("list", "Fails", func(w store.Writer) error { return errors.Join(begin(w), boom) }); !errors.Is(err, boom) {
		t.Errorf("the error is %v", err)
	}
	untouched("after an error")
	func() {
		defer func() {
			if recover() != "panic" {
				t.Error("the panic was swallowed")
			}
		}()
		d.do("list", "Panics", func(w store.Writer) error { begin(w); panic("panic") })
	}()
	untouched("after a panic")
	ctx, cancel := context.WithCancel(context.Background())
	err := d.Change(ctx, store.Deed{What: "Cancelled", VisitID: "list"}, func(w store.Writer) error { err := begin(w); cancel(); return err })
	if !errors.Is(err, context.Canceled) {
		t.Errorf("a cancelled change: %v", err)
	}
	untouched("after a cancellation")
	if err := d.do("list", "", begin); err == nil {
		t.Error("a change of records without a name was kept")
	}
	untouched("without a name")
	d.must("list", "Done", begin)
	if made.ID == "" {
		t.Error("a kept record has no ID")
	}
}

func oneMoment(t *testing.T, d *desk) {
	a, b := d.runner("A"), d.runner("B")
	set := func(note string) {
		d.must("", "Set", func(w store.Writer) error {
			a.Note, b.Note = note, note
			return errors.Join(w.PutRunner(&a), w.PutRunner(&b))
		})
	}
	set("old")
	d.look(func(r store.Reader) error {
		first := try(r.Runner(a.ID)).Note
		set("new") // does not wait for readers
		if second := try(r.Runner(b.ID)).Note; first != "old" || second != "old" {
			t.Errorf("one reading saw %q and %q", first, second)
		}
		return nil
	})
	d.must("", "Slow", func(w store.Writer) error {
		a.Note = "unfinished"
		err := w.PutRunner(&a)
		d.look(func(r store.Reader) error { // nor readers for a writer
			if n := try(r.Runner(a.ID)).Note; n != "new" {
				t.Errorf("a reader saw %q before it was kept", n)
			}
			return nil
		})
		return err
	})
}

func belonging(t *testing.T, d *desk) {
	r := d.runner("Ann")
	v := d.visit(r.ID, "2026-01-01")
	for what, fn := range map[string]func(store.Writer) error{
		"a visit of nobody":  func(w store.Writer) error { return w.PutVisit(&store.Visit{RunnerID: "x"}) },
		"a visit of a visit": func(w store.Writer) error { return w.PutVisit(&store.Visit{RunnerID: v.ID}) },
		"a clip of no visit": func(w store.Writer) error { return w.PutClip(&store.Clip{}) },
		"a clip of a runner": func(w store.Writer) error { return w.PutClip(&store.Clip{VisitID: r.ID}) },
		"a document of a runner": func(w store.Writer) error {
			return w.PutDocument(&store.Document{VisitID: r.ID, Kind: "k", Owner: "o"})
		},
		"a result of a runner": func(w store.Writer) error { return w.PutResult(&store.Result{VisitID: r.ID}) },
	} {
		if err := d.do("", what, fn); !errors.Is(err, store.ErrNotFound) {
			t.Errorf("%s: %v", what, err)
		}
	}
	doc := d.document("", v.ID, "intake", v.ID, `1`)
	err := d.do("", "Second", func(w store.Writer) error {
		return w.PutDocument(&store.Document{VisitID: v.ID, Kind: "intake", Owner: v.ID})
	})
	var c *store.Conflict
	if !errors.As(err, &c) || *c != (store.Conflict{Kind: store.KindDocument, ID: doc.ID, Kept: 1}) {
		t.Errorf("a second document of the kind: %v", err)
	}
	d.document("", "", "intake", "elsewhere", `2`)
	// A visit may be given to another runner.
	s := d.runner("Bea")
	v.RunnerID = s.ID
	d.must("", "Moved", func(w store.Writer) error { return w.PutVisit(&v) })
	d.look(func(rd store.Reader) error {
		if n, m := len(try(rd.VisitsOf(r.ID))), len(try(rd.VisitsOf(s.ID))); n != 0 || m != 1 {
			t.Errorf("%d and %d visits, want 0 and 1", n, m)
		}
		rows := try(rd.Runners(store.Query{}))
		if len(rows) != 2 || rows[0].Visits+rows[1].Visits != 1 {
			t.Errorf("the list says %+v", rows)
		}
		return nil
	})
}

func remove(t *testing.T, d *desk) {
	r := d.runner("Ann")
	v, other := d.visit(r.ID, "2026-01-01", "tag"), d.visit(r.ID, "2026-01-02")
	var c store.Clip
	var res store.Result
	d.must(v.ID, "Filmed", func(w store.Writer) error {
		c, res = store.Clip{VisitID: v.ID, Name: "a"}, store.Result{VisitID: v.ID}
		return errors.Join(w.PutClip(&c), w.PutResult(&res))
	})
	intake := d.document(v.ID, v.ID, "intake", v.ID, `1`)
	edits := d.document(v.ID, v.ID, "edits", res.ID+"/0", `2`)
	drawn := d.document(v.ID, "", "drawings", c.ID, `3`)
	count := func() (n int) {
		d.look(func(rd store.Reader) error {
			for _, err := range []error{second(rd.Runner(r.ID)), second(rd.Visit(v.ID)), second(rd.Visit(other.ID)), second(rd.Clip(c.ID)), second(rd.Result(res.ID)),
				second(rd.Document("intake", v.ID)), second(rd.Document("edits", res.ID+"/0")), second(rd.Document("drawings", c.ID))} {
				if err == nil {
					n++
				} else if !errors.Is(err, store.ErrNotFound) {
					return err
				}
			}
			return nil
		})
		return n
	}
	for _, tt := range []struct {
		kind    store.Kind
		id      string
		version int64
		left    int
	}{
		{store.KindDocument, edits.ID, 1, 7},
		{store.KindClip, c.ID, 1, 6}, // with its drawings
		{store.KindResult, res.ID, 1, 6},
		{store.KindVisit, v.ID, 1, 2}, // the runner and the other visit
		{store.KindRunner, r.ID, 1, 0},
	} {
		if n := count(); n != 8 {
			t.Fatalf("%d records before removing the %s, want 8", n, tt.kind)
		}
		d.look(func(rd store.Reader) error { // versions have gone on by undoing
			switch tt.kind {
			case store.KindDocument:
				tt.version = try(rd.Document("edits", res.ID+"/0")).Version
			case store.KindClip:
				tt.version = try(rd.Clip(tt.id)).Version
			case store.KindResult:
				tt.version = try(rd.Result(tt.id)).Version
			case store.KindVisit:
				tt.version = try(rd.Visit(tt.id)).Version
			}
			return nil
		})
		d.must("removals", "Removed", func(w store.Writer) error { return w.Remove(tt.kind, tt.id, tt.version) })
		if n := count(); n != tt.left {
			t.Errorf("%d records after removing the %s, want %d", n, tt.kind, tt.left)
		}
		if err := d.do("", "Again", func(w store.Writer) error { return w.Remove(tt.kind, tt.id, tt.version+1) }); !errors.Is(err, store.ErrNotFound) {
			t.Errorf("removing the %s again: %v", tt.kind, err)
		}
		d.undo("removals")
		d.redo("removals")
		if n := count(); n != tt.left {
			t.Errorf("%d records after removing the %s once more, want %d", n, tt.kind, tt.left)
		}
		d.undo("removals")
	}
	d.look(func(rd store.Reader) error {
		rows := try(rd.Runners(store.Query{Text: "ann", Tag: "tag"}))
		if len(rows) != 1 || rows[0].Visits != 2 || rows[0].LastID != other.ID {
			t.Errorf("the list says %+v", rows)
		}
		if got := try(rd.Document("drawings", c.ID)); got.Version <= drawn.Version || string(got.Body) != `3` {
			t.Errorf("came back as %+v", got)
		}
		return nil
	})
	if err := d.do("", "Odd", func(w store.Writer) error { return w.Remove("nonsense", intake.ID, 1) }); err == nil {
		t.Error("a kind that is none was removed")
	}
}

func undoRedo(t *testing.T, d *desk) {
	ctx := context.Background()
	r := d.runner("Ann")
	v := d.visit(r.ID, "2026-01-01")
	if _, err := d.Undo(ctx, v.ID, ""); !errors.Is(err, store.ErrNothing) {
		t.Errorf("undo of nothing: %v", err)
	}
	if _, err := d.Undo(ctx, "", ""); !errors.Is(err, store.ErrNothing) {
		t.Errorf("undo without a list: %v", err)
	}
	doc := d.document(v.ID, v.ID, "plan", v.ID, `"one"`)
	for _, body := range []string{`"two"`, `"three"`} {
		doc.Body = json.RawMessage(body)
		d.must(v.ID, "Wrote "+body, func(w store.Writer) error { return w.PutDocument(&doc) })
	}
	steps := []string{"", `"one"`, `"two"`, `"three"`}
	deeds := []string{"", "Wrote plan", `Wrote "two"`, `Wrote "three"`}
	next := func(i int) string {
		if i < len(deeds) {
			return deeds[i]
		}
		return ""
	}
	at, version := 3, int64(3)
	check := func(deed store.Deed, err error, want string) {
		t.Helper()
		if err != nil || deed.What != want || deed.Who != "Tester" || deed.VisitID != v.ID {
			t.Fatalf("took %+v, %v, want %q", deed, err, want)
		}
		if got := d.body("plan", v.ID); got != steps[at] {
			t.Errorf("the document is %s, want %s", got, steps[at])
		}
		version++
		if at > 0 {
			d.look(func(rd store.Reader) error {
				if got := try(rd.Document("plan", v.ID)); got.Version != version || got.ID != doc.ID || !got.Created.Equal(doc.Created) {
					t.Errorf("it is %+v, want version %d", got.Meta, version)
				}
				return nil
			})
		}
		if u, r, err := d.Undoable(ctx, v.ID); u != deeds[at] || r != next(at+1) || err != nil {
			t.Errorf("can undo %q and redo %q (%v), want %q and %q", u, r, err, deeds[at], next(at+1))
		}
	}
	for range 2 {
		for at > 0 {
			at--
			deed, err := d.Undo(ctx, v.ID, "Other")
			check(deed, err, deeds[at+1])
		}
		if _, err := d.Undo(ctx, v.ID, ""); !errors.Is(err, store.ErrNothing) {
			t.Errorf("undo beyond the first: %v", err)
		}
		for at < 3 {
			at++
			deed, err := d.Redo(ctx, v.ID, "Other")
			check(deed, err, deeds[at])
		}
		if _, err := d.Redo(ctx, v.ID, ""); !errors.Is(err, store.ErrNothing) {
			t.Errorf("redo beyond the last: %v", err)
		}
	}
	d.undo(v.ID)
	d.undo(v.ID)
	d.look(func(rd store.Reader) error { doc = try(rd.Document("plan", v.ID)); return nil })
	doc.Body = json.RawMessage(`"other"`)
	d.must(v.ID, "Wrote other", func(w store.Writer) error { return w.PutDocument(&doc) })
	if _, err := d.Redo(ctx, v.ID, ""); !errors.Is(err, store.ErrNothing) {
		t.Errorf("redo after a new deed: %v", err)
	}
	d.undo(v.ID)
	if got := d.body("plan", v.ID); got != `"one"` {
		t.Errorf("undone to %s, want \"one\"", got)
	}
	if u, r, _ := d.Undoable(ctx, v.ID); u != "Wrote plan" || r != "Wrote other" {
		t.Errorf("can undo %q and redo %q", u, r)
	}
	// Several writings of one record in a deed are one step, also in the list of
	// something that is no visit.
	doc = d.document("elsewhere", "", "edits", "x", `1`)
	d.must("elsewhere", "Twice", func(w store.Writer) error {
		doc.Body = json.RawMessage(`2`)
		err := w.PutDocument(&doc)
		doc.Body = json.RawMessage(`3`)
		return errors.Join(err, w.PutDocument(&doc))
	})
	d.undo("elsewhere")
	if got := d.body("edits", "x"); got != `1` {
		t.Errorf("undone to %s, want 1", got)
	}
	d.redo("elsewhere")
	if got := d.body("edits", "x"); got != `3` {
		t.Errorf("done again to %s, want 3", got)
	}
	// A deed may exchange a document for another of the same kind.
	d.must("elsewhere", "Exchanged", func(w store.Writer) error {
		old := try(w.Document("edits", "x"))
		return errors.Join(w.Remove(store.KindDocument, old.ID, old.Version), w.PutDocument(&store.Document{Kind: "edits", Owner: "x", Body: json.RawMessage(`4`)}))
	})
	for range 2 {
		d.undo("elsewhere")
		if got := d.body("edits", "x"); got != `3` {
			t.Errorf("undone to %s, want 3", got)
		}
		d.redo("elsewhere")
		if got := d.body("edits", "x"); got != `4` {
			t.Errorf("done again to %s, want 4", got)
		}
	}
}

func undoConflict(t *testing.T, d *desk) {
	ctx := context.Background()
	r := d.runner("Ann")
	write := func(list, note string) {
		r.Note = note
		d.must(list, "Noted "+note, func(w store.Writer) error { return w.PutRunner(&r) })
	}
	write("a", "1")
	write("b", "2")
	var c *store.Conflict
	if _, err := d.Undo(ctx, "a", ""); !errors.As(err, &c) || c.Kind != store.KindRunner || c.ID != r.ID || c.Have != 2 || c.Kept != 3 {
		t.Fatalf("undo of what another changed: %v", err)
	}
	d.look(func(rd store.Reader) error { same(t, r, try(rd.Runner(r.ID))); return nil })
	if u, _, _ := d.Undoable(ctx, "a"); u != "Noted 1" {
		t.Errorf("after the refusal, %q can be undone", u)
	}
	d.undo("b") // gives way
	d.undo("a")
	d.look(func(rd store.Reader) error { r = try(rd.Runner(r.ID)); return nil })
	if r.Note != "" {
		t.Errorf("undone to %q", r.Note)
	}
	write("", "3") // of no list
	for _, list := range []string{"a", "b"} {
		if _, err := d.Redo(ctx, list, ""); !errors.As(err, &c) {
			t.Errorf("redo of %s over another's change: %v", list, err)
		}
	}
	// Another's change between two of the list is not lost by undoing the later.
	write("c", "4")
	write("", "5")
	write("c", "6")
	d.undo("c")
	if _, err := d.Undo(ctx, "c", ""); !errors.As(err, &c) {
		t.Errorf("undo beneath another's change: %v", err)
	}
	d.look(func(rd store.Reader) error {
		if n := try(rd.Runner(r.ID)).Note; n != "5" {
			t.Errorf("the note is %q, want 5", n)
		}
		return nil
	})
}

func undoLoose(t *testing.T, d *desk) {
	ctx := context.Background()
	var c *store.Conflict
	r := d.runner("Ann")
	var v store.Visit
	d.must("l", "Began", func(w store.Writer) error { v = store.Visit{RunnerID: r.ID}; return w.PutVisit(&v) })
	doc := d.document("", v.ID, "plan", v.ID, `1`)
	if _, err := d.Undo(ctx, "l", ""); !errors.As(err, &c) || c.ID != doc.ID {
		t.Errorf("undo of a visit that has another's document: %v", err)
	}
	d.must("", "Removed", func(w store.Writer) error { return w.Remove(store.KindDocument, doc.ID, doc.Version) })
	d.undo("l")
	d.redo("l")
	d.look(func(rd store.Reader) error { v = try(rd.Visit(v.ID)); return nil })
	d.document("l", v.ID, "plan", v.ID, `2`)
	d.must("l", "Removed", func(w store.Writer) error {
		x := try(w.Document("plan", v.ID))
		return w.Remove(store.KindDocument, x.ID, x.Version)
	})
	d.must("", "Removed the visit", func(w store.Writer) error { return w.Remove(store.KindVisit, v.ID, v.Version) })
	if _, err := d.Undo(ctx, "l", ""); !errors.As(err, &c) || c.Kind != store.KindVisit {
		t.Errorf("bringing back a document of a visit that is gone: %v", err)
	}
	// A document that came back must not stand beside a new one.
	d.document("m", "", "edits", "x", `1`)
	d.must("m", "Removed", func(w store.Writer) error {
		x := try(w.Document("edits", "x"))
		return w.Remove(store.KindDocument, x.ID, x.Version)
	})
	d.document("", "", "edits", "x", `2`)
	if _, err := d.Undo(ctx, "m", ""); !errors.As(err, &c) {
		t.Errorf("bringing back a document whose place is taken: %v", err)
	}
	if got := d.body("edits", "x"); got != `2` {
		t.Errorf("it is %s", got)
	}
}

func journal(t *testing.T, d *desk) {
	ctx := context.Background()
	r := d.runner("Ann")
	for i := range 5 {
		list := []string{"a", "b"}[i%2]
		d.must(list, fmt.Sprint("Deed ", i), func(w store.Writer) error { r.Note = fmt.Sprint(i); return w.PutRunner(&r) })
	}
	d.must("a", "Only a job", func(w store.Writer) error { return errors.Join(w.PutJob(&store.Job{}), w.PutSetting("s", "v")) })
	if err := d.Change(ctx, store.Deed{}, func(w store.Writer) error { return w.PutJob(&store.Job{}) }); err != nil {
		t.Errorf("a job needs no deed: %v", err)
	}
	d.undo("a")
	all, err := d.Journal(ctx, "", 0)
	if err != nil {
		t.Fatal(err)
	}
	var what []string
	for i, e := range all {
		what = append(what, e.What)
		if e.Undone != (e.What == "Deed 4") || e.Who != "Tester" || e.At.IsZero() || i > 0 && e.ID >= all[i-1].ID {
			t.Errorf("entry %+v", e)
		}
	}
	if want := []string{"Deed 4", "Deed 3", "Deed 2", "Deed 1", "Deed 0", "Took in Ann"}; !slices.Equal(what, want) {
		t.Errorf("journal %q, want %q", what, want)
	}
	part, err := d.Journal(ctx, "a", 2)
	if err != nil || len(part) != 2 || part[0].What != "Deed 4" || part[1].What != "Deed 2" || part[1].VisitID != "a" {
		t.Errorf("journal of a: %+v, %v", part, err)
	}
}

func order(t *testing.T, d *desk) {
	r := d.runner("Ann")
	second, first, third := d.visit(r.ID, "2026-02-02"), d.visit(r.ID, "2025-02-02"), d.visit(r.ID, "2026-02-03")
	v := third.ID
	var clips, docs, results []string
	for i := range 4 {
		d.must("", "Put", func(w store.Writer) error {
			c, doc, res := store.Clip{VisitID: v}, store.Document{VisitID: v, Kind: fmt.Sprint(9 - i), Owner: "o"}, store.Result{VisitID: v}
			if i == 3 {
				res.VisitID = ""
			}
			err := errors.Join(w.PutClip(&c), w.PutDocument(&doc), w.PutResult(&res))
			clips, docs, results = append(clips, c.ID), append(docs, doc.ID), append(results, res.ID)
			return err
		})
	}
	d.look(func(rd store.Reader) error {
		var got []string
		for _, x := range try(rd.VisitsOf(r.ID)) {
			got = append(got, x.ID)
		}
		same(t, []string{third.ID, second.ID, first.ID}, got)
		got = nil
		for _, x := range try(rd.ClipsOf(v)) {
			got = append(got, x.ID)
		}
		same(t, clips, got)
		got = nil
		for _, x := range try(rd.DocumentsOf(v)) {
			got = append(got, x.ID)
		}
		same(t, docs, got)
		slices.Reverse(results)
		got = nil
		for _, x := range try(rd.Results(0)) {
			got = append(got, x.ID)
		}
		same(t, results, got)
		got = nil
		for _, x := range try(rd.Results(2)) {
			got = append(got, x.ID)
		}
		same(t, results[:2], got)
		got = nil
		for _, x := range try(rd.ResultsOf(v)) {
			got = append(got, x.ID)
		}
		same(t, results[1:], got)
		return nil
	})
}

func jobs(t *testing.T, d *desk) {
	var ids []string
	for _, s := range []store.JobState{store.JobDone, store.JobQueued, store.JobRunning, store.JobQueued} {
		j := store.Job{State: s}
		d.must("", "", func(w store.Writer) error { return w.PutJob(&j) })
		ids = append(ids, j.ID)
	}
	d.look(func(r store.Reader) error {
		states := func(v []store.Job, err error) (out []string) {
			for _, j := range v {
				out = append(out, j.ID)
			}
			return out
		}
		same(t, ids, states(r.Jobs()))
		same(t, []string{ids[1], ids[3]}, states(r.Jobs(store.JobQueued)))
		same(t, ids[1:], states(r.Jobs(store.JobRunning, store.JobQueued)))
		same(t, nil, states(r.Jobs("'; DROP TABLE job; --")))
		return nil
	})
	var j store.Job
	d.look(func(r store.Reader) (err error) { j, err = r.Job(ids[1]); return err })
	stale := j
	j.State, j.Share = store.JobRunning, 0.5
	d.must("", "", func(w store.Writer) error { return w.PutJob(&j) })
	var c *store.Conflict
	if err := d.do("", "", func(w store.Writer) error { return w.PutJob(&stale) }); !errors.As(err, &c) || c.Kind != store.KindJob || c.Kept != 2 {
		t.Errorf("a stale job: %v", err)
	}
	if err := d.do("", "", func(w store.Writer) error { return w.PutJob(&store.Job{Meta: store.Meta{ID: "x", Version: 1}}) }); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a job that is not kept: %v", err)
	}
}

func files(t *testing.T, d *desk) {
	r := d.runner("Ann")
	v := d.visit(r.ID, "2026-01-01")
	c := store.Clip{VisitID: v.ID, Hash: hash(1), Track: hash(2)}
	d.must(v.ID, "Filmed", func(w store.Writer) error { return w.PutClip(&c) })
	c.Track = hash(3)
	d.must(v.ID, "Tracked again", func(w store.Writer) error { return w.PutClip(&c) })
	d.must("", "Measured", func(w store.Writer) error { return w.PutResult(&store.Result{Hash: hash(4)}) })
	d.document("", v.ID, "drawings", c.ID, `{"picture":"`+hash(5)+`","not":"`+hash(6)+`0"}`)
	d.must("", "Removed", func(w store.Writer) error { return w.Remove(store.KindClip, c.ID, c.Version) })
	d.look(func(rd store.Reader) error {
		got := try(rd.FilesInUse())
		for i := 1; i <= 5; i++ {
			if !got[hash(i)] {
				t.Errorf("file %d is in use, as undo may bring it back", i)
			}
		}
		if len(got) != 5 {
			t.Errorf("%d files, want 5", len(got))
		}
		return nil
	})
}

func manyAtOnce(t *testing.T, d *desk) {
	r := d.runner("Ann")
	const workers, each = 4, 12
	done := make(chan error)
	for range workers {
		go func() {
			for range each {
				for {
					var x store.Runner
					err := d.Read(context.Background(), func(rd store.Reader) (err error) { x, err = rd.Runner(r.ID); return err })
					if err == nil {
						x.BornYear++
						err = d.do("", "Counted", func(w store.Writer) error { return w.PutRunner(&x) })
					}
					var c *store.Conflict
					if errors.As(err, &c) {
						continue // somebody was quicker: read again
					}
					if err != nil {
						done <- err
						return
					}
					break
				}
			}
			done <- nil
		}()
	}
	for range workers {
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
	d.look(func(rd store.Reader) error {
		if got := try(rd.Runner(r.ID)); got.BornYear != workers*each || got.Version != workers*each+1 {
			t.Errorf("counted to %d at version %d, want %d", got.BornYear, got.Version, workers*each)
		}
		return nil
	})
}

// runs: a file is taken in once, whoever's it is, also by undo; what was removed
// makes room.
func runs(t *testing.T, d *desk) {
	a, b := d.runner("A"), d.runner("B")
	take := func(runner, date string, n int) (store.Run, error) {
		v := store.Run{RunnerID: runner, Start: day(date), Hash: hash(n)}
		return v, d.do("list", "Took in a run", func(w store.Writer) error { return w.PutRun(&v) })
	}
	late, err := take(a.ID, "2026-03-09", 1)
	if err != nil {
		t.Fatal(err)
	}
	early, err := take(a.ID, "2026-03-02", 2)
	if err != nil {
		t.Fatal(err)
	}
	d.look(func(r store.Reader) error {
		same(t, []store.Run{early, late}, try(r.RunsOf(a.ID)))
		return nil
	})
	for _, runner := range []string{a.ID, b.ID} {
		var c *store.Conflict
		if _, err := take(runner, "2026-03-09", 1); !errors.As(err, &c) || c.Kind != store.KindRun || c.ID != late.ID {
			t.Errorf("the same file again: %v", err)
		}
	}
	if _, err := take("nobody", "2026-03-09", 3); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a run of nobody: %v", err)
	}
	d.must("away", "Removed a run", func(w store.Writer) error { return w.Remove(store.KindRun, late.ID, late.Version) })
	other, err := take(b.ID, "2026-03-09", 1)
	if err != nil {
		t.Fatalf("the file of a removed run: %v", err)
	}
	var c *store.Conflict
	if _, err := d.Undo(context.Background(), "away", "Tester"); !errors.As(err, &c) {
		t.Errorf("undo would have one file twice: %v", err)
	}
	d.must("", "Removed the other", func(w store.Writer) error { return w.Remove(store.KindRun, other.ID, other.Version) })
	d.undo("away")
	d.must("", "Removed the runner", func(w store.Writer) error { return w.Remove(store.KindRunner, a.ID, a.Version) })
	d.look(func(r store.Reader) error {
		if _, err := r.Run(early.ID); !errors.Is(err, store.ErrNotFound) {
			t.Errorf("a run of a removed runner: %v", err)
		}
		if _, err := r.RunOfFile(hash(1)); !errors.Is(err, store.ErrNotFound) {
			t.Errorf("a file of a removed runner: %v", err)
		}
		return nil
	})
}
