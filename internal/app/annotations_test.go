package app

import (
	"errors"
	"math"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"gaitwright/gait/clip"
	"gaitwright/internal/store"
)

func lineMark(c *Clip, frame int) Drawing {
	return Drawing{Kind: markLine, Frame: c.FirstFrame + frame, Points: [][2]float64{{100, 200}, {100, 500}}, Text: "  shank\n line "}
}

func TestDrawingsRoundTrip(t *testing.T) {
	t.Parallel()
	st, s := atBench(t)
	c := s.Clips[0]
	none, err := st.Drawings(t.Context(), s.ID, 0)
	if err != nil || none.Version != 0 || len(none.Marks) != 0 || none.PixelsPerM == nil || none.ScaleText == "" {
		t.Fatalf("%+v, %v", none, err)
	}
	before := documentOf(t, st, s.ID)
	angle := Drawing{Kind: markAngle, Frame: c.FirstFrame + 7, Stays: true, Points: [][2]float64{{300, 100}, {300, 300}, {500, 300}}}
	one, err := st.ChangeDrawings(t.Context(), "Ada", s.ID, 0, PageDrawingsChange{Version: 0, What: "Drew a line, frame 3", Marks: []Drawing{lineMark(c, 3)}})
	if err != nil {
		t.Fatal(err)
	}
	if one.Version == 0 || one.Marks[0].Text != "shank line" || one.Undo != "Drew a line, frame 3" {
		t.Errorf("%+v", one)
	}
	m := one.Marks[0]
	if m.AngleDeg != 90 || *m.LengthPX != 300 || math.Abs(*m.LengthM-300/c.Info.Scale.PixelsPerM) > 1e-4 || !(*m.LengthMSD > 0) {
		t.Errorf("measured %v° %v px %v ± %v m", m.AngleDeg, *m.LengthPX, *m.LengthM, *m.LengthMSD)
	}
	// The second, who read before, is told and nothing is overwritten.
	_, err = st.ChangeDrawings(t.Context(), "Bert", s.ID, 0, PageDrawingsChange{Version: 0, Marks: []Drawing{angle}})
	if late, ok := AsStale(err); !ok || late.Kept != one.Version {
		t.Errorf("a late writer: %v", err)
	}
	two, err := st.ChangeDrawings(t.Context(), "Bert", s.ID, 0, PageDrawingsChange{Version: one.Version, What: "Drew an angle", Marks: []Drawing{lineMark(c, 3), angle}})
	if err != nil || len(two.Marks) != 2 || two.Marks[1].AngleDeg != 90 || two.Marks[1].LengthPX != nil {
		t.Fatalf("%+v, %v", two, err)
	}
	undone, err := st.UndoDrawings(t.Context(), "Ada", s.ID, 0, false)
	if err != nil || !reflect.DeepEqual(undone.Marks, one.Marks) || undone.Redo != "Drew an angle" {
		t.Fatalf("%+v, %v", undone, err)
	}
	if again, err := st.UndoDrawings(t.Context(), "Ada", s.ID, 0, true); err != nil || !reflect.DeepEqual(again.Marks, two.Marks) {
		t.Fatalf("%+v, %v", again, err)
	}
	// Drawings are no corrections, and their undo takes back none.
	if documentOf(t, st, s.ID) != before {
		t.Error("a drawing changed the measures")
	}
	if e, err := st.Edits(t.Context(), s.ID, 0); err != nil || e.Undo != "" {
		t.Errorf("the bench would take back %q, %v", e.Undo, err)
	}
	if other, err := st.Drawings(t.Context(), s.ID, 1); err != nil || len(other.Marks) != 0 {
		t.Errorf("the other clip has %d, %v", len(other.Marks), err)
	}
	for range 2 {
		if _, err := st.UndoDrawings(t.Context(), "", s.ID, 0, false); err != nil {
			t.Fatal(err)
		}
	}
	var p *Problem
	if _, err := st.UndoDrawings(t.Context(), "", s.ID, 0, false); !errors.As(err, &p) || p.Kind != KindUsage {
		t.Errorf("an undo of nothing: %v", err)
	}
}

