package keypoint

import (
	"bytes"
	"flag"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/track"
)

var update = flag.Bool("update", false, "write the golden files anew")

// sample is an invented file in picture space with a lost point.
func sample() *File {
	nan := math.NaN()
	t := track.New(track.Picture, track.Pixel, []float64{0, 1.0 / 60, 2.0 / 60})
	t.Paths[body.LeftKnee] = &track.Path{Origin: track.MarkerFile, X: []float64{400.5, nan, 402}, Y: []float64{300, nan, 301.25}, Confidence: []float64{0.9, 0, 1}}
	t.Paths[body.RightToe] = &track.Path{Origin: track.MarkerFile, X: []float64{1, 2, 3}, Y: []float64{4, 5, 6}}
	return &File{Track: t, View: clip.LeftSide, WidthPX: 1280, HeightPX: 720}
}

// equal tells whether two files hold the same, NaN being NaN.
func equal(a, b *File) bool {
	same := func(x, y []float64) bool {
		if (x == nil) != (y == nil) || len(x) != len(y) {
			return false
		}
		for i := range x {
			if x[i] != y[i] && !(math.IsNaN(x[i]) && math.IsNaN(y[i])) {
				return false
			}
		}
		return true
	}
	if a.View != b.View || a.WidthPX != b.WidthPX || a.HeightPX != b.HeightPX || a.Track.Space != b.Track.Space ||
		a.Track.Unit != b.Track.Unit || !same(a.Track.TimeS, b.Track.TimeS) {
		return false
	}
	for l := range a.Track.Paths {
		p, q := a.Track.Paths[l], b.Track.Paths[l]
		if (p == nil) != (q == nil) {
			return false
		}
		if p != nil && !(same(p.X, q.X) && same(p.Y, q.Y) && same(p.Z, q.Z) && same(p.Confidence, q.Confidence) && p.Origin == q.Origin) {
			return false
		}
	}
	return true
}

// TestGolden holds the written form still: files written once must read for ever.
func TestGolden(t *testing.T) {
	for _, name := range []string{"sample.csv", "sample.json"} {
		path := filepath.Join("testdata", name)
		if *update {
			if err := Save(path, sample()); err != nil {
				t.Fatal(err)
			}
		}
		f, err := Open(path)
		if err != nil {
			t.Fatal(err)
		}
		if !equal(f, sample()) {
			t.Errorf("%s does not read back", name)
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		now := filepath.Join(t.TempDir(), name)
		if err := Save(now, sample()); err != nil {
			t.Fatal(err)
		}
		got, err := os.ReadFile(now)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s is written otherwise than before:\n%s", name, got)
		}
	}
}

// anyFile draws a file in either space, with every mix of axes.
func anyFile(r *rapid.T) *File {
	frames := rapid.IntRange(1, 6).Draw(r, "frames")
	t := track.New(track.Picture, track.Pixel, nil)
	if rapid.Bool().Draw(r, "runner space") {
		t.Space, t.Unit = track.Runner, track.Metre
	}
	at := rapid.Float64Range(0, 10).Draw(r, "start")
	for range frames {
		t.TimeS = append(t.TimeS, at)
		at += rapid.Float64Range(0.001, 0.1).Draw(r, "step")
	}
	list := func(lost []bool) []float64 {
		out := make([]float64, frames)
		for k := range out {
			out[k] = rapid.Float64Range(-2000, 2000).Draw(r, "value")
			if lost[k] {
				out[k] = math.NaN()
			}
		}
		return out
	}
	for _, l := range rapid.SliceOfNDistinct(rapid.IntRange(0, int(body.NumLandmarks)-1), 1, 5, rapid.ID[int]).Draw(r, "landmarks") {
		lost := rapid.SliceOfN(rapid.Bool(), frames, frames).Draw(r, "lost")
		p := &track.Path{Origin: track.MarkerFile, Y: list(lost)}
		kind := rapid.IntRange(0, 2).Draw(r, "axes")
		if t.Space == track.Picture || kind != 0 {
			p.X = list(lost)
		}
		if t.Space == track.Runner && kind != 1 {
			p.Z = list(lost)
		}
		if rapid.Bool().Draw(r, "confidence") {
			p.Confidence = make([]float64, frames)
			for k := range p.Confidence {
				if !lost[k] {
					p.Confidence[k] = rapid.Float64Range(0, 1).Draw(r, "c")
				}
			}
		}
		t.Paths[l] = p
	}
	return &File{Track: t, View: clip.View(rapid.IntRange(0, 5).Draw(r, "view"))}
}

