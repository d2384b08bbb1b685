package markerset

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/track"
)

// Options of Apply.
type Options struct {
	// UpHint is the upward axis that the file declares ("+Y"); where the markers
	// say otherwise, the markers are believed and a note says so. Empty is no
	// hint.
	UpHint string
}

// Result is a marker file turned to landmarks.
type Result struct {
	// Track is in runner space, metres, with Origin MarkerFile; a path's Filled is
	// true where its marker was lost and the segment gave the place.
	Track *track.Track
	Axes  Axes
	// Surface is Overground where the runner travelled through the laboratory.
	Surface clip.Surface
	// SpeedMPS is about how fast the run was, metres a second: the trunk's travel
	// overground, the speed of the low foot on a treadmill; 0 where the person
	// stands.
	SpeedMPS float64
	// How says in a few words how each landmark was found.
	How map[body.Landmark]string
	// Notes are for the analyst.
	Notes []string
}

// Apply finds the landmarks of a run from its markers by the set. standing is the
// standing trial of the same session, nil where there is none.
func Apply(set Set, points Points, standing *Points, opt Options) (*Result, error) {
	if err := points.Check(); err != nil {
		return nil, err
	}
	if len(points.TimeS) < 2 {
		return nil, fmt.Errorf("the file has %d frames, which is no movement", len(points.TimeS))
	}
	if _, ok := set.serves(points.Labels()); !ok {
		return nil, UnknownNames(points.Labels())
	}
	a := &application{set: &set, points: points, run: newIndex(&set, points.Labels()),
		segments: map[string]*segment{}, found: map[body.Landmark]*finding{}}
	if standing != nil {
		if err := standing.Check(); err != nil {
			return nil, fmt.Errorf("standing trial: %w", err)
		}
		if len(standing.TimeS) == 0 {
			return nil, fmt.Errorf("the standing trial has no frames")
		}
		if err := a.takeStanding(*standing); err != nil {
			return nil, fmt.Errorf("standing trial: %w", err)
		}
	}
	a.findSegments()
	c, err := takeBearings(&set, a.run, points).findCourse()
	if err != nil {
		return nil, err
	}
	a.axes = c.axes
	a.notes = append(a.notes, c.notes...)
	a.checkHint(opt.UpHint)
	out := a.result(c)
	if err := checkSides(out.Track); err != nil {
		return nil, err
	}
	return out, nil
}

// application is one run of Apply.
type application struct {
	set      *Set
	points   Points
	run      *index
	standing posture // nil without a standing trial
	standUp  Axes    // the standing person's axes, in the laboratory of that trial
	axes     Axes
	segments map[string]*segment
	found    map[body.Landmark]*finding
	notes    []string
}

func (a *application) note(format string, args ...any) {
	if n := fmt.Sprintf(format, args...); !slices.Contains(a.notes, n) {
		a.notes = append(a.notes, n)
	}
}

func (a *application) takeStanding(p Points) error {
	var x *index
	a.standing, x = stand(a.set, p)
	if len(a.standing) == 0 {
		a.standing = nil
		return fmt.Errorf("it has none of the markers of set %q: give the standing trial of the same laboratory, or none", a.set.Name)
	}
	c, err := takeBearings(a.set, x, p).findCourse()
	if err != nil {
		return err
	}
	a.standUp = c.axes
	return nil
}

func (a *application) checkHint(hint string) {
	if len(hint) != 2 {
		return
	}
	axis := strings.IndexByte("XYZ", hint[1])
	if axis < 0 {
		return
	}
	if a.axes.Up[axis] == 0 || (a.axes.Up[axis] < 0) != (hint[0] == '-') {
		a.note("the file declares %s as the upward axis, but the markers stand along another; the markers were believed", hint)
	}
}

// finding is one landmark's path in the laboratory.
type finding struct {
	path       []vec
	filled     []bool
	confidence float64
	how        string
}

func (a *application) result(c course) *Result {
	out := &Result{Track: track.New(track.Runner, track.Metre, slices.Clone(a.points.TimeS)), Axes: a.axes,
		Surface: c.surface, SpeedMPS: c.speedMPS, How: map[body.Landmark]string{}}
	for l := range body.NumLandmarks {
		f := a.find(l)
		if f == nil {
			continue
		}
		out.Track.Paths[l] = a.toPath(f)
		out.How[l] = f.how
	}
	if len(a.segments) > 0 {
		var fits []string
		for _, seg := range a.segments {
			if seg.standing {
				fits = append(fits, seg.describe())
			}
		}
		if len(fits) > 0 {
			slices.Sort(fits)
			a.note("fit of the standing trial to the run, median residual: %s", strings.Join(fits, ", "))
		}
	}
	a.checkForefoot(out.Track)
	out.Notes = a.notes
	return out
}

