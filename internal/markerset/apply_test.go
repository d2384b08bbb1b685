package markerset

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/track"
)

func apply(tb testing.TB, run Points, standing *Points) *Result {
	tb.Helper()
	set, ok := Detect(run.Labels())
	if !ok {
		tb.Fatalf("no set knows %v", run.Labels())
	}
	res, err := Apply(set, run, standing, Options{})
	if err != nil {
		tb.Fatal(err)
	}
	return res
}

var rbdsRunners = []string{"001", "010", "012", "019", "026", "028"}

// TestRBDSRunners: every open treadmill file gives all lower-limb landmarks on
// both sides, forward along the laboratory's X and up along its Y (data README),
// with segments that stay rigid.
func TestRBDSRunners(t *testing.T) {
	for _, r := range rbdsRunners {
		still, _ := load(t, "rbds", "RBDS"+r+"static.c3d")
		for _, speed := range []string{"25", "35", "45"} {
			if testing.Short() && speed != "35" {
				continue
			}
			run, _ := load(t, "rbds", "RBDS"+r+"runT"+speed+".c3d")
			res := apply(t, run, &still)
			if res.Axes.Forward != [3]float64{1, 0, 0} || res.Axes.Up != [3]float64{0, 1, 0} || res.Surface != clip.Treadmill {
				t.Errorf("%s at %s: axes %v, %v", r, speed, res.Axes, res.Surface)
			}
			for _, l := range []body.Landmark{body.LeftHip, body.LeftKnee, body.LeftAnkle, body.LeftHeel, body.LeftToe,
				body.LeftASIS, body.LeftPSIS, body.LeftMT1, body.LeftMT5, body.LeftHeelTop, body.LeftShankTop} {
				for _, s := range body.Sides {
					p := res.Track.Paths[l.On(s)]
					if p == nil {
						t.Errorf("%s at %s: no %v", r, speed, l.On(s))
						continue
					}
					if p.Origin != track.MarkerFile {
						t.Errorf("%v has origin %v", l.On(s), p.Origin)
					}
					lost := 0
					for k := range p.X {
						if !p.Seen(k) {
							lost++
						}
					}
					if lost > len(p.X)/20 {
						t.Errorf("%s at %s: %v is missing in %d of %d frames", r, speed, l.On(s), lost, len(p.X))
					}
				}
			}
			exchanged := slices.ContainsFunc(res.Notes, func(n string) bool { return strings.Contains(n, "carry each other's name") })
			// Runner 001 has them in two of the three runs.
			if want := r == "001" && speed != "45"; exchanged != want {
				t.Errorf("%s at %s: exchanged markers found: %v; notes %q", r, speed, exchanged, res.Notes)
			}
		}
	}
}

// TestExchangedMarkers: runner 001's right foot has the first and fifth metatarsal
// exchanged between standing and running; the rigid fit is off by 46 mm as named
// and by less than 2 mm once mended.
func TestExchangedMarkers(t *testing.T) {
	run, _ := load(t, "rbds", "RBDS001runT25.c3d")
	still, _ := load(t, "rbds", "RBDS001static.c3d")
	res := apply(t, run, &still)
	note := strings.Join(res.Notes, "\n")
	if !strings.Contains(note, "R.MT1 and R.MT5 carry each other's name in the run") || !strings.Contains(note, "46 mm") {
		t.Errorf("notes:\n%s", note)
	}
	for _, s := range body.Sides {
		one, five := res.Track.Paths[body.LeftMT1.On(s)], res.Track.Paths[body.LeftMT5.On(s)]
		for k := range one.Z {
			if d := s.Sign() * (five.Z[k] - one.Z[k]); d < 0.02 {
				t.Fatalf("%v foot, frame %d: the fifth metatarsal lies %.0f mm outward of the first", s, k, 1000*d)
			}
		}
	}
	// Without the standing trial the forefoot itself shows it.
	res = apply(t, run, nil)
	if !strings.Contains(strings.Join(res.Notes, "\n"), "right foot's first and fifth metatarsal") {
		t.Errorf("without a standing trial: notes %q", res.Notes)
	}
}

// truth is the part of a rendered clip's truth file that is measured rather than
// drawn: joint centres from the same markers by another program.
type truth struct {
	StartS float64                `json:"source_start_s"`
	Points map[string][][]float64 `json:"points_m"`
	Angles map[string][]float64   `json:"angles_deg"`
}

