package storetest

import (
	"errors"
	"slices"
	"strings"

	"gaitwright/internal/store"
)

// every checks going through all records, and digests.
func every(d *desk) {
	a, b := d.runner("Ada"), d.runner("Bo")
	va, vb := d.visit(a.ID, "2026-03-01"), d.visit(b.ID, "2026-03-02")
	gone := d.visit(b.ID, "2026-03-03")
	d.must("", "Removed a visit", func(w store.Writer) error { return w.Remove(store.KindVisit, gone.ID, 1) })
	run := func(of store.Runner, hash string) store.Run {
		v := store.Run{RunnerID: of.ID, Hash: strings.Repeat(hash, 64), Start: va.Date}
		d.must("", "Took in a run", func(w store.Writer) error { return w.PutRun(&v) })
		return v
	}
	ra, rb, ran := run(a, "1"), run(b, "2"), run(b, "3")
	d.must("", "Removed a run", func(w store.Writer) error { return w.Remove(store.KindRun, ran.ID, 1) })
	da := d.document("", va.ID, "intake", va.ID, `{"of":"a"}`)
	db := d.document("", vb.ID, "intake", vb.ID, `{"of":"b"}`)
	d.document("", vb.ID, "exam", vb.ID, `{"of":"b"}`)
	result := func() store.Result {
		v := store.Result{VisitID: va.ID, Hash: strings.Repeat("a", 64)}
		d.must("", "Measured", func(w store.Writer) error { return w.PutResult(&v) })
		return v
	}
	one, two := result(), result()
	d.must("", "", func(w store.Writer) error { return w.PutDigest(one.ID, []byte("first")) })
	d.must("", "", func(w store.Writer) error { return w.PutDigest(one.ID, []byte("again")) })
	if err := d.do("", "", func(w store.Writer) error { return w.PutDigest(va.ID, []byte("x")) }); !errors.Is(err, store.ErrNotFound) {
		d.t.Fatalf("a digest of no result: %v", err)
	}
	// What was touched since a moment is listed, and an erasure makes the moment void.
	touched := func(since store.Mark) (ids []string, now store.Mark, whole bool) {
		d.t.Helper()
		var list []store.Touched
		d.look(func(r store.Reader) (err error) { list, now, whole, err = r.Touched(since); return err })
		for _, x := range list {
			ids = append(ids, string(x.Kind)+" "+x.ID+" "+x.Parent)
		}
		return ids, now, whole
	}
	if ids, _, whole := touched(store.Mark{}); whole || ids != nil {
		d.t.Fatalf("since no moment: %v", ids)
	}
	_, moment, _ := touched(store.Mark{})
	d.must(vb.ID, "Said more", func(w store.Writer) error { v := db; v.Body = []byte(`{"of":"d"}`); return w.PutDocument(&v) })
	want := "document " + db.ID + " " + vb.ID
	if ids, _, whole := touched(moment); !whole || !slices.Contains(ids, want) {
		d.t.Fatalf("after a change: %v, want %s", ids, want)
	}
	_, moment, _ = touched(moment)
	d.undo(vb.ID)
	if ids, _, whole := touched(moment); !whole || !slices.Contains(ids, want) {
		d.t.Fatalf("after it was taken back: %v, want %s", ids, want)
	}
	stamps := map[string]bool{}
	stamp := func() {
		d.t.Helper()
		var s string
		d.look(func(r store.Reader) (err error) { s, err = r.Stamp(); return err })
		if stamps[s] {
			d.t.Fatalf("the stamp %q came back after a change", s)
		}
		stamps[s] = true
	}
	stamp()
	d.must(va.ID, "Said more", func(w store.Writer) error { v := da; v.Body = []byte(`{"of":"c"}`); return w.PutDocument(&v) })
	stamp()
	d.undo(va.ID)
	stamp()
	three := result()
	stamp()
	d.must("", "", func(w store.Writer) error { return w.PutDigest(three.ID, []byte("third")) })
	stamp()
	d.must("", "Removed it", func(w store.Writer) error { return w.Remove(store.KindResult, three.ID, 1) })
	stamp()
	var runners, visits, runs, docs, digests []string
	var undigested []string
	stop := errors.New("enough")
	d.look(func(r store.Reader) error {
		var err error
		if undigested, err = r.Undigested(); err != nil {
			return err
		}
		if err := r.EachRunner(func(store.Runner) error { return stop }); !errors.Is(err, stop) {
			d.t.Fatalf("an end that was asked for: %v", err)
		}
		return errors.Join(
			r.EachRunner(func(v store.Runner) error { runners = append(runners, v.Name); return nil }),
			r.EachVisit(func(v store.Visit) error { visits = append(visits, v.ID); return nil }),
			r.EachRun(func(v store.Run) error { runs = append(runs, v.ID); return nil }),
			r.EachDocument("intake", func(id string, version int64) bool { return id == da.ID && version == 3 }, func(v store.Document) error {
				docs = append(docs, v.ID+string(v.Body)+v.Owner)
				return nil
			}),
			r.EachDigest([]string{two.ID, one.ID, "nothing"}, func(id string, body []byte) error { digests = append(digests, id+string(body)); return nil }),
		)
	})
	for _, c := range []struct{ got, want []string }{
		{runners, []string{"Ada", "Bo"}},
		{visits, []string{va.ID, vb.ID}},
		{runs, []string{ra.ID, rb.ID}},
		{docs, []string{da.ID + va.ID, db.ID + `{"of":"b"}` + vb.ID}},
		{digests, []string{one.ID + "again"}},
		{undigested, []string{two.ID}},
	} {
		if !slices.Equal(c.got, c.want) {
			d.t.Fatalf("went through %q, want %q", c.got, c.want)
		}
	}
}