// checkForefoot exchanges the heads of the first and the fifth metatarsal of a
// foot where the first lies on the outer side: it never does.
func (a *application) checkForefoot(t *track.Track) {
	for _, s := range body.Sides {
		one, five := body.LeftMT1.On(s), body.LeftMT5.On(s)
		if !t.Has(one, five) {
			continue
		}
		var outward []float64
		for k := range t.TimeS {
			if d := s.Sign() * (t.Paths[five].Z[k] - t.Paths[one].Z[k]); !math.IsNaN(d) {
				outward = append(outward, d)
			}
		}
		if median(outward) < 0 {
			t.Paths[one], t.Paths[five] = t.Paths[five], t.Paths[one]
			a.note("the %v foot's first and fifth metatarsal markers carry each other's name (the first lay on the outer side); they were exchanged", s)
		}
	}
}

// checkSides refuses a file whose left markers lie on the runner's right.
func checkSides(t *track.Track) error {
	for _, l := range []body.Landmark{body.LeftASIS, body.LeftHip, body.LeftShoulder, body.LeftPSIS} {
		left, right := t.Paths[l], t.Paths[l.Mirror()]
		if left == nil || right == nil {
			continue
		}
		var width []float64
		for k := range t.TimeS {
			if d := right.Z[k] - left.Z[k]; !math.IsNaN(d) {
				width = append(width, d)
			}
		}
		if len(width) == 0 {
			continue
		}
		if median(width) < 0 {
			return fmt.Errorf("%v lies to the right of %v: left and right are exchanged in the marker names, or the file's axes are mirrored; mend the names or the marker set", l, l.Mirror())
		}
		return nil
	}
	return nil
}

func (a *application) toPath(f *finding) *track.Path {
	n := len(f.path)
	p := &track.Path{Origin: track.MarkerFile, X: make([]float64, n), Y: make([]float64, n), Z: make([]float64, n)}
	for k, v := range f.path {
		r := a.axes.Turn(v)
		p.X[k], p.Y[k], p.Z[k] = r[0], r[1], r[2]
	}
	if f.confidence < 1 {
		p.Confidence = make([]float64, n)
		for k, v := range f.path {
			if v.seen() {
				p.Confidence[k] = f.confidence
			}
		}
	}
	if slices.Contains(f.filled, true) {
		p.Filled = f.filled
	}
	return p
}

// find finds one landmark by the first of its recipes that the file can serve;
// nil where none can. While a landmark is being found it counts as not found, so
// recipes that lean on each other in a circle end.
func (a *application) find(l body.Landmark) *finding {
	if f, ok := a.found[l]; ok {
		return f
	}
	a.found[l] = nil
	for _, r := range a.set.Landmarks[l.String()] {
		f := a.try(l, r)
		if f == nil || !slices.ContainsFunc(f.path, vec.seen) {
			continue
		}
		f.confidence = 1
		if r.Confidence > 0 {
			f.confidence = r.Confidence
		}
		if r.Note != "" {
			a.note("%s", r.Note)
		}
		a.found[l] = f
		return f
	}
	return nil
}

// try finds landmark l by recipe r; nil where the file cannot serve it.
func (a *application) try(l body.Landmark, r Recipe) *finding {
	switch {
	case r.Functional != nil:
		return a.functional(*r.Functional)
	case r.Between != nil:
		return a.between(*r.Between)
	}
	if f := a.carried(l, r); f != nil {
		return f
	}
	for _, m := range r.markers() {
		if !a.has(m) {
			return nil
		}
	}
	f := &finding{path: make([]vec, len(a.points.TimeS)), filled: make([]bool, len(a.points.TimeS)), how: r.how()}
	paths := map[string][]vec{}
	for _, m := range r.markers() {
		var filled []bool
		paths[m], filled = a.marker(m)
		for k, v := range filled {
			f.filled[k] = f.filled[k] || v
		}
	}
	for k := range f.path {
		f.path[k] = r.place(l, func(m string) vec { return paths[m][k] }, a.axes, false)
	}
	return f
}

