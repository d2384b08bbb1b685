package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"pgregory.net/rapid"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/event"
	"gaitwright/gait/measure"
	"gaitwright/gait/track"
	"gaitwright/internal/synth"
)

// benchRunner makes and keeps a result of the synthetic runner from the left and
// from behind, of the pose model's origin, exact landmarks with a pixel of noise.
func benchRunner(tb testing.TB, st *Studio, seconds, rateHz float64, mirrored bool) *Session {
	tb.Helper()
	p := synth.Demo()
	p.DurationS = seconds + 1
	runner, err := synth.New(p)
	if err != nil {
		tb.Fatal(err)
	}
	r := Request{SpeedMPS: p.SpeedMPS, Runner: RunnerFacts{Name: "Invented", HeightM: p.HeightM, MassKG: p.MassKG}}
	s := &Session{Created: st.now(), Runner: r.Runner, Version: Version, Asked: &r}
	for _, view := range []clip.View{clip.LeftSide, clip.Rear} {
		q := TruthRequest{RateHz: rateHz, Seconds: seconds, WidthPX: 720, HeightPX: 1280, NoisePX: 1, Seed: 7}
		c, _, err := st.syntheticClip(context.Background(), runner, view, q, &r, NoProgress{})
		if err != nil {
			tb.Fatal(err)
		}
		for _, path := range c.Raw.Paths {
			if path != nil {
				path.Origin = track.PoseModel
			}
		}
		c.Model, c.Path = "full", view.String()+".mp4"
		if mirrored {
			c.Raw = c.Raw.Mirror(float64(c.Info.WidthPX) / 2)
			if view == clip.LeftSide {
				c.Info.View = clip.RightSide
			}
		}
		s.Clips = append(s.Clips, c)
	}
	keepFinished(tb, st, s)
	return s
}

// LongInventedResult keeps a result of half a minute at 240 pictures a second, of whose
// films there are the landmarks alone.
func LongInventedResult(tb testing.TB, st *Studio) *Session {
	tb.Helper()
	return benchRunner(tb, st, 30, 240, false)
}

// keepFinished finishes the clips of a result, as measuring does, and keeps it.
func keepFinished(tb testing.TB, st *Studio, s *Session) {
	tb.Helper()
	var known *ruler
	for _, c := range s.Clips {
		size, err := c.finish(s.Asked, nil, 0, known)
		if err != nil {
			tb.Fatal(err)
		}
		if known == nil {
			known = size
		}
	}
	if err := st.Save(s); err != nil {
		tb.Fatal(err)
	}
}

// atBench is a studio with one kept result of six seconds.
func atBench(tb testing.TB) (*Studio, *Session) {
	tb.Helper()
	st, err := OpenStudio(tb.TempDir())
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() { st.Close() })
	s := benchRunner(tb, st, 6, 120, false)
	// What is kept is what is read back.
	s, err = st.Load(s.ID)
	if err != nil {
		tb.Fatal(err)
	}
	return st, s
}

