package app

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math"
	"reflect"
	"slices"
	"sync"

	"gaitwright/gait/event"
)

// The bench is where a result is corrected by hand. What was measured is never
// changed: the corrections of each clip are kept as a record of their own, and
// whoever loads the result gets it worked out anew with them. What a correction
// does not touch is not worked out again; that is what makes the answer come at
// once.

// keptEdits is the record of one clip's corrections. Version 0 is one that was
// never written.
type keptEdits struct {
	Version int64
	Edits   Edits
}

// bench is one result while it is corrected.
type bench struct {
	mu      sync.Mutex
	kept    *Session // as it was measured
	minds   []*stages
	*state         // the result as it stands
	aside   *state // what was tried last, or what stood before
	doubts  map[int][]PageDoubt
	ownFile *OwnErrors
}

// state is a result with corrections.
type state struct {
	edits  map[int]keptEdits
	now    *Session
	worked map[int]worked   // clips of now that are not the kept ones
	angles map[int]anglesOf // of clips of now
}

// worked is the clip of a state with what it was worked out from beside its own
// corrections, and what it tells of the runner's size.
type worked struct {
	clip        *Clip
	known, size *ruler
}

// maxBenches is how many results are held ready to be corrected; each needs some
// tens of megabytes for half a minute of film.
const maxBenches = 2

// benchOf returns the bench of a result, made on first use; the one used longest
// ago gives way.
func (st *Studio) benchOf(kept *Session) *bench {
	st.mu.Lock()
	defer st.mu.Unlock()
	for i, b := range st.benches {
		if b.kept == kept {
			st.benches = append(slices.Delete(st.benches, i, i+1), b)
			return b
		}
	}
	b := &bench{kept: kept, state: &state{now: kept}}
	for range kept.Clips {
		b.minds = append(b.minds, &stages{})
	}
	if len(st.benches) >= maxBenches {
		st.benches = slices.Delete(st.benches, 0, 1)
	}
	st.benches = append(st.benches, b)
	return b
}

// Load opens a result with the corrections that were made to it.
func (st *Studio) Load(id string) (*Session, error) {
	kept, err := st.loadKept(id)
	if err != nil {
		return nil, err
	}
	keeper, err := st.keeper()
	if err != nil {
		return nil, err
	}
	edits, err := keeper.editsOf(context.Background(), id, len(kept.Clips))
	if err != nil {
		return nil, err
	}
	if len(edits) == 0 && !st.atBench(kept) {
		return kept, nil
	}
	b := st.benchOf(kept)
	b.mu.Lock()
	defer b.mu.Unlock()
	if err := b.bring(context.Background(), st, edits); err != nil {
		// The result is shown as it was measured rather than not at all.
		s := *kept
		s.Notes = append(slices.Clone(kept.Notes), "the corrections by hand are not in: "+err.Error())
		return &s, nil
	}
	return b.now, nil
}

// atBench tells whether a result is held ready, so that it may have to be brought
// back to what it was.
func (st *Studio) atBench(kept *Session) bool {
	st.mu.Lock()
	defer st.mu.Unlock()
	return slices.ContainsFunc(st.benches, func(b *bench) bool { return b.kept == kept })
}

// EditsOf returns the corrections of a result's clips by the name of the file,
// for a Request that measures them again.
func (st *Studio) EditsOf(id string) (map[string]Edits, error) {
	s, err := st.Load(id)
	if err != nil {
		return nil, err
	}
	out := map[string]Edits{}
	for _, c := range s.Clips {
		if !c.Edits.Empty() {
			out[c.name()] = c.Edits
		}
	}
	return out, nil
}

// bring makes now the kept result with these edits. It is called with the lock
// held and leaves everything as it was where it fails.
func (b *bench) bring(ctx context.Context, st *Studio, edits map[int]keptEdits) error {
	if b.sameEdits(edits, b.edits) {
		b.edits = edits
		return nil
	}
	next, err := b.try(ctx, st, edits)
	if err != nil {
		return err
	}
	b.state, b.aside, b.doubts = next, b.state, nil
	b.edits = edits
	return nil
}

