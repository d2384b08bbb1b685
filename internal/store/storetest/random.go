package storetest

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"pgregory.net/rapid"

	"gaitwright/internal/store"
)

// model says in plain memory what a store should hold.
type model struct {
	records map[string]*thing
	ids     []string // in the order made
	deeds   []*modelDeed
	mark    string // a word that all runners of this model have
}

// thing is a record: what it says, and how it came to say so.
type thing struct {
	kind    store.Kind
	version int64
	state   *state
}

// state is what a record says. The same state comes back by undo, so that two
// pointers tell whether something else was written between.
type state struct {
	gone                 bool
	parent, kind2, owner string // kind2 and owner of documents
	text                 string
	date                 time.Time
	tags                 []string
}

type modelDeed struct {
	list, what string
	undone     bool
	past       bool // undone and past redoing
	steps      map[string]*step
}

type step struct{ from, to *state }

var unborn = &state{gone: true}

// stale is the outcome of what another's change forbids.
var stale = errors.New("conflict")

func (m *model) visible(kind store.Kind, id string) *thing {
	if x := m.records[id]; x != nil && x.kind == kind && !x.state.gone {
		return x
	}
	return nil
}

// below lists what belongs to a record, itself first.
func (m *model) below(id string) []string {
	out := []string{id}
	for i := 0; i < len(out); i++ {
		for _, other := range m.ids {
			x := m.records[other]
			if !x.state.gone && !slices.Contains(out, other) && (x.state.parent == out[i] || x.kind == store.KindDocument && strings.HasPrefix(x.state.owner, out[i])) {
				out = append(out, other)
			}
		}
	}
	return out
}

func (m *model) taken(kind store.Kind, kind2, owner, but string) bool {
	for id, x := range m.records {
		if id != but && x.kind == kind && !x.state.gone && x.state.kind2 == kind2 && x.state.owner == owner {
			return true
		}
	}
	return false
}

// lone tells whether an owner has at most one record of a kind.
func lone(kind store.Kind) bool { return kind == store.KindDocument || kind == store.KindRun }

// do notes a deed that was done.
func (m *model) do(list, what string, to map[string]*state) {
	d := &modelDeed{list: list, what: what, steps: map[string]*step{}}
	for id, s := range to {
		x := m.records[id]
		d.steps[id] = &step{x.state, s}
		x.state = s
		x.version++
	}
	if list != "" {
		for _, o := range m.deeds {
			o.past = o.past || o.list == list && o.undone
		}
	}
	m.deeds = append(m.deeds, d)
}

func (m *model) nextUndo(list string) *modelDeed {
	for _, d := range slices.Backward(m.deeds) {
		if d.list == list && list != "" && !d.undone {
			return d
		}
	}
	return nil
}

func (m *model) nextRedo(list string) *modelDeed {
	for _, d := range m.deeds {
		if d.list == list && list != "" && d.undone && !d.past {
			return d
		}
	}
	return nil
}

// turn undoes or redoes a deed, or tells that it is forbidden.
func (m *model) turn(d *modelDeed, undo bool) error {
	for id, s := range d.steps {
		at := s.to
		if !undo {
			at = s.from
		}
		if m.records[id].state != at {
			return stale
		}
	}
	swap := func(forward bool) {
		for id, s := range d.steps {
			if forward {
				m.records[id].state = s.to
			} else {
				m.records[id].state = s.from
			}
		}
	}
	swap(!undo)
	bad := false
	for id := range d.steps {
		x := m.records[id]
		if x.state.gone {
			for _, o := range m.records {
				bad = bad || !o.state.gone && (o.state.parent == id || o.kind == store.KindDocument && strings.HasPrefix(o.state.owner, id))
			}
			continue
		}
		if p := m.records[x.state.parent]; p != nil && p.state.gone {
			bad = true
		}
		if lone(x.kind) && m.taken(x.kind, x.state.kind2, x.state.owner, id) {
			bad = true
		}
	}
	if bad {
		swap(undo)
		return stale
	}
	for id := range d.steps {
		m.records[id].version++
	}
	d.undone = undo
	return nil
}

