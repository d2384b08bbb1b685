package event

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gaitwright/gait/body"
	"gaitwright/gait/track"
	"gaitwright/num/signal"
)

// Force is what one or several force platforms measured, on one clock.
type Force struct {
	RateHz float64 // samples a second
	StartS float64 // time of the first sample on the clip's clock, seconds
	Plates []Plate // all of one length
}

// Plate is one force platform, or one belt of an instrumented treadmill.
type Plate struct {
	VerticalN []float64 // vertical force of the ground on the runner, newtons, upward positive
	// CentreX and CentreZ are the centre of pressure in runner space, metres; NaN
	// without load; nil where it is not known.
	CentreX, CentreZ []float64
	// Corners of the working surface in runner space, X and Z in metres, in order
	// around it; all zero where not known. Contacts partly beside the surface are
	// then not recognised.
	Corners [4][2]float64
}

// ForceOptions of ForceContacts. Zero values mean the defaults.
type ForceOptions struct {
	// ThresholdN is the vertical force above which a foot counts as on the ground;
	// 50 N by default. Contact time depends on it: 294, 292, 279 and 260 ms at 10,
	// 20, 50 and 100 N for one runner at 2.5 m/s (RBDS 001).
	ThresholdN float64
}

// Limits of a running contact by force. Contact times of runners lie between
// about 0.10 s (sprint) and 0.40 s (slow jog) (common practice); a peak far below
// the runner's other peaks is no step.
const (
	defaultThresholdN = 50.0
	minForceContactS  = 0.06
	maxForceContactS  = 0.60
	minForceFlightS   = 0.010 // a shorter gap is a tremor of the plate within one contact
	minPeakFraction   = 0.4   // of the median peak
	minPeakN          = 150.0
	forceCutoffHz     = 50.0 // low-pass of the force: above the stride's own content, below the plates' ringing
	minOffsetN        = 25.0 // a platform that never reads lower than this was not set to zero …
	maxOffsetN        = 250  // … unless it carries the runner all the time
	edgeM             = 0.01 // a foot this far beside a plate still counts as on it
)

// ForceContacts finds the contacts from vertical force: a contact begins and ends
// where the force, summed over the platforms and freed of its drift, crosses the
// threshold, timed between samples by a straight line. The foot is the one that is
// lower, and nearer to the centre of pressure, in the middle of the contact. A
// contact cut by either end of the file is left out, as is one whose foot stands
// partly beside the platforms.
func ForceContacts(f Force, t *track.Track, opt ForceOptions) (Series, error) {
	if err := f.check(); err != nil {
		return Series{}, err
	}
	threshold := opt.ThresholdN
	if threshold == 0 {
		threshold = defaultThresholdN
	}
	if !(threshold >= 5 && threshold <= 500) {
		return Series{}, fmt.Errorf("the force threshold is %g N; give one between 5 and 500 N", threshold)
	}
	out := Series{Method: FromForce, Rule: fmt.Sprintf("vertical force above %g N", threshold)}
	total, drift, err := f.total(threshold)
	if err != nil {
		return Series{}, err
	}
	if drift > 5 {
		out.Notes = append(out.Notes, fmt.Sprintf("the unloaded platform read up to %.0f N; this drift was taken off", drift))
	}
	spans := loaded(total, threshold, f.RateHz)
	if len(spans) == 0 {
		return Series{}, fmt.Errorf("no contact was found by force: the vertical force never stays above %g N for %.0f ms; use --contacts motion", threshold, 1000*minForceContactS)
	}
	noise := unloadedSD(total, threshold)
	feet := newFootPaths(t)
	if feet == nil {
		return Series{}, errors.New("the side of the contacts cannot be told: landmarks of both feet are needed beside the force")
	}
	beside, unseen, long := 0, 0, 0
	for _, s := range spans {
		c := Contact{
			InitialContactS: f.StartS + levelCrossing(total, s.from-1, threshold)/f.RateHz,
			ToeOffS:         f.StartS + levelCrossing(total, s.to-1, threshold)/f.RateHz,
		}
		c.InitialContactSDS = crossingSD(total, s.from-1, noise, f.RateHz)
		c.ToeOffSDS = crossingSD(total, s.to-1, noise, f.RateHz)
		if c.DurationS() > maxForceContactS {
			long++
			continue
		}
		side, margin, ok := feet.standing(c, f)
		if !ok {
			unseen++
			continue
		}
		c.Side = side
		if margin < 0.5 {
			c.Doubt = "the two feet were too close to tell which stood"
		}
		if !f.carries(feet, c) {
			beside++
			continue
		}
		out.Contacts = append(out.Contacts, c)
	}
	if n := beside; n > 0 {
		out.Notes = append(out.Notes, fmt.Sprintf("%d contact(s) partly beside the force platforms were left out", n))
	}
	if unseen > 0 {
		out.Notes = append(out.Notes, fmt.Sprintf("%d contact(s) were left out because the feet were not seen then", unseen))
	}
	if long > 0 {
		out.Notes = append(out.Notes, fmt.Sprintf("%d stretch(es) of force longer than %.1f s were left out: the runner stood or walked", long, maxForceContactS))
	}
	if len(out.Contacts) == 0 {
		return Series{}, errors.New("the platforms carried load, but no whole running contact of a foot that was seen; use --contacts motion")
	}
	doubtRhythm(out.Contacts)
	return out, nil
}