// TestJointCentresAgainstTruthFiles compares hip, knee and ankle with the joint
// centres that stand in the truth files of the rendered clips, made from the same
// markers by another program.
func TestJointCentresAgainstTruthFiles(t *testing.T) {
	for _, r := range []string{"001", "012"} {
		data, err := os.ReadFile(shared(t, "clips", "RBDS"+r+"-35-side.json"))
		if err != nil {
			t.Fatal(err)
		}
		var want truth
		if err := json.Unmarshal(data, &want); err != nil {
			t.Fatal(err)
		}
		run, _ := load(t, "rbds", "RBDS"+r+"runT35.c3d")
		still, _ := load(t, "rbds", "RBDS"+r+"static.c3d")
		res := apply(t, run, &still)
		first := int(math.Round(want.StartS * 150))
		for _, c := range []struct {
			name string
			l    body.Landmark
			mm   float64 // bound on the random part, each axis
		}{{"hip", body.LeftHip, 6}, {"knee", body.LeftKnee, 6}, {"ankle", body.LeftAnkle, 6}} {
			for _, s := range body.Sides {
				name := strings.ToUpper(s.String()[:1]) + c.name
				p := res.Track.Paths[c.l.On(s)]
				var d [3][]float64
				for i, q := range want.Points[name] {
					k := first + i
					d[0] = append(d[0], p.X[k]-q[0])
					d[1] = append(d[1], p.Y[k]-q[1])
					d[2] = append(d[2], p.Z[k]-q[2])
				}
				var mean, sd [3]float64
				for a := range 3 {
					for _, x := range d[a] {
						mean[a] += x / float64(len(d[a]))
					}
					for _, x := range d[a] {
						sd[a] += (x - mean[a]) * (x - mean[a]) / float64(len(d[a]))
					}
					sd[a] = 1000 * math.Sqrt(sd[a])
				}
				t.Logf("%s %-6s offset %.3f %.3f %.3f m, SD %.1f %.1f %.1f mm", r, name, mean[0], mean[1], mean[2], sd[0], sd[1], sd[2])
				if !(sd[0] < c.mm && sd[1] < c.mm && sd[2] < c.mm) {
					t.Errorf("%s %s: SD %.1f %.1f %.1f mm", r, name, sd[0], sd[1], sd[2])
				}
			}
		}
		for _, s := range body.Sides {
			hip, knee, ankle := res.Track.Paths[body.LeftHip.On(s)], res.Track.Paths[body.LeftKnee.On(s)], res.Track.Paths[body.LeftAnkle.On(s)]
			mean, sq := 0.0, 0.0
			flexion := want.Angles[strings.ToUpper(s.String()[:1])+"_knee_flexion"]
			for i, w := range flexion {
				k := first + i
				thigh := math.Atan2(knee.X[k]-hip.X[k], hip.Y[k]-knee.Y[k])
				shank := math.Atan2(ankle.X[k]-knee.X[k], knee.Y[k]-ankle.Y[k])
				d := (thigh-shank)*180/math.Pi - w
				mean += d
				sq += d * d
			}
			n := float64(len(flexion))
			mean /= n
			sd := math.Sqrt(sq/n - mean*mean)
			t.Logf("%s %v knee flexion: offset %.2f°, SD %.2f°", r, s, mean, sd)
			if math.Abs(mean) > 3 || sd > 1.5 {
				t.Errorf("%s %v knee flexion: offset %.2f°, SD %.2f°", r, s, mean, sd)
			}
		}
	}
}