// carried measures the landmark in the standing trial and carries it by the
// recipe's segments.
func (a *application) carried(l body.Landmark, r Recipe) *finding {
	if a.standing == nil || len(r.CarriedBy) == 0 {
		return nil
	}
	at := r.place(l, func(m string) vec {
		if v, ok := a.standing[m]; ok {
			return v
		}
		return missing
	}, a.standUp, true)
	if !at.seen() {
		return nil
	}
	var by []*segment
	var names []string
	for _, n := range r.CarriedBy {
		if seg := a.segments[n]; seg != nil && seg.standing {
			by = append(by, seg)
			names = append(names, strings.ReplaceAll(n, "_", " "))
		}
	}
	if len(by) == 0 {
		return nil
	}
	f := &finding{how: r.how() + " in standing, carried by the " + strings.Join(names, " and the ")}
	f.path = meanOf(len(a.points.TimeS), by, at)
	return f
}

// meanOf carries at by each segment. Where both are known the mean is taken;
// where one is lost for a while, the other carries the point alone, shifted by
// the mean distance between the two so that there is no step.
func meanOf(n int, by []*segment, at vec) []vec {
	out := by[0].carry(at)
	for _, seg := range by[1:] {
		other := seg.carry(at)
		var gap vec
		m := 0.0
		for k := range n {
			if out[k].seen() && other[k].seen() {
				gap = gap.add(other[k].sub(out[k]))
				m++
			}
		}
		if m > 0 {
			gap = gap.mul(0.5 / m)
		}
		for k := range n {
			switch {
			case out[k].seen() && other[k].seen():
				out[k] = out[k].add(other[k]).mul(0.5)
			case out[k].seen():
				out[k] = out[k].add(gap)
			case other[k].seen():
				out[k] = other[k].sub(gap)
			}
		}
	}
	return out
}

// has tells whether the path of a marker can be had: from the run, or, where the
// run lacks it, from a segment that carries it from the standing trial.
func (a *application) has(name string) bool {
	if _, ok := a.run.find(name); ok {
		return true
	}
	if _, ok := a.standing[name]; !ok {
		return false
	}
	seg := a.segmentOf(name)
	return seg != nil && seg.standing
}

// segmentOf returns the segment on which the set puts a marker; nil where there is
// none or its pose is not known.
func (a *application) segmentOf(name string) *segment {
	for _, n := range slices.Sorted(maps.Keys(a.segments)) {
		if slices.Contains(a.set.Segments[n], name) {
			return a.segments[n]
		}
	}
	return nil
}

// marker returns the path of a marker. Where it was lost for a while, or strayed
// from its segment, the segment gives the place, shifted by the departure from the
// rigid shape that the marker showed before and after the gap.
func (a *application) marker(name string) ([]vec, []bool) {
	filled := make([]bool, len(a.points.TimeS))
	seg := a.segmentOf(name)
	place, ok := a.run.find(name)
	if !ok {
		a.note("the run has no marker %s; the %s carried it from the standing trial", name, strings.ReplaceAll(seg.name, "_", " "))
		return seg.carry(a.standing[name]), filled
	}
	out := make([]vec, len(a.points.TimeS))
	for k := range out {
		out[k] = a.points.Markers[place].at(k)
	}
	if seg != nil {
		if i := slices.Index(seg.markers, name); i >= 0 && seg.shape[i].seen() {
			for k, stray := range seg.strayed {
				if stray == i {
					out[k] = missing
				}
			}
			fill(out, filled, a.guess(seg, i))
		}
	}
	return out, filled
}

// guess returns where the segment's other markers put its marker i in a frame.
func (a *application) guess(seg *segment, i int) func(k int) vec {
	paths, now := a.paths(seg.markers), make([]vec, len(seg.markers))
	return func(k int) vec {
		frame(paths, k, now)
		now[i] = missing
		p, residual, ok := fit(seg.shape, now)
		if !ok || residual > maxFitM {
			return missing
		}
		return p.apply(seg.shape[i])
	}
}

// fill closes the gaps of path by guess, shifted so that it meets the path on
// either side.
func fill(path []vec, filled []bool, guess func(k int) vec) {
	for from := 0; from < len(path); from++ {
		if path[from].seen() {
			continue
		}
		to := from
		for to < len(path) && !path[to].seen() {
			to++
		}
		before, after := missing, missing
		if from > 0 {
			before = path[from-1].sub(guess(from - 1))
		}
		if to < len(path) {
			after = path[to].sub(guess(to))
		}
		switch {
		case !before.seen() && !after.seen():
			before, after = vec{}, vec{}
		case !before.seen():
			before = after
		case !after.seen():
			after = before
		}
		for k := from; k < to; k++ {
			w := float64(k-from+1) / float64(to-from+1)
			path[k] = guess(k).add(before.mul(1 - w)).add(after.mul(w))
			filled[k] = path[k].seen()
		}
		from = to
	}
}