// documentOf is everything of the result that a person reads, as bytes.
func documentOf(t testing.TB, st *Studio, id string) string {
	t.Helper()
	s, err := st.Load(id)
	if err != nil {
		t.Fatal(err)
	}
	b, err := json.Marshal(s.Document())
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func correct(t testing.TB, st *Studio, id string, n int, what string, e PageEdits) PageCorrected {
	t.Helper()
	now, err := st.Edits(t.Context(), id, n)
	if err != nil {
		t.Fatal(err)
	}
	out, err := st.Correct(t.Context(), id, n, PageCorrection{Version: now.Version, What: what, Edits: e})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// moved is the corrections that put a landmark by so many pixels elsewhere in a
// sample of the track.
func moved(c *Clip, l body.Landmark, sample int, dx, dy float64, blend int) PageEdits {
	p := c.Mended.Paths[l]
	return PageEdits{Landmarks: []Move{{Landmark: l.String(), Frame: c.FirstFrame + sample, X: p.X[sample] + dx, Y: p.Y[sample] + dy, Blend: blend}}}
}

// Without a correction, working out again gives the very same result.
func TestWorkedOutAgainIsTheSame(t *testing.T) {
	st, s := atBench(t)
	r := *s.Asked
	r.own, _ = st.OwnErrors()
	var known *ruler
	for i, c := range s.Clips {
		again := c.afresh(c.Edits)
		size, err := again.workOut(&r, known, &stages{})
		if err != nil {
			t.Fatal(err)
		}
		if known == nil {
			known = size
		}
		a, _ := json.Marshal(c.page(i))
		b, _ := json.Marshal(again.page(i))
		if string(a) != string(b) {
			t.Errorf("the %s clip differs:\n%s\n%s", c.Info.View, a, b)
		}
		if again.FirstFrame != c.FirstFrame || again.FileTimeS != c.FileTimeS {
			t.Errorf("the %s clip begins elsewhere", c.Info.View)
		}
	}
}

// A knee that is moved at mid-stance changes what is read at the knee there, and
// nothing that is read from times or the trunk; undo gives the very bytes back,
// and redo those of the correction.
func TestMovedKneeChangesTheKnee(t *testing.T) {
	st, s := atBench(t)
	c := s.Clips[0]
	before := documentOf(t, st, s.ID)
	contact := c.Contacts.Of(body.Left)[2]
	at := track.NearestFrame(c.Track.TimeS, (contact.InitialContactS+contact.ToeOffS)/2)
	out := correct(t, st, s.ID, 0, "Moved the left knee", moved(c, body.LeftKnee, at, 60, 0, 6))
	after := documentOf(t, st, s.ID)
	if before == after {
		t.Fatal("nothing changed")
	}
	var knee bool
	for _, ch := range out.Changed {
		knee = knee || ch.Name == "knee_flexion_peak_stance" && ch.Side == "left"
		if slices.Contains([]string{"step_rate", "trunk_lean", "ankle_dorsiflexion_peak"}, ch.Name) && ch.Side == "right" {
			t.Errorf("%s %s changed from %v to %v", ch.Name, ch.Side, *ch.Before, *ch.After)
		}
		if ch.Before != nil && ch.After != nil && ch.SEM != nil && ch.BeyondError != (math.Abs(*ch.After-*ch.Before) > *ch.SEM) {
			t.Errorf("%s: beyond its error is said wrongly", ch.Name)
		}
	}
	if !knee {
		t.Errorf("the knee's flexion is not among what changed: %+v", out.Changed)
	}
	var path *PagePathChange
	for i := range out.Track.Landmarks {
		if out.Track.Landmarks[i].Landmark == "left_knee" {
			path = &out.Track.Landmarks[i]
		} else {
			t.Errorf("the path of %s changed too", out.Track.Landmarks[i].Landmark)
		}
	}
	if path == nil || math.Abs(*path.X[at-path.From]-(c.Mended.Paths[body.LeftKnee].X[at]+60)) > 0.011 {
		t.Error("the knee is not drawn where it was put")
	}
	if len(out.Track.Series) == 0 {
		t.Error("no curve changed")
	}
	now, err := st.Load(s.ID)
	if err != nil {
		t.Fatal(err)
	}
	if p := now.Clips[0].Raw.Paths[body.LeftKnee]; p.X[at] != c.Raw.Paths[body.LeftKnee].X[at] {
		t.Error("the landmarks as seen were changed")
	}
	for _, m := range now.Clips[0].Measures {
		if said := strings.Contains(m.Flag, "1 point placed by hand"); m.Name == "knee_flexion_peak_stance" && said != (m.Side == body.Left) {
			t.Errorf("the %s knee is flagged %q", m.Side, m.Flag)
		}
	}
	if !strings.Contains(strings.Join(now.Clips[0].Warnings, "\n"), "placed by hand") {
		t.Errorf("the result does not say that a landmark was placed by hand: %q", now.Clips[0].Warnings)
	}

	if out.Edits.Undo != "Moved the left knee" || out.Edits.Redo != "" {
		t.Errorf("undo is %q and redo %q", out.Edits.Undo, out.Edits.Redo)
	}
	back, err := st.UndoEdits(t.Context(), s.ID, 0, "", false)
	if err != nil {
		t.Fatal(err)
	}
	if got := documentOf(t, st, s.ID); got != before {
		t.Error("undo does not give the same result back")
	}
	if len(back.Changed) != len(out.Changed) || len(back.Since) != 0 {
		t.Errorf("undo changed %d measures, and %d differ from what was measured", len(back.Changed), len(back.Since))
	}
	if _, err := st.UndoEdits(t.Context(), s.ID, 0, "", true); err != nil {
		t.Fatal(err)
	}
	if got := documentOf(t, st, s.ID); got != after {
		t.Error("redo does not give the correction again")
	}
}

func TestSwapTwiceIsAsBefore(t *testing.T) {
	st, s := atBench(t)
	before := documentOf(t, st, s.ID)
	c := s.Clips[0]
	x := Swap{From: c.FirstFrame + 100, To: c.FirstFrame + 160, Part: track.Legs}
	out := correct(t, st, s.ID, 0, "Exchanged", PageEdits{Swaps: []Swap{x}})
	if len(out.Track.Landmarks) == 0 {
		t.Fatal("an exchange moved nothing")
	}
	now, _ := st.Load(s.ID)
	if d := now.Clips[0].Mended.Paths[body.LeftAnkle].X[130] - c.Mended.Paths[body.RightAnkle].X[130]; math.Abs(d) > 8 {
		t.Errorf("the left ankle is %.1f px from where the right one was", d)
	}
	out = correct(t, st, s.ID, 0, "Exchanged back", PageEdits{Swaps: []Swap{x, x}})
	if len(out.Edits.Swaps) != 0 {
		t.Errorf("exchanged twice leaves %+v", out.Edits.Swaps)
	}
	if got := documentOf(t, st, s.ID); got != before {
		t.Error("exchanged twice is not as before")
	}
}

// Exchanges are settled into ranges that do not overlap and say the same.
func TestSettledExchanges(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var e Edits
		odd := map[int]bool{}
		for range rapid.IntRange(0, 6).Draw(t, "n") {
			from := rapid.IntRange(0, 60).Draw(t, "from")
			to := from + rapid.IntRange(0, 30).Draw(t, "length")
			e.Swaps = append(e.Swaps, Swap{From: from, To: to, Part: track.Legs})
			for i := from; i <= to; i++ {
				odd[i] = !odd[i]
			}
		}
		got := map[int]int{}
		for _, s := range e.settled().Swaps {
			for i := s.From; i <= s.To; i++ {
				got[i]++
			}
		}
		for i := range 100 {
			if got[i] > 1 || odd[i] != (got[i] == 1) {
				t.Fatalf("frame %d: %+v settled to %+v", i, e.Swaps, e.settled().Swaps)
			}
		}
	})
}

