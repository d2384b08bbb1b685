package app

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/event"
	"gaitwright/gait/measure"
	"gaitwright/gait/track"
)

// Whatever was corrected before, and however much of it is not worked out again,
// the result is that of working everything out from nothing, bit by bit.
func TestCorrectionIsAsWorkedOutFromNothing(t *testing.T) {
	st, s := atBench(t)
	c := s.Clips[0]
	k := c.Contacts.Of(body.Left)[2]
	at := func(l body.Landmark, at int, dx float64) Move {
		p := c.Mended.Paths[l]
		return Move{Landmark: l.String(), Frame: c.FirstFrame + at, X: p.X[at] + dx, Y: p.Y[at], Blend: 4, ErrorPX: 1}
	}
	knee := func(frame int, dx float64) Move { return at(body.LeftKnee, frame, dx) }
	legs := Swap{From: c.FirstFrame + 100, To: c.FirstFrame + 140, Part: track.Legs}
	arms := Swap{From: c.FirstFrame + 30, To: c.FirstFrame + 90, Part: track.Arms}
	placed := []event.Contact{{Side: body.Left, InitialContactS: k.InitialContactS - 0.01, ToeOffS: k.ToeOffS, Edited: true}}
	used := st.benchOf(s)
	edits := []Edits{
		{Moves: []Move{knee(200, 30)}},
		{Swaps: []Swap{legs}},
		{Swaps: []Swap{legs}, Moves: []Move{knee(200, 30), knee(120, -12)}},
		{Swaps: []Swap{legs, arms}, Moves: []Move{knee(120, -12)}},
		{Swaps: []Swap{arms}, Placed: placed},
		{Placed: placed},
		{Swaps: []Swap{legs}, Placed: placed},
		{},
		{Swaps: []Swap{arms}},
		{Swaps: []Swap{arms}, Moves: []Move{at(body.LeftHeel, 140, 9)}},
		{Swaps: []Swap{arms}, Moves: []Move{at(body.LeftHeel, 140, 9), at(body.RightToe, 260, -7)}},
		{Moves: []Move{at(body.LeftHeel, 140, 9), at(body.LeftShoulder, 60, 15)}, Placed: placed},
		{Moves: []Move{at(body.LeftHeel, 140, 9), at(body.LeftShoulder, 60, 15)}},
		{Moves: []Move{at(body.LeftHeel, 140, 9), at(body.LeftShoulder, 60, 15), at(body.RightToe, 260, -7), knee(200, 30)}},
		{Moves: []Move{at(body.LeftHeel, 140, 9), at(body.LeftShoulder, 60, 15), at(body.RightToe, 260, -7), knee(200, 29)}},
		{Moves: []Move{at(body.LeftHeel, 140, 9), at(body.LeftHeel, 150, -3), at(body.RightToe, 260, -7), knee(200, 29)}, Placed: placed},
		{Moves: []Move{at(body.LeftHeel, 140, 9), at(body.RightToe, 260, -7), knee(200, 29)}, Swaps: []Swap{legs}},
		{Moves: []Move{at(body.LeftHeel, 140, 9), at(body.RightToe, 260, -7)}, Swaps: []Swap{legs}},
		{Moves: []Move{at(body.LeftHeel, 140, 9), at(body.RightToe, 260, -7)}},
	}
	// A camera that stood askew and near: the same must hold of what that costs. And of
	// a film of which but a part is used.
	other := func(change func(*Beginning)) *bench {
		kept := *used.kept
		kept.Clips = slices.Clone(kept.Clips)
		for n, c := range kept.Clips {
			clip, begun := *c, *c.Begun
			change(&begun)
			clip.Begun = &begun
			kept.Clips[n] = &clip
		}
		return &bench{kept: &kept, state: &state{now: &kept}, minds: []*stages{{}, {}}}
	}
	askew := other(func(b *Beginning) { b.Info.YawDeg, b.Info.RollDeg, b.Info.CameraDistanceM = 5, 1, 4 })
	part := other(func(b *Beginning) { b.From, b.To = b.From+30, b.To-30 })
	for _, used := range []*bench{used, askew, part} {
		asWorkedOutFromNothing(t, st, used, edits)
	}
}

func asWorkedOutFromNothing(t *testing.T, st *Studio, used *bench, list []Edits) {
	untouched := 0
	for i, e := range list {
		edits := map[int]keptEdits{0: {Version: int64(i + 1), Edits: e.settled()}}
		if i >= len(list)/2 { // what follows leaves the other clip's own corrections alone
			edits[1] = keptEdits{Version: 1, Edits: Edits{Moves: []Move{{Landmark: body.RightKnee.String(), Frame: used.kept.Clips[1].FirstFrame + 90, X: 400, Y: 500}}}}
		}
		stood := used.now.Clips
		if err := used.bring(t.Context(), st, edits); err != nil {
			t.Fatal(err)
		}
		got := used.now
		for n, c := range got.Clips {
			if c == stood[n] {
				untouched++
			}
		}
		fresh := &bench{kept: used.kept, state: &state{now: used.kept}, minds: []*stages{{}, {}}}
		if err := fresh.bring(t.Context(), st, edits); err != nil {
			t.Fatal(err)
		}
		want := fresh.now
		for n := range want.Clips {
			sameTracks(t, i, got.Clips[n].Mended, want.Clips[n].Mended)
			sameTracks(t, i, got.Clips[n].Track, want.Clips[n].Track)
			c := got.Clips[n]
			live := c.lines.Angles(c.Track, c.Info.View, c.Contacts)
			for k, a := range measure.Angles(c.Track, c.Info.View, c.Contacts) {
				if a.Name != live[k].Name || a.Side != live[k].Side || fmt.Sprint(a.Values) != fmt.Sprint(live[k].Values) {
					t.Fatalf("correction %d: %s %s is not that worked out from nothing", i, a.Side, a.Name)
				}
			}
		}
		a, _ := json.Marshal(got.Document())
		b, _ := json.Marshal(want.Document())
		if string(a) != string(b) {
			t.Errorf("correction %d: the result differs from that worked out from nothing", i)
		}
	}
	if untouched == 0 {
		t.Error("each correction worked out both clips")
	}
}

func sameTracks(t *testing.T, i int, got, want *track.Track) {
	t.Helper()
	for l, p := range want.Paths {
		q := got.Paths[l]
		if (p == nil) != (q == nil) {
			t.Fatalf("correction %d: %s is there in one only", i, body.Landmark(l))
		}
		if p == nil {
			continue
		}
		for axis, v := range [...][]float64{p.X, p.Y, p.Z, p.Confidence} {
			for f, x := range v {
				if y := [...][]float64{q.X, q.Y, q.Z, q.Confidence}[axis][f]; math.Float64bits(x) != math.Float64bits(y) {
					t.Fatalf("correction %d: %s axis %d is %v in frame %d, from nothing %v", i, body.Landmark(l), axis, y, f, x)
				}
			}
		}
		for f, hand := range p.Hand {
			if q.Hand[f] != hand {
				t.Fatalf("correction %d: %s is placed in one only, frame %d", i, body.Landmark(l), f)
			}
		}
	}
}