func (a *application) between(b Between) *finding {
	one, err := body.ParseLandmark(b.From)
	if err != nil {
		return nil
	}
	two, err := body.ParseLandmark(b.To)
	if err != nil {
		return nil
	}
	from, to := a.find(one), a.find(two)
	if from == nil || to == nil {
		return nil
	}
	f := &finding{path: make([]vec, len(from.path)), how: fmt.Sprintf("%.0f %% of the way from %s to %s", 100*b.At, b.From, b.To)}
	for k := range f.path {
		f.path[k] = from.path[k].add(to.path[k].sub(from.path[k]).mul(b.At))
	}
	return f
}

// how is a few words on the recipe.
func (r Recipe) how() string {
	switch {
	case len(r.Mean) == 1:
		return "marker " + r.Mean[0]
	case len(r.Mean) > 1:
		return "mean of " + strings.Join(r.Mean, ", ")
	case r.Inward != nil:
		return fmt.Sprintf("marker %s moved %.0f mm inward", r.Inward.Marker, 1000*r.Inward.ByM)
	case r.Hip != nil:
		return "regression from the pelvis"
	case r.Toe != nil:
		return "beyond the metatarsal heads"
	}
	return ""
}

// place evaluates the recipe on one frame of markers; at returns missing for a
// marker that was not seen. standing is true for the standing trial.
func (r Recipe) place(l body.Landmark, at func(string) vec, ax Axes, standing bool) vec {
	switch {
	case len(r.Mean) > 0:
		var sum vec
		weights := 0.0
		for i, m := range r.Mean {
			w := 1.0
			if len(r.Weights) > 0 {
				w = r.Weights[i]
			}
			sum, weights = sum.add(at(m).mul(w)), weights+w
		}
		return sum.mul(1 / weights)
	case r.Inward != nil:
		return at(r.Inward.Marker).sub(vec(ax.Right).mul(l.Side().Sign() * r.Inward.ByM))
	case r.Hip != nil:
		return hipCentre(at(r.Hip.LeftASIS), at(r.Hip.RightASIS), mean(r.Hip.Back, at), l.Side())
	case r.Toe != nil:
		heel, fore := at(r.Toe.Heel), mean(r.Toe.Forefoot, at)
		toe := fore.add(fore.sub(heel).mul(r.Toe.Beyond))
		if standing {
			up := vec(ax.Up)
			toe = toe.sub(up.mul(toe.sub(heel).dot(up)))
		}
		return toe
	}
	return missing
}

func mean(names []string, at func(string) vec) vec {
	var sum vec
	for _, n := range names {
		sum = sum.add(at(n))
	}
	return sum.mul(1 / float64(len(names)))
}

// hipCentre is the hip centre by regression from the breadth and depth of the
// pelvis: Harrington et al. 2007, J Biomech 40:595, from memory. With PW the
// distance between the anterior spines, PD that between the middles of the
// anterior and the posterior spines, in millimetres, and the middle of the
// anterior spines as origin, the centre lies
//
//	forward  -0.24 PD - 9.9
//	upward   -0.30 PW - 10.9
//	outward   0.33 PW + 7.3
//
// in axes whose lateral one joins the anterior spines and whose forward one lies
// in the plane of all four.
func hipCentre(left, right, back vec, side body.Side) vec {
	front := left.add(right).mul(0.5)
	outward := right.sub(left)
	width := outward.length()
	if !(width > 0) {
		return missing
	}
	outward = outward.mul(1 / width)
	forward := front.sub(back)
	depth := forward.length()
	forward = forward.sub(outward.mul(forward.dot(outward)))
	if !(forward.length() > 0) {
		return missing
	}
	forward = forward.unit()
	up := outward.cross(forward)
	const mm = 1e-3
	return front.
		add(forward.mul(-0.24*depth - 9.9*mm)).
		add(up.mul(-0.30*width - 10.9*mm)).
		add(outward.mul(side.Sign() * (0.33*width + 7.3*mm)))
}