// A contact that is moved stands as placed; one that is removed is gone; and what
// rests on contacts changes.
func TestMovedContactStands(t *testing.T) {
	st, s := atBench(t)
	c := s.Clips[0]
	k := c.Contacts.Of(body.Left)[2]
	out := correct(t, st, s.ID, 0, "Moved a contact", PageEdits{Placed: []PageContact{{Side: "left", InitialContactS: k.InitialContactS - 0.008, ToeOffS: k.ToeOffS}}})
	if !slices.ContainsFunc(out.Session.Clips[0].Contacts, func(p PageContact) bool {
		return p.Edited && math.Abs(p.InitialContactS-(k.InitialContactS-0.008)) < 1e-5
	}) {
		t.Error("the contact is not where it was put")
	}
	if len(out.Session.Clips[0].Contacts) != len(c.Contacts.Contacts) {
		t.Errorf("%d contacts became %d", len(c.Contacts.Contacts), len(out.Session.Clips[0].Contacts))
	}
	if !slices.ContainsFunc(out.Changed, func(ch PageChange) bool { return ch.Name == "contact_time" && ch.Side == "left" }) {
		t.Errorf("the contact time did not change: %+v", out.Changed)
	}
	if len(out.Track.Landmarks) != 0 {
		t.Error("a contact moved landmarks")
	}
	out = correct(t, st, s.ID, 0, "Removed a contact", PageEdits{Removed: []PageContact{{Side: "left", InitialContactS: k.InitialContactS, ToeOffS: k.ToeOffS}}})
	if len(out.Session.Clips[0].Contacts) != len(c.Contacts.Contacts)-1 {
		t.Errorf("%d contacts became %d", len(c.Contacts.Contacts), len(out.Session.Clips[0].Contacts))
	}
}

// The scale of the rear film rests on the side film's leg: a correction there
// reaches it.
func TestCorrectionReachesTheOtherClip(t *testing.T) {
	st, s := atBench(t)
	if !strings.Contains(string(s.Clips[1].Info.Scale.Source), "side") && !strings.Contains(s.Clips[1].Info.Scale.Description, "side film") {
		t.Skipf("the rear film has its scale from elsewhere: %s", s.Clips[1].Info.Scale.Description)
	}
	c := s.Clips[0]
	var e PageEdits
	for i := 0; i < c.Track.Frames(); i += 4 { // longer legs throughout
		e.Landmarks = append(e.Landmarks, moved(c, body.LeftHip, i, 0, -60, 3).Landmarks...)
	}
	out := correct(t, st, s.ID, 0, "Moved the hip", e)
	if !slices.ContainsFunc(out.Changed, func(ch PageChange) bool { return ch.Clip == 1 }) {
		t.Error("nothing of the rear film changed")
	}
	now, _ := st.Load(s.ID)
	if now.Clips[1].Info.Scale.PixelsPerM == s.Clips[1].Info.Scale.PixelsPerM {
		t.Error("the rear film has the scale it had")
	}
	if _, err := st.UndoEdits(t.Context(), s.ID, 0, "", false); err != nil {
		t.Fatal(err)
	}
	if now, _ = st.Load(s.ID); now.Clips[1].Info.Scale.PixelsPerM != s.Clips[1].Info.Scale.PixelsPerM {
		t.Error("undo leaves the rear film's scale")
	}
}

