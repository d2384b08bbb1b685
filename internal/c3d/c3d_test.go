package c3d

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// ramp is an invented trial: three points, one of them lost in frame 1, and one
// channel.
func ramp() Draft {
	nan := math.NaN()
	return Draft{
		RateHz: 100,
		Points: []Point{
			{"LHEEL", []float64{0.1, 0.2, 0.3}, []float64{1, 1.1, 1.2}, []float64{-0.5, -0.4, -0.3}},
			{"RHEEL", []float64{0.5, nan, 0.7}, []float64{2, nan, 2.2}, []float64{0.01, nan, 0.03}},
			{"SACR", []float64{1, 1, 1}, []float64{1, 1, 1}, []float64{1, 1, 1}},
		},
		SamplesPerFrame: 2,
		Analog:          []Channel{{"Fz", "N", []float64{0, 100, 200, 300, 400, 500}}},
		Events:          []Event{{0.01, "Foot Strike", "Left"}, {0.02, "Foot Off", "Right"}},
	}
}

func encode(tb testing.TB, d Draft) []byte {
	tb.Helper()
	var b bytes.Buffer
	if err := Write(&b, d); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

func near(a, b, tol float64) bool {
	return math.Abs(a-b) <= tol || math.IsNaN(a) && math.IsNaN(b)
}

func TestFloatAndIntegerReadBack(t *testing.T) {
	for _, integer := range []bool{false, true} {
		d := ramp()
		d.Integer = integer
		d.FirstFrame = 301
		f, err := Read(encode(t, d))
		if err != nil {
			t.Fatalf("integer %v: %v", integer, err)
		}
		if f.Frames != 3 || f.RateHz != 100 || f.AnalogRateHz != 200 || f.FirstFrame != 301 || f.UpHint != "+Z" {
			t.Errorf("integer %v: read %+v", integer, f)
		}
		for i, p := range d.Points {
			q := f.Points[i]
			if q.Label != p.Label {
				t.Errorf("label %q, want %q", q.Label, p.Label)
			}
			for k := range p.X {
				if !near(q.X[k], p.X[k], 6e-5) || !near(q.Y[k], p.Y[k], 6e-5) || !near(q.Z[k], p.Z[k], 6e-5) {
					t.Errorf("integer %v: %s frame %d is (%v %v %v)", integer, p.Label, k, q.X[k], q.Y[k], q.Z[k])
				}
			}
		}
		for k, v := range d.Analog[0].Values {
			if !near(f.Analog[0].Values[k], v, 0.01) {
				t.Errorf("integer %v: analog %d is %v, want %v", integer, k, f.Analog[0].Values[k], v)
			}
		}
		if len(f.Events) != 2 || !near(f.Events[0].TimeS, 0.01, 1e-6) || f.Events[1].Label != "Foot Off" || f.Events[1].Context != "Right" {
			t.Errorf("events %v", f.Events)
		}
	}
}

// TestManyLabelsAndFrames: more labels than one parameter holds (255) and more
// frames than the header can count (65535).
func TestManyLabelsAndFrames(t *testing.T) {
	d := Draft{RateHz: 1000}
	for i := range 300 {
		d.Points = append(d.Points, Point{fmt.Sprintf("m%03d", i), []float64{1}, []float64{2}, []float64{3}})
	}
	f, err := Read(encode(t, d))
	if err != nil {
		t.Fatal(err)
	}
	if f.Points[299].Label != "m299" {
		t.Errorf("the last label is %q", f.Points[299].Label)
	}

	const frames = 70000
	x := make([]float64, frames)
	for i := range x {
		x[i] = 1 + float64(i)*1e-5
	}
	f, err = Read(encode(t, Draft{RateHz: 1000, Points: []Point{{"a", x, x, x}}}))
	if err != nil {
		t.Fatal(err)
	}
	if f.Frames != frames || !near(f.Points[0].Z[frames-1], x[frames-1], 1e-6) || len(f.Notes) != 0 {
		t.Errorf("%d frames were read, notes %v", f.Frames, f.Notes)
	}
}

func TestZeroesAreMissing(t *testing.T) {
	d := ramp()
	d.Points[0].X[2], d.Points[0].Y[2], d.Points[0].Z[2] = 0, 0, 0
	f, err := Read(encode(t, d))
	if err != nil {
		t.Fatal(err)
	}
	if p := f.Points[0]; !math.IsNaN(p.X[2]) || !math.IsNaN(p.Y[2]) || !math.IsNaN(p.Z[2]) || p.X[1] != p.X[1] {
		t.Errorf("a point at (0, 0, 0) was read as %v %v %v", p.X[2], p.Y[2], p.Z[2])
	}
}

func TestUnitsOfLength(t *testing.T) {
	for unit, metres := range map[string]float64{"mm": 1e-3, "cm": 1e-2, "m ": 1} {
		b := encode(t, ramp())
		// The writer stores the two letters "mm"; put others of the same length.
		i := bytes.Index(b, []byte("UNITS"))
		j := i + bytes.Index(b[i:], []byte("mm"))
		copy(b[j:], unit)
		f, err := Read(b)
		if err != nil {
			t.Fatal(err)
		}
		if got, want := f.Points[2].X[0], 1000*metres; !near(got, want, 1e-6) {
			t.Errorf("%q: 1000 units are %v m, want %v", unit, got, want)
		}
	}
}

func TestBadFilesAreRefusedWithAReason(t *testing.T) {
	good := encode(t, ramp())
	set := func(at int, v ...byte) []byte {
		b := bytes.Clone(good)
		copy(b[at:], v)
		return b
	}
	parameterSection := blockBytes
	for _, c := range []struct {
		name string
		data []byte
		want string
	}{
		{"empty", nil, "no C3D file"},
		{"a text file", bytes.Repeat([]byte("time,x,y\n"), 200), "no C3D file"},
		{"DEC", set(parameterSection+3, 85), "DEC"},
		{"MIPS", set(parameterSection+3, 86), "MIPS"},
		{"unknown processor", set(parameterSection+3, 7), "processor type"},
		{"parameters beyond the end", set(0, 200), "parameters in block 200"},
		{"cut short in the data", good[:len(good)-blockBytes], "cut short"},
		{"more points than POINT:USED", set(2, 9, 0), "POINT:USED"},
		{"more analog than ANALOG:USED", set(4, 200, 0), "ANALOG:USED"},
		{"data block beyond the end", set(16, 0xff, 0xff), "block 65535"},
		{"no points, no channels", set(2, 0, 0, 0, 0), "POINT:USED"},
	} {
		_, err := Read(c.data)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", c.name, err, c.want)
		}
	}
	// Lying counts of frames: the header, and the parameters with it, say more
	// than the file holds.
	b := set(8, 0xf0, 0xff)
	i := bytes.Index(b, []byte("FRAMES"))
	b[i+6+4], b[i+6+5] = 0xf0, 0xff
	if _, err := Read(b); err == nil || !strings.Contains(err.Error(), "cut short") {
		t.Errorf("lying counts: %v", err)
	}
}