// TestAnyFileReadsBack: writing and reading is exact, in both forms.
func TestAnyFileReadsBack(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		f := anyFile(r)
		var c, j bytes.Buffer
		if err := WriteCSV(&c, f); err != nil {
			r.Fatal(err)
		}
		if err := WriteJSON(&j, f); err != nil {
			r.Fatal(err)
		}
		fromCSV, err := ReadCSV(c.Bytes())
		if err != nil {
			r.Fatalf("%v in\n%s", err, c.String())
		}
		fromJSON, err := ReadJSON(j.Bytes())
		if err != nil {
			r.Fatalf("%v in\n%s", err, j.String())
		}
		if !equal(f, fromCSV) || !equal(f, fromJSON) {
			r.Fatalf("changed on its way:\n%s\n%s", c.String(), j.String())
		}
	})
}

func TestTheSmallestTable(t *testing.T) {
	f, err := ReadCSV([]byte("time_s,left_knee_x,left_knee_y\n0,1,2\n0.1,,\n"))
	if err != nil {
		t.Fatal(err)
	}
	p := f.Track.Paths[body.LeftKnee]
	if f.Track.Space != track.Picture || p.X[0] != 1 || p.Seen(1) || f.View != clip.UnknownView {
		t.Errorf("read %+v", f)
	}
}

func TestTableFaultsNameThePlace(t *testing.T) {
	for _, c := range []struct{ name, in, want string }{
		{"empty", "", "empty"},
		{"only a head", "time_s,left_knee_x,left_knee_y\n", "no frames"},
		{"no time", "left_knee_x,left_knee_y\n1,2\n", "time_s"},
		{"no landmark", "time_s\n0\n", "names no landmark"},
		{"unknown landmark", "time_s,left_horn_x,left_horn_y\n0,1,2\n", "line 1, column 2"},
		{"unknown part", "time_s,left_knee_q\n0,1\n", "line 1, column 2"},
		{"no part", "time_s,knee\n0,1\n", "line 1, column 2"},
		{"twice", "time_s,left_knee_x,left_knee_x\n0,1,1\n", "twice"},
		{"one axis", "time_s,left_knee_x\n0,1\n", "needs x and y"},
		{"z in a picture", "time_s,left_knee_x,left_knee_y,left_knee_z\n0,1,2,3\n", "no z"},
		{"half a point", "time_s,left_knee_x,left_knee_y\n0,1,\n", "line 2, left_knee"},
		{"words", "time_s,left_knee_x,left_knee_y\n0,1,2\n0.1,one,2\n", "line 3, column 2 (left_knee_x)"},
		{"NaN", "time_s,left_knee_x,left_knee_y\n0,NaN,NaN\n", "leave the cell empty"},
		{"too many cells", "time_s,left_knee_x,left_knee_y\n0,1,2,3\n", "line 2 has 4 cells"},
		{"clock", "time_s,left_knee_x,left_knee_y\n0,1,2\n0,1,2\n", "line 3"},
		{"confidence", "time_s,left_knee_x,left_knee_y,left_knee_confidence\n0,1,2,7\n", "between 0 and 1"},
		{"no confidence", "time_s,left_knee_x,left_knee_y,left_knee_confidence\n0,1,2,\n", "confidence is missing"},
		{"far away", "time_s,left_knee_x,left_knee_y\n0,1e300,2\n", "out of bounds"},
		{"version", "# version: 9\ntime_s,left_knee_x,left_knee_y\n0,1,2\n", "version 9"},
		{"setting", "# colour: red\ntime_s,left_knee_x,left_knee_y\n0,1,2\n", "line 1"},
		{"space", "# space: lunar\ntime_s,left_knee_x,left_knee_y\n0,1,2\n", "lunar"},
		{"unit", "# unit: m\ntime_s,left_knee_x,left_knee_y\n0,1,2\n", "unit is m"},
		{"size", "# width_px: 9\ntime_s,left_knee_x,left_knee_y\n0,1,2\n", "height_px"},
		{"quote below settings", "# version: 1\ntime_s,left_knee_x,left_knee_y\n0,\"1,2\n", "line 3"},
	} {
		if _, err := ReadCSV([]byte(c.in)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", c.name, err, c.want)
		}
	}
}