// A mirrored film with the mirrored correction gives the mirrored measures.
func TestMirroredCorrection(t *testing.T) {
	results := map[string]*float64{}
	for _, mirrored := range []bool{false, true} {
		st, err := OpenStudio(t.TempDir())
		if err != nil {
			t.Fatal(err)
		}
		s := benchRunner(t, st, 6, 120, mirrored)
		c, near, by := s.Clips[0], body.Left, 40.0
		if mirrored {
			near, by = body.Right, -40
		}
		k := c.Contacts.Of(near)[2]
		at := track.NearestFrame(c.Track.TimeS, (k.InitialContactS+k.ToeOffS)/2)
		out := correct(t, st, s.ID, 0, "Moved the knee", moved(c, body.LeftKnee.On(near), at, by, 0, 5))
		for _, ch := range out.Changed {
			side := ch.Side
			if mirrored {
				side = map[string]string{"left": "right", "right": "left", "both": "both"}[side]
			}
			key := ch.Name + "/" + side
			if mirrored && strings.HasSuffix(ch.Name, "_asymmetry") && ch.After != nil {
				*ch.After = -*ch.After // left against right
			}
			if !mirrored {
				results[key] = ch.After
				continue
			}
			was, ok := results[key]
			if !ok || (was == nil) != (ch.After == nil) || was != nil && math.Abs(*was-*ch.After) > 0.02*math.Max(1, math.Abs(*was)) {
				t.Errorf("%s: %v, and mirrored %v", key, show(was), show(ch.After))
			}
			delete(results, key)
		}
		st.Close()
	}
	for key := range results {
		t.Errorf("%s changed, but not in the mirror", key)
	}
}

func show(v *float64) string {
	if v == nil {
		return "nothing"
	}
	return fmt.Sprint(*v)
}

