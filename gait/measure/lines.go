package measure

import "gaitwright/num/kept"

// Lines keeps the angles and middles that were worked out from a track's paths, by the
// very paths they came from, and the typical curves of the stride that were cut from
// those. A track that shares most of its paths with one that was measured before, as
// after a landmark was moved or a contact shifted, then needs only what is new. The
// paths must not be changed once they were measured, and all must be on one clock. Nil
// keeps nothing; several goroutines may use one at once.
type Lines struct{ store *kept.Store }

// Next returns Lines for a track that comes after the one l was used for, or beside
// it: they know what l do, and keep of that what is asked for again.
func (l *Lines) Next() *Lines { return &Lines{l.keep().Next()} }

// Beside returns Lines for a trial of that name beside the track that l are used for:
// they know what l do, and what the same trial needed beside the track before.
func (l *Lines) Beside(trial string) *Lines { return &Lines{l.keep().Beside(trial)} }

// Same returns v, or the series last given by that name where it holds the same, bit by
// bit: a path made anew is then known by what was worked out from it before.
func (l *Lines) Same(name string, v []float64) []float64 { return l.keep().Same(name, v) }

func (l *Lines) keep() *kept.Store {
	if l == nil {
		return nil
	}
	return l.store
}

// beatOf returns the times of the passes as a series: the same one as long as they are
// the same, so that what is cut by them can be kept by it.
func beatOf(s *kept.Store, passes []pass) []float64 {
	beats := make([]float64, 0, 6*len(passes))
	for _, p := range passes {
		beats = append(beats, float64(p.side), p.ic, p.to, p.prev, p.next, p.stride)
	}
	return s.Same("passes", beats)
}
