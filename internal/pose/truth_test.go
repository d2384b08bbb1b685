package pose

import (
	"context"
	"errors"
	"flag"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/track"
)

// truthPoints pairs the landmarks with the names the clips' truth has for them.
var truthPoints = []struct {
	l    body.Landmark
	name string
}{
	{body.LeftHip, "Lhip"}, {body.LeftKnee, "Lknee"}, {body.LeftAnkle, "Lankle"}, {body.LeftHeel, "Lheel"}, {body.LeftToe, "Ltoe"},
	{body.RightHip, "Rhip"}, {body.RightKnee, "Rknee"}, {body.RightAnkle, "Rankle"}, {body.RightHeel, "Rheel"}, {body.RightToe, "Rtoe"},
	{body.LeftShoulder, "Lshoulder"}, {body.LeftWrist, "Lwrist"},
}

// followed tracks the runner through frames held in memory.
func followed(t testing.TB, e *Engine, frames []Frame, point *Point) (*Tracker, *Person) {
	t.Helper()
	tr := NewTracker(e, point)
	ch := make(chan Frame, len(frames))
	for _, f := range frames {
		ch <- f
	}
	close(ch)
	if err := tr.Run(context.Background(), ch, nil); err != nil {
		t.Fatal(err)
	}
	p, _ := tr.Runner()
	if p == nil {
		t.Fatal("nobody was found")
	}
	return tr, p
}

var (
	whole = flag.Bool("whole", false, "measure the landmarks over the whole of all four rendered clips")
	model = flag.String("model", "full", "the model to measure: lite, full or heavy")
)

// TestLandmarksAgainstTruth measures the raw landmarks of two seconds of two
// rendered clips against the exact projection of the measured motion. The bounds
// are about half as much again as the medians measured over the whole clips
// with full (knee 22 to 39 mm, ankle 12 to 31 mm, heel 44 to 67 mm, toe 52 to
// 77 mm); lite does not keep them.
func TestLandmarksAgainstTruth(t *testing.T) {
	limits := map[string]float64{"hip": 55, "knee": 45, "ankle": 40, "heel": 80, "toe": 95, "shoulder": 65, "wrist": 60}
	type part struct {
		clip  string
		count int
	}
	parts := []part{{"RBDS001-35-side", 300}, {"RBDS012-35-rear", 300}}
	if *whole {
		parts = []part{{"RBDS001-35-side", 1500}, {"RBDS012-35-side", 1500}, {"RBDS001-35-rear", 1500}, {"RBDS012-35-rear", 1500}}
	}
	for _, c := range parts {
		clip, count := c.clip, c.count
		t.Run(clip, func(t *testing.T) {
			e := installed(t, Options{Model: Model(*model)})
			truth := truthOf(t, clip)
			tr := NewTracker(e, nil)
			eachFrame(t, clip, count, clipW, clipH, func(f Frame) {
				if _, err := tr.Next(f); err != nil {
					t.Fatal(err)
				}
			})
			p, _ := tr.Runner()
			if p == nil {
				t.Fatal("nobody was found")
			}
			if p.Seen() != count || len(tr.People()) != 1 {
				t.Errorf("the runner was found in %d of %d frames, among %d people", p.Seen(), count, len(tr.People()))
			}
			path := tr.Track(p)
			if err := path.Validate(); err != nil {
				t.Fatal(err)
			}
			t.Logf("%-10s %8s %8s %8s   error in mm; bias in px right and down", "", "mean", "median", "95 %")
			for _, q := range truthPoints {
				var mean float64
				var d, dx, dy []float64
				for i := range count {
					x, y := path.Paths[q.l].X[i]-truth.Points[q.name][i][0], path.Paths[q.l].Y[i]-truth.Points[q.name][i][1]
					mm := 1000 * math.Hypot(x, y) / truth.PixelsPer
					d, dx, dy = append(d, mm), append(dx, x), append(dy, y)
					mean += mm / float64(count)
				}
				slices.Sort(d)
				slices.Sort(dx)
				slices.Sort(dy)
				median := d[count/2]
				t.Logf("%-10s %8.1f %8.1f %8.1f   %+6.1f %+6.1f", q.name, mean, median, d[count*95/100], dx[count/2], dy[count/2])
				if limit := limits[q.name[1:]]; *model != "lite" && !(median <= limit) {
					t.Errorf("%s: median error %.1f mm, want at most %.0f mm", q.name, median, limit)
				}
			}
			if strings.HasSuffix(clip, "side") {
				if s, sure := p.NearerSide(); s != body.Left || sure < 0.9 {
					t.Errorf("nearer side: %v in %.0f %% of frames, want left", s, 100*sure)
				}
			}
		})
	}
}

