package markerset

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Limits of the rigid fit, metres.
const (
	goodFitM  = 0.012 // residual up to which a segment is taken as rigid and rightly named
	wrongFitM = 0.040 // residual beyond which a standing trial does not belong to the run
	maxFitM   = 0.030 // residual beyond which one frame's pose is not used
	suspectM  = 0.015 // residual of one frame beyond which a single strayed marker is looked for
	strayM    = 0.050 // a marker this far from where its segment has it is not believed
)

// segment is one rigid part of the body with its reference shape and its pose in
// every frame.
type segment struct {
	name     string
	markers  []string // those the run (and the standing trial) has
	shape    []vec    // in the standing trial's coordinates, or about their own middle
	standing bool     // the shape is from the standing trial
	poses    []pose
	ok       []bool
	strayed  map[int]int // by frame, the place in markers of the one that was left out
	residual float64     // median over frames, metres
}

// posture is where each marker stood in the standing trial, by the set's names.
type posture map[string]vec

// stand takes the mean place of each marker over the stillest half second of the
// standing trial.
func stand(s *Set, p Points) (posture, *index) {
	x := newIndex(s, p.Labels())
	n := len(p.TimeS)
	width := n
	if span := p.TimeS[n-1] - p.TimeS[0]; span > 0.5 {
		width = max(2, int(0.5/span*float64(n)))
	}
	names := s.markerNames()
	bestFrom, least := 0, math.Inf(1)
	for from := 0; from+width <= n; from += max(1, width/4) {
		score := 0.0
		for _, name := range names {
			i, ok := x.find(name)
			if !ok {
				continue
			}
			_, sd, seen := meanSD(p.Markers[i], from, from+width)
			if seen < width/2+1 {
				sd += 0.05 // a marker that is not seen makes a poor stretch
			}
			score += sd
		}
		if score < least {
			bestFrom, least = from, score
		}
	}
	out := posture{}
	for _, name := range names {
		if i, ok := x.find(name); ok {
			if mean, _, seen := meanSD(p.Markers[i], bestFrom, bestFrom+width); seen > 0 {
				out[name] = mean
			}
		}
	}
	return out, x
}

func meanSD(m Marker, from, to int) (mean vec, sd float64, seen int) {
	for k := from; k < to; k++ {
		if v := m.at(k); v.seen() {
			mean = mean.add(v)
			seen++
		}
	}
	if seen == 0 {
		return missing, 0, 0
	}
	mean = mean.mul(1 / float64(seen))
	for k := from; k < to; k++ {
		if v := m.at(k); v.seen() {
			d := v.sub(mean)
			sd += d.dot(d)
		}
	}
	return mean, math.Sqrt(sd / float64(seen)), seen
}