// try works the result out with these edits and puts it aside; what stands stays.
// What is aside already (tried before, or just taken back) is not worked out again.
// It is called with the lock held.
func (b *bench) try(ctx context.Context, st *Studio, edits map[int]keptEdits) (*state, error) {
	if b.sameEdits(edits, b.edits) {
		return b.state, nil
	}
	if b.aside == nil || !b.sameEdits(edits, b.aside.edits) {
		now, err := b.workOut(ctx, st, edits)
		if err != nil {
			return nil, err
		}
		b.aside = now
	}
	return b.aside, nil
}

// editsIn are the corrections of clip i: those recorded, or those it was measured with.
func (b *bench) editsIn(edits map[int]keptEdits, i int) Edits {
	if k, ok := edits[i]; ok {
		return k.Edits
	}
	return b.kept.Clips[i].Edits
}

// sameEdits tells whether two sets of records come to the same corrections.
func (b *bench) sameEdits(one, other map[int]keptEdits) bool {
	for i := range b.kept.Clips {
		if !b.editsIn(one, i).equal(b.editsIn(other, i)) {
			return false
		}
	}
	return true
}

// sameRecords tells whether two sets of records are the same.
func sameRecords(a, b map[int]keptEdits) bool {
	return maps.EqualFunc(a, b, func(a, b keptEdits) bool { return a.Version == b.Version })
}

// equal tells whether two corrections in their plain form are the same.
func (e Edits) equal(o Edits) bool {
	if e.Empty() && o.Empty() {
		return true
	}
	return slices.Equal(e.Moves, o.Moves) && slices.Equal(e.Swaps, o.Swaps) && slices.Equal(e.Placed, o.Placed) && slices.Equal(e.Removed, o.Removed)
}

// tooOld is the refusal to correct a result that does not hold what it was made
// from.
func (s *Session) tooOld() error {
	if !slices.ContainsFunc(s.Clips, func(c *Clip) bool { return c.Begun == nil || s.askedOf(c) == nil }) {
		return nil
	}
	return problem(KindNoResult, "", "Measure the clips again; corrections can be made to the new result.", "this result was measured by a version of the program that did not keep what is needed to correct it")
}

// workOut returns the result with corrections. A clip that they do not change, directly
// or by the runner's size, is the one of the kept result, of what stands or of what is
// aside. Where nobody waits for it any more, it ends at the next stage, and what is
// worked out of it stays.
func (b *bench) workOut(ctx context.Context, st *Studio, edits map[int]keptEdits) (*state, error) {
	if err := b.kept.tooOld(); err != nil {
		return nil, err
	}
	if b.ownFile == nil {
		b.ownFile, _ = st.OwnErrors()
	}
	s := *b.kept
	s.Clips = slices.Clone(b.kept.Clips)
	next := &state{edits: edits, now: &s, worked: map[int]worked{}}
	var known, knownThen *ruler
	// A clip is measured while the next one is settled, which needs its scale alone.
	var measuring sync.WaitGroup
	defer measuring.Wait()
	for _, sagittal := range []bool{true, false} {
		for i, c := range b.kept.Clips {
			if c.Info.View.Sagittal() != sagittal {
				continue
			}
			var then *ruler
			if c.Begun.ReachM > 0 {
				then = &ruler{reachM: c.Begun.ReachM, relativeSD: c.Begun.ReachSD, file: c.name()}
			}
			size := then
			e := b.editsIn(edits, i)
			if !e.equal(c.Edits) || !reflect.DeepEqual(known, knownThen) {
				w, ok := b.workedBefore(i, e, known)
				if !ok {
					r := *b.kept.askedOf(c)
					if _, err := r.settleBelt(); err != nil {
						return nil, err
					}
					r.own = b.ownFile
					w = worked{clip: c.afresh(e), known: known}
					var err error
					if w.size, err = w.clip.settle(ctx, &r, known, b.minds[i]); err != nil {
						return nil, err
					}
					if err := ctx.Err(); err != nil {
						return nil, err
					}
					measuring.Go(func() { w.clip.measure(&r) })
				}
				s.Clips[i], next.worked[i], size = w.clip, w, w.size
			}
			if known == nil {
				known = size
			}
			if knownThen == nil {
				knownThen = then
			}
		}
	}
	return next, nil
}