func TestDetector(t *testing.T) {
	e := installed(t, Options{Model: Lite})
	truth := truthOf(t, "RBDS012-35-side")
	f := clipFrames(t, "RBDS012-35-side", 1, clipW, clipH)[0]
	d, err := e.Detect(f)
	if err != nil || len(d) != 1 {
		t.Fatalf("%d people found, %v; want one", len(d), err)
	}
	hip := truth.Points["Lhip"][0]
	if r := d[0].Region; math.Hypot(r.X-hip[0], r.Y-hip[1]) > 0.1*r.SidePX || d[0].Score < 0.7 {
		t.Errorf("found at (%.0f, %.0f) with score %.2f, want the hips at (%.0f, %.0f)", r.X, r.Y, d[0].Score, hip[0], hip[1])
	}
	for _, l := range []string{"nose", "Lankle", "Rankle", "Lwrist", "Rtoe"} {
		if q := truth.Points[l][0]; !d[0].Region.Contains(q[0], q[1]) {
			t.Errorf("the region does not hold %s", l)
		}
	}
	grey := Frame{Width: 640, Height: 480, RGB: slices.Repeat([]byte{120}, 3*640*480)}
	if d, err := e.Detect(grey); err != nil || len(d) != 0 {
		t.Errorf("in an empty picture: %d people, %v", len(d), err)
	}
	if p, err := e.Landmarks(grey, Region{X: 320, Y: 240, SidePX: 400}); err != nil || p.Score > 0.2 {
		t.Errorf("in an empty picture: a score of %.2f, %v", p.Score, err)
	}
	tr := NewTracker(e, nil)
	if p, err := tr.Next(grey); err != nil || p.Found || !math.IsNaN(p.X[0]) {
		t.Errorf("in an empty picture: %v, %v", p.Found, err)
	}
	if p, notes := tr.Runner(); p != nil || notes != nil {
		t.Errorf("in an empty picture: %v, %v", p, notes)
	}
}

// TestTwoPeople puts two runners side by side, one nearer the middle.
func TestTwoPeople(t *testing.T) {
	e := installed(t, Options{Model: Lite})
	const count, width = 45, 1480
	a := clipFrames(t, "RBDS001-35-side", count, clipW, clipH)
	b := clipFrames(t, "RBDS012-35-rear", count, clipW, clipH)
	var frames []Frame
	for i := range count {
		// The first fills the left of the picture, the second the middle.
		f := Frame{Index: i, TimeS: a[i].TimeS, Width: width, Height: clipH, RGB: make([]byte, 3*width*clipH)}
		for y := range clipH {
			copy(f.RGB[3*y*width:], a[i].RGB[3*y*clipW:][:3*440])
			copy(f.RGB[3*(y*width+440):], b[i].RGB[3*y*clipW:][:3*clipW])
		}
		frames = append(frames, f)
	}
	truthA, truthB := truthOf(t, "RBDS001-35-side"), truthOf(t, "RBDS012-35-rear")
	hip := func(c clipTruth, i int, dx float64) [2]float64 {
		q := c.Points["Lhip"][i]
		return [2]float64{q[0] + dx, q[1]}
	}
	for _, c := range []struct {
		name  string
		point *Point
		want  func(i int) [2]float64
	}{
		{"the middle one", nil, func(i int) [2]float64 { return hip(truthB, i, 440) }},
		{"the one pointed at", &Point{TimeS: 0.1, X: hip(truthA, 15, 0)[0], Y: 640}, func(i int) [2]float64 { return hip(truthA, i, 0) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			tr, p := followed(t, e, frames, c.point)
			if n := len(tr.People()); n != 2 {
				t.Errorf("%d people found, want 2", n)
			}
			if p.Seen() != count {
				t.Errorf("found in %d of %d frames", p.Seen(), count)
			}
			for i := range count {
				q, want := p.At(i), c.want(i)
				if math.Hypot(q.X[body.LeftHip]-want[0], q.Y[body.LeftHip]-want[1]) > 60 {
					t.Fatalf("frame %d: the left hip is at (%.0f, %.0f), want (%.0f, %.0f)", i, q.X[body.LeftHip], q.Y[body.LeftHip], want[0], want[1])
				}
			}
			if _, notes := tr.Runner(); len(notes) != 1 || !strings.Contains(notes[0], "also seen") {
				t.Errorf("notes %q, want one that names the other", notes)
			}
		})
	}
}