var rounds atomic.Int64

func random(t *testing.T, d *desk) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rounds.Add(1)
		m := &model{records: map[string]*thing{"": {state: unborn}}, mark: fmt.Sprintf("round%dx", n)}
		delete(m.records, "")
		a := &actor{t: rt, d: &desk{rt, d.Store}, m: m, round: n}
		rt.Repeat(map[string]func(*rapid.T){
			"runner":   a.putRunner,
			"visit":    a.putVisit,
			"clip":     a.putClip,
			"document": a.putDocument,
			"result":   a.putResult,
			"run":      a.putRun,
			"remove":   a.remove,
			"undo":     func(t *rapid.T) { a.turn(t, true) },
			"undo too": func(t *rapid.T) { a.turn(t, true) },
			"redo":     func(t *rapid.T) { a.turn(t, false) },
			"":         a.check,
		})
	})
}

// actor does to the store what it does to the model.
type actor struct {
	t     *rapid.T
	d     *desk
	m     *model
	round int64
}

func (a *actor) list(t *rapid.T) string {
	l := rapid.SampledFrom([]string{"", "a", "a", "b"}).Draw(t, "list")
	if l != "" {
		l = fmt.Sprint("list ", a.round, " ", l)
	}
	return l
}

// some picks a record of a kind, also a removed one, or "" for a new or unknown
// one.
func (a *actor) some(t *rapid.T, kind store.Kind, name string) string {
	var of []string
	for _, id := range a.m.ids {
		if a.m.records[id].kind == kind {
			of = append(of, id)
		}
	}
	if len(of) == 0 {
		return ""
	}
	return rapid.SampledFrom(append(of, "")).Draw(t, name)
}

// put writes a record and compares the outcome with what the model expects.
func (a *actor) put(t *rapid.T, kind store.Kind, s *state, write func(store.Writer, *store.Meta) error) {
	list := a.list(t)
	meta := store.Meta{ID: a.some(t, kind, "record")}
	x := a.m.records[meta.ID]
	old := false
	if x != nil {
		meta.Version = x.version
		if old = rapid.IntRange(0, 5).Draw(t, "stale") == 0; old {
			meta.Version--
		}
	}
	var want error
	above := map[store.Kind]store.Kind{store.KindVisit: store.KindRunner, store.KindClip: store.KindVisit, store.KindDocument: store.KindVisit, store.KindResult: store.KindVisit, store.KindRun: store.KindRunner}[kind]
	switch {
	case above != "" && (s.parent != "" || kind == store.KindVisit || kind == store.KindClip || kind == store.KindRun) && a.m.visible(above, s.parent) == nil:
		want = store.ErrNotFound
	case lone(kind) && a.m.taken(kind, s.kind2, s.owner, meta.ID):
		want = stale
	case meta.ID != "" && x.state.gone:
		want = store.ErrNotFound
	case old:
		want = stale
	}
	what := fmt.Sprint("Deed ", len(a.m.deeds))
	err := a.d.do(list, what, func(w store.Writer) error { return write(w, &meta) })
	if !matches(err, want) {
		t.Fatalf("putting a %s: %v, want %v", kind, err, want)
	}
	if want != nil {
		return
	}
	if x == nil {
		a.m.records[meta.ID] = &thing{kind: kind, state: unborn}
		a.m.ids = append(a.m.ids, meta.ID)
	}
	a.m.do(list, what, map[string]*state{meta.ID: s})
}

func matches(got, want error) bool {
	var c *store.Conflict
	switch want {
	case nil:
		return got == nil
	case stale:
		return errors.As(got, &c)
	}
	return errors.Is(got, want)
}