func (f Force) check() error {
	if !(f.RateHz >= 10 && f.RateHz <= 1e6) {
		return fmt.Errorf("the force is sampled %g times a second; at least 10 are needed", f.RateHz)
	}
	if len(f.Plates) == 0 {
		return errors.New("the file has no force platform; use --contacts motion")
	}
	n := len(f.Plates[0].VerticalN)
	for i, p := range f.Plates {
		if len(p.VerticalN) != n || (p.CentreX != nil && len(p.CentreX) != n) || (p.CentreZ != nil && len(p.CentreZ) != n) {
			return fmt.Errorf("force platform %d has another number of samples than the first", i+1)
		}
	}
	return nil
}

// total sums the platforms, each freed of its drift and smoothed, and returns the
// largest drift taken off, in newtons.
func (f Force) total(threshold float64) (sum []float64, driftN float64, err error) {
	n := len(f.Plates[0].VerticalN)
	sum = make([]float64, n)
	for i, p := range f.Plates {
		v := slices.Clone(p.VerticalN)
		for k, x := range v {
			if math.IsNaN(x) || math.IsInf(x, 0) {
				return nil, 0, fmt.Errorf("force platform %d has a sample that is no number, at %.3f s: export the file again", i+1, f.StartS+float64(k)/f.RateHz)
			}
		}
		if f.RateHz > 2.5*forceCutoffHz && n > 20 {
			if v, err = signal.LowPass(v, forceCutoffHz, f.RateHz); err != nil {
				return nil, 0, err
			}
		}
		driftN = max(driftN, takeOffDrift(v, threshold, f.RateHz))
		for k, x := range v {
			sum[k] += x
		}
	}
	return sum, driftN, nil
}

// takeOffDrift subtracts from v what the platform reads unloaded: first, where the
// lowest fiftieth of the samples lies clearly off zero, that level; then the mean
// over the middle of each stretch below the threshold, joined by straight lines.
// It returns the largest reading taken off.
func takeOffDrift(v []float64, threshold, rateHz float64) (largest float64) {
	offset := 0.0
	if q := signal.Quantile(v, 0.02); math.Abs(q) > minOffsetN && math.Abs(q) < maxOffsetN {
		offset = q
		for i := range v {
			v[i] -= offset
		}
	}
	type knot struct{ at, value float64 }
	var knots []knot
	for from := 0; from < len(v); from++ {
		if v[from] > threshold {
			continue
		}
		to := from
		for to < len(v) && v[to] <= threshold {
			to++
		}
		// The edges belong to the foot; a third on either side is left out.
		margin := (to - from) / 3
		if float64(to-from) > 0.03*rateHz {
			sum := 0.0
			for _, x := range v[from+margin : to-margin] {
				sum += x
			}
			k := knot{float64(from+to-1) / 2, sum / float64(to-from-2*margin)}
			knots = append(knots, k)
		}
		from = to
	}
	if len(knots) == 0 {
		return math.Abs(offset)
	}
	j := 0
	for i := range v {
		x := float64(i)
		for j+1 < len(knots) && knots[j+1].at < x {
			j++
		}
		base := knots[j].value
		if j+1 < len(knots) && x > knots[j].at {
			w := (x - knots[j].at) / (knots[j+1].at - knots[j].at)
			base += w * (knots[j+1].value - knots[j].value)
		}
		largest = max(largest, math.Abs(offset+base))
		v[i] -= base
	}
	return largest
}

// loadedSpan is a stretch of samples, from inclusive, to exclusive.
type loadedSpan struct{ from, to int }

