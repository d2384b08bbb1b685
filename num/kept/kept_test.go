package kept_test

import (
	"math"
	"sync"
	"testing"

	"gaitwright/num/kept"
)

func TestStoreKeepsByTheVerySeries(t *testing.T) {
	made := 0
	sum := func(s *kept.Store, how string, from ...[]float64) float64 {
		return kept.Of(s, how, func() float64 {
			made++
			total := 0.0
			for _, v := range from {
				for _, x := range v {
					total += x
				}
			}
			return total
		}, from...)
	}
	a, b, like := []float64{1, 2}, []float64{3}, []float64{1, 2}
	s := &kept.Store{}
	for _, c := range []struct {
		name  string
		store *kept.Store
		how   string
		from  [][]float64
		want  float64
		makes int
	}{
		{"first", s, "sum", [][]float64{a, b}, 6, 1},
		{"again", s, "sum", [][]float64{a, b}, 6, 0},
		{"the other way round", s, "sum", [][]float64{b, a}, 6, 1},
		{"another way", s, "total", [][]float64{a, b}, 6, 1},
		{"a series that only looks the same", s, "sum", [][]float64{like, b}, 6, 1},
		{"without one of them", s, "sum", [][]float64{nil, b}, 3, 1},
		{"without one of them again", s, "sum", [][]float64{nil, b}, 3, 0},
		{"an empty one is never known", s, "sum", [][]float64{{}, b}, 3, 1},
		{"an empty one again", s, "sum", [][]float64{{}, b}, 3, 1},
		{"no store", nil, "sum", [][]float64{a, b}, 6, 1},
		{"more than can be told apart", s, "sum", make([][]float64, 25), 0, 1},
		{"more again", s, "sum", make([][]float64, 25), 0, 1},
	} {
		made = 0
		if got := sum(c.store, c.how, c.from...); got != c.want || made != c.makes {
			t.Errorf("%s: %v, made %d times; want %v and %d", c.name, got, made, c.want, c.makes)
		}
	}

	// What was asked for again is known to the store after the next, the rest is not.
	next := s.Next()
	made = 0
	sum(next, "sum", a, b)
	after := next.Next()
	sum(after, "sum", a, b)
	if made != 0 {
		t.Errorf("what was asked for each time was made %d times again", made)
	}
	sum(after, "total", a, b)
	if made != 1 {
		t.Errorf("what was not asked for was kept: made %d times", made)
	}
	if (*kept.Store)(nil).Next() == nil {
		t.Error("nothing comes after no store")
	}
}

// What a trial needed is known to the like trial beside the next store, with what that
// store knows itself; no other trial has it, nor a store that comes after.
func TestStoreBeside(t *testing.T) {
	made := 0
	double := func(s *kept.Store, v []float64) {
		kept.Of(s, "double", func() float64 { made++; return 2 * v[0] }, v)
	}
	plain, tried := []float64{1}, []float64{2}
	s := &kept.Store{}
	double(s, plain)
	double(s.Beside("a"), tried)
	next := s.Next()
	for _, c := range []struct {
		name  string
		store *kept.Store
		v     []float64
		makes int
	}{
		{"what the store before knew", next.Beside("a"), plain, 0},
		{"what the like trial needed", next.Beside("a"), tried, 0},
		{"another trial", next.Beside("b"), tried, 1},
		{"the store itself", next, tried, 1},
		{"a trial that was left out once", s.Next().Next().Beside("a"), tried, 1},
		{"no store", (*kept.Store)(nil).Beside("a"), tried, 1},
	} {
		made = 0
		if double(c.store, c.v); made != c.makes {
			t.Errorf("%s: made %d times, want %d", c.name, made, c.makes)
		}
	}
}

func TestSameIsBitByBit(t *testing.T) {
	nan := math.NaN()
	s := &kept.Store{}
	first := s.Same("x", []float64{1, nan, 0})
	if got := s.Same("x", []float64{1, nan, 0}); &got[0] != &first[0] {
		t.Error("the same series is not known again")
	}
	if got := s.Next().Same("x", []float64{1, nan, 0}); &got[0] != &first[0] {
		t.Error("the next store does not know it")
	}
	for _, v := range [][]float64{{1, nan, math.Copysign(0, -1)}, {1, nan}, {1, nan, 1}} {
		if got := s.Next().Same("x", v); &got[0] != &v[0] {
			t.Errorf("%v is taken for another series", v)
		}
	}
	if got := s.Same("y", []float64{1, nan, 0}); &got[0] == &first[0] {
		t.Error("another name gives this one's series")
	}
	if s.Same("x", nil) != nil || (*kept.Store)(nil).Same("x", first) == nil {
		t.Error("nothing, or no store, is not passed through")
	}
}

func TestStoreAtOnce(t *testing.T) {
	s, v := &kept.Store{}, []float64{1}
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			for k := range 200 {
				how := string(rune('a' + k%7))
				if got := kept.Of(s, how, func() string { return how }, v); got != how {
					t.Errorf("%s is given for %s", got, how)
				}
				s.Same(how, v)
				s.Next()
			}
		})
	}
	all.Wait()
}