func (a *actor) putRunner(t *rapid.T) {
	s := &state{text: a.m.mark + " " + rapid.SampledFrom([]string{"Ann", "Åsa", "Łuk", "山田"}).Draw(t, "name")}
	a.put(t, store.KindRunner, s, func(w store.Writer, m *store.Meta) error {
		v := store.Runner{Meta: *m, Name: s.text}
		err := w.PutRunner(&v)
		*m = v.Meta
		return err
	})
}

func (a *actor) putVisit(t *rapid.T) {
	s := &state{parent: a.some(t, store.KindRunner, "runner"), tags: rapid.SliceOfNDistinct(rapid.SampledFrom([]string{"t1", "t2", "t3"}), 0, 3, rapid.ID).Draw(t, "tags")}
	if k := rapid.IntRange(0, 5).Draw(t, "day"); k > 0 {
		s.date = day("2026-01-01").AddDate(0, 0, k)
	}
	a.put(t, store.KindVisit, s, func(w store.Writer, m *store.Meta) error {
		v := store.Visit{Meta: *m, RunnerID: s.parent, Date: s.date, Tags: s.tags}
		err := w.PutVisit(&v)
		*m = v.Meta
		return err
	})
}

func (a *actor) putClip(t *rapid.T) {
	s := &state{parent: a.some(t, store.KindVisit, "visit"), text: rapid.StringN(0, 4, -1).Draw(t, "name")}
	s.text = strings.ToValidUTF8(s.text, "")
	a.put(t, store.KindClip, s, func(w store.Writer, m *store.Meta) error {
		v := store.Clip{Meta: *m, VisitID: s.parent, Name: s.text}
		err := w.PutClip(&v)
		*m = v.Meta
		return err
	})
}

func (a *actor) putResult(t *rapid.T) {
	s := &state{parent: a.some(t, store.KindVisit, "visit"), text: rapid.SampledFrom([]string{"x", "y"}).Draw(t, "name")}
	a.put(t, store.KindResult, s, func(w store.Writer, m *store.Meta) error {
		v := store.Result{Meta: *m, VisitID: s.parent, Runner: s.text}
		err := w.PutResult(&v)
		*m = v.Meta
		return err
	})
}

func (a *actor) putRun(t *rapid.T) {
	s := &state{parent: a.some(t, store.KindRunner, "runner"), owner: hash(int(a.round)*10 + rapid.IntRange(0, 2).Draw(t, "file"))}
	s.date = day("2026-01-01").AddDate(0, 0, rapid.IntRange(0, 5).Draw(t, "day"))
	a.put(t, store.KindRun, s, func(w store.Writer, m *store.Meta) error {
		v := store.Run{Meta: *m, RunnerID: s.parent, Start: s.date, Hash: s.owner}
		err := w.PutRun(&v)
		*m = v.Meta
		return err
	})
}

func (a *actor) putDocument(t *rapid.T) {
	owner := a.some(t, store.KindClip, "clip")
	if owner == "" {
		owner = "owner " + a.m.mark
	} else if rapid.Bool().Draw(t, "suffix") {
		owner += "/0"
	}
	s := &state{parent: a.some(t, store.KindVisit, "visit"), kind2: rapid.SampledFrom([]string{"edits", "drawings"}).Draw(t, "kind"), owner: owner,
		text: fmt.Sprintf(`"%0*d"`, rapid.SampledFrom([]int{1, 3000}).Draw(t, "length"), rapid.IntRange(0, 9).Draw(t, "body"))}
	a.put(t, store.KindDocument, s, func(w store.Writer, m *store.Meta) error {
		v := store.Document{Meta: *m, VisitID: s.parent, Kind: s.kind2, Owner: s.owner, Body: json.RawMessage(s.text)}
		err := w.PutDocument(&v)
		*m = v.Meta
		return err
	})
}

