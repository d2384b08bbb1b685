package app

import (
	"context"
	"slices"
	"strings"

	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
	"gaitwright/gait/retest"
	"gaitwright/gait/track"
	"gaitwright/internal/store"
)

// maxSeenKept bounds the results whose measures are held ready for comparing.
const maxSeenKept = 300

// seenClip is of a clip of a result what comparing needs: a small part of the whole,
// so that many visits can be laid beside each other.
type seenClip struct {
	index    int
	id, name string
	video    bool
	at       retest.Conditions // without what is said of the clip
	measures []measure.Measure
	curves   []measure.Curve
}

// seenResult is a result's clips with the corrections that are in them.
type seenResult struct {
	edits map[int]keptEdits
	clips []seenClip
}

// seenOf returns what the clips of a result show.
func (st *Studio) seenOf(ctx context.Context, r store.Result) ([]seenClip, error) {
	keeper, err := st.keeper()
	if err != nil {
		return nil, err
	}
	edits, err := keeper.editsOf(ctx, r.ID, len(r.ClipIDs))
	if err != nil {
		return nil, err
	}
	st.mu.Lock()
	have, ok := st.seen[r.ID]
	st.mu.Unlock()
	if ok && sameRecords(have.edits, edits) {
		return have.clips, nil
	}
	s, err := st.Load(r.ID)
	if err != nil {
		return nil, err
	}
	out := seenResult{edits: edits}
	for i, c := range s.Clips {
		one := seenClip{index: i, id: c.ID, name: c.name(), video: c.IsVideo(), measures: c.Measures, curves: c.Curves,
			at: retest.Conditions{View: c.Info.View, SpeedMPS: c.Info.BeltSpeedMPS, Origin: c.origin().String(), Overground: c.Info.Surface == clip.Overground}}
		if c.origin() == track.PoseModel {
			one.at.Model = c.Model
		}
		if asked := s.askedOf(c); asked != nil {
			one.at.InclinePercent = asked.InclinePct
		}
		out.clips = append(out.clips, one)
	}
	st.mu.Lock()
	defer st.mu.Unlock()
	if st.seen == nil || len(st.seen) >= maxSeenKept {
		st.seen = map[string]seenResult{}
	}
	st.seen[r.ID] = out
	return out.clips, nil
}

// comparable lays what is said of the clips, and the studio's own errors, over what
// was seen.
func comparable(clips []seenClip, said []clipRecord, own *OwnErrors) []retest.Seen {
	var out []retest.Seen
	for _, c := range clips {
		s := retest.Seen{Conditions: c.at, Measures: slices.Clone(c.measures), DF: map[string]int{}}
		if i := slices.IndexFunc(said, func(r clipRecord) bool { return r.ID == c.id }); i >= 0 && c.id != "" {
			s.Conditions.Shoes, s.Conditions.Click = said[i].facts.Shoes, said[i].facts.Click
		}
		own.replace(s.Measures)
		for _, m := range s.Measures {
			if e, ok := own.Of(m.Name, m.Origin); ok && e.Unit == m.Unit {
				s.DF[m.Name] = e.DF
			}
		}
		out = append(out, s)
	}
	return out
}

// mdcOf says where the smallest real change of a measure comes from.
func mdcOf(m measure.Measure, own *OwnErrors) PageMDC {
	d, _ := measure.Lookup(m.Name)
	if e, ok := own.Of(m.Name, m.Origin); ok && e.Unit == m.Unit {
		return PageMDC{From: "studio", Source: e.From, N: e.Runners, DF: e.DF}
	}
	source := d.ErrorSource()
	switch {
	case source == "":
		return PageMDC{From: "times", Source: d.Error}
	case strings.Contains(m.Origin, track.PoseModel.String()):
		return PageMDC{From: "bench", Source: source}
	}
	return PageMDC{From: "literature", Source: source}
}
