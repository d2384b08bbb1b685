package measure

import (
	"math"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/event"
	"gaitwright/gait/track"
)

// Measure is one gait number with all that is needed to judge it.
type Measure struct {
	Name string    // stable snake-case name, as in the catalogue
	Side body.Side // NoSide for measures of both feet together
	// Value is the mean over the strides used; NaN where the measure is
	// withheld, and then Reason says why and what to film instead.
	Value float64
	// Text is the value in words where a number alone does not say it, such as
	// the strike class; empty otherwise.
	Text string
	Unit string // as in the catalogue: "steps/min", "s", "m", "deg", "" …
	// SD is the stride-to-stride standard deviation; SEM the standard error of
	// measurement of Value with everything included (strides, origin, frame
	// rate, scale); MDC95 = 1.96·√2·SEM the smallest change between two visits
	// that is beyond measurement error (Weir 2005, J Strength Cond Res
	// 19:231-240). NaN where not known.
	SD, SEM, MDC95 float64
	Strides        int    // strides (or steps, for step measures) behind Value
	Origin         string // what the value rests on: "pose model", "marker file", "force" …
	Flag           string // a caution in a few words; empty where there is none
	Reason         string // why Value is withheld; empty where it is given
	// OtherView is true where Value is withheld only because another view shows
	// it; where such a clip is at hand the line can be left out.
	OtherView bool
	// StridesNeeded is how many strides like these would make the mean stable to
	// the catalogue's Worth (95 %); 0 where not known.
	StridesNeeded int
	// Error splits SEM into its parts.
	Error Budget
	// Bias is the known mean error (measured minus true) of what found the
	// landmarks, in the unit, 0 where none is known. Value is not corrected by it
	// and SEM does not hold it: it is the same at the next visit, so it does not
	// hide a change, but it shifts a comparison with other people's values and
	// one between the legs.
	Bias float64
}

// Withheld tells whether the measure has no value.
func (m Measure) Withheld() bool { return math.IsNaN(m.Value) }

// Curve is a quantity over the stride, from initial contact (0) to the same
// foot's next initial contact (100), at 101 points; NaN at points where it
// cannot be seen, as the knee's frontal angle while the leg is folded.
type Curve struct {
	Name     string // stable snake-case name, such as "knee_flexion"
	Side     body.Side
	Unit     string
	Mean, SD [101]float64
	ToeOff   float64 // mean toe-off, percent of the stride
	Strides  int
}

// Runner is what of the runner's body the measures need; 0 where not known.
type Runner struct {
	HeightM    float64
	LegLengthM float64 // greater trochanter to ground
	MassKG     float64
	Female     bool // selects de Leva's table; ignored where Sex is not known
	SexKnown   bool
}

// Input is one clip ready to be measured.
type Input struct {
	Info     clip.Info
	Track    *track.Track // runner space, cleaned
	Contacts event.Series
	Runner   Runner
	Origin   track.Origin // of the greater part of the landmarks
	// InclinePercent is the slope of the belt or road, rise over run in percent;
	// the timing estimates of stiffness and force do not hold on a slope.
	InclinePercent float64
	// Placed are tracks as Track, in each of which the points placed by hand in one
	// landmark are off, in one direction, by one standard deviation of placing them.
	// What each changes is a part of the error.
	Placed []Elsewhere
	// Lines is what is known of the track and of those like it; nil for nothing.
	Lines *Lines
}

// Elsewhere is a track with points elsewhere than in another; its name is that of the
// like track of the same clip as it was corrected before.
type Elsewhere struct {
	Name  string
	Track *track.Track
}

// Output is all that one clip gives.
type Output struct {
	Measures []Measure // in the order of the catalogue, left before right
	Curves   []Curve
	Warnings []string // sentences for the analyst
}
