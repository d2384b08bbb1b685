package video

import (
	"bytes"
	"encoding/json"
	"flag"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"gaitwright/gait/body"
)

var update = flag.Bool("update", false, "write the golden files anew")

// stance is an invented runner seen from the left, standing on the right foot.
func stance() [body.NumLandmarks]Point {
	var p [body.NumLandmarks]Point
	for l := range p {
		p[l] = Unseen
	}
	for l, xy := range map[body.Landmark][2]float64{
		body.LeftShoulder: {205, 170}, body.RightShoulder: {219, 176}, body.LeftElbow: {243, 232}, body.RightElbow: {178, 236},
		body.LeftWrist: {205, 270}, body.RightWrist: {138, 214}, body.LeftHip: {226, 300}, body.RightHip: {238, 304},
		body.LeftKnee: {196, 384}, body.LeftAnkle: {268, 428}, body.LeftHeel: {292, 420}, body.LeftToe: {276, 484},
		body.RightKnee: {224, 396}, body.RightAnkle: {252, 494}, body.RightHeel: {270, 514}, body.RightToe: {206, 520},
	} {
		p[l] = Point{XPX: xy[0], YPX: xy[1], Confidence: 0.9}
	}
	p[body.RightWrist].Confidence = 0.3
	p[body.LeftHeel].Confidence = 0.2
	return p
}

func stanceOverlay(t *testing.T) Overlay {
	o := Overlay{Points: stance(), Near: body.Left, ContactsKnown: true, Caption: "Invented runner · 3.2 m/s", Frame: 181, TimeS: 1.2066, Legend: true, Panel: true}
	o.OnGround[body.Right] = true
	knee, ok := KneeFlexion(&o.Points, body.Left, math.NaN())
	if !ok {
		t.Fatal("no knee")
	}
	lean, ok := TrunkLean(&o.Points, math.NaN())
	if !ok {
		t.Fatal("no trunk")
	}
	o.Angles = []Angle{knee, lean}
	return o
}

// backdrop has light, dark and coloured parts, on each of which the drawing must
// show.
func backdrop() *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, 420, 600))
	for y := range 600 {
		for x := range 420 {
			c := color.RGBA{uint8(225 - y/5), uint8(222 - y/6), uint8(214 - y/7), 255}
			if x > 215 && x < 330 && y > 120 {
				c = color.RGBA{uint8(40 + y/12), 52, 60, 255}
			}
			img.SetRGBA(x, y, c)
		}
	}
	return img
}

func TestAnnotateGolden(t *testing.T) {
	img := backdrop()
	Annotate(img, stanceOverlay(t))
	path := filepath.Join("testdata", "annotated.png")
	if *update {
		var b bytes.Buffer
		if err := png.Encode(&b, img); err != nil {
			t.Fatal(err)
		}
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	content, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	golden, err := png.Decode(bytes.NewReader(content))
	if err != nil {
		t.Fatal(err)
	}
	want := image.NewRGBA(golden.Bounds())
	draw.Draw(want, want.Rect, golden, image.Point{}, draw.Src)
	if want.Rect != img.Rect {
		t.Fatalf("size %v, want %v", img.Rect, want.Rect)
	}
	// Edges may round differently on another processor.
	worst, off := 0, 0
	for i := range img.Pix {
		d := int(img.Pix[i]) - int(want.Pix[i])
		worst = max(worst, d, -d)
		if d > 8 || d < -8 {
			off++
		}
	}
	if worst > 40 || off > 60 {
		t.Errorf("%d samples differ, by up to %d; look at the picture and run with -update if it is right", off, worst)
	}
}

// TestAnnotateMarksTheLandmarks: the colour of the side stands at each sure
// landmark, and nothing is drawn far from the runner and the panel.
func TestAnnotateMarksTheLandmarks(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 420, 600))
	draw.Draw(img, img.Rect, image.NewUniform(color.Gray{128}), image.Point{}, draw.Src)
	o := stanceOverlay(t)
	o.Angles, o.Panel = nil, false
	Annotate(img, o)
	for l, p := range o.Points {
		side := body.Landmark(l).Side()
		if !p.Seen() || p.Confidence < SureFrom || side == body.Right && l != int(body.RightToe) {
			continue // the far side may be covered
		}
		got, want := img.RGBAAt(int(p.XPX), int(p.YPX)), inkOf(side)
		if d := math.Abs(float64(got.R)-float64(want.R)) + math.Abs(float64(got.B)-float64(want.B)); d > 60 {
			t.Errorf("%s: %v, want %v", body.Landmark(l), got, want)
		}
	}
	grey := color.RGBA{128, 128, 128, 255}
	for y := range 600 {
		for x := range 420 {
			if (x < 110 || x > 330 || y < 150 || y > 550) && img.RGBAAt(x, y) != grey {
				t.Fatalf("a mark at %d, %d", x, y)
			}
		}
	}
}

