package markerset

import (
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gaitwright/gait/body"
)

func TestBuiltInSetsAreSound(t *testing.T) {
	if len(Names()) != 3 {
		t.Errorf("built-in sets: %v", Names())
	}
	for _, name := range Names() {
		s, err := BuiltIn(name)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if s.Name != name {
			t.Errorf("%s calls itself %s", name, s.Name)
		}
		// Left and right are found in the same way.
		for l, recipes := range s.Landmarks {
			at, err := body.ParseLandmark(l)
			if err != nil {
				t.Fatal(err)
			}
			other := s.Landmarks[at.Mirror().String()]
			if len(other) != len(recipes) {
				t.Errorf("%s: %s has %d recipes, its mirror %d", name, l, len(recipes), len(other))
			}
		}
		for seg, markers := range s.Segments {
			if len(s.Segments[otherSide(seg)]) != len(markers) {
				t.Errorf("%s: segment %s has %d markers, the other side another number", name, seg, len(markers))
			}
		}
	}
}

func TestParseSaysWhatIsWrong(t *testing.T) {
	for _, c := range []struct{ name, in, want string }{
		{"no YAML", "name: [", "YAML"},
		{"empty", "", "here stands nothing"},
		{"no landmarks", "name: a", "landmarks"},
		{"unknown field", "name: a\nlandmarks: {left_heel: A}\ncolour: red", "colour"},
		{"unknown landmark", "name: a\nlandmarks: {left_horn: A}", "left_horn"},
		{"unknown recipe", "name: a\nlandmarks: {left_heel: [{median: [A]}]}", "median"},
		{"two recipes in one", "name: a\nlandmarks: {left_heel: [{mean: [A], inward: {marker: A, by_m: 0.01}}]}", "landmarks, left_heel, entry 1: a recipe has exactly one of"},
		{"unknown segment", "name: a\nlandmarks: {left_heel: [{mean: [A], carried_by: [left_foot]}]}", "left_foot"},
		{"weights", "name: a\nlandmarks: {left_heel: [{mean: [A, B], weights: [1]}]}", "1 weights for 2"},
		{"zero weights", "name: a\nlandmarks: {left_heel: [{mean: [A, B], weights: [0, 0]}]}", "sum to 0"},
		{"confidence", "name: a\nlandmarks: {left_heel: [{mean: [A], confidence: 2}]}", "left_heel"},
		{"small segment", "name: a\nsegments: {left_foot: [A, B]}\nlandmarks: {left_heel: A}", "left_foot"},
		{"near nothing", "name: a\nsegments: {s: [A, B, C]}\nlandmarks: {left_knee: [{functional: {above: s, below: s, near: left_hip}}]}", "left_hip"},
		{"between nothing", "name: a\nlandmarks: {left_knee: [{between: {from: left_hip, to: left_ankle, at: 0.5}}]}", "left_hip"},
		{"anchors", "name: a\nlandmarks: {left_heel: &x A, right_heel: *x}", "anchors"},
		{"repeated key", "name: a\nname: b\nlandmarks: {left_heel: A}", "name"},
	} {
		if _, err := Parse([]byte(c.in)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", c.name, err, c.want)
		}
	}
}

