package app

import (
	"math"

	"gaitwright/gait/body"
	"gaitwright/gait/event"
	"gaitwright/gait/measure"
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

// differs returns the first and one past the last place where two lists of one
// length differ by more than half of the last digit sent; from = to where nowhere.
func differs(a, b []float64, decimals int) (from, to int) {
	eps := 0.5 * math.Pow(10, -float64(decimals))
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

func trackChange(before, after *Clip, was, is anglesOf) PageTrackChange {
	out := PageTrackChange{Landmarks: []PagePathChange{}, Series: []PageSeriesChange{}}
	if before == after {
		return out
	}
	for l, p := range after.Mended.Paths {
		q := before.Mended.Paths[l]
		if p == nil || q == nil || p == q || p.X == nil || p.Y == nil || len(q.X) != len(p.X) {
			continue
		}
		xa, xb := differs(q.X, p.X, 3)
		ya, yb := differs(q.Y, p.Y, 3)
		from, to := min(xa, ya), max(xb, yb)
		switch {
		case xb == 0 && yb == 0:
			continue
		case xb == 0:
			from = ya
		case yb == 0:
			from = xa
		}
		conf := make([]float64, to-from)
		for i := range conf {
			conf[i] = p.ConfidenceAt(from + i)
		}
		out.Landmarks = append(out.Landmarks, PagePathChange{Landmark: body.Landmark(l).String(), From: from,
			X: numbers(p.X[from:to], 2), Y: numbers(p.Y[from:to], 2), Conf: numbers(conf, 2)})
	}
	key := func(a measure.AngleSeries) string { return a.Name + "/" + a.Side.String() }
	old := map[string]measure.AngleSeries{}
	for _, a := range was {
		old[key(a)] = a
	}
	for _, a := range is {
		q, ok := old[key(a)]
		delete(old, key(a))
		c := PageSeriesChange{Key: key(a), Title: a.Title, Unit: a.Unit}
		if !ok || len(q.Values) != len(a.Values) || q.Unit != a.Unit {
			c.Whole, c.Values = true, numbers(a.Values, 2)
		} else if from, to := differs(q.Values, a.Values, 2); to > 0 {
			c.From, c.Values = from, numbers(a.Values[from:to], 2)
		} else {
			continue
		}
		out.Series = append(out.Series, c)
	}
	for k, a := range old {
		out.Series = append(out.Series, PageSeriesChange{Key: k, Title: a.Title, Unit: a.Unit, Whole: true, Values: []*float64{}})
	}
	return out
}
