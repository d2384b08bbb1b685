package app

import (
	"context"
	"fmt"
	"math"

	"gaitwright/gait/clip"
	"gaitwright/internal/video"
	"gaitwright/num/quantity"
	"gaitwright/num/signal"
)

// BeltSeam is what a belt check needs: the length of the belt once around, and
// the times, in order, at which its seam (or a strip of tape on it) passed one
// fixed place.
type BeltSeam struct {
	LengthM     float64
	LengthSDM   float64 // error of the length, one standard deviation; 0 is beltLengthSDM
	TimesS      []float64
	FrameRateHz float64 // of the film the times were read from; 0 is slowestFilmHz
}

// beltLengthSDM is the error of a belt's length measured once around with a tape
// along the middle, or taken from the maker's sheet (own estimate).
const beltLengthSDM = 0.005

// slowestFilmHz is taken for the frame rate where it is not known: with it the
// error is rather too large than too small.
const slowestFilmHz = 30

// oddTurn is by how much of a turn the time between two passes may be off a
// whole number of turns before one of them must be a slip.
const oddTurn = 0.15

// BeltSpeed is the result of a belt check.
type BeltSpeed struct {
	SpeedMPS   float64 // mean over whole turns, slowing under each foot included
	RelativeSD float64 // one standard deviation as a fraction of the speed
	TurnS      float64 // time of one turn
	Turns      int     // from the first to the last time
	Skipped    int     // passes that were not among the times
	ReadingSDS float64 // error of one time, from the frame rate and the scatter
}

// Speed returns the belt's true speed: its length over the time of a turn, the
// slope of a straight line through the times by least squares. The error holds
// the length's and that of the times: the scatter about the line, and no less
// than the frame interval over √12. A pass that was not noted is recognised by a
// gap of two turns; times that fit no whole number of turns are refused.
func (b BeltSeam) Speed() (BeltSpeed, error) {
	n := len(b.TimesS)
	fail := func(mend, what string, args ...any) (BeltSpeed, error) {
		return BeltSpeed{}, problem(KindUsage, "", mend, what, args...)
	}
	if !(b.LengthM >= 1 && b.LengthM <= 20) {
		return fail("Measure it once around, or mark the belt and roll it by hand; most are 2.5 to 4.5 m.", "a belt length of %.4g m cannot be right (1 to 20 m)", b.LengthM)
	}
	if n < 2 {
		return fail("Give the times of several passes, such as 1.20s,2.27s,3.34s; ten turns of a belt known to 5 mm make it good to about 0.2 %.", "the belt's speed needs two passes of its seam or more, not %d", n)
	}
	gaps := make([]float64, n-1)
	for i := range gaps {
		gaps[i] = b.TimesS[i+1] - b.TimesS[i]
		if !(gaps[i] > 0) || math.IsInf(gaps[i], 0) {
			return fail("Give them in order, each once.", "the times of the seam must rise: number %d is %.3f s after %.3f s", i+2, b.TimesS[i+1], b.TimesS[i])
		}
	}
	turn := signal.Median(gaps)
	at := make([]float64, n)
	for i, g := range gaps {
		k := math.Round(g / turn)
		if k < 1 || math.Abs(g/turn-k) > oddTurn {
			return fail("Look at those two again; every pass must be read at the same mark.", "from %.3f to %.3f s the belt would have made %.2f turns, which is no whole number", b.TimesS[i], b.TimesS[i+1], g/turn)
		}
		at[i+1] = at[i] + k
	}
	var meanT, meanK float64
	for i := range at {
		meanT += b.TimesS[i] / float64(n)
		meanK += at[i] / float64(n)
	}
	var skk, skt float64
	for i := range at {
		skk += (at[i] - meanK) * (at[i] - meanK)
		skt += (at[i] - meanK) * (b.TimesS[i] - meanT)
	}
	s := BeltSpeed{TurnS: skt / skk, Turns: int(at[n-1])}
	s.Skipped = s.Turns - (n - 1)
	s.SpeedMPS = b.LengthM / s.TurnS
	if s.SpeedMPS < 0.3 || s.SpeedMPS > 12 {
		return fail("Check the length and the times; those of a slowed film must be on its true clock.", "a belt of %.2f m that turns in %.3f s would run at %.2f m/s, which no treadmill does", b.LengthM, s.TurnS, s.SpeedMPS)
	}
	rate := b.FrameRateHz
	if !(rate > 0) {
		rate = slowestFilmHz
	}
	s.ReadingSDS = 1 / (rate * math.Sqrt(12))
	if n > 2 {
		ss := 0.0
		for i := range at {
			d := b.TimesS[i] - meanT - s.TurnS*(at[i]-meanK)
			ss += d * d
		}
		s.ReadingSDS = math.Max(s.ReadingSDS, math.Sqrt(ss/float64(n-2)))
	}
	length := b.LengthSDM
	if length == 0 {
		length = beltLengthSDM
	}
	s.RelativeSD = math.Hypot(length/b.LengthM, s.ReadingSDS/math.Sqrt(skk)/s.TurnS)
	return s, nil
}