func TestHostileDrawings(t *testing.T) {
	t.Parallel()
	st, s := atBench(t)
	c := s.Clips[0]
	for name, spoil := range map[string]func(*Drawing){
		"kind":          func(m *Drawing) { m.Kind = "circle" },
		"too few":       func(m *Drawing) { m.Points = m.Points[:1] },
		"none":          func(m *Drawing) { m.Points = nil },
		"outside":       func(m *Drawing) { m.Points[0][0] = -1 },
		"far outside":   func(m *Drawing) { m.Points[1][1] = 1e300 },
		"NaN":           func(m *Drawing) { m.Points[0][0] = math.NaN() },
		"one place":     func(m *Drawing) { m.Points[1] = m.Points[0] },
		"frame before":  func(m *Drawing) { m.Frame = c.FirstFrame - 1 },
		"frame after":   func(m *Drawing) { m.Frame = 1 << 30 },
		"an angle of 2": func(m *Drawing) { m.Kind = markAngle },
	} {
		m := lineMark(c, 3)
		spoil(&m)
		var p *Problem
		if _, err := st.ChangeDrawings(t.Context(), "", s.ID, 0, PageDrawingsChange{Marks: []Drawing{m}}); !errors.As(err, &p) || p.Kind != KindUsage {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := st.ChangeDrawings(t.Context(), "", s.ID, 0, PageDrawingsChange{Marks: make([]Drawing, maxMarks+1)}); err == nil {
		t.Error("any number is taken")
	}
	if d, err := st.Drawings(t.Context(), s.ID, 0); err != nil || d.Version != 0 {
		t.Errorf("something was kept: %+v, %v", d, err)
	}
}

// TestALineIsMeasuredLevel: the camera's roll is taken out of a line's angle to the
// horizontal, and changes no angle between lines.
func TestALineIsMeasuredLevel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		world := rapid.Float64Range(-90, 90).Draw(t, "world")
		roll := rapid.Float64Range(-45, 45).Draw(t, "roll")
		// A picture that has to be turned clockwise shows the world turned the other
		// way; y points down, so that clockwise counts up.
		at := func(deg float64) [2]float64 {
			s, c := math.Sincos((deg - roll) * math.Pi / 180)
			return [2]float64{960 + 300*c, 540 + 300*s}
		}
		c := &Clip{Info: clip.Info{RollDeg: roll}}
		line := Drawing{Kind: markLine, Points: [][2]float64{{960, 540}, at(world)}}
		back := Drawing{Kind: markLine, Points: [][2]float64{at(world), {960, 540}}}
		for _, m := range []Drawing{line, back} {
			if got := m.measured(c).AngleDeg; math.Abs(got-math.Abs(world)) > 0.006 {
				t.Fatalf("a line at %g° with the camera rolled by %g° is measured as %g°", world, roll, got)
			}
		}
		angle := Drawing{Kind: markAngle, Points: [][2]float64{at(0), {960, 540}, at(world)}}
		if got := angle.measured(c).AngleDeg; math.Abs(got-math.Abs(world)) > 0.006 {
			t.Fatalf("an angle of %g° is measured as %g°", world, got)
		}
	})
}