// loaded returns the stretches above the threshold that are whole, long enough
// and pressed hard enough to be contacts.
func loaded(v []float64, threshold, rateHz float64) []loadedSpan {
	var all []loadedSpan
	for i := 0; i < len(v); i++ {
		if !(v[i] > threshold) {
			continue
		}
		s := loadedSpan{i, i}
		for i < len(v) && v[i] > threshold {
			i++
		}
		s.to = i
		if n := len(all); n > 0 && float64(s.from-all[n-1].to) < minForceFlightS*rateHz {
			all[n-1].to = s.to
		} else {
			all = append(all, s)
		}
	}
	peak := func(s loadedSpan) float64 { return slices.Max(v[s.from:s.to]) }
	var peaks []float64
	for _, s := range all {
		if p := peak(s); p > minPeakN {
			peaks = append(peaks, p)
		}
	}
	if len(peaks) == 0 {
		return nil
	}
	slices.Sort(peaks)
	enough := max(minPeakN, minPeakFraction*peaks[len(peaks)/2])
	return slices.DeleteFunc(all, func(s loadedSpan) bool {
		return s.from == 0 || s.to == len(v) || float64(s.to-s.from) < minForceContactS*rateHz || peak(s) < enough
	})
}

// levelCrossing returns where, between samples i and i+1, v crosses level, in samples.
func levelCrossing(v []float64, i int, level float64) float64 {
	return float64(i) + (level-v[i])/(v[i+1]-v[i])
}

// unloadedSD is the standard deviation of the force without load, newtons.
func unloadedSD(v []float64, threshold float64) float64 {
	sum, n := 0.0, 0.0
	for _, x := range v {
		if math.Abs(x) < threshold/2 {
			sum += x * x
			n++
		}
	}
	if n < 2 {
		return 0
	}
	return math.Sqrt(sum / n)
}

// crossingSD is the random error of a crossing, seconds: the noise of the force
// over its slope there, joined with the rounding of the clock.
func crossingSD(v []float64, i int, noiseN, rateHz float64) float64 {
	slope := math.Abs(v[i+1]-v[i]) * rateHz
	return math.Hypot(noiseN/slope, 1/(rateHz*math.Sqrt(12)))
}

// footPaths are the landmark paths of both feet.
type footPaths struct {
	timeS []float64
	paths [3][]*track.Path // by side
}

func newFootPaths(t *track.Track) *footPaths {
	if t == nil || t.Frames() == 0 {
		return nil
	}
	f := &footPaths{timeS: t.TimeS}
	for _, s := range body.Sides {
		for _, l := range []body.Landmark{body.LeftHeel, body.LeftMT1, body.LeftMT5, body.LeftToe} {
			if p := t.Paths[l.On(s)]; p != nil && p.Y != nil {
				f.paths[s] = append(f.paths[s], p)
			}
		}
		if len(f.paths[s]) == 0 {
			if p := t.Paths[body.LeftAnkle.On(s)]; p != nil && p.Y != nil {
				f.paths[s] = append(f.paths[s], p)
			}
		}
	}
	if f.paths[body.Left] == nil || f.paths[body.Right] == nil {
		return nil
	}
	return f
}

// footPlace is the mean place of one foot over the frames from, inclusive, to,
// exclusive: the height of its lowest landmark and the middle of all of them.
type footPlace struct {
	low, x, z float64
	seen      bool
}

func (f *footPaths) place(s body.Side, from, to int) footPlace {
	var out footPlace
	lows, xs, zs := runningMean{}, runningMean{}, runningMean{}
	for k := from; k < to; k++ {
		low := math.Inf(1)
		for _, p := range f.paths[s] {
			if math.IsNaN(p.Y[k]) {
				continue
			}
			low = min(low, p.Y[k])
			if p.X != nil {
				xs.add(p.X[k])
			}
			if p.Z != nil {
				zs.add(p.Z[k])
			}
		}
		if !math.IsInf(low, 1) {
			lows.add(low)
		}
	}
	out.low, out.x, out.z, out.seen = lows.value(), xs.value(), zs.value(), lows.n > 0
	return out
}

// runningMean is the mean of what was added; its value is NaN while it is empty.
type runningMean struct{ sum, n float64 }

func (m *runningMean) add(x float64) {
	if !math.IsNaN(x) {
		m.sum += x
		m.n++
	}
}

func (m *runningMean) value() float64 { return m.sum / m.n }

// middle returns the frames of the middle half of a contact.
func (f *footPaths) middle(c Contact) (from, to int) {
	a, b := c.InitialContactS+0.25*c.DurationS(), c.ToeOffS-0.25*c.DurationS()
	from, _ = slices.BinarySearch(f.timeS, a)
	to, _ = slices.BinarySearch(f.timeS, b)
	if from == to && from < len(f.timeS) {
		to++
	}
	return from, min(to, len(f.timeS))
}

