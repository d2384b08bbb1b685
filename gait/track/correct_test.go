package track

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"gaitwright/gait/body"
)

// swinging is a picture track at 120 frames a second in which both knees and
// ankles swing at 1.4 Hz.
func swinging(n int) *Track {
	timeS := make([]float64, n)
	for i := range timeS {
		timeS[i] = float64(i) / 120
	}
	t := New(Picture, Pixel, timeS)
	for k, l := range [...]body.Landmark{body.LeftKnee, body.RightKnee, body.LeftAnkle, body.RightAnkle} {
		p := &Path{Origin: PoseModel, X: make([]float64, n), Y: make([]float64, n), Confidence: make([]float64, n)}
		for i, s := range timeS {
			w := 2 * math.Pi * 1.4 * s
			p.X[i] = 300 + 80*math.Sin(w+float64(k)*math.Pi)
			p.Y[i] = 600 + 100*float64(k/2) + 20*math.Cos(2*w)
			p.Confidence[i] = 0.9
		}
		t.Paths[l] = p
	}
	return t
}

func TestExchangedTwiceIsAsBefore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tr := swinging(200)
		x := Exchange{From: rapid.IntRange(-5, 210).Draw(t, "from"), To: rapid.IntRange(-5, 210).Draw(t, "to"), Part: Legs}
		once := Exchanged(tr, []Exchange{x})
		for i := range tr.TimeS {
			l, r := body.LeftKnee, body.RightKnee
			if i >= x.From && i <= x.To {
				l, r = r, l
			}
			if once.Paths[body.LeftKnee].X[i] != tr.Paths[l].X[i] || once.Paths[body.RightKnee].Y[i] != tr.Paths[r].Y[i] {
				t.Fatalf("frame %d is not as told by %+v", i, x)
			}
		}
		if twice := Exchanged(tr, []Exchange{x, x}); twice != tr {
			t.Fatal("exchanged twice it is not the track itself")
		}
		again := Exchanged(once, []Exchange{x})
		if !slices.Equal(again.Paths[body.LeftKnee].X, tr.Paths[body.LeftKnee].X) {
			t.Fatal("exchanged back it differs")
		}
	})
}

func TestExchangedTouchesItsPartAlone(t *testing.T) {
	tr := swinging(50)
	out := Exchanged(tr, []Exchange{{From: 3, To: 20, Part: Arms}})
	if out.Paths[body.LeftKnee] != tr.Paths[body.LeftKnee] {
		t.Error("the legs were copied for an exchange of the arms")
	}
	if !Legs.Has(body.RightToe) || Legs.Has(body.RightWrist) || !Arms.Has(body.LeftElbow) || Arms.Has(body.Nose) {
		t.Error("the parts do not hold the landmarks they should")
	}
}

// A point placed by hand stays where it was put, through smoothing, whatever the
// others do; paths of other landmarks are not touched.
func TestPlacedPointStands(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := DefaultClean(PoseModel)
		before, _ := Mend(swinging(240), o)
		smooth, err := Smooth(before, o, nil)
		if err != nil {
			t.Fatal(err)
		}
		var cs []Correction
		for range rapid.IntRange(1, 4).Draw(t, "corrections") {
			cs = append(cs, Correction{Landmark: body.LeftKnee, Frame: rapid.IntRange(0, 239).Draw(t, "frame"),
				X: rapid.Float64Range(0, 700).Draw(t, "x"), Y: rapid.Float64Range(0, 1200).Draw(t, "y"), Blend: rapid.IntRange(0, 12).Draw(t, "blend")})
		}
		c, err := Correct(before, cs, o)
		if err != nil {
			t.Fatal(err)
		}
		out, err := SmoothLike(c, before, smooth, o)
		if err != nil {
			t.Fatal(err)
		}
		last := map[int]Correction{}
		for _, k := range cs {
			last[k.Frame] = k
		}
		p := out.Paths[body.LeftKnee]
		for f, k := range last {
			if p.X[f] != k.X || p.Y[f] != k.Y || !p.Hand[f] || p.ConfidenceAt(f) != 1 {
				t.Fatalf("frame %d is at %v, %v and not at %v, %v", f, p.X[f], p.Y[f], k.X, k.Y)
			}
		}
		if out.Paths[body.RightKnee] != smooth.Paths[body.RightKnee] {
			t.Fatal("another landmark was made anew")
		}
		for _, v := range p.X {
			if math.IsNaN(v) {
				t.Fatal("a correction made a hole")
			}
		}
	})
}

