package track

import (
	"fmt"
	"math"
	"slices"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/num/signal"
)

// Look is what a picture-space track itself says about where the camera stood.
type Look struct {
	View clip.View
	// FacingRight is true where the runner runs toward the right of the
	// picture; only for side views.
	FacingRight bool
	// WidthRatio is the width of shoulders and hips in the picture over the
	// length of the trunk: about 0.1-0.3 from the side, 0.5-0.9 from behind
	// or in front.
	WidthRatio float64
	// Margin is how clearly the view was told, 0 (a toss-up) to 1.
	Margin float64
}

// Thresholds of Look, in shoulder-and-hip widths over trunk length. A body seen
// square from behind shows about 0.6 (biacromial and hip widths of .26 and .19
// of stature over a trunk of .29: Drillis & Contini 1966, from memory), one seen
// square from the side nearly 0; a camera 35 degrees off square shows about
// 0.35.
const (
	sideWidthRatio    = 0.36
	frontalWidthRatio = 0.44
)

// LookAt tells the view from the landmarks of a picture-space track: a narrow
// trunk is a side view, a wide one a rear view where the left hip is on the left
// of the picture and a front view where it is on the right. It returns an error
// where shoulders and hips were hardly seen.
func LookAt(t *Track) (Look, error) {
	ls, rs := t.Paths[body.LeftShoulder], t.Paths[body.RightShoulder]
	lh, rh := t.Paths[body.LeftHip], t.Paths[body.RightHip]
	n := t.Frames()
	ratio, lateral, facing := make([]float64, 0, n), make([]float64, 0, n), make([]float64, 0, 2*n)
	for i := range t.TimeS {
		if !(ls.Seen(i) && rs.Seen(i) && lh.Seen(i) && rh.Seen(i)) {
			continue
		}
		trunk := math.Hypot((ls.X[i]+rs.X[i]-lh.X[i]-rh.X[i])/2, (ls.Y[i]+rs.Y[i]-lh.Y[i]-rh.Y[i])/2)
		if trunk < 4 {
			continue
		}
		dx := ((rs.X[i] - ls.X[i]) + (rh.X[i] - lh.X[i])) / 2
		ratio = append(ratio, (math.Abs(rs.X[i]-ls.X[i])+math.Abs(rh.X[i]-lh.X[i]))/2/trunk)
		lateral = append(lateral, dx/trunk)
		for _, s := range body.Sides {
			heel, toe := t.Paths[body.LeftHeel.On(s)], t.Paths[body.LeftToe.On(s)]
			if heel.Seen(i) && toe.Seen(i) {
				facing = append(facing, (toe.X[i]-heel.X[i])/trunk)
			}
		}
	}
	if len(ratio) < 5 {
		return Look{}, fmt.Errorf("shoulders and hips were seen together in only %d frames, too few to tell from where the camera looked: film so that the whole runner is in the picture", len(ratio))
	}
	look := Look{WidthRatio: signal.MedianInPlace(ratio)}
	mid := (sideWidthRatio + frontalWidthRatio) / 2
	look.Margin = math.Min(1, math.Abs(look.WidthRatio-mid)/mid)
	if look.WidthRatio < mid {
		look.FacingRight = signal.MedianInPlace(facing) > 0
		look.View = clip.LeftSide
		if look.FacingRight {
			look.View = clip.RightSide
		}
		return look, nil
	}
	look.View = clip.Front
	if signal.MedianInPlace(lateral) > 0 {
		look.View = clip.Rear
	}
	return look, nil
}

// CheckView compares the view the analyst declared with what the landmarks say.
// It returns an error where they plainly disagree, and a caution where the
// camera stands off square.
func CheckView(declared clip.View, look Look) (caution string, err error) {
	sideways := look.View.Sagittal()
	switch {
	case declared.Sagittal() && !sideways && look.WidthRatio > frontalWidthRatio,
		declared.Frontal() && sideways && look.WidthRatio < sideWidthRatio,
		declared.Frontal() && !sideways && declared != look.View,
		declared.Sagittal() && sideways && declared != look.View:
		return "", fmt.Errorf("the view was given as %q, but the picture looks like %q (shoulders and hips are %.0f %% of the trunk's length wide%s): check --view, or leave it out and it is told from the picture; a front camera that mirrors its picture also does this",
			declared, look.View, 100*look.WidthRatio, facingWords(look))
	case declared.Sagittal() && look.WidthRatio > 0.30:
		return "the camera seems not to stand square to the side of the runner; angles from the side read too small", nil
	}
	return "", nil
}

func facingWords(l Look) string {
	if !l.View.Sagittal() {
		return ""
	}
	if l.FacingRight {
		return ", toes to the right"
	}
	return ", toes to the left"
}

// ToRunner turns a picture-space track into runner space: forward and up for a
// side view, up and rightward for a rear or front view. The picture is first
// turned by rollDeg (positive turns it clockwise). With pixelsPerM 0 the result
// stays in pixels. Forward in a left-side view is to the left of the picture,
// in a right-side view to the right.
func ToRunner(t *Track, view clip.View, pixelsPerM, rollDeg float64) (*Track, error) {
	if t.Space != Picture {
		return nil, fmt.Errorf("the track is already in runner space")
	}
	unit, k := Pixel, 1.0
	if pixelsPerM > 0 {
		unit, k = Metre, 1/pixelsPerM
	}
	var signX float64
	switch view {
	case clip.LeftSide, clip.Front:
		signX = -1
	case clip.RightSide, clip.Rear:
		signX = 1
	default:
		return nil, fmt.Errorf("view %q cannot be turned into the runner's axes: give --view left, right, rear or front", view)
	}
	sin, cos := math.Sincos(rollDeg * math.Pi / 180)
	out := New(Runner, unit, slices.Clone(t.TimeS))
	for l, p := range t.Paths {
		if p == nil {
			continue
		}
		q := *p // confidence and marks are shared: neither track changes them
		across, up := make([]float64, len(p.X)), make([]float64, len(p.X))
		for i := range p.X {
			// Turning the picture clockwise by r takes a point (x right, y
			// down) to (x cos r - y sin r, x sin r + y cos r).
			across[i] = signX * k * (p.X[i]*cos - p.Y[i]*sin)
			up[i] = -k * (p.X[i]*sin + p.Y[i]*cos)
		}
		q.X, q.Y, q.Z = nil, up, nil
		if view.Sagittal() {
			q.X = across
		} else {
			q.Z = across
		}
		out.Paths[l] = &q
	}
	return out, nil
}