// TestDrawingsAreCarriedOver: measured anew, a clip keeps what was drawn on its
// frames, and what is drawn afterwards is of the new result alone.
func TestDrawingsAreCarriedOver(t *testing.T) {
	t.Parallel()
	st, s := atBench(t)
	kept, err := st.records()
	if err != nil {
		t.Fatal(err)
	}
	runner := store.Runner{Name: "Invented Runner"}
	var visit store.Visit
	err = kept.Change(t.Context(), store.Deed{What: "Took a runner in"}, func(w store.Writer) error {
		if err := w.PutRunner(&runner); err != nil {
			return err
		}
		visit.RunnerID, visit.Date = runner.ID, s.Created
		return w.PutVisit(&visit)
	})
	if err != nil {
		t.Fatal(err)
	}
	measured := func(from int) *Session {
		one := *s
		one.Clips = nil
		for i, c := range s.Clips {
			copied := *c
			copied.ID, copied.FirstFrame = []string{"side", "rear"}[i], from
			one.Clips = append(one.Clips, &copied)
		}
		err := st.saveResult(t.Context(), store.Deed{What: "Measured"}, &one, resultPlace{visit: visit.ID, clipIDs: one.clipIDs()}, func(w store.Writer, id string) error {
			return carryDrawings(w, one.told().Clips, visit.ID, id)
		})
		if err != nil {
			t.Fatal(err)
		}
		return &one
	}
	first := measured(0)
	stays := Drawing{Kind: markAngle, Frame: 2, Stays: true, Points: [][2]float64{{300, 100}, {300, 300}, {500, 300}}}
	if _, err := st.ChangeDrawings(t.Context(), "", first.ID, 0, PageDrawingsChange{Marks: []Drawing{lineMark(first.Clips[0], 3), lineMark(first.Clips[0], 40), stays}}); err != nil {
		t.Fatal(err)
	}
	second := measured(20)
	d, err := st.Drawings(t.Context(), second.ID, 0)
	if err != nil || len(d.Marks) != 2 || d.Marks[0].Frame != 40 || !d.Marks[1].Stays || d.Marks[1].Frame != 20 {
		t.Fatalf("%+v, %v", d.Marks, err)
	}
	if other, err := st.Drawings(t.Context(), second.ID, 1); err != nil || len(other.Marks) != 0 {
		t.Errorf("the other clip has %+v, %v", other.Marks, err)
	}
	// They can be changed where they are now, and the older result keeps its own.
	if _, err := st.ChangeDrawings(t.Context(), "", second.ID, 0, PageDrawingsChange{Version: d.Version, Marks: []Drawing{d.Marks[0].Drawing}}); err != nil {
		t.Fatal(err)
	}
	if old, err := st.Drawings(t.Context(), first.ID, 0); err != nil || len(old.Marks) != 3 {
		t.Errorf("the older result has %+v, %v", old.Marks, err)
	}
	if third, err := st.Drawings(t.Context(), measured(0).ID, 0); err != nil || len(third.Marks) != 1 {
		t.Errorf("the third has %+v, %v", third.Marks, err)
	}
}

// TestMeasuredMarks: an angle is that of the arms however it is turned, mirrored or
// read from the other end; a line's length in metres follows the scale alone.
func TestMeasuredMarks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := rapid.Float64Range(0, 180).Draw(t, "angle")
		turn := rapid.Float64Range(0, 2*math.Pi).Draw(t, "turn")
		a, b := rapid.Float64Range(20, 400).Draw(t, "a"), rapid.Float64Range(20, 400).Draw(t, "b")
		mirror := float64(rapid.SampledFrom([]int{-1, 1}).Draw(t, "mirror"))
		at := func(r, phi float64) [2]float64 {
			return [2]float64{960 + mirror*r*math.Cos(phi), 540 + r*math.Sin(phi)}
		}
		m := Drawing{Kind: markAngle, Points: [][2]float64{at(a, turn), {960, 540}, at(b, turn+want*math.Pi/180)}}
		back := Drawing{Kind: markAngle, Points: [][2]float64{m.Points[2], m.Points[1], m.Points[0]}}
		c := &Clip{Info: clip.Info{Scale: clip.Scale{PixelsPerM: 400, RelativeSD: 0.02}}}
		if got := m.measured(c).AngleDeg; math.Abs(got-want) > 0.006 || got != back.measured(c).AngleDeg {
			t.Fatalf("%g° is measured as %g° and %g°", want, got, back.measured(c).AngleDeg)
		}
		line := Drawing{Kind: markLine, Points: [][2]float64{{960, 540}, at(a, turn)}}
		p := line.measured(c)
		if math.Abs(*p.LengthPX-a) > 0.006 || math.Abs(*p.LengthM-a/400) > 1e-4 || p.AngleDeg < 0 || p.AngleDeg > 90 {
			t.Fatalf("%+v", p)
		}
		// By hand: two points of a pixel each and the scale, which are independent.
		if sd := a / 400 * math.Hypot(0.02, math.Sqrt2/a); math.Abs(*p.LengthMSD-sd) > 1e-4 {
			t.Fatalf("SD %g, want %g", *p.LengthMSD, sd)
		}
		if q := line.measured(&Clip{}); q.LengthM != nil || q.LengthPX == nil {
			t.Fatal("metres without a scale")
		}
	})
}