// press is an invented platform record: a force (200, 100, 800) N, in laboratory
// axes with Z up, at one place of a plate of 0.6 by 0.4 m whose corner 1 lies at
// (+, +) of axes that point into the ground, with a free moment of 5 N·m.
var press = struct {
	corners      [4][3]float64
	force, place vec
	freeNM       float64
}{
	corners: [4][3]float64{{0.0, 0.4, 0}, {0.6, 0.4, 0}, {0.6, 0, 0}, {0, 0, 0}},
	force:   vec{200, 100, 800}, place: vec{0.45, 0.1, 0}, freeNM: 5,
}

// local turns a laboratory vector to the plate's axes: x runs from corner 2 to
// corner 1, y from 4 to 1, z = x × y downward.
func local(v vec) vec { return vec{-v[0], v[1], -v[2]} }

// pressed writes the press with a platform of the given type, its sensor origin
// at depth 40 mm below the surface.
func pressed(t *testing.T, kind int, reverse, originReversed bool) *File {
	const depth = 0.04
	f := local(press.force)
	at := local(sub(press.place, vec{0.3, 0.2, 0}))
	free := local(vec{0, 0, press.freeNM})
	origin := vec{0, 0, -depth} // from the sensor to the middle of the surface
	arm := add(origin, at)
	m := add(cross(arm, f), free)
	values := []float64{f[0], f[1], f[2], 1000 * m[0], 1000 * m[1], 1000 * m[2]}
	p := Platform{Type: kind, Corners: press.corners, Origin: origin, Channels: [6]int{0, 1, 2, 3, 4, 5}}
	if originReversed {
		p.Origin = mul(origin, -1)
	}
	switch kind {
	case 1:
		values = []float64{f[0], f[1], f[2], 1000 * at[0], 1000 * at[1], 1000 * free[2]}
		p.Origin = vec{}
	case 4:
		// Channels are volts: the matrix mixes the force channels, so that a
		// transposed reading shows.
		p.Matrix = [6][6]float64{{100, 10}, {0, 200}, {0, 0, 400}, {0, 0, 0, 1000}, {0, 0, 0, 0, 1000}, {0, 0, 0, 0, 0, 1000}}
		v1 := values[1] / 200
		values = []float64{(values[0] - 10*v1) / 100, v1, values[2] / 400, values[3] / 1000, values[4] / 1000, values[5] / 1000}
	}
	d := ramp()
	d.SamplesPerFrame, d.Analog, d.Platforms = 1, nil, []Platform{p}
	for i, v := range values {
		if reverse {
			if kind != 1 || i < 3 || i == 5 {
				v = -v
			}
		}
		unit := "N"
		if i > 2 {
			unit = "Nmm"
		}
		d.Analog = append(d.Analog, Channel{fmt.Sprintf("ch%d", i), unit, []float64{v, v, v}})
	}
	file, err := Read(encode(t, d))
	if err != nil {
		t.Fatal(err)
	}
	return file
}

