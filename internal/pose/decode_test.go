package pose

import (
	"math"
	"slices"
	"testing"

	"gaitwright/gait/body"
)

func TestDecodeDetections(t *testing.T) {
	boxes, logits := make([]float32, detectAnchors*detectValues), slices.Repeat([]float32{-20}, detectAnchors)
	// put makes anchor i see a person with hips at (x, y) of the detector's
	// picture and the crown of the circle r above.
	put := func(i int, logit, x, y, r float64) {
		v := boxes[i*detectValues:]
		ax, ay := anchors[i][0]*detectSize, anchors[i][1]*detectSize
		for k, q := range [...]float64{x - ax, y - r/2 - ay, r, r, x - ax, y - ay, x - ax, y - r - ay} {
			v[k] = float32(q)
		}
		logits[i] = float32(logit)
	}
	letterbox := Region{X: 500, Y: 250, SidePX: 1000} // a picture of 1000×500
	put(1700, 3, 60, 112, 20)
	put(1701, 2, 62, 112, 20) // the same person again
	put(20, 1, 160, 110, 30)  // another
	put(30, -1, 100, 100, 30) // nobody: the score is under a half
	got := decodeDetections(boxes, logits, letterbox)
	if len(got) != 2 {
		t.Fatalf("%d people, want 2", len(got))
	}
	s3, s2 := sigmoid(3), sigmoid(2)
	const px = 1000.0 / detectSize
	want := Region{X: px * (60*s3 + 62*s2) / (s3 + s2), Y: px*112 - 250, SidePX: 2 * 1.25 * 20 * px}
	if r := got[0].Region; math.Abs(r.X-want.X)+math.Abs(r.Y-want.Y)+math.Abs(r.SidePX-want.SidePX)+math.Abs(r.AngleRad) > 0.01 {
		t.Errorf("first at %+v, want %+v", r, want)
	}
	if math.Abs(got[1].Region.X-px*160) > 0.01 || math.Abs(got[1].Score-sigmoid(1)) > 1e-6 {
		t.Errorf("second at %+v", got[1])
	}
	nan := float32(math.NaN())
	for i := range boxes {
		boxes[i] = nan
	}
	for _, d := range decodeDetections(boxes, logits, letterbox) {
		if d.Region.valid(1000, 500) {
			t.Error("a place that is no number was taken for valid")
		}
	}
}

func TestAnchors(t *testing.T) {
	for _, c := range []struct {
		i    int
		x, y float64
	}{
		{0, 0.5 / 28, 0.5 / 28}, {1, 0.5 / 28, 0.5 / 28}, {2, 1.5 / 28, 0.5 / 28}, {56, 0.5 / 28, 1.5 / 28},
		{1568, 0.5 / 14, 0.5 / 14}, {1960, 0.5 / 7, 0.5 / 7}, {1966, 1.5 / 7, 0.5 / 7}, {2253, 6.5 / 7, 6.5 / 7},
	} {
		if anchors[c.i] != [2]float64{c.x, c.y} {
			t.Errorf("anchor %d is at %v, want (%v, %v)", c.i, anchors[c.i], c.x, c.y)
		}
	}
}

func TestRefine(t *testing.T) {
	heat := slices.Repeat([]float32{-30}, heatSize*heatSize)
	at := func(x, y int, v float32) { heat[y*heatSize+x] = v }
	if u, v := refine(heat, 0.5, 0.25); u != 0.5 || v != 0.25 {
		t.Errorf("a cold map moved the point to (%v, %v)", u, v)
	}
	at(33, 17, 2) // logits: as probabilities 0.88 each
	at(34, 17, 2)
	if u, v := refine(heat, 0.5, 0.25); math.Abs(u-33.5/64) > 1e-6 || math.Abs(v-17.0/64) > 1e-6 {
		t.Errorf("moved to (%v, %v), want (33.5, 17) cells", 64*u, 64*v)
	}
	at(33, 17, -0.1) // below one half: not sure enough
	at(34, 17, -0.1)
	if u, _ := refine(heat, 0.5, 0.25); u != 0.5 {
		t.Errorf("a lukewarm map moved the point to %v", u)
	}
	for _, p := range [][2]float64{{-0.1, 0.5}, {1, 0.5}, {0.5, 1.2}, {math.NaN(), 0.5}} {
		if u, v := refine(heat, p[0], p[1]); v != p[1] || (u != p[0] && !math.IsNaN(u)) {
			t.Errorf("a point outside the map, %v, moved to (%v, %v)", p, u, v)
		}
	}
}

// TestDecodeLandmarksTurned checks that points and metres turn with the region.
func TestDecodeLandmarksTurned(t *testing.T) {
	raw, heat, world := make([]float32, 5*points), slices.Repeat([]float32{-30}, points*heatSize*heatSize), make([]float32, 3*points)
	k := int(body.LeftKnee)
	copy(raw[5*k:], []float32{192, 128, 25.6, 2, 30})
	copy(world[3*k:], []float32{0.3, 0.1, -0.2})
	copy(raw[5*auxCentre:], []float32{128, 128})
	copy(raw[5*auxRadius:], []float32{128, 64})
	r := Region{X: 400, Y: 300, SidePX: 512, AngleRad: math.Pi / 2}
	p := decodeLandmarks(raw, []float32{0.9}, heat, world, r)
	if math.Abs(p.X[k]-400) > 1e-6 || math.Abs(p.Y[k]-428) > 1e-6 || math.Abs(float64(p.Z[k])-51.2) > 1e-4 {
		t.Errorf("knee at (%.2f, %.2f, %.2f), want (400, 428, 51.2)", p.X[k], p.Y[k], p.Z[k])
	}
	if w := p.World[k]; math.Abs(float64(w[0])+0.1) > 1e-6 || math.Abs(float64(w[1])-0.3) > 1e-6 || w[2] != -0.2 {
		t.Errorf("knee in metres at %v, want (-0.1, 0.3, -0.2)", w)
	}
	if c := p.Confidence(body.LeftKnee); math.Abs(c-0.9*sigmoid(2)) > 1e-6 {
		t.Errorf("confidence %.4f, want %.4f", c, 0.9*sigmoid(2))
	}
	// The circle of the next frame has a radius of 64 crop pixels, 128 of the picture's.
	if n := p.next; math.Abs(n.SidePX-2*1.25*128) > 1e-6 || math.Abs(n.AngleRad-math.Pi/2) > 1e-9 || math.Abs(n.X-400) > 1e-6 {
		t.Errorf("next region %+v", n)
	}
}
