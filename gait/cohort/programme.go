package cohort

import (
	"cmp"
	"math"
	"runtime"
	"slices"
	"strconv"
	"sync"

	"gaitwright/num/agree"
	"gaitwright/num/tally"
)

func formatFloat(v float64) string { return strconv.FormatFloat(v, 'f', 2, 64) }

// tallying is what is counted of one measure under a programme.
type tallying struct {
	Outcome
	changes      []float64
	kept, tested int
}

// programmes counts what happened after the first programme for each finding.
func (s *Summary) programmes(runners []Runner, o Options) {
	type course struct {
		Programme
		measures map[string]*tallying
	}
	all := map[string]*course{}
	for _, r := range runners {
		begun := map[string]bool{}
		for i, v := range r.Visits {
			for _, name := range v.Planned {
				if begun[name] {
					continue
				}
				begun[name] = true
				c := all[name]
				if c == nil {
					c = &course{Programme: Programme{Finding: name}, measures: map[string]*tallying{}}
					for _, a := range o.Aims[name] {
						c.measures[a.Measure] = &tallying{Outcome: Outcome{Measure: a.Measure, Better: a.Better}}
					}
					all[name] = c
				}
				c.Given++
				later := r.Visits[i+1:]
				switch {
				case len(later) > 0:
					c.Returned++
				case v.DueBy.IsZero() || o.Now.IsZero() || o.Now.Before(v.DueBy.Add(grace)):
					c.Waiting++
				}
				for _, a := range o.Aims[name] {
					c.measures[a.Measure].add(a, v, later, o)
				}
			}
		}
	}
	for _, c := range all {
		c.DropOut = tally.Wilson(c.Given-c.Returned-c.Waiting, c.Given-c.Waiting, o.Level)
		for _, a := range o.Aims[c.Finding] {
			m := c.measures[a.Measure]
			if m.As+m.Against+m.Within == 0 {
				continue
			}
			m.Share = tally.Wilson(m.As, m.As+m.Against+m.Within, o.Level)
			m.Change = tally.MeanOf(m.changes, o.Level)
			m.Kept = tally.Wilson(m.kept, m.tested, o.Level)
			c.Outcomes = append(c.Outcomes, m.Outcome)
		}
		s.Programmes = append(s.Programmes, c.Programme)
	}
	slices.SortFunc(s.Programmes, func(a, b Programme) int { return cmp.Or(b.Given-a.Given, cmp.Compare(a.Finding, b.Finding)) })
}

// add counts one runner: the side that lay least well at the start.
func (t *tallying) add(a Aim, first Visit, later []Visit, o Options) {
	var start *Value
	for i, v := range first.Values {
		if v.Name == a.Measure && (start == nil || float64(a.Better)*v.Value < float64(a.Better)*start.Value) {
			start = &first.Values[i]
		}
	}
	if start == nil {
		return
	}
	told := 0 // later values alike
	as := false
	still := false
	for _, v := range later {
		end, ok := alike(*start, v.Values, o)
		if !ok {
			continue
		}
		change := end.Value - start.Value
		real := math.Abs(change) > 1.96*math.Hypot(start.SEM, end.SEM)
		wanted := real && change*float64(a.Better) > 0
		if told == 0 {
			t.changes = append(t.changes, change)
			as = wanted
			switch {
			case wanted:
				t.As++
			case real:
				t.Against++
			default:
				t.Within++
			}
		}
		told++
		still = wanted
	}
	if as && told > 1 {
		t.tested++
		if still {
			t.kept++
		}
	}
}

// alike finds the value that can be held against one: of the same side, view and
// origin, at a speed near enough; of several the nearest in speed.
func alike(to Value, values []Value, o Options) (Value, bool) {
	var out Value
	found := false
	for _, v := range values {
		if v.Name != to.Name || v.Side != to.Side || v.View != to.View || v.Origin != to.Origin || math.Abs(v.SpeedMPS-to.SpeedMPS) > o.SpeedMPS {
			continue
		}
		if !found || math.Abs(v.SpeedMPS-to.SpeedMPS) < math.Abs(out.SpeedMPS-to.SpeedMPS) {
			out, found = v, true
		}
	}
	return out, found
}

// bandMPS is the width of a band of speed in which usual values are taken together.
const bandMPS = 0.5

// usualValue is one runner's value of a measure: sums over its n sides, and in the end
// their means.
type usualValue struct {
	sum, sem, speed float64
	n               int
	sex             string
}

