package measure

import "sync"

// Lines keeps the angles and middles that were worked out from a track's paths, by the
// very paths they came from. A track that shares most of its paths with one that was
// measured before, as after a landmark was moved or a contact shifted, then needs only
// what is new. The paths must not be changed once they were measured. Nil keeps
// nothing; several goroutines may use one at once.
type Lines struct {
	mu     sync.Mutex
	known  map[line][]float64
	before map[line][]float64 // of the track before
}

// line is what a series was made of: the way, and the first values of the series
// that it was made from.
type line struct {
	how  string
	from [mostFrom]*float64
}

// mostFrom is from how many series another may be made: the centre of mass is, from
// the points of the whole body.
const mostFrom = 24

// Next returns a store for a track that comes after the one l was used for, or beside
// it: it knows what l does, and keeps of that what is asked for again.
func (l *Lines) Next() *Lines {
	if l == nil {
		return &Lines{}
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	before := make(map[line][]float64, len(l.known))
	for k, v := range l.known {
		before[k] = v
	}
	return &Lines{before: before}
}

// made returns what work makes of the series, or made of them before. The series is
// shared, and not to be changed.
func (l *Lines) made(how string, work func() []float64, from ...[]float64) []float64 {
	if l == nil || len(from) > mostFrom {
		return work()
	}
	key := line{how: how}
	for i, s := range from {
		switch {
		case len(s) > 0:
			key.from[i] = &s[0]
		case s != nil:
			return work() // without frames: nothing to be known by
		}
	}
	l.mu.Lock()
	v, ok := l.known[key]
	if !ok {
		v, ok = l.before[key]
	}
	l.mu.Unlock()
	if !ok {
		v = work()
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.known == nil {
		l.known = map[line][]float64{}
	}
	l.known[key] = v
	return v
}