func (a *actor) remove(t *rapid.T) {
	if len(a.m.ids) == 0 {
		t.Skip("nothing to remove")
	}
	list, id := a.list(t), rapid.SampledFrom(a.m.ids).Draw(t, "record")
	x := a.m.records[id]
	var want error
	if x.state.gone {
		want = store.ErrNotFound
	}
	what := fmt.Sprint("Deed ", len(a.m.deeds))
	err := a.d.do(list, what, func(w store.Writer) error { return w.Remove(x.kind, id, x.version) })
	if !matches(err, want) {
		t.Fatalf("removing a %s: %v, want %v", x.kind, err, want)
	}
	if want != nil {
		return
	}
	to := map[string]*state{}
	for _, i := range a.m.below(id) {
		gone := *a.m.records[i].state
		gone.gone = true
		to[i] = &gone
	}
	a.m.do(list, what, to)
}

func (a *actor) turn(t *rapid.T, undo bool) {
	list := a.list(t)
	call, d := a.d.Redo, a.m.nextRedo(list)
	if undo {
		call, d = a.d.Undo, a.m.nextUndo(list)
	}
	want := error(store.ErrNothing)
	if d != nil {
		want = a.m.turn(d, undo)
	}
	got, err := call(context.Background(), list, "Tester")
	if !matches(err, want) {
		t.Fatalf("undo %v in %q: %v, want %v", undo, list, err, want)
	}
	if want == nil && got.What != d.what {
		t.Fatalf("undo %v took %q, want %q", undo, got.What, d.what)
	}
}

// check compares everything the store says with the model.
func (a *actor) check(t *rapid.T) {
	m := a.m
	a.d.look(func(r store.Reader) error {
		for _, id := range m.ids {
			x := m.records[id]
			got, err := read(r, x, id)
			if x.state.gone {
				if !errors.Is(err, store.ErrNotFound) {
					t.Fatalf("the %s %s is gone, but: %q, %v", x.kind, id, got, err)
				}
				continue
			}
			want := line(x.version, x.state.parent, x.state.text, x.state.kind2+x.state.owner, x.state.date, x.state.tags)
			if err != nil || got != want {
				t.Fatalf("the %s %s is %q, %v, want %q", x.kind, id, got, err, want)
			}
		}
		a.checkLists(t, r)
		return nil
	})
	for _, l := range []string{"a", "b"} {
		l = fmt.Sprint("list ", a.round, " ", l)
		var wantUndo, wantRedo string
		if d := m.nextUndo(l); d != nil {
			wantUndo = d.what
		}
		if d := m.nextRedo(l); d != nil {
			wantRedo = d.what
		}
		if u, r, err := a.d.Undoable(context.Background(), l); u != wantUndo || r != wantRedo || err != nil {
			t.Fatalf("%s: can undo %q, redo %q (%v), want %q and %q", l, u, r, err, wantUndo, wantRedo)
		}
		var want, got []string
		for _, d := range slices.Backward(m.deeds) {
			if d.list == l {
				want = append(want, fmt.Sprint(d.what, d.undone))
			}
		}
		entries, err := a.d.Journal(context.Background(), l, 0)
		for _, e := range entries {
			got = append(got, fmt.Sprint(e.What, e.Undone))
		}
		if err != nil || !slices.Equal(got, want) {
			t.Fatalf("%s: the journal is %q (%v), want %q", l, got, err, want)
		}
	}
}

// line writes what a record says, as the model and the store both can.
func line(version int64, parent, text, place string, date time.Time, tags []string) string {
	return fmt.Sprintf("%d %s %q %q %d %q", version, parent, text, place, date.Unix(), tags)
}