func TestForcePlatforms(t *testing.T) {
	for _, c := range []struct {
		kind                    int
		reverse, originReversed bool
	}{{1, false, false}, {2, false, false}, {4, false, false}, {1, true, false}, {2, true, false}, {4, true, false}, {2, false, true}} {
		plates, err := pressed(t, c.kind, c.reverse, c.originReversed).Plates()
		if err != nil {
			t.Fatal(err)
		}
		p := plates[0]
		for a := range 3 {
			if !near(p.ForceN[1][a], press.force[a], 0.01) {
				t.Errorf("%+v: force %v, want %v", c, p.ForceN[1], press.force)
				break
			}
		}
		for a := range 3 {
			if !near(p.CentreM[1][a], press.place[a], 1e-5) {
				t.Errorf("%+v: centre of pressure %v, want %v", c, p.CentreM[1], press.place)
				break
			}
		}
		about := sub(p.MomentNM[1], cross(sub(p.CentreM[1], vec{0.3, 0.2, 0}), p.ForceN[1]))
		if !near(about[2], press.freeNM, 0.01) || !near(about[0], 0, 0.01) || !near(about[1], 0, 0.01) {
			t.Errorf("%+v: free moment %v, want (0 0 5)", c, about)
		}
	}
}

func TestTypeThreeIsNamed(t *testing.T) {
	f := pressed(t, 2, false, false)
	p := f.params["FORCE_PLATFORM:TYPE"]
	p.data = []byte{3, 0}
	f.params["FORCE_PLATFORM:TYPE"] = p
	if _, err := f.Plates(); err == nil || !strings.Contains(err.Error(), "type 3") {
		t.Errorf("error %v", err)
	}
}

func TestPlatformOfMissingChannelIsRefused(t *testing.T) {
	f := pressed(t, 2, false, false)
	f.Analog = f.Analog[:4]
	if _, err := f.Plates(); err == nil || !strings.Contains(err.Error(), "channel") {
		t.Errorf("error %v", err)
	}
}

