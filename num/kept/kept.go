// Package kept keeps what was worked out from series of numbers, by the very series it
// came from. Whoever works out a thing again of which most is as it was, as after one
// point of a film was moved, then needs only what is new.
package kept

import (
	"maps"
	"math"
	"slices"
	"sync"
)

// Store holds results by the series that they were made from. Neither series nor
// results may be changed once they are in it. Nil keeps nothing; several goroutines may
// use one at once. The zero value is empty.
type Store struct {
	mu     sync.Mutex
	known  map[key]any
	before map[key]any          // of the time before
	named  map[string][]float64 // see Same

	beside, besideBefore map[string]*Store // see Beside, now and the time before
}

// key is what a result was made of: the way, and the first values of the series.
type key struct {
	how  string
	from [mostFrom]*float64
}

// mostFrom is from how many series a result may be made: a centre of mass is, from the
// points of a whole body.
const mostFrom = 24

// Next returns a store for what comes after that which s was used for, or beside it: it
// knows what s does, and keeps of that what is asked for again.
func (s *Store) Next() *Store {
	if s == nil {
		return &Store{}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	return &Store{before: maps.Clone(s.known), named: maps.Clone(s.named), besideBefore: maps.Clone(s.beside)}
}

// Beside returns a store for what is tried beside that which s is used for. It knows what
// s does, and what the trial of that name was found to need the time before, so that one
// that is made time after time needs only what is new.
func (s *Store) Beside(trial string) *Store {
	if s == nil {
		return &Store{}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	out := &Store{before: map[key]any{}, named: maps.Clone(s.named)}
	if last := s.besideBefore[trial]; last != nil {
		last.mu.Lock()
		maps.Copy(out.before, last.known)
		last.mu.Unlock()
	}
	maps.Copy(out.before, s.before)
	maps.Copy(out.before, s.known)
	if s.beside == nil {
		s.beside = map[string]*Store{}
	}
	s.beside[trial] = out
	return out
}

// Of returns what work makes of the series, or made of them before in the same way; how
// names the way, with all that it rests on beside the series.
func Of[T any](s *Store, how string, work func() T, from ...[]float64) T {
	if s == nil || len(from) > mostFrom {
		return work()
	}
	k := key{how: how}
	for i, v := range from {
		switch {
		case len(v) > 0:
			k.from[i] = &v[0]
		case v != nil:
			return work() // without a value there is nothing to know it by
		}
	}
	s.mu.Lock()
	v, ok := s.known[k]
	if !ok {
		v, ok = s.before[k]
	}
	s.mu.Unlock()
	if !ok {
		v = work()
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.known == nil {
		s.known = map[key]any{}
	}
	s.known[k] = v
	return v.(T)
}

// Same returns v, or the series last given by that name where it holds the same, bit by
// bit: so what was made of the one is known for the other.
func (s *Store) Same(name string, v []float64) []float64 {
	if s == nil || v == nil {
		return v
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	last := s.named[name]
	if slices.EqualFunc(v, last, func(a, b float64) bool { return math.Float64bits(a) == math.Float64bits(b) }) && last != nil {
		return last
	}
	if s.named == nil {
		s.named = map[string][]float64{}
	}
	s.named[name] = v
	return v
}