// workedBefore returns clip i with these corrections and the runner's size as known,
// where it stands so already or is aside.
func (b *bench) workedBefore(i int, e Edits, known *ruler) (worked, bool) {
	for _, s := range [...]*state{b.state, b.aside} {
		if s == nil {
			continue
		}
		if w, ok := s.worked[i]; ok && w.clip.Edits.equal(e) && reflect.DeepEqual(w.known, known) {
			return w, true
		}
	}
	return worked{}, false
}

// warm does what no correction changes, so that the first one is answered as fast
// as those after it. It is called with the lock held.
func (b *bench) warm() {
	for i, c := range b.now.Clips {
		asked := b.now.askedOf(c)
		if b.minds[i].named != nil || c.Begun == nil || asked == nil {
			continue
		}
		r := *asked
		if _, err := r.settleBelt(); err == nil {
			// What comes of it is thrown away, and a failure shows with the first
			// correction.
			c.afresh(c.Edits).workOut(&r, nil, b.minds[i])
		}
	}
}

// PageEdits are one clip's corrections: GET /api/results/{id}/clips/{n}/edits.
// Frames are those of the file (the clip's first_frame plus the sample).
type PageEdits struct {
	Version   int64         `json:"version"`
	Landmarks []Move        `json:"landmarks"`
	Swaps     []Swap        `json:"swaps"`
	Placed    []PageContact `json:"placed"`
	Removed   []PageContact `json:"removed"`
	// Undo and Redo say what could be taken back or done again; empty for nothing.
	Undo string `json:"undo"`
	Redo string `json:"redo"`
}

// edits turns the written form back and checks it.
func (p PageEdits) edits() (Edits, error) {
	e := Edits{Moves: p.Landmarks, Swaps: p.Swaps}
	for _, list := range []struct {
		from []PageContact
		to   *[]event.Contact
		what string
	}{{p.Placed, &e.Placed, "placed"}, {p.Removed, &e.Removed, "removed"}} {
		for i, k := range list.from {
			c, err := k.contact()
			if err != nil {
				return e, fmt.Errorf("%s contact %d: %w", list.what, i+1, err)
			}
			*list.to = append(*list.to, c)
		}
	}
	if err := e.check(); err != nil {
		return e, err
	}
	return e.settled(), nil
}

func pageEdits(k keptEdits) PageEdits {
	p := PageEdits{Version: k.Version, Landmarks: k.Edits.Moves, Swaps: k.Edits.Swaps, Placed: pageContactsOf(k.Edits.Placed), Removed: pageContactsOf(k.Edits.Removed)}
	if p.Landmarks == nil {
		p.Landmarks = []Move{}
	}
	if p.Swaps == nil {
		p.Swaps = []Swap{}
	}
	return p
}

// PageCorrection is what the page asks the bench: POST
// /api/results/{id}/clips/{n}/edits.
type PageCorrection struct {
	Version int64     `json:"version"` // that was read
	What    string    `json:"what"`    // one sentence for the journal: "Moved the left knee, frame 212"
	Who     string    `json:"-"`       // name of the analyst or device
	Edits   PageEdits `json:"edits"`
	// Try asks only what it would change: nothing is kept, and the answer's edits are
	// those that are.
	Try bool `json:"try,omitempty"`
	// Shown says that the page shows already what it changes, as it does where it tried
	// the same before: the answer tells nothing of that again.
	Shown bool `json:"shown,omitempty"`
}

// PageCorrected is the bench's answer to a correction, an undo or a redo.
type PageCorrected struct {
	What  string    `json:"what"` // was done
	Edits PageEdits `json:"edits"`
	// What it changes; nil where that is on show already.
	*PageEffect
}

// PageEffect is what a correction changes.
type PageEffect struct {
	// The result; where it is only tried, with those clips alone that it changes.
	Session PageSession     `json:"session"`
	Track   PageTrackChange `json:"track"`
	Changed []PageChange    `json:"changed"` // against before this correction
	Since   []PageChange    `json:"since"`   // against the result as it was measured
}

// PageChange is a measure that differs, in its unit, at the digits that are shown.
type PageChange struct {
	Clip        int      `json:"clip"`
	Name        string   `json:"name"`
	Title       string   `json:"title"`
	Side        string   `json:"side"`
	Unit        string   `json:"unit"`
	Before      *float64 `json:"before"`
	After       *float64 `json:"after"`
	SEM         *float64 `json:"sem"`                   // of the value before, or after where there was none
	BeforeText  string   `json:"before_text,omitempty"` // the value in words, as the class of the foot strike
	AfterText   string   `json:"after_text,omitempty"`
	BeyondError bool     `json:"beyond_error"` // the difference is larger than that
	Decimals    int      `json:"decimals"`
	Reason      string   `json:"reason,omitempty"` // why it is withheld now
}