// What is tried is answered as what is kept would be, and nothing is kept; whatever
// was tried before, what is kept is as if worked out at once.
func TestTriedCorrection(t *testing.T) {
	st, s := atBench(t)
	c := s.Clips[0]
	before := documentOf(t, st, s.ID)
	k := c.Contacts.Of(body.Left)[2]
	at := track.NearestFrame(c.Track.TimeS, (k.InitialContactS+k.ToeOffS)/2)
	tryAt := func(version int64, e PageEdits) PageCorrected {
		t.Helper()
		out, err := st.Correct(t.Context(), s.ID, 0, PageCorrection{Try: true, Version: version, What: "Tried", Edits: e})
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	try := func(e PageEdits) PageCorrected { t.Helper(); return tryAt(0, e) }
	try(moved(c, body.LeftKnee, at, 20, 0, 3))
	other := try(moved(c, body.LeftKnee, at, 40, 0, 3))
	wanted := moved(c, body.LeftKnee, at, 60, 0, 3)
	out := try(wanted)
	if got := documentOf(t, st, s.ID); got != before {
		t.Fatal("what was tried is in the result")
	}
	if e := out.Edits; e.Version != 0 || len(e.Landmarks) != 0 || e.Undo != "" {
		t.Fatalf("what was tried is among the corrections: %+v", e)
	}
	if len(out.Changed) == 0 || reflect.DeepEqual(out.Changed, other.Changed) {
		t.Fatal("other places are answered alike")
	}
	if _, err := st.Correct(t.Context(), s.ID, 0, PageCorrection{Try: true, Version: 3, Edits: wanted}); err == nil {
		t.Error("a version of yesterday was tried")
	}
	// A clip from behind gives no size to the other.
	rear, err := st.Correct(t.Context(), s.ID, 1, PageCorrection{Try: true, Edits: PageEdits{Swaps: []Swap{{From: s.Clips[1].FirstFrame + 10, To: s.Clips[1].FirstFrame + 40, Part: track.Legs}}}})
	if err != nil {
		t.Fatal(err)
	}
	if told := rear.Session.Clips; len(told) != 1 || told[0].Index != 1 {
		t.Errorf("%d clips are told though the one from behind changes its own measures alone", len(told))
	}
	out = try(wanted)
	kept := correct(t, st, s.ID, 0, "Moved the left knee", wanted)
	// The clips that are not told are those that stand.
	clips := s.page().Clips
	for _, told := range out.Session.Clips {
		clips[told.Index] = told
	}
	out.Session.Clips = clips
	out.What, out.Edits = kept.What, kept.Edits
	if !reflect.DeepEqual(out, kept) {
		t.Error("what is kept is answered otherwise than what was tried")
	}
	after := documentOf(t, st, s.ID)

	// What the page shows already is kept without telling it again.
	if _, err := st.UndoEdits(t.Context(), s.ID, 0, "", false); err != nil {
		t.Fatal(err)
	}
	now, err := st.Edits(t.Context(), s.ID, 0)
	if err != nil {
		t.Fatal(err)
	}
	tryAt(now.Version, wanted)
	short, err := st.Correct(t.Context(), s.ID, 0, PageCorrection{Shown: true, Version: now.Version, What: "Moved the left knee", Edits: wanted})
	if err != nil {
		t.Fatal(err)
	}
	if short.PageEffect != nil || short.Edits.Version <= now.Version || len(short.Edits.Landmarks) != 1 || short.Edits.Undo == "" {
		t.Errorf("what is on show already was answered with %+v", short)
	}
	if documentOf(t, st, s.ID) != after {
		t.Error("kept without telling, the result is another")
	}

	if tryAt(short.Edits.Version, PageEdits{}); documentOf(t, st, s.ID) != after {
		t.Error("trying to do without takes the correction away")
	}
	st2, err := OpenStudio(st.Dir())
	if err != nil {
		t.Fatal(err)
	}
	defer st2.Close()
	if documentOf(t, st2, s.ID) != after {
		t.Error("opened anew, the result is another")
	}
}

func TestCorrectRefuses(t *testing.T) {
	st, s := atBench(t)
	before := documentOf(t, st, s.ID)
	whole := Swap{From: 0, To: 5, Part: track.Legs}
	for name, ask := range map[string]PageCorrection{
		"a landmark that is none":   {Edits: PageEdits{Landmarks: []Move{{Landmark: "left_tail"}}}},
		"a place that is none":      {Edits: PageEdits{Landmarks: []Move{{Landmark: "left_knee", X: math.NaN()}}}},
		"a blend beyond reason":     {Edits: PageEdits{Landmarks: []Move{{Landmark: "left_knee", Blend: 5000}}}},
		"a negative frame":          {Edits: PageEdits{Landmarks: []Move{{Landmark: "left_knee", Frame: -1}}}},
		"a range the wrong way":     {Edits: PageEdits{Swaps: []Swap{{From: 9, To: 3, Part: track.Legs}}}},
		"a part that is none":       {Edits: PageEdits{Swaps: []Swap{{From: 1, To: 3, Part: "tail"}}}},
		"a contact without end":     {Edits: PageEdits{Placed: []PageContact{{Side: "left", InitialContactS: 1, ToeOffS: 1}}}},
		"a contact of neither foot": {Edits: PageEdits{Placed: []PageContact{{Side: "both", InitialContactS: 1, ToeOffS: 1.2}}}},
		"a version of yesterday":    {Version: 3, Edits: PageEdits{Swaps: []Swap{whole}}},
	} {
		if _, err := st.Correct(t.Context(), s.ID, 0, ask); err == nil {
			t.Errorf("%s was taken", name)
		}
	}
	if _, err := st.Correct(t.Context(), s.ID, 2, PageCorrection{}); err == nil {
		t.Error("a clip that is none was taken")
	}
	if got := documentOf(t, st, s.ID); got != before {
		t.Error("a refusal changed the result")
	}
	// Someone else was first.
	correct(t, st, s.ID, 0, "Exchanged", PageEdits{Swaps: []Swap{whole}})
	_, err := st.Correct(t.Context(), s.ID, 0, PageCorrection{Edits: PageEdits{}})
	if stale, ok := AsStale(err); !ok || stale.Kept != 1 {
		t.Errorf("the second of two is told %v", err)
	}
}

// The corrections go with the JSON and come back from it.
func TestEditsInTheDocument(t *testing.T) {
	st, s := atBench(t)
	e := moved(s.Clips[0], body.LeftKnee, 50, 3, 4, 2)
	e.Swaps = []Swap{{From: 3, To: 9, Part: track.Arms}}
	correct(t, st, s.ID, 0, "Moved the left knee", e)
	correct(t, st, s.ID, 1, "Removed a contact", PageEdits{Removed: pageContactsOf(s.Clips[1].Contacts.Contacts[:1])})
	schema, err := jsonschema.NewCompiler().Compile(filepath.Join("..", "..", "docs", "measures.schema.json"))
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(documentOf(t, st, s.ID)))
	if err != nil {
		t.Fatal(err)
	}
	if err := schema.Validate(doc); err != nil {
		t.Error(err)
	}
	back, err := parseEdits([]byte(documentOf(t, st, s.ID)))
	if err != nil {
		t.Fatal(err)
	}
	got := back[filepath.Base(s.Clips[0].Path)]
	want, err := st.EditsOf(s.ID)
	if err != nil {
		t.Fatal(err)
	}
	if !got.equal(want[filepath.Base(s.Clips[0].Path)]) || len(got.Moves) != 1 || len(got.Swaps) != 1 {
		t.Errorf("written %+v, read %+v", want, got)
	}
}