func TestBaseline(t *testing.T) {
	load := []float64{12, 12, 812, 812}
	d := Draft{RateHz: 100, SamplesPerFrame: 1, Points: []Point{{"a", make([]float64, 4), make([]float64, 4), []float64{1, 1, 1, 1}}},
		Platforms: []Platform{{Type: 2, Corners: press.corners, Channels: [6]int{0, 1, 2, 3, 4, 5}}}}
	for i := range 6 {
		c := Channel{Label: fmt.Sprint(i), Unit: "N", Values: make([]float64, 4)}
		if i == 2 {
			c.Values = load
		}
		d.Analog = append(d.Analog, c)
	}
	f, err := Read(encode(t, d))
	if err != nil {
		t.Fatal(err)
	}
	zero := f.params["FORCE_PLATFORM:ZERO"]
	for _, c := range []struct {
		from, to byte
		want     float64
		note     bool
	}{{0, 0, 812, false}, {1, 2, 800, false}, {2, 3, 812, true}} {
		zero.data = []byte{c.from, 0, c.to, 0}
		f.params["FORCE_PLATFORM:ZERO"] = zero
		p, err := f.Plates()
		if err != nil {
			t.Fatal(err)
		}
		noted := strings.Contains(strings.Join(p[0].Notes, " "), "no baseline")
		if got := dot(p[0].ForceN[3], p[0].Up); !near(got, c.want, 1e-3) || noted != c.note {
			t.Errorf("zero frames %d-%d: %.1f N, want %.1f; notes %v", c.from, c.to, got, c.want, p[0].Notes)
		}
	}
}

// TestAnyDraftReadsBack: whatever is written is read again, floats to their
// precision.
func TestAnyDraftReadsBack(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		d := Draft{RateHz: rapid.Float64Range(1, 1000).Draw(r, "rate"), SamplesPerFrame: rapid.IntRange(1, 4).Draw(r, "samples")}
		frames := rapid.IntRange(1, 20).Draw(r, "frames")
		list := func(n int, name string) []float64 {
			return rapid.SliceOfN(rapid.Float64Range(0.001, 3), n, n).Draw(r, name)
		}
		for i := range rapid.IntRange(1, 5).Draw(r, "points") {
			d.Points = append(d.Points, Point{fmt.Sprint("p", i), list(frames, "x"), list(frames, "y"), list(frames, "z")})
		}
		for i := range rapid.IntRange(0, 3).Draw(r, "channels") {
			d.Analog = append(d.Analog, Channel{fmt.Sprint("c", i), "V", list(frames*d.SamplesPerFrame, "v")})
		}
		var b bytes.Buffer
		if err := Write(&b, d); err != nil {
			r.Fatal(err)
		}
		f, err := Read(b.Bytes())
		if err != nil {
			r.Fatal(err)
		}
		for i, p := range d.Points {
			for k := range p.X {
				if !near(f.Points[i].X[k], p.X[k], 1e-6) || !near(f.Points[i].Z[k], p.Z[k], 1e-6) {
					r.Fatalf("point %d frame %d changed", i, k)
				}
			}
		}
		for i, c := range d.Analog {
			for k := range c.Values {
				if !near(f.Analog[i].Values[k], c.Values[k], 1e-6) {
					r.Fatalf("channel %d sample %d changed", i, k)
				}
			}
		}
	})
}