const maxWhat = 200

// clipOf checks that a result has a clip n.
func clipOf(s *Session, n int) error {
	if n < 0 || n >= len(s.Clips) {
		return problem(KindUsage, "", "", "result %s has %d clips, counted from 0; there is no clip %d", s.ID, len(s.Clips), n)
	}
	return nil
}

// Edits returns the corrections of one clip.
func (st *Studio) Edits(ctx context.Context, id string, n int) (PageEdits, error) {
	kept, err := st.loadKept(id)
	if err != nil {
		return PageEdits{}, err
	}
	if err := clipOf(kept, n); err != nil {
		return PageEdits{}, err
	}
	keeper, err := st.keeper()
	if err != nil {
		return PageEdits{}, err
	}
	edits, err := keeper.editsOf(ctx, id, len(kept.Clips))
	if err != nil {
		return PageEdits{}, err
	}
	return pageEditsOf(ctx, keeper, kept, edits, n)
}

func pageEditsOf(ctx context.Context, keeper recordedEdits, kept *Session, edits map[int]keptEdits, n int) (PageEdits, error) {
	k, ok := edits[n]
	if !ok {
		k.Edits = kept.Clips[n].Edits // carried over when it was measured
	}
	p := pageEdits(k)
	var err error
	p.Undo, p.Redo, err = keeper.undoable(ctx, kept.ID, n)
	return p, err
}

// Correct replaces the corrections of one clip and tells what that changed, or only
// what it would change.
// Nothing is kept where the clip cannot be measured with them.
func (st *Studio) Correct(ctx context.Context, id string, n int, ask PageCorrection) (PageCorrected, error) {
	e, err := ask.Edits.edits()
	if err != nil {
		return PageCorrected{}, &Problem{Kind: KindUsage, What: "the correction cannot be understood: " + err.Error(), Err: err}
	}
	what := clean(ask.What, maxWhat)
	if what == "" {
		what = "Corrected the clip"
	}
	return st.atTheBench(ctx, id, n, ask.Who, ask.Shown && !ask.Try, func(b *bench, keeper recordedEdits, edits map[int]keptEdits) (string, *state, error) {
		if len(e.Moves) > 0 && b.kept.Clips[n].Begun != nil && !b.kept.Clips[n].IsVideo() {
			return "", nil, problem(KindUsage, b.kept.Clips[n].Path, "Correct the file in the program of the laboratory; contacts can be moved here.", "the points of a marker or keypoint file are not moved by hand")
		}
		if v := edits[n].Version; v != ask.Version {
			return "", nil, stale("This clip's corrections", v)
		}
		tried := maps.Clone(edits)
		tried[n] = keptEdits{Edits: e}
		after, err := b.try(ctx, st, tried)
		if err != nil {
			return "", nil, err
		}
		if ask.Try {
			return "", after, nil
		}
		return what, nil, keeper.putEdits(ctx, id, n, ask.Version, e, ask.Who, what)
	})
}

// UndoEdits takes back the last correction of a clip, or does it again.
func (st *Studio) UndoEdits(ctx context.Context, id string, n int, who string, again bool) (PageCorrected, error) {
	return st.atTheBench(ctx, id, n, who, false, func(_ *bench, keeper recordedEdits, _ map[int]keptEdits) (string, *state, error) {
		what, err := keeper.undoEdits(ctx, id, n, who, again)
		if err == nil && what == "" {
			word := "take back"
			if again {
				word = "do again"
			}
			err = problem(KindUsage, "", "", "there is nothing to %s", word)
		}
		return what, nil, err
	})
}