// The place where a landmark was put wrong on purpose leads the list.
func TestCheckFindsTheBadFrame(t *testing.T) {
	st, s := atBench(t)
	c := s.Clips[0]
	k := c.Contacts.Of(body.Left)[3]
	at := track.NearestFrame(c.Track.TimeS, (k.InitialContactS+k.ToeOffS)/2)
	raw := c.Raw.Paths[body.LeftKnee]
	for i := at - 2; i <= at+2; i++ {
		raw.X[i] += 18
		raw.Confidence[i] = 0.2
	}
	list, err := st.Check(t.Context(), s.ID, 0)
	if err != nil {
		t.Fatal(err)
	}
	if len(list) == 0 {
		t.Fatal("nothing is worth checking")
	}
	for i := 1; i < len(list); i++ {
		if list[i].Effect > list[i-1].Effect {
			t.Fatal("the list is not in order of effect")
		}
	}
	i := slices.IndexFunc(list, func(d PageDoubt) bool { return d.Landmark == "left_knee" && d.From <= at && at <= d.To })
	if i < 0 || list[i].Reason != "jump" {
		t.Fatalf("the bad knee is at place %d of the list: %+v", i, list)
	}
	if d := list[i]; d.Measure == "" || d.Why == "" || d.Change == nil {
		t.Errorf("the bad knee: %+v", d)
	}
}

func oneMeasure(t *testing.T, c *Clip, name string, s body.Side) measure.Measure {
	t.Helper()
	i := slices.IndexFunc(c.Measures, func(m measure.Measure) bool { return m.Name == name && m.Side == s && !m.Withheld() })
	if i < 0 {
		t.Fatalf("%s %s is not given", name, s)
	}
	return c.Measures[i]
}

// A point placed by hand has an error of its own, which grows with how badly it was
// seen and is added to that of the measures that rest on it.
func TestPlacingHasItsError(t *testing.T) {
	st, s := atBench(t)
	c := s.Clips[0]
	foot := c.Contacts.Of(body.Left)
	frames := make([]int, 0, len(foot))
	for _, k := range foot {
		frames = append(frames, track.NearestFrame(c.Track.TimeS, k.InitialContactS))
	}
	p := c.Mended.Paths[body.LeftKnee]
	// The knee is put where it is, in every contact or in one.
	in := func(frames []int, errorPX float64) (e PageEdits) {
		for _, f := range frames {
			e.Landmarks = append(e.Landmarks, Move{Landmark: body.LeftKnee.String(), Frame: c.FirstFrame + f, X: p.X[f], Y: p.Y[f], ErrorPX: errorPX})
		}
		return e
	}
	of := func(e PageEdits) measure.Measure {
		t.Helper()
		correct(t, st, s.ID, 0, "Placed the knee", e)
		now, err := st.Load(s.ID)
		if err != nil {
			t.Fatal(err)
		}
		return oneMeasure(t, now.Clips[0], "knee_flexion_at_contact", body.Left)
	}
	plain := oneMeasure(t, c, "knee_flexion_at_contact", body.Left)
	all, one, rough := of(in(frames, 1)), of(in(frames[2:3], 1)), of(in(frames, 6))
	if plain.Error.Placed != 0 {
		t.Errorf("nothing is placed and the error of it is %g°", plain.Error.Placed)
	}
	// By hand: off by d across the leg, the knee turns thigh and shank by d over
	// their lengths; in every stride the mean is off as much as one stride is.
	leg := medianLeg(c.Track)
	off := math.Hypot(1/c.Info.Scale.PixelsPerM, judgedShare*leg)
	want := off * 4 / leg * 180 / math.Pi
	if all.Error.Placed < 0.7*want || all.Error.Placed > 1.2*want {
		t.Errorf("placed in every stride the error is %.2f°, by hand %.2f°", all.Error.Placed, want)
	}
	if n := float64(all.Strides); one.Error.Placed < 0.5*all.Error.Placed/n || one.Error.Placed > 2*all.Error.Placed/n {
		t.Errorf("placed in one of %g strides the error is %.3f°, in all %.3f°", n, one.Error.Placed, all.Error.Placed)
	}
	if !(rough.Error.Placed > 1.1*all.Error.Placed) {
		t.Errorf("seen worse, the error is %.2f°, and %.2f° where seen well", rough.Error.Placed, all.Error.Placed)
	}
	if d := math.Hypot(plain.SEM, all.Error.Placed) - all.SEM; math.Abs(d) > 0.1 || !(all.MDC95 > plain.MDC95) {
		t.Errorf("the SEM was %.2f° and is %.2f°", plain.SEM, all.SEM)
	}
	// Times rest on contacts alone, and the other knee on other points.
	now, err := st.Load(s.ID)
	if err != nil {
		t.Fatal(err)
	}
	for name, side := range map[string]body.Side{"contact_time": body.Left, "knee_flexion_at_contact": body.Right} {
		if m := oneMeasure(t, now.Clips[0], name, side); m.Error.Placed > 1e-9 {
			t.Errorf("%s has an error of placing of %g", name, m.Error.Placed)
		}
	}
}