// markerNames returns every marker name that the set uses, sorted.
func (s *Set) markerNames() []string {
	var out []string
	for _, m := range s.Segments {
		out = append(out, m...)
	}
	for _, recipes := range s.Landmarks {
		for _, r := range recipes {
			out = append(out, r.markers()...)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// findSegments finds the pose of the segments in the run, after markers that were
// named the wrong way round have been exchanged.
func (a *application) findSegments() {
	names := make([]string, 0, len(a.set.Segments))
	for n := range a.set.Segments {
		names = append(names, n)
	}
	slices.Sort(names)
	for _, n := range names {
		if a.standing != nil {
			a.exchange(n)
		}
	}
	for _, n := range names {
		if seg, ok := a.segment(n); ok {
			a.segments[n] = seg
		}
	}
}

// common returns the segment's markers that the run has, and the standing trial
// too if standing is true.
func (a *application) common(name string, standing bool) []string {
	var out []string
	for _, m := range a.set.Segments[name] {
		_, inRun := a.run.find(m)
		_, inStanding := a.standing[m]
		if inRun && (inStanding || !standing) {
			out = append(out, m)
		}
	}
	return out
}

// sample returns the median residual of the shape against the run's markers over
// about sixty frames, and how many frames could be fitted.
func (a *application) sample(shape []vec, markers []string) (float64, int) {
	var res []float64
	paths, to := a.paths(markers), make([]vec, len(markers))
	for k := 0; k < len(a.points.TimeS); k += 1 + len(a.points.TimeS)/60 {
		frame(paths, k, to)
		if _, r, ok := fit(shape, to); ok {
			res = append(res, r)
		}
	}
	n := len(res)
	return median(res), n
}

// paths returns the run's paths of the markers; nil for one it lacks.
func (a *application) paths(markers []string) []*Marker {
	out := make([]*Marker, len(markers))
	for i, m := range markers {
		if place, ok := a.run.find(m); ok {
			out[i] = &a.points.Markers[place]
		}
	}
	return out
}

// frame writes frame k of the paths to out.
func frame(paths []*Marker, k int, out []vec) {
	for i, m := range paths {
		out[i] = missing
		if m != nil {
			out[i] = m.at(k)
		}
	}
}

func (p posture) shape(markers []string) []vec {
	out := make([]vec, len(markers))
	for i, m := range markers {
		out[i] = missing
		if v, ok := p[m]; ok {
			out[i] = v
		}
	}
	return out
}

// exchange looks for two markers of a segment that carry each other's name in
// one of the two files: the standing shape then fits the run badly as named and
// well after the exchange. Which file is wrong is told by the other side of the
// body, whose standing shape mirrored must fit.
func (a *application) exchange(name string) {
	markers := a.common(name, true)
	if len(markers) < 4 {
		return // three markers fit almost as well with two of them exchanged
	}
	shape := a.standing.shape(markers)
	asNamed, n := a.sample(shape, markers)
	if n == 0 || asNamed < goodFitM {
		return
	}
	bestI, bestJ, least := 0, 0, asNamed
	for i := range shape {
		for j := i + 1; j < len(shape); j++ {
			shape[i], shape[j] = shape[j], shape[i]
			if r, _ := a.sample(shape, markers); r < least {
				bestI, bestJ, least = i, j, r
			}
			shape[i], shape[j] = shape[j], shape[i]
		}
	}
	if !(least < goodFitM && least < asNamed/2) {
		return
	}
	one, two := markers[bestI], markers[bestJ]
	where := "run"
	if a.standingIsWrong(name, one, two) {
		where = "standing trial"
		a.standing[one], a.standing[two] = a.standing[two], a.standing[one]
	} else {
		i, _ := a.run.find(one)
		j, _ := a.run.find(two)
		a.run.moved[one], a.run.moved[two] = j, i
	}
	a.note("the markers %s and %s carry each other's name in the %s: as named the %s departs from its standing shape by %.0f mm, exchanged by %.1f mm; they were exchanged",
		one, two, where, strings.ReplaceAll(name, "_", " "), 1000*asNamed, 1000*least)
}

// standingIsWrong tells whether the standing trial, rather than the run, has one
// and two exchanged: then the mirrored shape of the other side fits it better
// after the exchange.
func (a *application) standingIsWrong(name, one, two string) bool {
	other := otherSide(name)
	mine, theirs := a.set.Segments[name], a.set.Segments[other]
	if other == name || len(mine) != len(theirs) {
		return false
	}
	here, there := a.standing.shape(mine), a.standing.shape(theirs)
	for i := range there {
		there[i][0] = -there[i][0]
	}
	_, asNamed, ok := fit(there, here)
	if !ok {
		return false
	}
	i, j := slices.Index(mine, one), slices.Index(mine, two)
	here[i], here[j] = here[j], here[i]
	_, exchanged, _ := fit(there, here)
	return exchanged < asNamed
}

func otherSide(name string) string {
	if rest, ok := strings.CutPrefix(name, "left_"); ok {
		return "right_" + rest
	}
	if rest, ok := strings.CutPrefix(name, "right_"); ok {
		return "left_" + rest
	}
	return name
}

// segment finds the pose of one segment in every frame, with the standing shape
// where it fits and else with the shape that the run itself shows.
func (a *application) segment(name string) (*segment, bool) {
	if a.standing != nil {
		markers := a.common(name, true)
		seg := &segment{name: name, markers: markers, shape: a.standing.shape(markers), standing: true}
		if res, n := a.sample(seg.shape, markers); n > 0 {
			if res < wrongFitM {
				if res > goodFitM {
					a.note("the %s departs from its standing shape by %.0f mm: markers were moved between the trials or two are confused; what it carries is less certain", strings.ReplaceAll(name, "_", " "), 1000*res)
				}
				a.pose(seg)
				return seg, true
			}
			a.note("the standing trial does not fit the %s (%.0f mm): it was not used there; check that it is of the same runner and session", strings.ReplaceAll(name, "_", " "), 1000*res)
		}
	}
	markers := a.common(name, false)
	seg := &segment{name: name, markers: markers}
	if shape, ok := a.shapeOfRun(markers); ok {
		seg.shape = shape
		a.pose(seg)
		return seg, true
	}
	return nil, false
}

// shapeOfRun returns the mean shape of the markers over the frames in which all
// are seen, each frame turned onto the first, about their middle.
func (a *application) shapeOfRun(markers []string) ([]vec, bool) {
	if len(markers) < 3 {
		return nil, false
	}
	var first, sum []vec
	n := 0.0
	paths, now := a.paths(markers), make([]vec, len(markers))
	for k := 0; k < len(a.points.TimeS); k += 1 + len(a.points.TimeS)/400 {
		frame(paths, k, now)
		if slices.ContainsFunc(now, func(v vec) bool { return !v.seen() }) {
			continue
		}
		if first == nil {
			var middle vec
			for _, v := range now {
				middle = middle.add(v)
			}
			middle = middle.mul(1 / float64(len(now)))
			for _, v := range now {
				first = append(first, v.sub(middle))
			}
			sum = make([]vec, len(markers))
		}
		p, _, ok := fit(now, first)
		if !ok {
			continue
		}
		for i, v := range now {
			sum[i] = sum[i].add(p.apply(v))
		}
		n++
	}
	if n < 3 {
		return nil, false
	}
	for i := range sum {
		sum[i] = sum[i].mul(1 / n)
	}
	return sum, true
}

// pose fits the segment's shape to every frame.
func (a *application) pose(seg *segment) {
	n := len(a.points.TimeS)
	seg.poses, seg.ok, seg.strayed = make([]pose, n), make([]bool, n), map[int]int{}
	paths, now := a.paths(seg.markers), make([]vec, len(seg.markers))
	var res []float64
	for k := range n {
		frame(paths, k, now)
		p, r, ok := fit(seg.shape, now)
		if !ok {
			continue
		}
		if r > suspectM {
			if i, q, better, found := withoutStray(seg.shape, now, r); found {
				seg.strayed[k] = i
				p, r = q, better
			}
		}
		res = append(res, r)
		seg.poses[k], seg.ok[k] = p, r < maxFitM
	}
	seg.residual = median(res)
}

// withoutStray looks for the one marker without which the others fit their shape
// well, which they did not with it. Three markers always fit fairly, so at least
// that many must be left.
func withoutStray(shape, now []vec, residual float64) (stray int, p pose, better float64, found bool) {
	better = min(goodFitM, 0.4*residual)
	for i, v := range now {
		if !v.seen() {
			continue
		}
		now[i] = missing
		if q, r, ok := fit(shape, now); ok && r < better && q.apply(shape[i]).sub(v).length() > strayM {
			stray, p, better, found = i, q, r, true
		}
		now[i] = v
	}
	return stray, p, better, found
}

// carry moves a point of the segment's shape into every frame; missing where the
// pose is not known.
func (seg *segment) carry(p vec) []vec {
	out := make([]vec, len(seg.poses))
	for k := range out {
		out[k] = missing
		if seg.ok[k] {
			out[k] = seg.poses[k].apply(p)
		}
	}
	return out
}

// describe is one line on the segment's fit.
func (seg *segment) describe() string {
	return fmt.Sprintf("%s %.1f mm", strings.ReplaceAll(seg.name, "_", " "), 1000*seg.residual)
}