// String returns the speed with its error, such as "3.009 ± 0.007 m/s".
func (s BeltSpeed) String() string {
	return fmt.Sprintf("%.3f ± %.3f m/s", s.SpeedMPS, s.SpeedMPS*s.RelativeSD)
}

// agrees tells whether the display is within the check's own error.
func (s BeltSpeed) agrees(displayMPS float64) bool {
	return math.Abs(100*(displayMPS/s.SpeedMPS-1)) <= 196*s.RelativeSD
}

// Against says how far the display is from the true speed, and whether that is
// more than the check's own error.
func (s BeltSpeed) Against(displayMPS float64) string {
	off := 100 * (displayMPS/s.SpeedMPS - 1)
	text := fmt.Sprintf("the display's %.2f m/s", displayMPS)
	switch limit := 196 * s.RelativeSD; {
	case s.agrees(displayMPS):
		text += fmt.Sprintf(" agrees with the belt's %s within the error of the check (%+.1f %%, ± %.1f %%)", s, off, limit)
	case off < 0:
		text += fmt.Sprintf(" is %.1f %% too low: the belt ran at %s", -off, s)
	default:
		text += fmt.Sprintf(" is %.1f %% too high: the belt ran at %s", off, s)
	}
	if math.Abs(off) > 15 {
		text += "; so large a difference may come from a wrong belt length, passes that were missed, or a slowed film"
	}
	return text
}

// BeltRequest is a belt check by itself.
type BeltRequest struct {
	BeltSeam
	DisplayMPS    float64
	Film          string  // the film that the times were read from; may be empty
	CaptureRateHz float64 // at which the film was really taken, where it was slowed down; the times are then on the file's clock
}

// CheckBelt carries out a belt check. Of a film the frame rate is read, and that
// the times lie in it.
func CheckBelt(ctx context.Context, r BeltRequest) (BeltSpeed, error) {
	if r.Film != "" {
		facts, err := video.Probe(ctx, r.Film)
		if err != nil {
			return BeltSpeed{}, videoProblem(r.Film, err)
		}
		last := facts.DurationS
		if n := len(r.TimesS); n > 0 && last > 0 && r.TimesS[n-1] > last {
			return BeltSpeed{}, problem(KindUsage, r.Film, "Read the times from this film.", "ends at %.2f s, before the last pass at %.2f s", last, r.TimesS[n-1])
		}
		slow, _ := slowdownOf(facts, r.CaptureRateHz)
		if slow < 1 {
			return BeltSpeed{}, problem(KindUsage, r.Film, "Check --capture-rate.", "the film runs at %.0f frames a second, faster than the capture rate %.0f that was given", facts.MedianHz, r.CaptureRateHz)
		}
		r.FrameRateHz = facts.MedianHz * slow
		times := make([]float64, len(r.TimesS))
		for i, t := range r.TimesS {
			times[i] = t / slow
		}
		r.TimesS = times
	} else if r.CaptureRateHz > 0 {
		return BeltSpeed{}, problem(KindUsage, "", "Name it with --film.", "a capture rate says nothing without the film")
	}
	return r.Speed()
}

// settleBelt works out the belt's speed where its seam was timed, and puts it in
// the place of the speed that was given. It returns a sentence on the difference
// where both were given, empty otherwise.
func (r *Request) settleBelt() (string, error) {
	switch {
	case r.BeltLengthM == 0 && len(r.SeamTimesS) == 0:
		return "", nil
	case r.Overground:
		return "", problem(KindUsage, "", "Leave out --belt-length and --seam, or --overground.", "over ground there is no belt")
	case r.BeltLengthM == 0 || len(r.SeamTimesS) == 0:
		return "", problem(KindUsage, "", "Give both, or neither.", "the belt's speed needs its length and the times its seam passes: --belt-length and --seam")
	}
	s, err := BeltSeam{LengthM: r.BeltLengthM, TimesS: r.SeamTimesS, FrameRateHz: r.CaptureRateHz}.Speed()
	if err != nil {
		return "", err
	}
	note := ""
	if r.SpeedMPS > 0 {
		note = s.Against(r.SpeedMPS)
	}
	r.belt, r.SpeedMPS = &s, s.SpeedMPS
	return note, nil
}

// takeBelt gives the clip the timed speed's source and error, those of its own
// frame rate.
func (c *Clip) takeBelt(r *Request) {
	if r.belt == nil {
		return
	}
	s, err := BeltSeam{LengthM: r.BeltLengthM, TimesS: r.SeamTimesS, FrameRateHz: c.Info.FrameRateHz}.Speed()
	if err != nil || c.Info.View == clip.Spatial || !c.IsVideo() {
		s = *r.belt // the times were not read from this clip's frames
	}
	c.Info.BeltSpeedRelativeSD = s.RelativeSD
	c.Info.BeltSpeedSource = fmt.Sprintf("belt seam: %s of %s (± %.1f %%)", plural(s.Turns, "turn", "turns"), quantity.Length(r.BeltLengthM), 100*s.RelativeSD)
}