// A view from behind has no forward axis; its doubts are worked out all the same.
func TestCheckFromBehind(t *testing.T) {
	st, s := atBench(t)
	raw := s.Clips[1].Raw.Paths[body.LeftKnee]
	for i := 200; i < 206; i++ {
		raw.X[i] += 40
		raw.Confidence[i] = 0.1
	}
	list, err := st.Check(t.Context(), s.ID, 1)
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range list {
		if d.Measure == "" || !(d.Effect >= checkLeast) || d.To < d.From || d.Frame < d.From || d.Frame > d.To {
			t.Errorf("a place worth checking: %+v", d)
		}
	}
}

// Exchanging so much that the runner seems to walk is no dead end: the contacts of
// before stand, and the result says so.
func TestExchangeThatLeavesNoContacts(t *testing.T) {
	st, s := atBench(t)
	c := s.Clips[0]
	var e PageEdits
	for f := 0; f < c.Track.Frames(); f += 24 {
		e.Swaps = append(e.Swaps, Swap{From: c.FirstFrame + f, To: c.FirstFrame + f + 11, Part: track.Legs})
	}
	out := correct(t, st, s.ID, 0, "Exchanged", e)
	said := strings.Contains(strings.Join(out.Session.Clips[0].Warnings, "\n"), "those of before stand")
	if n := len(out.Session.Clips[0].Contacts); n == 0 || said && n != len(c.Contacts.Contacts) {
		t.Errorf("%d contacts are left of %d", n, len(c.Contacts.Contacts))
	}
	if !said {
		t.Error("nothing says that the contacts are those of before")
	}
}

func TestEditsApplyKeepsEveryContactSide(t *testing.T) {
	fresh := event.Series{Contacts: []event.Contact{{Side: body.Left, InitialContactS: 1, ToeOffS: 1.25}, {Side: body.Right, InitialContactS: 1.1, ToeOffS: 1.3}}}
	e := Edits{Removed: []event.Contact{{Side: body.Left, InitialContactS: 0.99, ToeOffS: 1.2}}}
	if got := e.apply(fresh).Contacts; len(got) != 1 || got[0].Side != body.Right {
		t.Errorf("the left contact was to go, and %+v is left", got)
	}
}