func TestNotInstalled(t *testing.T) {
	empty := t.TempDir()
	t.Setenv(DirEnv, empty)
	t.Chdir(empty)
	in := Locate(empty)
	if in.Detector.Found() && strings.HasPrefix(in.Detector.Path, empty) {
		t.Fatal("found something in an empty folder")
	}
	if in.Ready(Full) == nil {
		t.Skip("the model is installed for the whole system")
	}
	_, err := Open(Options{})
	if !errors.Is(err, ErrNotInstalled) || !strings.Contains(err.Error(), "make setup") || !strings.Contains(err.Error(), "pose_landmark_full.tflite") {
		t.Errorf("error %v", err)
	}
	if len(in.Library.Looked) == 0 || !strings.HasPrefix(in.Library.Looked[0], empty) {
		t.Errorf("looked in %q, want the given folder first", in.Library.Looked)
	}
	if _, err := ParseModel("medium"); err == nil {
		t.Error("a model of no known name was accepted")
	}
	// A library and models that are no such thing must give errors, not a crash.
	for _, name := range append([]string{detectorFile, landmarkFile(Full)}, libraryFiles("linux", "amd64")...) {
		path := filepath.Join(empty, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte("not this"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := Open(Options{Dir: empty}); err == nil || errors.Is(err, ErrNotInstalled) {
		t.Errorf("with false files: %v", err)
	}
}

func TestLibraryFiles(t *testing.T) {
	for _, c := range []struct{ system, arch, want string }{
		{"linux", "amd64", "onnxruntime-node/bin/napi-v6/linux/x64/libonnxruntime.so.1"},
		{"linux", "arm64", "onnxruntime-node/bin/napi-v6/linux/arm64/libonnxruntime.so.1"},
		{"darwin", "arm64", "onnxruntime-node/bin/napi-v6/darwin/arm64/libonnxruntime.1.30.0.dylib"},
		{"darwin", "amd64", "onnxruntime-node-1-23/bin/napi-v6/darwin/x64/libonnxruntime.1.23.2.dylib"},
		{"windows", "amd64", "onnxruntime-node/bin/napi-v6/win32/x64/onnxruntime.dll"},
		{"windows", "arm64", "onnxruntime-node/bin/napi-v6/win32/arm64/onnxruntime.dll"},
	} {
		got := libraryFiles(c.system, c.arch)
		if filepath.ToSlash(got[0]) != c.want {
			t.Errorf("%s/%s: %s, want %s", c.system, c.arch, got[0], c.want)
		}
		if !Locate(setupDir).Library.Found() {
			continue
		}
		path := filepath.Join(setupDir, "node_modules", got[0])
		if _, err := os.Stat(path); err != nil && !(c.system == "darwin" && c.arch == "amd64") {
			t.Errorf("%s/%s: %v", c.system, c.arch, err)
		}
	}
}

func TestAssembleGaps(t *testing.T) {
	p := &Person{First: 1, Poses: []Pose{{Found: true, Score: 0.5}, nobody()}}
	p.Poses[0].X[body.LeftKnee], p.Poses[0].Visibility[body.LeftKnee], p.Poses[0].Presence[body.LeftKnee] = 7, 0.8, 1
	tr := Assemble([]float64{0, 1, 2, 3}, p)
	knee := tr.Paths[body.LeftKnee]
	for i, seen := range []bool{false, true, false, false} {
		if knee.Seen(i) != seen {
			t.Errorf("frame %d: seen %v, want %v", i, knee.Seen(i), seen)
		}
	}
	if knee.X[1] != 7 || math.Abs(knee.ConfidenceAt(1)-0.4) > 1e-6 || knee.ConfidenceAt(2) != 0 {
		t.Errorf("frame 1: x %v with confidence %v, frame 2 confidence %v", knee.X[1], knee.ConfidenceAt(1), knee.ConfidenceAt(2))
	}
	if tr.Space != track.Picture || tr.Unit != track.Pixel || knee.Origin != track.PoseModel || tr.Has(body.LeftASIS) {
		t.Error("space, unit or origin is wrong")
	}
}