// TestWithoutStandingTrial: the functional joint centres lie within 20 mm of those
// from the standing trial, seen from the side, and within 35 mm across.
func TestWithoutStandingTrial(t *testing.T) {
	for _, r := range rbdsRunners {
		run, _ := load(t, "rbds", "RBDS"+r+"runT35.c3d")
		still, _ := load(t, "rbds", "RBDS"+r+"static.c3d")
		with, without := apply(t, run, &still), apply(t, run, nil)
		for _, l := range []body.Landmark{body.LeftKnee, body.RightKnee, body.LeftAnkle, body.RightAnkle} {
			a, b := with.Track.Paths[l], without.Track.Paths[l]
			if b == nil {
				t.Errorf("%s: no %v without a standing trial", r, l)
				continue
			}
			if !(b.ConfidenceAt(100) < a.ConfidenceAt(100)) {
				t.Errorf("%s: %v is as sure without a standing trial (%g) as with it (%g)", r, l, b.ConfidenceAt(100), a.ConfidenceAt(100))
			}
			var x, y, z, n float64
			for k := range a.X {
				if a.Seen(k) && b.Seen(k) {
					x, y, z, n = x+b.X[k]-a.X[k], y+b.Y[k]-a.Y[k], z+b.Z[k]-a.Z[k], n+1
				}
			}
			if math.Hypot(x/n, y/n) > 0.020 || math.Abs(z/n) > 0.035 {
				t.Errorf("%s: %v lies (%.0f %.0f %.0f) mm from the one of the standing trial", r, l, 1000*x/n, 1000*y/n, 1000*z/n)
			}
		}
		if !strings.Contains(strings.Join(without.Notes, " "), "without a standing trial") {
			t.Errorf("%s: nothing is said about the missing standing trial", r)
		}
	}
}

// TestDornOverground: the open overground file runs along the laboratory's Y, Z
// up, at the 3.53 m/s that its publication gives.
func TestDornOverground(t *testing.T) {
	run, f := load(t, "dorn2012", "JA1Gait21.c3d")
	still, _ := load(t, "dorn2012", "JA1Static05.c3d")
	set, _ := Detect(run.Labels())
	if set.Name != "whole-body" {
		t.Errorf("the set %q was chosen", set.Name)
	}
	res, err := Apply(set, run, &still, Options{UpHint: f.UpHint})
	if err != nil {
		t.Fatal(err)
	}
	if res.Axes.Forward != [3]float64{0, 1, 0} || res.Axes.Up != [3]float64{0, 0, 1} || res.Surface != clip.Overground {
		t.Errorf("axes %v, %v", res.Axes, res.Surface)
	}
	if math.Abs(res.SpeedMPS-3.53) > 0.02 {
		t.Errorf("speed %.3f m/s, want 3.53", res.SpeedMPS)
	}
	if !res.Track.Has(body.LeftShoulder, body.RightElbow, body.LeftWrist, body.C7, body.Sacrum, body.RightKnee) {
		t.Error("landmarks of the upper body are missing")
	}
}

// TestUpHintIsChecked: a file that declares the wrong upward axis is read by its
// markers, and said so.
func TestUpHintIsChecked(t *testing.T) {
	run, still := invented()
	set, err := BuiltIn("general")
	if err != nil {
		t.Fatal(err)
	}
	for hint, want := range map[string]bool{"+Z": false, "+Y": true, "": false, "nonsense": false} {
		res, err := Apply(set, run, &still, Options{UpHint: hint})
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(strings.Join(res.Notes, " "), "upward axis"); got != want {
			t.Errorf("hint %q: noted %v, want %v", hint, got, want)
		}
	}
}