// atTheBench lets do change the corrections of a result and answers with what
// that changed, unless it is shown already; or with what would change, where do gives
// a state it only tried.
func (st *Studio) atTheBench(ctx context.Context, id string, n int, who string, shown bool, do func(*bench, recordedEdits, map[int]keptEdits) (what string, tried *state, err error)) (PageCorrected, error) {
	kept, err := st.loadKept(id)
	if err != nil {
		return PageCorrected{}, err
	}
	if err := errors.Join(clipOf(kept, n), kept.tooOld()); err != nil {
		return PageCorrected{}, err
	}
	keeper, err := st.keeper()
	if err != nil {
		return PageCorrected{}, err
	}
	b := st.benchOf(kept)
	b.mu.Lock()
	defer b.mu.Unlock()
	if err := ctx.Err(); err != nil { // nobody waits for it any more
		return PageCorrected{}, err
	}
	edits, err := keeper.editsOf(ctx, id, len(kept.Clips))
	if err != nil {
		return PageCorrected{}, err
	}
	if err := b.bring(ctx, st, edits); err != nil {
		return PageCorrected{}, err
	}
	before := b.state
	what, after, err := do(b, keeper, edits)
	if err != nil {
		var p *Problem
		if errors.As(err, &p) && p.File != "" {
			plain := *p
			plain.File = "" // which film it is stands over the picture
			err = &plain
		}
		return PageCorrected{}, err
	}
	tried := after != nil
	if tried && ctx.Err() != nil { // nobody waits for what it would change any more
		return PageCorrected{}, ctx.Err()
	}
	if !tried { // what is kept has changed
		if edits, err = keeper.editsOf(ctx, id, len(kept.Clips)); err != nil {
			return PageCorrected{}, err
		}
		if err := b.bring(ctx, st, edits); err != nil {
			return PageCorrected{}, err
		}
		after = b.state
		if kept.VisitID != "" {
			st.tellVisit(kept.VisitID, who)
		}
	}
	out := PageCorrected{What: what}
	if !shown {
		out.PageEffect = b.effect(before, after, n)
		if tried {
			out.Session.Clips = slices.DeleteFunc(out.Session.Clips, func(c PageClip) bool { return before.now.Clips[c.Index] == after.now.Clips[c.Index] })
		}
	}
	out.Edits, err = pageEditsOf(ctx, keeper, kept, edits, n)
	return out, err
}

// effect is what after, a correction of clip n, changed against before.
func (b *bench) effect(before, after *state, n int) *PageEffect {
	var e PageEffect
	var telling sync.WaitGroup
	telling.Go(func() {
		e.Session, e.Changed, e.Since = after.now.page(), changes(before.now, after.now), changes(b.kept, after.now)
	})
	e.Track = trackChange(before.now.Clips[n], after.now.Clips[n], before.anglesOf(n), after.anglesOf(n))
	telling.Wait()
	return &e
}

// changes lists the measures that differ between two sessions of the same clips,
// the largest difference in standard errors first.
func changes(before, after *Session) []PageChange {
	out := []PageChange{}
	size := map[int]float64{}
	for i, c := range after.Clips {
		was := before.Clips[i]
		if c == was {
			continue
		}
		p := was.pageMeasures()
		for k, m := range c.pageMeasures() {
			if k >= len(p) || p[k].Name != m.Name || p[k].Side != m.Side {
				continue
			}
			old := p[k]
			ch := PageChange{Clip: i, Name: m.Name, Title: m.Title, Side: m.Side, Unit: m.Unit, Before: old.Value, After: m.Value, BeforeText: old.Text, AfterText: m.Text, SEM: old.SEM, Decimals: m.Decimals, Reason: m.Reason}
			switch {
			case old.Value == nil && m.Value == nil:
				continue
			case old.Value == nil || m.Value == nil:
				ch.BeyondError = true
				if ch.SEM == nil {
					ch.SEM = m.SEM
				}
				size[len(out)] = math.Inf(1)
			default:
				if *number(*old.Value, m.Decimals) == *number(*m.Value, m.Decimals) {
					continue
				}
				d := math.Abs(*m.Value - *old.Value)
				if old.SEM != nil && *old.SEM > 0 {
					size[len(out)] = d / *old.SEM
					ch.BeyondError = d > *old.SEM
				}
			}
			out = append(out, ch)
		}
	}
	order := make([]int, len(out))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case size[a] > size[b]:
			return -1
		case size[a] < size[b]:
			return 1
		}
		return 0
	})
	sorted := make([]PageChange, len(out))
	for i, k := range order {
		sorted[i] = out[k]
	}
	return sorted
}