func TestObjectFaultsSayWhat(t *testing.T) {
	wrap := func(landmarks string) string { return `{"time_s":[0,0.1],"landmarks":{` + landmarks + `}}` }
	for _, c := range []struct{ name, in, want string }{
		{"empty", "", "ends before"},
		{"cut short", `{"time_s":[0,0.1],`, "ends before"},
		{"syntax", "{\n\"time_s\": [0,,1]}", "line 2, column"},
		{"kind", "{\"time_s\": \"soon\"}", "time_s"},
		{"unknown field", `{"frames":3}`, "frames"},
		{"two objects", wrap(`"left_knee":{"x":[1,2],"y":[1,2]}`) + "{}", "something follows"},
		{"no clock", `{"landmarks":{"left_knee":{"x":[1],"y":[2]}}}`, "time_s"},
		{"no landmarks", `{"time_s":[0]}`, "landmarks"},
		{"unknown landmark", wrap(`"left_horn":{"x":[1,2],"y":[1,2]}`), "left_horn"},
		{"twice", wrap(`"left_knee":{"x":[1,2],"y":[1,2]},"left_knee":{"x":[1,2],"y":[1,2]}`), "twice"},
		{"unknown part", wrap(`"left_knee":{"q":[1,2]}`), "left_knee"},
		{"length", wrap(`"left_knee":{"x":[1],"y":[1,2]}`), "1 values for 2 frames"},
		{"half a point", wrap(`"left_knee":{"x":[1,null],"y":[1,2]}`), "left_knee, frame 1"},
		{"no list", wrap(`"left_knee":{"x":3,"y":[1,2]}`), "list of numbers"},
		{"one axis", wrap(`"left_knee":{"x":[1,2]}`), "needs x and y"},
		{"clock", `{"time_s":[0,0],"landmarks":{"left_knee":{"x":[1,2],"y":[1,2]}}}`, "increase"},
		{"version", `{"version":2,"time_s":[0],"landmarks":{"left_knee":{"x":[1],"y":[1]}}}`, "version 2"},
		{"view", `{"view":"above","time_s":[0],"landmarks":{"left_knee":{"x":[1],"y":[1]}}}`, "above"},
	} {
		if _, err := ReadJSON([]byte(c.in)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", c.name, err, c.want)
		}
	}
}

func TestWriteRefusesWhatWouldNotReadBack(t *testing.T) {
	for name, change := range map[string]func(*File){
		"no frames":    func(f *File) { f.Track.TimeS = nil },
		"no landmarks": func(f *File) { f.Track.Paths = [body.NumLandmarks]*track.Path{} },
		"half a point": func(f *File) { f.Track.Paths[body.RightToe].X[1] = math.NaN() },
		"infinite":     func(f *File) { f.Track.Paths[body.RightToe].X[1] = math.Inf(1) },
		"clock":        func(f *File) { f.Track.TimeS[1] = 9 },
	} {
		f := sample()
		change(f)
		path := filepath.Join(t.TempDir(), "out.csv")
		if err := Save(path, f); err == nil {
			t.Errorf("%s: written", name)
		}
		if _, err := os.Stat(path); !os.IsNotExist(err) {
			t.Errorf("%s: a file was left behind", name)
		}
	}
}

func FuzzReadCSV(f *testing.F) {
	var b bytes.Buffer
	if err := WriteCSV(&b, sample()); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Add([]byte("time_s,left_knee_x,left_knee_y\n0,1,2\n"))
	f.Fuzz(func(t *testing.T, data []byte) { readsBack(t, data, ReadCSV, csvBytes) })
}

func FuzzReadJSON(f *testing.F) {
	var b bytes.Buffer
	if err := WriteJSON(&b, sample()); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Fuzz(func(t *testing.T, data []byte) { readsBack(t, data, ReadJSON, jsonBytes) })
}

// readsBack: whatever is accepted can be written and reads back the same.
func readsBack(t *testing.T, data []byte, read func([]byte) (*File, error), write func(*File) ([]byte, error)) {
	one, err := read(data)
	if err != nil {
		return
	}
	out, err := write(one)
	if err != nil {
		t.Fatalf("%v writing what was read from %q", err, data)
	}
	two, err := read(out)
	if err != nil {
		t.Fatalf("%v reading %q", err, out)
	}
	if !equal(one, two) {
		t.Fatalf("changed from %q to %q", data, out)
	}
}

func csvBytes(f *File) ([]byte, error) {
	var b bytes.Buffer
	err := WriteCSV(&b, f)
	return b.Bytes(), err
}

func jsonBytes(f *File) ([]byte, error) {
	var b bytes.Buffer
	err := WriteJSON(&b, f)
	return b.Bytes(), err
}
