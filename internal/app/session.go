package app

import (
	"path/filepath"
	"time"

	"gaitwright/gait/clip"
	"gaitwright/gait/event"
	"gaitwright/gait/measure"
	"gaitwright/gait/track"
)

// Session is everything that one run of the main job found: a runner and the
// clips that were measured together.
type Session struct {
	ID      string    // of the kept result; empty until it is kept
	VisitID string    // of the visit it was measured in; empty for none
	Created time.Time // when it was measured
	Studio  string
	Runner  RunnerFacts
	Clips   []*Clip
	Version string   // of the program
	Notes   []string // about the session as a whole, for the analyst
	Asked   *Request // what was asked for; nil in results of versions that did not keep it
}

// RunnerFacts is what is known of the runner; 0 where it was not given.
type RunnerFacts struct {
	Name       string
	HeightM    float64
	LegLengthM float64
	MassKG     float64
	Sex        string // "female", "male" or empty
}

// Clip is one measured film or marker file.
type Clip struct {
	Path  string // absolute path of the file that was measured
	Name  string // of a film kept by the studio, whose path tells nothing; empty for others
	Hash  string // of its content where the studio keeps it; empty for others
	ID    string // of the visit's clip; empty for none
	Model string // pose model, empty for marker files
	Info  clip.Info

	// FirstFrame is the file's frame number of the tracks' frame 0, and
	// FileTimeS its time on the file's own clock, before any slow-motion
	// correction.
	FirstFrame int
	FileTimeS  float64

	// Raw is as it was seen; Mended is the same in the same space after swaps,
	// outliers and gaps were mended and the paths smoothed (what is drawn over
	// the picture); Track is Mended in runner space (what was measured). For
	// marker files Raw and Mended are in runner space already.
	Raw, Mended, Track *track.Track

	// Stickers are the points that were followed in the film, on the frames of
	// the landmarks as they were seen; nil for none.
	Stickers []StickerPath

	Contacts event.Series
	// Force holds the contacts by force where the file carries it and the
	// measures were taken by motion, or the other way round: the series that
	// was not used. Nil where there is only one.
	Other *event.Series

	// Edits are the analyst's corrections; Begun is the clip as it was before
	// anything was worked out of it, so that it can be worked out again with
	// others. Nil in results of versions that did not keep it.
	Edits Edits
	Begun *Beginning
	// Asked is what was asked of this clip alone; nil where Session.Asked holds
	// for all.
	Asked *Request

	Measures []measure.Measure
	Curves   []measure.Curve
	Warnings []string
	// Treatment says what was done to the signal: cut-off frequency of each
	// landmark, gaps filled, swaps mended.
	Treatment Treatment

	// lines is what was worked out of Track already; nil for nothing.
	lines *measure.Lines
}

// Treatment is a plain account of the mending and smoothing of one clip.
type Treatment struct {
	CutoffHz      map[string]float64 // by landmark name and axis, "left_knee.x"
	FramesMissing int                // frames without a person
	SwapsMended   int                // frames whose left and right were exchanged back
	Outliers      int                // samples rejected
	GapsFilled    int                // samples interpolated
}

// IsVideo tells whether the clip has pictures.
func (c *Clip) IsVideo() bool { return c.Model != "" }

// name is the name by which the analyst knows the clip.
func (c *Clip) name() string {
	if c.Name != "" {
		return c.Name
	}
	return filepath.Base(c.Path)
}

// said is the file as the analyst knows it: the path that was given, or for one the
// studio keeps, the name it came with.
func (c *Clip) said() string {
	if c.Hash != "" {
		return c.name()
	}
	return c.Path
}

// askedOf is what was asked of one clip of the session; nil in results of
// versions that did not keep it.
func (s *Session) askedOf(c *Clip) *Request {
	if c.Asked != nil {
		return c.Asked
	}
	return s.Asked
}

// clipIDs are the IDs of the visit's clips; empty outside a visit.
func (s *Session) clipIDs() []string {
	ids := []string{}
	for _, c := range s.Clips {
		if c.ID != "" {
			ids = append(ids, c.ID)
		}
	}
	return ids
}