// standing tells which foot stands during the contact: each foot scores a point
// for every 50 mm that it is lower than the other and for every 100 mm that it is
// nearer to the centre of pressure. The margin is the difference in points.
func (f *footPaths) standing(c Contact, force Force) (side body.Side, margin float64, ok bool) {
	from, to := f.middle(c)
	left, right := f.place(body.Left, from, to), f.place(body.Right, from, to)
	if !left.seen || !right.seen {
		return body.NoSide, 0, false
	}
	points := (right.low - left.low) / 0.05
	x, z := force.centre(c)
	if d := footDistance(right, x, z) - footDistance(left, x, z); !math.IsNaN(d) {
		points += d / 0.10
	}
	if points >= 0 {
		return body.Left, points, true
	}
	return body.Right, -points, true
}

func footDistance(p footPlace, x, z float64) float64 {
	switch {
	case !math.IsNaN(p.x + p.z):
		return math.Hypot(p.x-x, p.z-z)
	case !math.IsNaN(p.x):
		return math.Abs(p.x - x)
	}
	return math.Abs(p.z - z)
}

// centre is the centre of pressure over the middle half of a contact, weighted by
// force over the platforms; NaN where none is known.
func (f Force) centre(c Contact) (x, z float64) {
	n := len(f.Plates[0].VerticalN)
	sample := func(t float64) int { return max(0, min(n, int(math.Round((t-f.StartS)*f.RateHz)))) }
	from, to := sample(c.InitialContactS+0.25*c.DurationS()), sample(c.ToeOffS-0.25*c.DurationS())
	var sx, sz, load float64
	for _, p := range f.Plates {
		if p.CentreX == nil || p.CentreZ == nil {
			continue
		}
		for k := from; k < to; k++ {
			if v := p.VerticalN[k]; v > 0 && !math.IsNaN(p.CentreX[k]+p.CentreZ[k]) {
				sx, sz, load = sx+v*p.CentreX[k], sz+v*p.CentreZ[k], load+v
			}
		}
	}
	return sx / load, sz / load
}

// carries tells whether the foot of a contact stands wholly on the platforms.
// Where corners or a horizontal axis are not known it is true.
func (f Force) carries(feet *footPaths, c Contact) bool {
	known := false
	for _, p := range f.Plates {
		known = known || p.Corners != [4][2]float64{}
	}
	if !known {
		return true
	}
	from, to := feet.middle(c)
	for _, path := range feet.paths[c.Side] {
		if path.X == nil || path.Z == nil {
			continue
		}
		var x, z runningMean
		for k := from; k < to; k++ {
			x.add(path.X[k])
			z.add(path.Z[k])
		}
		if x.n == 0 || z.n == 0 {
			continue
		}
		on := false
		for _, p := range f.Plates {
			on = on || p.holds(x.value(), z.value())
		}
		if !on {
			return false
		}
	}
	return true
}

// holds tells whether a point lies on the plate, or within edgeM of it.
func (p Plate) holds(x, z float64) bool {
	turn := 0
	for i := range 4 {
		a, b := p.Corners[i], p.Corners[(i+1)%4]
		ex, ez := b[0]-a[0], b[1]-a[1]
		size := math.Hypot(ex, ez)
		if size == 0 {
			return false
		}
		d := (ex*(z-a[1]) - ez*(x-a[0])) / size // distance beside the edge, signed by side
		switch {
		case d > edgeM && turn >= 0:
			turn = 1
		case d < -edgeM && turn <= 0:
			turn = -1
		case math.Abs(d) > edgeM:
			return false
		}
	}
	return true
}

// doubtRhythm marks contacts of one foot that follow each other without the other
// foot's between, although no more than a step's time lies between them.
func doubtRhythm(c []Contact) {
	if len(c) < 3 {
		return
	}
	steps := make([]float64, 0, len(c)-1)
	for i := 1; i < len(c); i++ {
		steps = append(steps, c[i].InitialContactS-c[i-1].InitialContactS)
	}
	sorted := slices.Sorted(slices.Values(steps))
	usual := sorted[(len(sorted)-1)/2]
	for i := 1; i < len(c); i++ {
		if c[i].Side == c[i-1].Side && steps[i-1] < 1.5*usual && c[i].Doubt == "" {
			c[i].Doubt = "rhythm: two contacts of one foot in a row"
		}
	}
}