// usualOf sums up one measure in one band of speed.
func usualOf(name string, band int, list []usualValue, o Options) Usual {
	u := Usual{Measure: name, FromMPS: (float64(band) - 0.5) * bandMPS, ToMPS: (float64(band) + 0.5) * bandMPS, N: len(list),
		Values: make([]float64, len(list)), SpeedsMPS: make([]float64, len(list))}
	slices.SortFunc(list, func(a, b usualValue) int {
		switch {
		case a.sum < b.sum:
			return -1
		case a.sum > b.sum:
			return 1
		}
		return cmp.Compare(a.speed, b.speed)
	})
	sems := make([]float64, len(list))
	for i, m := range list {
		u.Values[i], u.SpeedsMPS[i], sems[i] = m.sum, m.speed, m.sem
		switch m.sex {
		case "female":
			u.Women++
		case "male":
			u.Men++
		default:
			u.Other++
		}
	}
	mean := tally.MeanOf(u.Values, o.Level)
	u.Mean, u.SD, u.SEM = mean.Value, mean.SD, median(sems)
	in := agree.PredictionInterval(u.Mean, u.SD, u.N)
	u.Low, u.High = in.Low, in.High
	return u
}

// usual are the studio's own usual values: each runner's first value of each measure.
func (s *Summary) usual(runners []Runner, o Options) {
	type key struct{ name, band int }
	// Names are counted through, and the few values of one visit searched in a row:
	// maps for each visit would cost more than all else together.
	var names []string
	number := map[string]int{}
	all := map[key][]usualValue{}
	var seen []bool // by the number of the name, of one runner
	var keys []key
	var mine []usualValue
	for _, r := range runners {
		clear(seen)
		for _, v := range r.Visits {
			keys, mine = keys[:0], mine[:0]
			for _, x := range v.Values {
				if x.SpeedMPS <= 0 {
					continue
				}
				id, ok := number[x.Name]
				if !ok {
					id = len(names)
					number[x.Name] = id
					names = append(names, x.Name)
					seen = append(seen, false)
				}
				if seen[id] {
					continue
				}
				k := key{id, int(math.Floor(x.SpeedMPS/bandMPS + 0.5))}
				// Left and right of a measure follow each other.
				i := len(keys) - 1
				for i >= 0 && keys[i] != k {
					i--
				}
				if i < 0 {
					i = len(keys)
					keys, mine = append(keys, k), append(mine, usualValue{sex: r.Sex})
				}
				m := &mine[i]
				m.sum += x.Value
				m.sem += x.SEM
				m.speed += x.SpeedMPS
				m.n++
			}
			for i, k := range keys {
				m := mine[i]
				n := float64(m.n)
				m.sum, m.sem, m.speed = m.sum/n, m.sem/n, m.speed/n
				all[k] = append(all[k], m)
				seen[k.name] = true
			}
		}
	}
	var wanted []key
	for k, list := range all {
		if len(list) >= o.Least {
			wanted = append(wanted, k)
		}
	}
	s.Usual = make([]Usual, len(wanted))
	// Each measure is put in order by itself, on all cores.
	work := make(chan int)
	var busy sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		busy.Go(func() {
			for i := range work {
				s.Usual[i] = usualOf(names[wanted[i].name], wanted[i].band, all[wanted[i]], o)
			}
		})
	}
	for i := range wanted {
		work <- i
	}
	close(work)
	busy.Wait()
	slices.SortFunc(s.Usual, func(a, b Usual) int {
		return cmp.Or(cmp.Compare(a.Measure, b.Measure), cmp.Compare(a.FromMPS, b.FromMPS))
	})
}

// Anonymity is how well people are hidden among each other in a table: K is the size
// of the smallest group alike in everything an outsider might know of a person
// (Sweeney 2002, Int J Uncertain Fuzz 10:557), Alone how many people are in groups
// smaller than least.
type Anonymity struct{ K, Alone, Groups int }

// AnonymityOf looks at rows of what an outsider might know, one a person. K is 0 for
// nobody.
func AnonymityOf(rows []string, least int) Anonymity {
	size := map[string]int{}
	for _, r := range rows {
		size[r]++
	}
	a := Anonymity{Groups: len(size)}
	for _, n := range size {
		if a.K == 0 || n < a.K {
			a.K = n
		}
		if n < least {
			a.Alone += n
		}
	}
	return a
}
