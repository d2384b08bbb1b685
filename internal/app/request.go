package app

import (
	"gaitwright/gait/clip"
	"gaitwright/gait/event"
)

// Request is what the analyst asks the main job to do. Zero values mean "not
// given": then it is found from the file, or done without.
type Request struct {
	Files  []string
	Views  []clip.View // by file; shorter or UnknownView where it is to be told from the picture
	Runner RunnerFacts
	Studio string

	SpeedMPS   float64 // belt speed, or running speed overground
	Overground bool
	// BeltLengthM is the belt's length once around and SeamTimesS the times, on
	// the clip's clock, at which its seam passed one place: they give the true
	// speed, which then stands in for SpeedMPS.
	BeltLengthM float64
	SeamTimesS  []float64
	InclinePct  float64 // belt incline in percent; stiffness is not given on an incline

	// CaptureRateHz is the rate at which the film was really taken, for clips
	// whose clock was slowed down when they were exported.
	CaptureRateHz float64
	// StartS and EndS bound what is used, in seconds on the clip's clock; EndS 0
	// is the end. Where both are 0 the steady part is found and used.
	StartS, EndS float64

	Model string // pose model: lite, full, heavy; empty is full
	// Point marks the runner in the picture where several people are seen.
	Point *Point

	StaticName    string // of StaticFile for people; empty means as the file is called
	StaticFile    string // standing trial for marker files; found beside the file where it is named like it
	MarkerSetFile string // the user's own mapping of marker names
	Contacts      event.Method
	// PixelsPerM is the scale at the runner's plane, from a stick or belt mark
	// of known length, by file; 0 where not measured.
	PixelsPerM []float64
	RollDeg    float64 // camera roll, positive turns the picture clockwise to level it
	// YawDeg is how far the side camera stood off square, positive where it stood
	// ahead of the runner; the landmarks are corrected for it. CameraDistanceM is
	// its distance from the middle of the belt; near and far limbs are brought to
	// one scale where it is given. 0 where not known.
	YawDeg          float64
	CameraDistanceM float64

	// EditsFile is an earlier result whose corrections by hand are to be kept;
	// Edits are corrections by the name of the clip's file without its folder, and
	// go before those of the file.
	EditsFile string
	Edits     map[string]Edits

	// Stickers are points to be followed in each film, by the file's place in
	// Files, counted from 0.
	Stickers map[int][]StickerPoint

	Threads int // of the network; 0 is all cores

	belt *BeltSpeed // the timed speed, worked out by settleBelt
	own  *OwnErrors // the studio's own errors, which stand in for the published ones
	// remembered are landmarks that were found in this film before; nil for none.
	remembered trackKeeper
}

// Point is a place in a picture: pixels from the top-left corner, and the time
// on the clip's clock at which to look.
type Point struct {
	X, Y  float64
	TimeS float64
}

// Progress is told how far a long job is. Its methods may be called from one
// goroutine at a time.
type Progress interface {
	// Stage begins a part of the work: what is done, to which file, and how many
	// units it has (frames; 0 where unknown).
	Stage(what, file string, units int)
	// Advance says that n more units are done.
	Advance(n int)
	// Done ends the present stage.
	Done()
}

// NoProgress is a Progress that tells nobody.
type NoProgress struct{}

// Stage does nothing.
func (NoProgress) Stage(string, string, int) {}

// Advance does nothing.
func (NoProgress) Advance(int) {}

// Done does nothing.
func (NoProgress) Done() {}

func (r *Request) viewOf(i int) clip.View {
	if i < len(r.Views) {
		return r.Views[i]
	}
	return clip.UnknownView
}

func (r *Request) pixelsPerMOf(i int) float64 {
	if i < len(r.PixelsPerM) {
		return r.PixelsPerM[i]
	}
	return 0
}