// BenchmarkCorrection times a correction from the request to the answer as the
// page gets it, encoded: a side view at 240 frames a second beside a rear view, as
// the length goes.
func BenchmarkCorrection(b *testing.B) {
	for _, seconds := range []float64{10, 20, 30} {
		st, err := OpenStudio(b.TempDir())
		if err != nil {
			b.Fatal(err)
		}
		s := benchRunner(b, st, seconds, 240, false)
		c := s.Clips[0]
		k := c.Contacts.Of(body.Left)[2]
		at := track.NearestFrame(c.Track.TimeS, (k.InitialContactS+k.ToeOffS)/2)
		if _, err := st.Check(b.Context(), s.ID, 0); err != nil { // as the page does when it opens
			b.Fatal(err)
		}
		for name, ask := range map[string]func(i int) PageEdits{
			"landmark": func(i int) PageEdits { return moved(c, body.LeftKnee, at, float64(i%20), 0, 5) },
			"landmark, ten placed": func(i int) PageEdits {
				e := moved(c, body.LeftKnee, at, float64(i%20), 0, 5)
				for n, l := range []body.Landmark{body.RightKnee, body.LeftHip, body.RightHip, body.LeftAnkle, body.RightAnkle, body.LeftHeel, body.RightHeel, body.LeftToe, body.RightToe} {
					e.Landmarks = append(e.Landmarks, moved(c, l, at+10*n, 3, 0, 5).Landmarks...)
				}
				return e
			},
			"contact": func(i int) PageEdits {
				return PageEdits{Placed: []PageContact{{Side: "left", InitialContactS: k.InitialContactS - float64(i%10+1)/240, ToeOffS: k.ToeOffS}}}
			},
			"exchange": func(i int) PageEdits {
				return PageEdits{Swaps: []Swap{{From: c.FirstFrame + 10 + i%20, To: c.FirstFrame + 60, Part: track.Legs}}}
			},
		} {
			b.Run(fmt.Sprintf("%s/%.0fs", name, seconds), func(b *testing.B) {
				version := int64(0)
				if e, err := st.Edits(b.Context(), s.ID, 0); err == nil {
					version = e.Version
				}
				for i := 0; b.Loop(); i++ {
					out, err := st.Correct(b.Context(), s.ID, 0, PageCorrection{Version: version, What: "Moved", Edits: ask(i)})
					if err != nil {
						b.Fatal(err)
					}
					version = out.Edits.Version
					if _, err := json.Marshal(out); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
		b.Run(fmt.Sprintf("check/%.0fs", seconds), func(b *testing.B) {
			now, err := st.Load(s.ID)
			if err != nil {
				b.Fatal(err)
			}
			for b.Loop() {
				if _, err := now.Clips[0].check(b.Context(), now); err != nil {
					b.Fatal(err)
				}
			}
		})
		st.Close()
	}
}

// What an answer tells of the track, laid over the track of before, is the track of
// after: as it is, or, where the answer says that more differs, but for what cannot be
// seen, whose whole is then in the track read anew.
func TestWhatIsToldOfTheTrack(t *testing.T) {
	st, err := OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	s := benchRunner(t, st, 8, 240, false)
	c := s.Clips[0]
	k := c.Contacts.Of(body.Left)[2]
	at := track.NearestFrame(c.Track.TimeS, (k.InitialContactS+k.ToeOffS)/2)
	track0 := func() PageTrack {
		p, err := st.Track(s.ID, 0)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	was := track0()
	// One frame with left and right exchanged amid the film changes how much of it is
	// smoothed away; of a nudge, and of a knee, all is told.
	for name, e := range map[string]PageEdits{
		"a nudge":             moved(c, body.LeftKnee, at, 0.1, 0, 0),
		"a knee":              moved(c, body.LeftKnee, at, 30, 0, 4),
		"a toe":               moved(c, body.LeftToe, at, -9, 4, 2),
		"exchanged amid":      {Swaps: []Swap{{From: c.FirstFrame + c.Track.Frames()/2 - 20, To: c.FirstFrame + c.Track.Frames()/2, Part: track.Legs}}},
		"exchanged all along": {Swaps: []Swap{{From: c.FirstFrame, To: c.FirstFrame + c.Track.Frames() - 1, Part: track.Legs}}},
	} {
		out := correct(t, st, s.ID, 0, "Corrected", e)
		is, told, samples := track0(), 0.0151, 0 // half a digit is not told, and both are rounded
		if out.Track.Rest {
			told = visible + 0.0151
		}
		at := func(v *float64) any {
			if v == nil {
				return "nothing"
			}
			return *v
		}
		laid := func(old []*float64, from int, part []*float64) []*float64 {
			samples += len(part)
			v := slices.Clone(old)
			copy(v[from:], part)
			return v
		}
		same := func(what string, got, want []*float64, told float64) {
			for i := range want {
				if (got[i] == nil) != (want[i] == nil) || want[i] != nil && math.Abs(*got[i]-*want[i]) > told {
					t.Fatalf("%s: %s is told to be %v in frame %d, and is %v", name, what, at(got[i]), i, at(want[i]))
				}
			}
		}
		for l, name := range is.Landmarks {
			x, y := was.X[l], was.Y[l]
			for _, p := range out.Track.Landmarks {
				if p.Landmark == name {
					x, y = laid(x, p.From, p.X), laid(y, p.From, p.Y)
				}
			}
			same(name, x, is.X[l], told+0.0951) // read anew it is rounded to a tenth
			same(name, y, is.Y[l], told+0.0951)
		}
		for key, a := range is.Series {
			v := was.Series[key].Values
			for _, p := range out.Track.Series {
				if p.Key == key {
					v = laid(v, p.From, p.Values)
				}
			}
			same(key, v, a.Values, told)
		}
		if rest := name == "exchanged amid"; out.Track.Rest != rest || rest && samples > mostTold {
			t.Errorf("%s: %d samples are told, and that there is more: %v", name, samples, out.Track.Rest)
		}
		if _, err := st.UndoEdits(t.Context(), s.ID, 0, "", false); err != nil {
			t.Fatal(err)
		}
	}
}

// A trial that nobody waits for any more ends wherever it is, and what is asked for next
// is answered as if it had never been.
func TestTrialThatIsCalledOff(t *testing.T) {
	st, s := atBench(t)
	c := s.Clips[0]
	swap := func(to int) PageCorrection {
		return PageCorrection{Try: true, Edits: PageEdits{Swaps: []Swap{{From: c.FirstFrame + 40, To: c.FirstFrame + to, Part: track.Legs}}}}
	}
	want, err := st.Correct(t.Context(), s.ID, 0, swap(60))
	if err != nil {
		t.Fatal(err)
	}
	called := 0
	for left := 0; ; left++ {
		_, err := st.Correct(&gone{Context: t.Context(), left: left}, s.ID, 0, swap(61+left))
		if err == nil {
			break
		}
		if called++; !errors.Is(err, context.Canceled) {
			t.Fatalf("called off when asked for the %d. time: %v", left+1, err)
		}
		got, err := st.Correct(t.Context(), s.ID, 0, swap(60))
		if err != nil {
			t.Fatal(err)
		}
		a, _ := json.Marshal(got.PageEffect)
		b, _ := json.Marshal(want.PageEffect)
		if string(a) != string(b) {
			t.Fatalf("after a trial was called off when asked for the %d. time, %s is changed instead of %s", left+1, a, b)
		}
	}
	if called < 3 {
		t.Errorf("a trial can be called off in %d places only", called)
	}
	if e, err := st.Edits(t.Context(), s.ID, 0); err != nil || e.Version != 0 {
		t.Errorf("trials are kept: version %d, %v", e.Version, err)
	}
}
