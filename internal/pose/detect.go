package pose

import (
	"cmp"
	"math"
	"slices"
)

// The detector's input and its grid of anchors: 28² cells of two anchors, 14² of
// two, 7² of six, all of unit size and centred in their cells.
const (
	detectSize    = 224
	detectAnchors = 28*28*2 + 14*14*2 + 7*7*6
	detectValues  = 12
	detectScore   = 0.5 // a candidate's least score
	detectOverlap = 0.3 // boxes that overlap more are one person
)

var anchors = func() (a [detectAnchors][2]float64) {
	k := 0
	for _, layer := range [...]struct{ cells, per int }{{28, 2}, {14, 2}, {7, 6}} {
		for y := range layer.cells {
			for x := range layer.cells {
				for range layer.per {
					a[k] = [2]float64{(float64(x) + 0.5) / float64(layer.cells), (float64(y) + 0.5) / float64(layer.cells)}
					k++
				}
			}
		}
	}
	return a
}()

// A Detection is a person found in a whole picture.
type Detection struct {
	Score  float64 // 0 to 1
	Region Region  // where to look for the landmarks
	box    [4]float64
	keys   [8]float64
}

// decodeDetections turns the detector's output into persons, best first. The
// letterbox is the square region of the picture that the detector saw.
func decodeDetections(boxes, logits []float32, letterbox Region) []Detection {
	var all []Detection
	for i := range detectAnchors {
		score := sigmoid(float64(logits[i]))
		if !(score >= detectScore) {
			continue
		}
		v := boxes[i*detectValues:][:detectValues]
		at := func(k int) (x, y float64) {
			return letterbox.place(float64(v[k])/detectSize+anchors[i][0], float64(v[k+1])/detectSize+anchors[i][1])
		}
		d := Detection{Score: score}
		d.box[0], d.box[1] = at(0)
		d.box[2] = float64(v[2]) / detectSize * letterbox.SidePX
		d.box[3] = float64(v[3]) / detectSize * letterbox.SidePX
		for k := 0; k < len(d.keys); k += 2 {
			d.keys[k], d.keys[k+1] = at(4 + k)
		}
		all = append(all, d)
	}
	return mergeDetections(all)
}

// mergeDetections joins candidates whose boxes overlap into their mean, weighted
// by score (blending non-maximum suppression).
func mergeDetections(all []Detection) []Detection {
	slices.SortStableFunc(all, func(a, b Detection) int { return cmp.Compare(b.Score, a.Score) })
	var out []Detection
	for len(all) > 0 {
		first := all[0]
		var rest []Detection
		var weight float64
		var keys [8]float64
		for i, d := range all {
			if i > 0 && !(boxOverlap(first.box, d.box) > detectOverlap) {
				rest = append(rest, d)
				continue
			}
			weight += d.Score
			for k := range keys {
				keys[k] += d.Score * d.keys[k]
			}
		}
		for k := range keys {
			first.keys[k] = keys[k] / weight
		}
		first.Region = regionFrom(first.keys[0], first.keys[1], first.keys[2], first.keys[3])
		out = append(out, first)
		all = rest
	}
	return out
}

// boxOverlap returns intersection over union of boxes given as centre and size.
func boxOverlap(a, b [4]float64) float64 {
	w := min(a[0]+a[2]/2, b[0]+b[2]/2) - max(a[0]-a[2]/2, b[0]-b[2]/2)
	h := min(a[1]+a[3]/2, b[1]+b[3]/2) - max(a[1]-a[3]/2, b[1]-b[3]/2)
	if !(w > 0 && h > 0) {
		return 0
	}
	return w * h / (a[2]*a[3] + b[2]*b[3] - w*h)
}

func sigmoid(x float64) float64 { return 1 / (1 + math.Exp(-x)) }