func read(r store.Reader, x *thing, id string) (string, error) {
	var none time.Time
	switch x.kind {
	case store.KindRunner:
		v, err := r.Runner(id)
		return line(v.Version, "", v.Name, "", none, nil), err
	case store.KindVisit:
		v, err := r.Visit(id)
		return line(v.Version, v.RunnerID, "", "", v.Date, v.Tags), err
	case store.KindClip:
		v, err := r.Clip(id)
		return line(v.Version, v.VisitID, v.Name, "", none, nil), err
	case store.KindResult:
		v, err := r.Result(id)
		return line(v.Version, v.VisitID, v.Runner, "", none, nil), err
	case store.KindRun:
		v, err := r.Run(id)
		return line(v.Version, v.RunnerID, "", v.Hash, v.Start, nil), err
	}
	v, err := r.Document(x.state.kind2, x.state.owner)
	if err == nil && v.ID != id {
		if x.state.gone { // another has its place
			err = store.ErrNotFound
		} else {
			err = fmt.Errorf("%s has its place", v.ID)
		}
	}
	return line(v.Version, v.VisitID, string(v.Body), v.Kind+v.Owner, none, nil), err
}

// checkLists compares the lists: who is in them and what they say.
func (a *actor) checkLists(t *rapid.T, r store.Reader) {
	children := map[string]map[store.Kind][]string{}
	for _, id := range a.m.ids {
		if x := a.m.records[id]; !x.state.gone {
			if children[x.state.parent] == nil {
				children[x.state.parent] = map[store.Kind][]string{}
			}
			children[x.state.parent][x.kind] = append(children[x.state.parent][x.kind], id)
		}
	}
	alike := func(what string, got, want []string) {
		got, want = slices.Sorted(slices.Values(got)), slices.Sorted(slices.Values(want))
		if !slices.Equal(got, want) {
			t.Fatalf("%s: %q, want %q", what, got, want)
		}
	}
	wantRows := map[string]string{}
	for _, id := range a.m.ids {
		of := children[id]
		switch a.m.records[id].kind {
		case store.KindRunner:
			visits, err := r.VisitsOf(id)
			alike("visits", idsOf(visits, err, func(v store.Visit) string { return v.ID }), of[store.KindVisit])
			runs, err := r.RunsOf(id)
			alike("runs", idsOf(runs, err, func(v store.Run) string { return v.ID }), of[store.KindRun])
			if a.m.records[id].state.gone {
				continue
			}
			tags := map[string]int{}
			for _, v := range of[store.KindVisit] {
				for _, tag := range a.m.records[v].state.tags {
					tags[tag]++
				}
			}
			names := make([]string, 0, 3)
			for name := range tags {
				names = append(names, name)
			}
			slices.SortFunc(names, func(x, y string) int {
				if tags[x] != tags[y] {
					return tags[y] - tags[x]
				}
				return strings.Compare(x, y)
			})
			wantRows[id] = fmt.Sprint(a.m.records[id].state.text, len(of[store.KindVisit]), names)
		case store.KindVisit:
			clips, err := r.ClipsOf(id)
			alike("clips", idsOf(clips, err, func(v store.Clip) string { return v.ID }), of[store.KindClip])
			docs, err := r.DocumentsOf(id)
			alike("documents", idsOf(docs, err, func(v store.Document) string { return v.ID }), of[store.KindDocument])
			results, err := r.ResultsOf(id)
			alike("results", idsOf(results, err, func(v store.Result) string { return v.ID }), of[store.KindResult])
		}
	}
	rows, err := r.Runners(store.Query{Text: a.m.mark, Limit: 1000})
	if err != nil || len(rows) != len(wantRows) {
		t.Fatalf("%d rows (%v), want %d", len(rows), err, len(wantRows))
	}
	for _, x := range rows {
		if got := fmt.Sprint(x.Name, x.Visits, x.Tags); got != wantRows[x.ID] {
			t.Fatalf("the row is %q, want %q", got, wantRows[x.ID])
		}
	}
}

func idsOf[T any](v []T, err error, id func(T) string) []string {
	if err != nil {
		return []string{err.Error()}
	}
	var out []string
	for _, x := range v {
		out = append(out, id(x))
	}
	return out
}