// invented is an invented figure on a treadmill with Z up that runs toward -Y: a
// pelvis, and feet that go back along the belt at 3 m/s and forward again. The
// standing trial has the inner knee and ankle markers too.
func invented() (run, standing Points) {
	const n, rate = 300, 100.0
	at := map[string][3]float64{ // forward, rightward, up
		"LASI": {0.10, -0.12, 1.00}, "RASI": {0.10, 0.12, 1.00}, "LPSI": {-0.06, -0.04, 1.02}, "RPSI": {-0.06, 0.04, 1.02},
		"LKNE": {0.05, -0.17, 0.50}, "RKNE": {0.05, 0.17, 0.50}, "LKNEM": {0.05, -0.07, 0.50}, "RKNEM": {0.05, 0.07, 0.50},
		"LTIB": {0.08, -0.13, 0.35}, "RTIB": {0.08, 0.13, 0.35},
		"LANK": {0.00, -0.15, 0.10}, "RANK": {0.00, 0.15, 0.10}, "LANKM": {0.00, -0.08, 0.10}, "RANKM": {0.00, 0.08, 0.10},
		"LHEE": {-0.06, -0.11, 0.05}, "RHEE": {-0.06, 0.11, 0.05},
		"LMT1": {0.12, -0.08, 0.05}, "RMT1": {0.12, 0.08, 0.05}, "LMT5": {0.10, -0.16, 0.04}, "RMT5": {0.10, 0.16, 0.04},
	}
	names := make([]string, 0, len(at))
	for n := range at {
		names = append(names, n)
	}
	slices.Sort(names)
	for _, name := range names {
		p := at[name]
		still := Marker{Label: "anna:" + name}
		for range 50 {
			still.X, still.Y, still.Z = append(still.X, -p[1]), append(still.Y, -p[0]), append(still.Z, p[2])
		}
		standing.Markers = append(standing.Markers, still)
		if strings.HasSuffix(name, "M") {
			continue
		}
		m := Marker{Label: name}
		for k := range n {
			var fwd, up float64
			if p[2] < 0.9 {
				// Left and right half a stride apart: back with the belt for 0.3 s of
				// 0.6, then forward through the air.
				phase := math.Mod(float64(k)/rate+0.6, 0.6)
				if name[0] == 'R' {
					phase = math.Mod(phase+0.3, 0.6)
				}
				if phase < 0.3 {
					fwd = 0.45 - 3*phase
				} else {
					fwd = -0.45 + 3*(phase-0.3)
					up = 0.2 * math.Sin(math.Pi*(phase-0.3)/0.3)
				}
			}
			m.X, m.Y, m.Z = append(m.X, -p[1]), append(m.Y, -(p[0]+fwd)), append(m.Z, p[2]+up)
		}
		run.Markers = append(run.Markers, m)
	}
	for k := range n {
		run.TimeS = append(run.TimeS, float64(k)/rate)
	}
	for k := range 50 {
		standing.TimeS = append(standing.TimeS, float64(k)/rate)
	}
	return run, standing
}

func TestInventedFigure(t *testing.T) {
	run, standing := invented()
	set, ok := Detect(run.Labels())
	if !ok || set.Name != "general" {
		t.Fatalf("detected %q, %v", set.Name, ok)
	}
	res, err := Apply(set, run, &standing, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if res.Axes.Forward != [3]float64{0, -1, 0} || res.Axes.Up != [3]float64{0, 0, 1} || res.Axes.Right != [3]float64{-1, 0, 0} {
		t.Errorf("axes %+v", res.Axes)
	}
	if math.Abs(res.SpeedMPS-3) > 0.05 {
		t.Errorf("belt speed %.3f m/s, want 3", res.SpeedMPS)
	}
}

// TestLabAxesDoNotMatter: the laboratory turned about the vertical by right
// angles, with Y or Z up, changes nothing in runner space.
func TestLabAxesDoNotMatter(t *testing.T) {
	run, standing := invented()
	set, _ := Detect(run.Labels())
	base, err := Apply(set, run, &standing, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for way := range 8 {
		quarter, yUp := way%4, way >= 4
		turn := func(p Points) Points {
			out := Points{TimeS: p.TimeS}
			for _, m := range p.Markers {
				q := Marker{Label: m.Label}
				for k := range m.X {
					x, y, z := m.X[k], m.Y[k], m.Z[k]
					for range quarter {
						x, y = -y, x
					}
					if yUp {
						y, z = z, -y
					}
					q.X, q.Y, q.Z = append(q.X, x), append(q.Y, y), append(q.Z, z)
				}
				out.Markers = append(out.Markers, q)
			}
			return out
		}
		still := turn(standing)
		res, err := Apply(set, turn(run), &still, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for l := range body.NumLandmarks {
			a, b := base.Track.Paths[l], res.Track.Paths[l]
			if (a == nil) != (b == nil) {
				t.Fatalf("%v is found in one laboratory only", l)
			}
			if a == nil {
				continue
			}
			for k := range a.X {
				if math.Abs(a.X[k]-b.X[k]) > 1e-9 || math.Abs(a.Y[k]-b.Y[k]) > 1e-9 || math.Abs(a.Z[k]-b.Z[k]) > 1e-9 {
					t.Fatalf("%d quarter turns, Y up %v: %v moved in frame %d", quarter, yUp, l, k)
				}
			}
		}
	}
}

func BenchmarkApply(b *testing.B) {
	run, _ := load(b, "rbds", "RBDS001runT35.c3d")
	still, _ := load(b, "rbds", "RBDS001static.c3d")
	set, _ := Detect(run.Labels())
	for b.Loop() {
		if _, err := Apply(set, run, &still, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