func TestParseUsersFile(t *testing.T) {
	data, err := os.ReadFile(filepath.Join("testdata", "laboratory.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	s, err := Parse(data)
	if err != nil {
		t.Fatal(err)
	}
	if n, feet := s.serves([]string{"heel_l", "heel_r", "knee_l_out", "knee_l_in", "rest"}); n != 4 || !feet {
		t.Errorf("the set uses %d markers, both feet %v", n, feet)
	}
	if got := s.Landmarks["left_knee"][0]; !slices.Equal(got.Weights, []float64{2, 1}) {
		t.Errorf("left knee %+v", got)
	}
}

func TestUnknownNamesGiveASkeletonThatParses(t *testing.T) {
	labels := []string{"Bob:A1", "B 2", "*57"}
	if _, ok := Detect(labels); ok {
		t.Fatal("unknown names were recognised")
	}
	err := UnknownNames(labels)
	for _, want := range []string{"Bob:A1", "B 2", "*57", "left_heel", "--markers"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("the error lacks %q:\n%v", want, err)
		}
	}
	if _, err := Parse(Skeleton(labels)); err != nil {
		t.Errorf("the skeleton does not parse: %v", err)
	}
	set, err := BuiltIn("general")
	if err != nil {
		t.Fatal(err)
	}
	m := Marker{Label: "nobody", X: []float64{1, 1}, Y: []float64{1, 1}, Z: []float64{1, 1}}
	if _, err := Apply(set, Points{TimeS: []float64{0, 1}, Markers: []Marker{m}}, nil, Options{}); err == nil || !strings.Contains(err.Error(), "nobody") {
		t.Errorf("Apply: %v", err)
	}
}

func TestNamesAreReadLoosely(t *testing.T) {
	for a, b := range map[string]string{"L.Heel.Top": "l_heel top", "JA1:LHEEL": "lheel", "Left-Heel": "LEFT HEEL"} {
		if plain(a) != plain(b) {
			t.Errorf("%q and %q differ: %q, %q", a, b, plain(a), plain(b))
		}
	}
}

func TestApplyRefusesWithAReason(t *testing.T) {
	set, err := BuiltIn("general")
	if err != nil {
		t.Fatal(err)
	}
	change := func(f func(*Points)) Points {
		run, _ := invented()
		f(&run)
		return run
	}
	swap := func(p *Points) {
		for i := range p.Markers {
			m := &p.Markers[i]
			switch m.Label[0] {
			case 'L':
				m.Label = "R" + m.Label[1:]
			case 'R':
				m.Label = "L" + m.Label[1:]
			}
		}
	}
	for name, c := range map[string]struct {
		run  Points
		want string
	}{
		"one frame":       {Points{TimeS: []float64{0}}, "no movement"},
		"backward clock":  {change(func(p *Points) { p.TimeS[5] = 0 }), "increase"},
		"short marker":    {change(func(p *Points) { p.Markers[0].X = p.Markers[0].X[:9] }), "300 frames"},
		"sides exchanged": {change(swap), "left and right"},
		"flat": {change(func(p *Points) {
			for i := range p.Markers {
				for k := range p.TimeS {
					p.Markers[i].Z[k] = 0
				}
			}
		}), "up cannot be told"},
		"nothing seen": {change(func(p *Points) {
			for i := range p.Markers {
				for k := range p.TimeS {
					p.Markers[i].X[k], p.Markers[i].Y[k], p.Markers[i].Z[k] = math.NaN(), math.NaN(), math.NaN()
				}
			}
		}), "up cannot be told"},
	} {
		if _, err := Apply(set, c.run, nil, Options{}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
	}
	// A standing trial of another laboratory.
	run, _ := invented()
	other := Points{TimeS: []float64{0}, Markers: []Marker{{Label: "q", X: []float64{1}, Y: []float64{1}, Z: []float64{1}}}}
	if _, err := Apply(set, run, &other, Options{}); err == nil || !strings.Contains(err.Error(), "standing trial") {
		t.Errorf("foreign standing trial: %v", err)
	}
}

// TestLostMarkersAreFilled: a marker lost for 0.13 s comes back from its segment
// within 3 mm, marked as filled.
func TestLostMarkersAreFilled(t *testing.T) {
	run, _ := load(t, "rbds", "RBDS012runT25.c3d")
	standing, _ := load(t, "rbds", "RBDS012static.c3d")
	i := slices.IndexFunc(run.Markers, func(m Marker) bool { return m.Label == "R.MT5" })
	want := slices.Clone(run.Markers[i].X)
	for k := 1000; k < 1020; k++ {
		run.Markers[i].X[k], run.Markers[i].Y[k], run.Markers[i].Z[k] = math.NaN(), math.NaN(), math.NaN()
	}
	p := apply(t, run, &standing).Track.Paths[body.RightMT5]
	for k := 1000; k < 1020; k++ {
		if !p.Filled[k] || math.Abs(p.X[k]-want[k]) > 0.003 {
			t.Errorf("frame %d: %.4f m, was %.4f; filled %v", k, p.X[k], want[k], p.Filled[k])
		}
	}
	if p.Filled[999] || p.Filled[1020] {
		t.Error("frames that were seen are marked as filled")
	}
}

// TestStrayedMarkersAreMended: a marker that jumps 0.3 m away for some frames, as
// when two are confused, comes back from its segment, and does not turn the segment.
func TestStrayedMarkersAreMended(t *testing.T) {
	run, _ := load(t, "rbds", "RBDS012runT25.c3d")
	standing, _ := load(t, "rbds", "RBDS012static.c3d")
	before := apply(t, run, &standing).Track
	i := slices.IndexFunc(run.Markers, func(m Marker) bool { return m.Label == "R.MT5" })
	for k := 2000; k < 2005; k++ {
		run.Markers[i].Y[k] += 0.3
	}
	after := apply(t, run, &standing).Track
	for k := 1990; k < 2020; k++ {
		for _, l := range []body.Landmark{body.RightMT5, body.RightToe} {
			a, b := before.Paths[l], after.Paths[l]
			if d := (vec{a.X[k], a.Y[k], a.Z[k]}).sub(vec{b.X[k], b.Y[k], b.Z[k]}).length(); !(d < 0.006) {
				t.Errorf("%v, frame %d: %.1f mm from where it was", l, k, 1000*d)
			}
		}
	}
}

// TestFitFindsTheMotion: a rigid motion of any shape is found again.
func TestFitFindsTheMotion(t *testing.T) {
	coordinate := rapid.Float64Range(-1, 1)
	point := rapid.Custom(func(r *rapid.T) vec {
		return vec{coordinate.Draw(r, "x"), coordinate.Draw(r, "y"), coordinate.Draw(r, "z")}
	})
	rapid.Check(t, func(r *rapid.T) {
		shape := rapid.SliceOfN(point, 3, 8).Draw(r, "here stands nothing")
		axis := point.Draw(r, "axis")
		if axis.length() < 0.1 {
			axis = vec{0, 0, 1}
		}
		axis = axis.unit()
		sin, cos := math.Sincos(rapid.Float64Range(-math.Pi, math.Pi).Draw(r, "angle"))
		shift := point.Draw(r, "shift")
		moved := make([]vec, len(shape))
		for i, p := range shape { // Rodrigues' turn
			moved[i] = p.mul(cos).add(axis.cross(p).mul(sin)).add(axis.mul(axis.dot(p) * (1 - cos))).add(shift)
		}
		if !spans(shape, moved) {
			r.Skip("all on a line")
		}
		q, residual, ok := fit(shape, moved)
		if !ok || residual > 1e-9 {
			r.Fatalf("residual %g, found %v", residual, ok)
		}
		for i, p := range shape {
			if q.apply(p).sub(moved[i]).length() > 1e-8 {
				r.Fatalf("point %d lies %g m off", i, q.apply(p).sub(moved[i]).length())
			}
			if q.unrotate(q.rotate(p)).sub(p).length() > 1e-9 {
				r.Fatal("unrotate does not undo rotate")
			}
		}
	})
}

func TestFitNeedsASurface(t *testing.T) {
	line := []vec{{0, 0, 0}, {0.1, 0, 0}, {0.2, 0, 0}, {0.3, 0, 0}}
	if _, _, ok := fit(line, line); ok {
		t.Error("points on one line were fitted")
	}
	two := []vec{{0, 0, 0}, {0.1, 0, 0}, missing}
	if _, _, ok := fit(two, two); ok {
		t.Error("two points were fitted")
	}
}

// TestHipRegression is Harrington's formula by hand: a pelvis 240 mm wide and
// 150 mm deep has its right hip 45.9 mm behind, 82.9 mm below and 86.5 mm to the
// right of the middle of the anterior spines.
func TestHipRegression(t *testing.T) {
	left, right, back := vec{0, 1, -0.12}, vec{0, 1, 0.12}, vec{-0.15, 1, 0}
	got := hipCentre(left, right, back, body.Right)
	want := vec{-(0.24*0.150 + 0.0099), 1 - (0.30*0.240 + 0.0109), 0.33*0.240 + 0.0073}
	if got.sub(want).length() > 1e-12 || math.Abs(got[0]+0.0459) > 1e-9 || math.Abs(got[1]-0.9171) > 1e-9 || math.Abs(got[2]-0.0865) > 1e-9 {
		t.Errorf("right hip %v, want %v", got, want)
	}
	mirrored := hipCentre(left, right, back, body.Left)
	if mirrored[2] != -got[2] || mirrored[0] != got[0] {
		t.Errorf("left hip %v is no mirror of %v", mirrored, got)
	}
}

func FuzzParse(f *testing.F) {
	for _, n := range Names() {
		src, err := Source(n)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(src[:min(len(src), 1500)])
	}
	f.Add([]byte("name: a\nlandmarks: {left_heel: A}"))
	f.Add(Skeleton([]string{"A"}))
	run, _ := invented()
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := Parse(data)
		if err != nil {
			return
		}
		// Whatever parses can be applied without a panic.
		_, _ = Apply(s, run, nil, Options{})
	})
}
