package pose

import (
	"math"

	"gaitwright/gait/body"
)

// The landmark network's input and outputs.
const (
	cropSize  = 256
	points    = 39 // 33 of the body and six that serve the network itself
	heatSize  = 64
	heatReach = 3   // the refinement looks at 7×7 cells
	heatLeast = 0.5 // and acts where the map is at least this sure
	// The auxiliary points that give the next frame's region.
	auxCentre, auxRadius = 33, 34
)

// A Pose is one person's landmarks in one frame, indexed by body.Landmark.
type Pose struct {
	Found  bool                  // whether anybody was seen; where false every coordinate is NaN
	Score  float64               // how sure the network is that a person is there, 0 to 1
	Region Region                // where it looked
	X      [body.NumPose]float64 // picture pixels, from the left edge
	Y      [body.NumPose]float64 // picture pixels, from the top edge
	// Z is the depth behind the hips in picture pixels, negative toward the
	// camera. It is an estimate of the network and much less exact than X and Y.
	Z          [body.NumPose]float32
	Visibility [body.NumPose]float32 // 0 to 1: seen rather than hidden
	Presence   [body.NumPose]float32 // 0 to 1: inside the picture
	// World is each landmark in metres about the hips' middle: X right in the
	// picture, Y down, Z away from the camera; the network's estimate for a
	// person of average size. Its use is to tell which leg is nearer.
	World [body.NumPose][3]float32

	next Region // where to look in the following frame
}

// Confidence returns how far landmark l can be trusted, 0 to 1: visible and
// inside the picture, in a person who is there.
func (p *Pose) Confidence(l body.Landmark) float64 {
	if !p.Found {
		return 0
	}
	return p.Score * float64(min(p.Visibility[l], p.Presence[l]))
}

// nobody returns the pose of a frame in which nobody was found.
func nobody() Pose {
	var p Pose
	nan := float32(math.NaN())
	for i := range p.X {
		p.X[i], p.Y[i], p.Z[i] = math.NaN(), math.NaN(), nan
		p.World[i] = [3]float32{nan, nan, nan}
	}
	return p
}

// decodeLandmarks reads the landmark network's outputs for a region: 39 points of
// x, y, z in crop pixels and the logits of visibility and presence; the score;
// the heat maps, one plane of 64×64 logits a point; and the points in metres.
func decodeLandmarks(raw, score, heat, world []float32, r Region) Pose {
	p := Pose{Found: true, Score: float64(score[0]), Region: r}
	sin, cos := math.Sincos(r.AngleRad)
	var ax, ay [points]float64
	for i := range points {
		v := raw[5*i:][:5]
		u, w := refine(heat[i*heatSize*heatSize:][:heatSize*heatSize], float64(v[0])/cropSize, float64(v[1])/cropSize)
		ax[i], ay[i] = r.place(u, w)
		if i >= int(body.NumPose) {
			continue
		}
		p.X[i], p.Y[i] = ax[i], ay[i]
		p.Z[i] = v[2] / cropSize * float32(r.SidePX)
		p.Visibility[i], p.Presence[i] = float32(sigmoid(float64(v[3]))), float32(sigmoid(float64(v[4])))
		m := world[3*i:][:3]
		x, y := float64(m[0]), float64(m[1])
		p.World[i] = [3]float32{float32(x*cos - y*sin), float32(x*sin + y*cos), m[2]}
	}
	p.next = regionFrom(ax[auxCentre], ay[auxCentre], ax[auxRadius], ay[auxRadius])
	return p
}

// refine moves a point, in fractions of the crop, to the centre of mass of the
// heat map around it. The map holds logits: without the sigmoid its values are
// far below the threshold and nothing would ever move.
func refine(heat []float32, u, v float64) (float64, float64) {
	if !(u >= 0 && u < 1 && v >= 0 && v < 1) {
		return u, v
	}
	col, row := int(u*heatSize), int(v*heatSize)
	var sum, sx, sy, most float64
	for y := max(0, row-heatReach); y <= min(heatSize-1, row+heatReach); y++ {
		for x := max(0, col-heatReach); x <= min(heatSize-1, col+heatReach); x++ {
			h := sigmoid(float64(heat[y*heatSize+x]))
			sum += h
			sx += h * float64(x)
			sy += h * float64(y)
			most = max(most, h)
		}
	}
	if most < heatLeast || !(sum > 0) {
		return u, v
	}
	return sx / sum / heatSize, sy / sum / heatSize
}