// TestRBDS reads the open treadmill files: counts from their own parameters, body
// weight from the participants' list (runner 001: 62 kg), belt at height 0.
func TestRBDS(t *testing.T) {
	f, err := Open(shared(t, "rbds", "RBDS001runT25.c3d"))
	if err != nil {
		t.Fatal(err)
	}
	if f.Frames != 4500 || f.RateHz != 150 || len(f.Points) != 33 || f.AnalogRateHz != 300 {
		t.Errorf("%d frames at %g Hz, %d points, analog %g Hz", f.Frames, f.RateHz, len(f.Points), f.AnalogRateHz)
	}
	missing := 0
	for _, p := range f.Points {
		for _, x := range p.X {
			if math.IsNaN(x) {
				missing++
			}
		}
	}
	if share := float64(missing) / float64(33*4500); !(share < 0.034) {
		t.Errorf("%.2f %% of the samples are missing, at most 3.4 are", 100*share)
	}
	plates, err := f.Plates()
	if err != nil {
		t.Fatal(err)
	}
	p := plates[0]
	if p.Type != 4 || p.Up[1] != 1 {
		t.Errorf("type %d, up %v", p.Type, p.Up)
	}
	sum, inside, loaded := 0.0, 0, 0
	for k := range p.ForceN {
		sum += p.ForceN[k][1]
		if p.ForceN[k][1] > 200 {
			loaded++
			c := p.CentreM[k]
			if c[0] > 1.249 && c[0] < 3.049 && c[2] > 0.7337 && c[2] < 1.2197 && math.Abs(c[1]) < 1e-9 {
				inside++
			}
		}
	}
	// Over many strides the mean force is the body's weight.
	if mean := sum / float64(len(p.ForceN)); math.Abs(mean/(62*9.81)-1) > 0.03 {
		t.Errorf("the mean force is %.0f N for 62 kg", mean)
	}
	if inside != loaded {
		t.Errorf("the centre of pressure lies on the belt in %d of %d loaded samples", inside, loaded)
	}
}

// TestDorn reads the open overground file with eight type-2 plates and its own
// events; the counts are from its parameters.
func TestDorn(t *testing.T) {
	f, err := Open(shared(t, "dorn2012", "JA1Gait21.c3d"))
	if err != nil {
		t.Fatal(err)
	}
	if f.Frames != 837 || f.FirstFrame != 300 || len(f.Points) != 53 || len(f.Events) != 12 || f.UpHint != "+Z" {
		t.Errorf("%d frames from %d, %d points, %d events, up %s", f.Frames, f.FirstFrame, len(f.Points), len(f.Events), f.UpHint)
	}
	plates, err := f.Plates()
	if err != nil {
		t.Fatal(err)
	}
	if len(plates) != 8 {
		t.Fatalf("%d plates", len(plates))
	}
	for i, p := range plates {
		if math.Abs(p.Up[2]-1) > 1e-9 {
			t.Errorf("plate %d: up is %v", i+1, p.Up)
		}
		for k := range p.ForceN {
			c := p.CentreM[k]
			if p.ForceN[k][2] > 400 && !(c[0] > 0 && c[0] < 0.6 && c[1] > p.Corners[2][1] && c[1] < p.Corners[0][1]) {
				t.Fatalf("plate %d: the centre of pressure %v lies beside the plate", i+1, c)
			}
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte{})
	f.Add(encode(f, ramp()))
	d := ramp()
	d.Integer = true
	d.Platforms = []Platform{{Type: 4, Corners: press.corners}}
	b := encode(f, d)
	f.Add(b)
	f.Add(b[:700])
	f.Fuzz(func(t *testing.T, data []byte) {
		file, err := Read(data)
		if err != nil {
			return
		}
		if n := 24 * len(file.Points) * file.Frames; n > 12*len(data) {
			t.Errorf("%d bytes of file became %d bytes of points", len(data), n)
		}
		if file.RateHz <= 0 {
			t.Errorf("rate %g", file.RateHz)
		}
		_, _ = file.Plates()
	})
}

func BenchmarkRead(b *testing.B) {
	data, err := os.ReadFile(shared(b, "rbds", "RBDS001runT25.c3d"))
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if _, err := Read(data); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkOpenAndPlates(b *testing.B) {
	path := shared(b, "rbds", "RBDS001runT25.c3d")
	info, err := os.Stat(path)
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(info.Size())
	for b.Loop() {
		f, err := Open(path)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := f.Plates(); err != nil {
			b.Fatal(err)
		}
	}
}
