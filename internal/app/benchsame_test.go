package app

import (
	"encoding/json"
	"math"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/event"
	"gaitwright/gait/track"
)

// Whatever was corrected before, and however much of it is not worked out again,
// the result is that of working everything out from nothing, bit by bit.
func TestCorrectionIsAsWorkedOutFromNothing(t *testing.T) {
	st, s := atBench(t)
	c := s.Clips[0]
	k := c.Contacts.Of(body.Left)[2]
	knee := func(at int, dx float64) Move {
		p := c.Mended.Paths[body.LeftKnee]
		return Move{Landmark: "left_knee", Frame: c.FirstFrame + at, X: p.X[at] + dx, Y: p.Y[at], Blend: 4, ErrorPX: 1}
	}
	legs := Swap{From: c.FirstFrame + 100, To: c.FirstFrame + 140, Part: track.Legs}
	arms := Swap{From: c.FirstFrame + 30, To: c.FirstFrame + 90, Part: track.Arms}
	placed := []event.Contact{{Side: body.Left, InitialContactS: k.InitialContactS - 0.01, ToeOffS: k.ToeOffS, Edited: true}}
	used := st.benchOf(s)
	for i, e := range []Edits{
		{Moves: []Move{knee(200, 30)}},
		{Swaps: []Swap{legs}},
		{Swaps: []Swap{legs}, Moves: []Move{knee(200, 30), knee(120, -12)}},
		{Swaps: []Swap{legs, arms}, Moves: []Move{knee(120, -12)}},
		{Swaps: []Swap{arms}, Placed: placed},
		{Placed: placed},
		{Swaps: []Swap{legs}, Placed: placed},
		{},
		{Swaps: []Swap{arms}},
	} {
		edits := map[int]keptEdits{0: {Version: int64(i + 1), Edits: e.settled()}}
		fresh := &bench{kept: used.kept, minds: []*stages{{}, {}}}
		got, err := used.workOut(t.Context(), st, edits)
		if err != nil {
			t.Fatal(err)
		}
		want, err := fresh.workOut(t.Context(), st, edits)
		if err != nil {
			t.Fatal(err)
		}
		for n := range want.Clips {
			sameTracks(t, i, got.Clips[n].Mended, want.Clips[n].Mended)
			sameTracks(t, i, got.Clips[n].Track, want.Clips[n].Track)
		}
		a, _ := json.Marshal(got.Document())
		b, _ := json.Marshal(want.Document())
		if string(a) != string(b) {
			t.Errorf("correction %d: the result differs from that worked out from nothing", i)
		}
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
