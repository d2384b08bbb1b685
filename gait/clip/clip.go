// Package clip says what is known of one film or marker file before anything is
// measured in it: from where it was seen, on which clock, at what scale and over
// what belt.
package clip

import "fmt"

// View is where the camera stood, named by the side of the runner it saw.
type View uint8

// The views. Spatial is a marker file, which sees all three axes.
const (
	UnknownView View = iota
	LeftSide
	RightSide
	Rear
	Front
	Spatial
)

var viewNames = [...]string{"unknown", "left", "right", "rear", "front", "spatial"}

// String returns the view's name: left, right, rear, front, spatial or unknown.
func (v View) String() string {
	if int(v) < len(viewNames) {
		return viewNames[v]
	}
	return fmt.Sprintf("view(%d)", uint8(v))
}

// Sagittal tells whether the view shows the forward and upward axes.
func (v View) Sagittal() bool { return v == LeftSide || v == RightSide || v == Spatial }

// Frontal tells whether the view shows the rightward and upward axes.
func (v View) Frontal() bool { return v == Rear || v == Front || v == Spatial }

// MarshalText writes the view's name.
func (v View) MarshalText() ([]byte, error) { return []byte(v.String()), nil }

// UnmarshalText reads a view's name.
func (v *View) UnmarshalText(b []byte) error {
	p, err := ParseView(string(b))
	if err != nil {
		return err
	}
	*v = p
	return nil
}

// ParseView reads the name of a view.
func ParseView(text string) (View, error) {
	for i, n := range viewNames {
		if n == text {
			return View(i), nil
		}
	}
	return UnknownView, fmt.Errorf("view %q is not known: write left, right (the side of the runner toward the camera), rear or front", text)
}

// Surface is what the runner ran on.
type Surface uint8

// The surfaces. On a treadmill the stance foot travels backward at belt speed;
// overground it stands still.
const (
	Treadmill Surface = iota
	Overground
)

// String returns "treadmill" or "overground".
func (s Surface) String() string {
	if s == Overground {
		return "overground"
	}
	return "treadmill"
}

// MarshalText writes the surface's name.
func (s Surface) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// ScaleSource says how the scale of a picture was found, best first.
type ScaleSource string

// The sources of scale. A marker file is in metres already.
const (
	NoScale         ScaleSource = ""
	ScaleFromFile   ScaleSource = "file"
	ScaleFromStick  ScaleSource = "known length in the runner's plane"
	ScaleFromBelt   ScaleSource = "belt speed of the stance foot"
	ScaleFromLeg    ScaleSource = "leg length"
	ScaleFromHeight ScaleSource = "height"
)

// Scale converts the picture to metres at the runner's plane.
type Scale struct {
	PixelsPerM  float64     // pixels a metre; 0 where unknown
	RelativeSD  float64     // one standard deviation of the scale as a fraction of it
	Source      ScaleSource // where it came from
	Description string      // one sentence for the analyst
}

// Known tells whether lengths can be given.
func (s Scale) Known() bool { return s.PixelsPerM > 0 }

// Info is what is known of one clip. Lengths are metres, speeds metres a
// second, times seconds on the clip's own clock.
type Info struct {
	Name        string  // file name, for messages
	View        View    // where the camera stood
	Surface     Surface // treadmill or overground
	FrameRateHz float64 // median frame rate of the clip's own clock after any slow-motion correction
	Slowdown    float64 // how many times slower the file's clock ran than the world; 1 for ordinary clips
	WidthPX     int     // after rotation; 0 for marker files
	HeightPX    int
	Scale       Scale
	// BeltSpeedMPS is the belt (or running) speed in metres a second; 0 where it
	// is not known. BeltSpeedSource says where it came from.
	BeltSpeedMPS    float64
	BeltSpeedSource string
	// BeltSpeedRelativeSD is one standard deviation of that speed as a fraction
	// of it; 0 where it is not known.
	BeltSpeedRelativeSD float64
	// RollDeg is the camera's roll in degrees, positive where the picture has to
	// be turned clockwise to be level.
	RollDeg float64
	// YawDeg is how far a side camera stands off the perpendicular, degrees,
	// positive where it stands ahead of the runner: as it was given, and the
	// landmarks are corrected for it. OffSquareDeg is what the landmarks still show
	// of it.
	YawDeg, OffSquareDeg float64
	// CameraDistanceM is the distance from the camera to the runner in metres; 0
	// where unknown.
	CameraDistanceM float64
}