// A greater weight covers more of the picture, and none is a weight of 1.
func TestAnnotateWeight(t *testing.T) {
	marked := func(weight float64) (n int) {
		img := image.NewRGBA(image.Rect(0, 0, 420, 600))
		o := stanceOverlay(t)
		o.Panel, o.Weight = false, weight
		Annotate(img, o)
		for i := 3; i < len(img.Pix); i += 4 {
			if img.Pix[i] != 0 {
				n++
			}
		}
		return n
	}
	none, one, two := marked(0), marked(1), marked(2)
	if none != one || float64(two) < 1.4*float64(one) {
		t.Errorf("%d dots marked without a weight, %d with 1, %d with 2", none, one, two)
	}
}

func TestAngles(t *testing.T) {
	var p [body.NumLandmarks]Point
	for l := range p {
		p[l] = Unseen
	}
	if _, ok := KneeFlexion(&p, body.Left, 10); ok {
		t.Error("a knee that is not seen has an angle")
	}
	if _, ok := TrunkLean(&p, 10); ok {
		t.Error("a trunk that is not seen has a lean")
	}
	set := func(l body.Landmark, x, y float64) { p[l] = Point{XPX: x, YPX: y, Confidence: 1} }
	for _, c := range []struct{ bend, turn float64 }{{0, 0}, {30, 0}, {90, 40}, {120, -170}, {45, 179}} {
		sin, cos := math.Sincos(c.turn * math.Pi / 180)
		at := func(l body.Landmark, x, y float64) { set(l, 500+x*cos-y*sin, 500+x*sin+y*cos) }
		s, k := math.Sincos(c.bend * math.Pi / 180)
		at(body.RightHip, 0, -100)
		at(body.RightKnee, 0, 0)
		at(body.RightAnkle, 90*s, 90*k)
		a, ok := KneeFlexion(&p, body.Right, math.NaN())
		if !ok || math.Abs(a.ValueDeg-c.bend) > 1e-9 || math.Abs(math.Abs(a.To-a.From)*180/math.Pi-c.bend) > 1e-9 {
			t.Errorf("bend %g turned %g: %+v", c.bend, c.turn, a)
		}
	}
	set(body.LeftHip, 0, 100)
	set(body.RightHip, 10, 100)
	set(body.LeftShoulder, 0+20, 100-math.Sqrt(3)*20)
	set(body.RightShoulder, 10+20, 100-math.Sqrt(3)*20)
	if a, ok := TrunkLean(&p, math.NaN()); !ok || math.Abs(a.ValueDeg-30) > 1e-9 {
		t.Errorf("lean %+v", a)
	}
	if a, _ := TrunkLean(&p, 12.5); a.ValueDeg != 12.5 {
		t.Errorf("the measured value was not kept: %g", a.ValueDeg)
	}
}

// TestAnnotateTakesAnything: no coordinate, angle, size or text may break it.
func TestAnnotateTakesAnything(t *testing.T) {
	wild := []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e300, -1e9, 1e5, -40, 0, 17.5}
	for _, size := range []image.Rectangle{image.Rect(0, 0, 1, 1), image.Rect(0, 0, 64, 3), image.Rect(10, 20, 330, 260)} {
		for i, a := range wild {
			for _, b := range wild {
				img := image.NewRGBA(size)
				o := Overlay{Caption: string(make([]rune, 300)), TimeS: a, Frame: math.MinInt, ContactsKnown: true, OnGround: [3]bool{true, true, true}, Legend: true, Panel: i%2 == 0}
				for l := range o.Points {
					o.Points[l] = Point{XPX: a, YPX: b, Confidence: a}
					if l%2 == 0 {
						o.Points[l] = Point{XPX: b, YPX: 5, Confidence: b}
					}
				}
				o.Angles = []Angle{{Vertex: o.Points[0], From: a, To: b, LengthPX: b, ValueDeg: a}, {Vertex: Point{XPX: 5, YPX: 5}, From: b, To: a, LengthPX: a, ValueDeg: b}}
				Annotate(img, o)
			}
		}
	}
}