func TestCorrectionReachesItsNeighboursAndNoFarther(t *testing.T) {
	o := DefaultClean(PoseModel)
	before, _ := Mend(swinging(240), o)
	smooth, err := Smooth(before, o, nil)
	if err != nil {
		t.Fatal(err)
	}
	const at, blend, by = 100, 6, 12.0
	k := Correction{Landmark: body.LeftKnee, Frame: at, X: smooth.Paths[body.LeftKnee].X[at] + by, Y: smooth.Paths[body.LeftKnee].Y[at], Blend: blend}
	c, err := Correct(before, []Correction{k}, o)
	if err != nil {
		t.Fatal(err)
	}
	shift := func(i int) float64 { return c.Paths[body.LeftKnee].X[i] - before.Paths[body.LeftKnee].X[i] }
	for d := 1; d <= blend; d++ {
		want := by * (1 + math.Cos(math.Pi*float64(d)/(blend+1))) / 2
		if math.Abs(shift(at+d)-want) > 1e-9 || math.Abs(shift(at-d)-want) > 1e-9 {
			t.Errorf("%d frames away it shifts by %.3f and %.3f, not %.3f", d, shift(at-d), shift(at+d), want)
		}
	}
	if shift(at+blend+1) != 0 || shift(at-blend-1) != 0 {
		t.Error("it reaches farther than told")
	}
}

// Two equal shifts side by side do not add up between them.
func TestSpreadBetweenAnchors(t *testing.T) {
	c := make([]float64, 40)
	spread(c, []anchor{{10, 5, 8}, {14, 5, 8}, {30, -2, 3}})
	for i := 10; i <= 14; i++ {
		if math.Abs(c[i]-5) > 1e-9 {
			t.Errorf("between two shifts of 5, frame %d has %.3f", i, c[i])
		}
	}
	for _, k := range []struct {
		frame int
		want  float64
	}{{1, 0}, {23, 0}, {26, 0}, {29, -(1 + math.Sqrt2/2)}, {30, -2}, {31, -(1 + math.Sqrt2/2)}, {34, 0}} {
		if math.Abs(c[k.frame]-k.want) > 1e-9 {
			t.Errorf("frame %d has %.3f, not %.3f", k.frame, c[k.frame], k.want)
		}
	}
	if !(c[8] > 0 && c[8] < 5 && c[18] > 0 && c[18] < c[15]) {
		t.Error("the shifts do not fade outward")
	}
}

// A gap that was bridged is bridged anew through a point placed in it.
func TestPointInBridgedGap(t *testing.T) {
	raw := swinging(240)
	for i := 100; i < 108; i++ {
		raw.Paths[body.LeftKnee].drop(i)
	}
	o := DefaultClean(PoseModel)
	before, _ := Mend(raw, o)
	if !before.Paths[body.LeftKnee].Filled[104] {
		t.Fatal("the gap was not bridged")
	}
	x := before.Paths[body.LeftKnee].X
	c, err := Correct(before, []Correction{{Landmark: body.LeftKnee, Frame: 104, X: x[104] + 20, Y: 600}}, o)
	if err != nil {
		t.Fatal(err)
	}
	if d := c.Paths[body.LeftKnee].X[103] - x[103]; !(d > 5 && d < 25) {
		t.Errorf("beside the placed point the bridge moved by %.1f px", d)
	}
	if c.Paths[body.LeftKnee].Filled[104] || !c.Paths[body.LeftKnee].Filled[103] {
		t.Error("the marks of bridged frames are wrong")
	}
}
