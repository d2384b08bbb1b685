package video

import (
	"fmt"
	"math"
	"slices"
	"sort"
)

// Limits on the picture.
const (
	MaxSidePX     = 8192      // longest side of the picture, pixels
	MaxFrameBytes = 128 << 20 // largest frame in RGB24, bytes
	maxFrames     = 4_000_000 // most frames of a clip: 4.6 h at 240 a second
)

// Clock says where the frame times of a clip come from.
type Clock string

// The clocks, best first.
const (
	ClockPackets Clock = "time stamps of the file"
	ClockFrames  Clock = "time stamps of the decoded frames"
	ClockNominal Clock = "nominal frame rate"
)

// Facts is what a film file says of itself.
type Facts struct {
	Path      string
	Bytes     int64
	Container string // short names of the container format, as ffprobe gives them
	Codec     string // short name of the picture codec: h264, hevc …
	Profile   string
	PixelKind string // ffmpeg's name of the pixel format: yuv420p …
	BitDepth  int    // bits a colour sample
	HDR       bool   // recorded for a high-dynamic-range screen (HLG or PQ)
	HasAudio  bool

	CodedWidthPX  int // as stored, before rotation and pixel aspect
	CodedHeightPX int
	// RotationDeg is the clockwise turn that sets the picture upright: 0, 90,
	// 180 or 270.
	RotationDeg int
	PixelAspect float64 // width of a stored pixel over its height
	WidthPX     int     // upright, with square pixels: the frames Decode gives
	HeightPX    int

	// TimeS is the time of each frame in seconds, strictly increasing, the
	// first 0. FirstS is the time stamp of the first frame in the file.
	TimeS  []float64
	FirstS float64
	Clock  Clock

	NominalHz float64 // the rate the file declares; 0 where it declares none
	MedianHz  float64 // by the median interval of TimeS
	MinHz     float64 // by the longest interval
	MaxHz     float64 // by the shortest
	Variable  bool    // the intervals differ by more than the clock's own grain
	LongGaps  int     // intervals longer than 1.5 medians: frames the camera left out
	DurationS float64 // first frame to the end of the last

	// CaptureRateHz is the rate at which the camera says it filmed, where the
	// file records it; 0 otherwise. CaptureRateFrom names the entry.
	CaptureRateHz   float64
	CaptureRateFrom string

	// Warnings are sentences for the analyst.
	Warnings []string

	stream int     // index of the picture stream in the file
	startS float64 // the file's own start, which seeking counts from
	matrix bool    // the colour matrix is tagged
}

// Frames returns the number of frames.
func (f *Facts) Frames() int { return len(f.TimeS) }

// Slowdown returns how many times slower the file's clock runs than the world,
// by the capture rate the file records; 1 where it records none or where the two
// agree within a fifth.
func (f *Facts) Slowdown() float64 {
	if f.CaptureRateHz <= 0 || f.MedianHz <= 0 {
		return 1
	}
	if k := f.CaptureRateHz / f.MedianHz; k > 1.2 {
		return k
	}
	return 1
}

// Range returns the frames from startS, inclusive, to endS, exclusive, in
// seconds after the first frame; endS of 0 or less means the end of the clip.
func (f *Facts) Range(startS, endS float64) (from, to int) {
	const grain = 1e-6
	from = sort.SearchFloat64s(f.TimeS, startS-grain)
	to = len(f.TimeS)
	if endS > 0 {
		to = max(from, sort.SearchFloat64s(f.TimeS, endS-grain))
	}
	return from, to
}

// setTimes fills in the clock and its statistics from time stamps in seconds,
// in any order; grainS is the length of one tick of the file's clock. It returns
// how many stamps were repeats of another.
func (f *Facts) setTimes(stamps []float64, grainS float64) (repeats int) {
	sorted := slices.Clone(stamps)
	slices.Sort(sorted)
	kept := slices.Compact(sorted)
	repeats = len(stamps) - len(kept)
	f.FirstS = kept[0]
	f.TimeS = make([]float64, len(kept))
	for i, t := range kept {
		f.TimeS[i] = t - f.FirstS
	}
	f.MedianHz, f.MinHz, f.MaxHz, f.Variable, f.LongGaps = 0, 0, 0, false, 0
	if len(kept) < 2 {
		f.DurationS = 0
		return repeats
	}
	gaps := make([]float64, len(kept)-1)
	for i := range gaps {
		gaps[i] = kept[i+1] - kept[i]
	}
	slices.Sort(gaps)
	median := gaps[len(gaps)/2]
	shortest, longest := gaps[0], gaps[len(gaps)-1]
	f.MedianHz, f.MinHz, f.MaxHz = 1/median, 1/longest, 1/shortest
	// The median of whole ticks is itself a whole tick: where the clock is
	// coarse the mean tells the rate better, if no frame was left out.
	slack := math.Max(1.5*grainS, 0.05*median)
	f.Variable = longest-median > slack || median-shortest > slack
	if !f.Variable {
		f.MedianHz = float64(len(gaps)) / f.TimeS[len(f.TimeS)-1]
	}
	for _, g := range gaps {
		if g > 1.5*median {
			f.LongGaps++
		}
	}
	f.DurationS = f.TimeS[len(f.TimeS)-1] + median
	return repeats
}

// rawS returns the file's own time stamp of frame i.
func (f *Facts) rawS(i int) float64 { return f.FirstS + f.TimeS[i] }

// frameAt returns the frame with the file's time stamp rawS, within a quarter
// of the interval to its neighbours, or false where there is none.
func (f *Facts) frameAt(rawS float64) (int, bool) {
	t := rawS - f.FirstS
	i := sort.SearchFloat64s(f.TimeS, t)
	if i == len(f.TimeS) || i > 0 && t-f.TimeS[i-1] < f.TimeS[i]-t {
		i--
	}
	tolerance := math.Inf(1)
	if i > 0 {
		tolerance = f.TimeS[i] - f.TimeS[i-1]
	}
	if i+1 < len(f.TimeS) {
		tolerance = math.Min(tolerance, f.TimeS[i+1]-f.TimeS[i])
	}
	if math.IsInf(tolerance, 1) {
		tolerance = 1
	}
	return i, math.Abs(f.TimeS[i]-t) <= tolerance/4
}

// outputSize returns the size of the frames when the height is limited to
// maxHeightPX (0: not limited), at least one pixel each.
func (f *Facts) outputSize(maxHeightPX int) (w, h int) {
	if maxHeightPX <= 0 || f.HeightPX <= maxHeightPX {
		return f.WidthPX, f.HeightPX
	}
	w = int(math.Round(float64(f.WidthPX) * float64(maxHeightPX) / float64(f.HeightPX)))
	return max(1, w), maxHeightPX
}

// Summary is one line that tells a person what the file holds.
func (f *Facts) Summary() string {
	rate := fmt.Sprintf("%.4g frames/s", f.MedianHz)
	if f.Variable {
		rate += fmt.Sprintf(" (varying, %.3g–%.3g)", f.MinHz, f.MaxHz)
	}
	return fmt.Sprintf("%s, %d × %d, %s, %.1f s, %d frames", f.Codec, f.WidthPX, f.HeightPX, rate, f.DurationS, f.Frames())
}