// TestAnnotateWithinASubImage: a picture that does not start at 0, 0 is drawn the
// same.
func TestAnnotateWithinASubImage(t *testing.T) {
	plain := backdrop()
	big := image.NewRGBA(image.Rect(-7, -9, 500, 700))
	sub := big.SubImage(image.Rect(30, 40, 450, 640)).(*image.RGBA)
	draw.Draw(sub, sub.Rect, plain, image.Point{}, draw.Src)
	o := stanceOverlay(t)
	Annotate(plain, o)
	Annotate(sub, o)
	for y := range 600 {
		for x := range 420 {
			if plain.RGBAAt(x, y) != sub.RGBAAt(x+30, y+40) {
				t.Fatalf("differs at %d, %d", x, y)
			}
		}
	}
	for y := big.Rect.Min.Y; y < big.Rect.Max.Y; y++ {
		for x := big.Rect.Min.X; x < big.Rect.Max.X; x++ {
			if !(image.Point{x, y}).In(sub.Rect) && big.RGBAAt(x, y) != (color.RGBA{}) {
				t.Fatalf("a mark outside the picture at %d, %d", x, y)
			}
		}
	}
}

// shared returns a file of the shared test data, or skips.
func shared(t testing.TB, name ...string) string {
	t.Helper()
	root := os.Getenv("GAITWRIGHT_SHARED")
	if root == "" {
		root = filepath.Join("..", "..", "..", "shared")
	}
	path := filepath.Join(append([]string{root, "data"}, name...)...)
	if _, err := os.Stat(path); err != nil {
		t.Skip("shared test data are not here: ", err)
	}
	return path
}

// TestRenderedClips: facts and pictures of the rendered treadmill clips agree
// with their truth files, and the middle of the trunk shows the runner's shirt.
func TestRenderedClips(t *testing.T) {
	for name, shirt := range map[string]func(r, g, b int) bool{
		"RBDS001-35-side": func(r, g, b int) bool { return r > b+60 && r > g+30 }, // orange
		"RBDS012-35-rear": func(r, g, b int) bool { return b > r+40 && g > r+40 }, // teal
	} {
		content, err := os.ReadFile(shared(t, "clips", name+".json"))
		if err != nil {
			t.Fatal(err)
		}
		var truth struct {
			FPS           float64 `json:"fps"`
			Frames        int     `json:"frames"`
			Width, Height int
			Points        map[string][][2]float64 `json:"points_px"`
		}
		if err := json.Unmarshal(content, &truth); err != nil {
			t.Fatal(err)
		}
		f := probeClip(t, shared(t, "clips", name+".mp4"))
		if f.Frames() != truth.Frames || f.WidthPX != truth.Width || f.HeightPX != truth.Height || math.Abs(f.MedianHz-truth.FPS) > 1e-6 {
			t.Errorf("%s: %s", name, f.Summary())
		}
		for i, s := range f.TimeS {
			if math.Abs(s-float64(i)/truth.FPS) > 1e-9 {
				t.Fatalf("%s: frame %d at %.9f s", name, i, s)
			}
		}
		frames := []int{0, 333, 1499}
		pictures, err := Stills(t.Context(), f, frames, 640)
		if err != nil {
			t.Fatal(err)
		}
		for k, i := range frames {
			x, y := 0.0, 0.0
			for _, point := range []string{"Lshoulder", "Rshoulder", "Lhip", "Rhip"} {
				x += truth.Points[point][i][0] / 4 * 640 / float64(f.HeightPX)
				y += truth.Points[point][i][1] / 4 * 640 / float64(f.HeightPX)
			}
			if c := pictures[k].RGBAAt(int(x), int(y)); !shirt(int(c.R), int(c.G), int(c.B)) {
				t.Errorf("%s, frame %d: the middle of the trunk is %v", name, i, c)
			}
		}
	}
}

func BenchmarkAnnotate1080p(b *testing.B) {
	img := image.NewRGBA(image.Rect(0, 0, 1920, 1080))
	o := Overlay{Points: stance(), Near: body.Left, ContactsKnown: true, Caption: "Invented runner", TimeS: 1.2, Legend: true, Panel: true}
	for l := range o.Points {
		o.Points[l].XPX = 2*o.Points[l].XPX + 400
		o.Points[l].YPX *= 1.9
	}
	for b.Loop() {
		Annotate(img, o)
	}
}
