package app

import (
	"math"

	"gaitwright/gait/body"
	"gaitwright/gait/event"
	"gaitwright/gait/measure"
	"gaitwright/gait/track"
)

func pageContactsOf(cs []event.Contact) []PageContact {
	return pageContacts(event.Series{Contacts: cs})
}

// anglesOf are the frame-wise series of a clip as it stands.
type anglesOf []measure.AngleSeries

// anglesOf returns the frame-wise series of clip n as it stands, worked out once.
func (s *state) anglesOf(n int) anglesOf {
	if a, ok := s.angles[n]; ok {
		return a
	}
	c := s.now.Clips[n]
	a := anglesOf(c.lines.Angles(c.Track, c.Info.View, c.Contacts))
	if s.angles == nil {
		s.angles = map[int]anglesOf{}
	}
	s.angles[n] = a
	return a
}

// PageTrackChange is the part of a PageTrack that a correction changed: of each
// landmark and series the frames from the first that differs to the last.
type PageTrackChange struct {
	Landmarks []PagePathChange   `json:"landmarks"`
	Series    []PageSeriesChange `json:"series"`
	// Rest says that more differs, by less than can be seen: where a correction changes
	// the cut-off of the smoothing, every frame does, and to tell all of them would take
	// longer than to work them out. The whole track, read anew, has it all.
	Rest bool `json:"rest,omitempty"`
}

// PagePathChange is a stretch of one landmark's path.
type PagePathChange struct {
	Landmark string     `json:"landmark"`
	From     int        `json:"from"`
	X        []*float64 `json:"x"`
	Y        []*float64 `json:"y"`
	Conf     []*float64 `json:"confidence"`
}

// PageSeriesChange is a stretch of one live curve. A series that is new, or gone
// (no values), is whole.
type PageSeriesChange struct {
	Key    string     `json:"key"` // "knee_flexion/left"
	From   int        `json:"from"`
	Whole  bool       `json:"whole"`
	Title  string     `json:"title"`
	Unit   string     `json:"unit"`
	Values []*float64 `json:"values"`
}

// Where a change comes to more samples than mostTold, those alone are told that differ
// by more than can be seen: a quarter of a pixel, of a degree, or of a millimetre.
const (
	mostTold = 15000
	visible  = 0.25
)

// differs returns the first and one past the last place where two lists of one
// length differ by more than eps; from = to where nowhere.
func differs(a, b []float64, eps float64) (from, to int) {
	for i := range b {
		if math.Abs(a[i]-b[i]) > eps || math.IsNaN(a[i]) != math.IsNaN(b[i]) {
			if to == 0 {
				from = i
			}
			to = i + 1
		}
	}
	return from, to
}

// both is the stretch that holds two others.
func both(aFrom, aTo, bFrom, bTo int) (from, to int) {
	switch {
	case aTo == 0:
		return bFrom, bTo
	case bTo == 0:
		return aFrom, aTo
	}
	return min(aFrom, bFrom), max(aTo, bTo)
}

// trackChange tells what differs in a clip and its frame-wise series.
func trackChange(before, after *Clip, was, is anglesOf) PageTrackChange {
	out := PageTrackChange{Landmarks: []PagePathChange{}, Series: []PageSeriesChange{}}
	if before == after {
		return out
	}
	changed := changedBy(before, after, was, is, func(string) float64 { return 0 })
	if changed.samples > mostTold {
		less := changedBy(before, after, was, is, func(unit string) float64 {
			if unit == track.Metre.String() {
				return visible / 1000
			}
			return visible
		})
		out.Rest = less.samples < changed.samples
		changed = less
	}
	for _, s := range changed.paths {
		p := after.Mended.Paths[s.of]
		conf := make([]float64, s.to-s.from)
		for i := range conf {
			conf[i] = p.ConfidenceAt(s.from + i)
		}
		out.Landmarks = append(out.Landmarks, PagePathChange{Landmark: body.Landmark(s.of).String(), From: s.from,
			X: numbers(p.X[s.from:s.to], 2), Y: numbers(p.Y[s.from:s.to], 2), Conf: numbers(conf, 2)})
	}
	for _, s := range changed.series {
		a := is[s.of]
		out.Series = append(out.Series, PageSeriesChange{Key: liveKey(a), Title: a.Title, Unit: a.Unit, From: s.from, Whole: s.whole, Values: numbers(a.Values[s.from:s.to], 2)})
	}
	for _, a := range changed.gone {
		out.Series = append(out.Series, PageSeriesChange{Key: liveKey(a), Title: a.Title, Unit: a.Unit, Whole: true, Values: []*float64{}})
	}
	return out
}

// changedPart is a part of a path or series, by its landmark or place in the list.
type changedPart struct {
	of, from, to int
	whole        bool // a series that is new, or as long as none before
}

// trackDifference is where a clip and its series differ from what they were.
type trackDifference struct {
	paths, series []changedPart
	gone          []measure.AngleSeries
	samples       int
}

// changedBy finds where a clip differs by more than least tells for a unit, and than
// half of the last digit that is told.
func changedBy(before, after *Clip, was, is anglesOf, least func(unit string) float64) (d trackDifference) {
	eps := math.Max(0.0005, least(after.Mended.Unit.String()))
	for l, p := range after.Mended.Paths {
		q := before.Mended.Paths[l]
		if p == nil || q == nil || p == q || p.X == nil || p.Y == nil || len(q.X) != len(p.X) {
			continue
		}
		xFrom, xTo := differs(q.X, p.X, eps)
		yFrom, yTo := differs(q.Y, p.Y, eps)
		if from, to := both(xFrom, xTo, yFrom, yTo); to > 0 {
			d.paths = append(d.paths, changedPart{of: l, from: from, to: to})
			d.samples += to - from
		}
	}
	old := map[string]measure.AngleSeries{}
	for _, a := range was {
		old[liveKey(a)] = a
	}
	for i, a := range is {
		q, ok := old[liveKey(a)]
		delete(old, liveKey(a))
		at := changedPart{of: i, to: len(a.Values), whole: true}
		if ok && len(q.Values) == len(a.Values) && q.Unit == a.Unit {
			at.whole = false
			if at.from, at.to = differs(q.Values, a.Values, math.Max(0.005, least(a.Unit))); at.to == 0 {
				continue
			}
		}
		d.series = append(d.series, at)
		d.samples += at.to - at.from
	}
	for _, a := range was {
		if _, ok := old[liveKey(a)]; ok {
			d.gone = append(d.gone, a)
		}
	}
	return d
}

// liveKey names a series of a side.
func liveKey(a measure.AngleSeries) string { return a.Name + "/" + a.Side.String() }
