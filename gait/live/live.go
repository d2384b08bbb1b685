package live

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/event"
	"gaitwright/gait/track"
	"gaitwright/num/signal"
)

// WindowS is how far back a reading looks, in seconds.
const WindowS = 8.0

const (
	leastS      = 4.0  // before anything is said
	leastRateHz = 6.0  // pictures a second: four a stride
	leastSeen   = 0.6  // share of the pictures in which both ankles must be seen
	leastFit    = 0.6  // share of the ankles' swing that the beat must explain
	mostError   = 5.0  // steps a minute, 95 %: beyond it a rate is no help
	leastConf   = 0.3  // of a landmark that counts
	slowestHz   = 0.75 // strides a second: 90 steps a minute
	fastestHz   = 2.1  // 252 steps a minute
	harmonics   = 8    // of the mean stride, at most
	leastHarm   = 5    // and at least: about 7 Hz
	playedHz    = 100  // at which the mean stride is played again
	playedFor   = 6    // strides

	// reachSEM is the error of a distance between heel and pelvis by the pose model's
	// landmarks, as in package measure; metres.
	reachSEM = 0.016
)

// Options say what is known of the runner.
type Options struct {
	// LegM is the length of thigh and shank as the landmarks show them, metres, and
	// LegRelativeSD how well that is known; 0 where it is not.
	LegM, LegRelativeSD float64
}

// Reading is what the last seconds show.
type Reading struct {
	OverS  float64 // seconds looked at
	RateHz float64 // pictures a second
	View   clip.View
	// PerMin is the step rate, steps a minute of both feet, and SEM its standard
	// error (twice it is about 95 %); NaN where it is withheld, and then Why says why.
	PerMin, SEM float64
	Why         Why
	// Left and Right are how far the heel is ahead of the pelvis at contact.
	Left, Right Ahead
}

// Ahead is a distance at contact.
type Ahead struct {
	M, SEM float64 // metres, positive where the heel is ahead; NaN where withheld
	Why    Why
}

// Why is the reason for which something is withheld; empty where it is not.
type Why string

// The reasons.
const (
	TooEarly   Why = "wait"     // too few seconds, or too few pictures of a stride
	TooSlow    Why = "slow"     // too few pictures a second
	NotSeen    Why = "unseen"   // the whole runner is not in the picture
	NotSteady  Why = "unsteady" // no steady running
	NotAside   Why = "view"     // the camera does not look from the side
	NoScale    Why = "scale"    // the runner's size is not known
	NoContacts Why = "contacts" // the landing is not plain
)

// Of returns the distance of one side.
func (r *Reading) Of(s body.Side) *Ahead {
	if s == body.Left {
		return &r.Left
	}
	return &r.Right
}

func withheld(why Why) Ahead { return Ahead{M: math.NaN(), SEM: math.NaN(), Why: why} }

// Read reads the last seconds of a picture-space track of landmarks as they came,
// unsmoothed.
func Read(t *track.Track, o Options) Reading {
	if n := t.Frames(); n > 0 {
		from, _ := slices.BinarySearch(t.TimeS, t.TimeS[n-1]-WindowS)
		t = t.Slice(from, n)
	}
	none := func(why Why) Reading {
		return Reading{PerMin: math.NaN(), SEM: math.NaN(), Why: why, Left: withheld(why), Right: withheld(why)}
	}
	n := t.Frames()
	if n < 2 || t.DurationS() < leastS {
		return none(TooEarly)
	}
	rate := float64(n-1) / t.DurationS()
	about := func(r Reading) Reading {
		r.OverS, r.RateHz = t.DurationS(), rate
		return r
	}
	if rate < leastRateHz {
		return about(none(TooSlow))
	}
	named, _ := track.MendSwaps(t)
	look, err := track.LookAt(named)
	if err != nil {
		return about(none(NotSeen))
	}
	b, why := findBeat(named, look.View)
	if why != "" {
		return about(none(why))
	}
	r := about(Reading{View: look.View, PerMin: 120 * b.hz, SEM: 120 * b.sem})
	r.Left, r.Right = overstride(named, look.View, b, o)
	return r
}

// beat is the stride's frequency and its phase at every picture.
type beat struct {
	hz, sem float64
	phase   []float64 // strides, at each picture
}

func findBeat(t *track.Track, view clip.View) (beat, Why) {
	l, r := t.Paths[body.LeftAnkle], t.Paths[body.RightAnkle]
	if l == nil || r == nil {
		return beat{}, NotSeen
	}
	var timeS, d []float64
	for i, at := range t.TimeS {
		if !sure(l, i) || !sure(r, i) {
			continue
		}
		v := l.X[i] - r.X[i]
		if view.Frontal() {
			v = l.Y[i] - r.Y[i]
		}
		timeS, d = append(timeS, at), append(d, v)
	}
	if float64(len(d)) < leastSeen*float64(t.Frames()) || len(d) < 16 || timeS[len(d)-1]-timeS[0] < leastS {
		return beat{}, NotSeen
	}
	span := timeS[len(d)-1] - timeS[0]
	hz, best := 0.0, 0.0
	for f := slowestHz; f <= fastestHz; f += 0.1 / span {
		if _, _, fit := sine(timeS, d, f); fit > best {
			hz, best = f, fit
		}
	}
	if best < leastFit || hz <= slowestHz || hz > fastestHz-0.1/span {
		return beat{}, NotSteady
	}
	var mids, phases []float64
	var sem float64
	for range 3 {
		mids, phases = mids[:0], phases[:0]
		strides := int(span * hz)
		long := span / float64(strides)
		for k := range strides {
			from, _ := slices.BinarySearch(timeS, timeS[0]+float64(k)*long)
			to, _ := slices.BinarySearch(timeS, timeS[0]+float64(k+1)*long)
			if to-from < 4 {
				continue
			}
			c, s, fit := sine(timeS[from:to], d[from:to], hz)
			if !(fit > 0.3) {
				continue
			}
			p := math.Atan2(-s, c) / (2 * math.Pi)
			if n := len(phases); n > 0 {
				p += math.Round(phases[n-1] - p)
			}
			mids, phases = append(mids, timeS[0]+(float64(k)+0.5)*long), append(phases, p)
		}
		if len(phases) < 4 || 2*len(phases) < strides {
			return beat{}, NotSteady
		}
		slope, e := line(mids, phases)
		hz += slope
		e = math.Hypot(e, ownBeat(phases, slope*long)/(math.Sqrt(float64(len(phases)))*long))
		// The scatter of few strides is itself poorly known.
		few := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(len(phases) - 2)}.Quantile(0.975) / 1.96
		sem = e * few
		for i := range phases {
			phases[i] -= slope * mids[i]
		}
	}
	if 120*1.96*sem > mostError {
		return beat{}, NotSteady
	}
	b := beat{hz: hz, sem: sem, phase: make([]float64, t.Frames())}
	for i, at := range t.TimeS {
		b.phase[i] = hz*at + signal.At(mids, phases, min(max(at, mids[0]), mids[len(mids)-1]))
	}
	return b, ""
}

// ownBeat is what the runner's own beat adds to the error of the rate, times the root
// of the number of strides, in strides: strides longer and shorter by chance add up to
// phases that stray from a line, and the line's slope then differs from the mean rate
// of the window. For steps of variance v the variance of that difference is v/5 over
// the number of strides (weights of the slope against equal ones). v is told from the
// reading's own error by its neighbours: the latter makes one difference larger and
// the next smaller.
func ownBeat(phases []float64, step float64) float64 {
	var sum, next float64
	n := len(phases) - 1
	d := make([]float64, n)
	for i := range d {
		d[i] = phases[i+1] - phases[i] - step
		sum += d[i] * d[i] / float64(n)
		if i > 0 {
			next += d[i] * d[i-1] / float64(n-1)
		}
	}
	return math.Sqrt(max(0, sum+2*next) / 5)
}

func sure(p *track.Path, i int) bool {
	return p.Seen(i) && (p.Confidence == nil || p.Confidence[i] >= leastConf)
}

// sine fits a + c·cos(2πft) + s·sin(2πft) and returns the share of the scatter that
// it explains.
func sine(timeS, x []float64, f float64) (c, s, fit float64) {
	design := mat.NewDense(len(x), 3, nil)
	for i, at := range timeS {
		sin, cos := math.Sincos(2 * math.Pi * f * at)
		design.SetRow(i, []float64{1, cos, sin})
	}
	coef, rest, ok := solve(design, x)
	if !ok {
		return 0, 0, 0
	}
	_, sd, _ := signal.MeanSD(x)
	if !(sd > 0) {
		return 0, 0, 0
	}
	sum := 0.0
	for _, v := range rest {
		sum += v * v
	}
	return coef[1], coef[2], 1 - sum/(sd*sd*float64(len(x)-1))
}

// solve is a fit by least squares; rest are the residuals.
func solve(design *mat.Dense, x []float64) (coef, rest []float64, ok bool) {
	_, k := design.Dims()
	var normal mat.SymDense
	normal.SymOuterK(1, design.T())
	var by, c mat.VecDense
	y := mat.NewVecDense(len(x), x)
	by.MulVec(design.T(), y)
	var chol mat.Cholesky
	if !chol.Factorize(&normal) || chol.Cond() > 1e8 || chol.SolveVecTo(&c, &by) != nil {
		return nil, nil, false
	}
	var fit mat.VecDense
	fit.MulVec(design, &c)
	rest = make([]float64, len(x))
	for i := range rest {
		rest[i] = x[i] - fit.AtVec(i)
	}
	coef = make([]float64, k)
	for i := range coef {
		coef[i] = c.AtVec(i)
	}
	return coef, rest, true
}

// line returns the slope of a line through points and its standard error.
func line(x, y []float64) (slope, sem float64) {
	mx, _, n := signal.MeanSD(x)
	my, _, _ := signal.MeanSD(y)
	var xy, xx, rest float64
	for i := range x {
		xy, xx = xy+(x[i]-mx)*(y[i]-my), xx+(x[i]-mx)*(x[i]-mx)
	}
	slope = xy / xx
	for i := range x {
		e := y[i] - my - slope*(x[i]-mx)
		rest += e * e
	}
	return slope, math.Sqrt(rest / float64(n-2) / xx)
}

var (
	torso  = []body.Landmark{body.LeftShoulder, body.RightShoulder}
	legs   = []body.Landmark{body.LeftHip, body.RightHip, body.LeftKnee, body.RightKnee, body.LeftAnkle, body.RightAnkle, body.LeftHeel, body.RightHeel, body.LeftToe, body.RightToe}
	folded = append(slices.Clone(torso), legs...)
)

// overstride lays the pictures over one stride and reads the heel's distance at
// contact.
func overstride(t *track.Track, view clip.View, b beat, o Options) (left, right Ahead) {
	both := func(why Why) (Ahead, Ahead) { return withheld(why), withheld(why) }
	switch {
	case !view.Sagittal():
		return both(NotAside)
	case !(o.LegM > 0):
		return both(NoScale)
	}
	k := min(harmonics, t.Frames()/12, int(0.5/widestGap(b.phase)))
	if k < leastHarm {
		return both(TooEarly)
	}
	mean, rest, ok := fold(t, b, k)
	if !ok {
		return both(NotSeen)
	}
	leg := legLength(t)
	if !(leg > 0) {
		return both(NotSeen)
	}
	scale := leg / o.LegM
	runner, err := track.ToRunner(mean, view, scale, 0)
	if err != nil {
		return both(NotAside)
	}
	series, err := event.MotionContacts(runner, event.MotionOptions{View: view, Surface: clip.Treadmill, Origin: track.PoseModel})
	if err != nil {
		return both(NoContacts)
	}
	out := Reading{}
	for _, side := range body.Sides {
		*out.Of(side) = ahead(runner, series, side, rest[side]/scale, k, o)
	}
	return out.Left, out.Right
}

// ahead is the mean over the contacts of one side of the mean stride. rest is the
// scatter of the heel's distance about the mean stride, in metres, over the root of
// the number of pictures.
func ahead(t *track.Track, series event.Series, side body.Side, rest float64, k int, o Options) Ahead {
	heel, lh, rh := t.Paths[body.LeftHeel.On(side)], t.Paths[body.LeftHip], t.Paths[body.RightHip]
	from := make([]float64, t.Frames())
	for i := range from {
		from[i] = heel.X[i] - (lh.X[i]+rh.X[i])/2
	}
	var v, early, late, sd []float64
	for _, c := range series.Of(side) {
		e := math.Hypot(c.InitialContactSDS, series.InitialContactBiasSDS)
		at := signal.At(t.TimeS, from, c.InitialContactS)
		if c.Doubt != "" || math.IsNaN(at) {
			continue
		}
		v, sd = append(v, at), append(sd, e)
		early, late = append(early, signal.At(t.TimeS, from, c.InitialContactS-e)), append(late, signal.At(t.TimeS, from, c.InitialContactS+e))
	}
	if len(v) < 2 {
		return withheld(NoContacts)
	}
	value := signal.Median(v)
	timing := math.Abs(signal.Median(early)-signal.Median(late)) / 2
	curve := rest * math.Sqrt(float64(2*k+1))
	return Ahead{M: value, SEM: math.Sqrt(curve*curve + timing*timing + reachSEM*reachSEM + math.Pow(value*o.LegRelativeSD, 2))}
}

// widestGap is the widest part of a stride that no picture shows, 0 to 1.
func widestGap(phase []float64) float64 {
	p := make([]float64, len(phase))
	for i, v := range phase {
		p[i] = v - math.Floor(v)
	}
	slices.Sort(p)
	widest := p[0] + 1 - p[len(p)-1]
	for i := 1; i < len(p); i++ {
		widest = max(widest, p[i]-p[i-1])
	}
	return widest
}

// fold fits the mean stride and plays it again. rest is the standard deviation of
// each heel's distance from the pelvis about it, over the root of the number of
// pictures, in the track's unit.
func fold(t *track.Track, b beat, k int) (mean *track.Track, rest map[body.Side]float64, ok bool) {
	n := int(playedFor/b.hz*playedHz) + 1
	times := make([]float64, n)
	for i := range times {
		times[i] = float64(i) / playedHz
	}
	mean, rest = track.New(track.Picture, track.Pixel, times), map[body.Side]float64{}
	// The runner wanders on the belt: slowly, by a curve of the third degree.
	drift, ok := wander(t)
	if !ok {
		return nil, nil, false
	}
	for _, l := range folded {
		p := t.Paths[l]
		if p == nil {
			return nil, nil, false
		}
		q := &track.Path{Origin: track.PoseModel, X: make([]float64, n), Y: make([]float64, n), Confidence: make([]float64, n)}
		for axis, to := range [][]float64{q.X, q.Y} {
			var phase, x []float64
			for i := range t.TimeS {
				if !sure(p, i) {
					continue
				}
				v := p.Y[i]
				if axis == 0 {
					v = p.X[i] - drift[i]
				}
				phase, x = append(phase, b.phase[i]), append(x, v)
			}
			coef, sd, ok := around(phase, x, k)
			if !ok {
				return nil, nil, false
			}
			for i := range to {
				to[i] = at(coef, b.hz*times[i])
				q.Confidence[i] = 1
			}
			for _, s := range body.Sides {
				if axis == 0 && l == body.LeftHeel.On(s) {
					rest[s] = sd / math.Sqrt(float64(len(x)))
				}
			}
		}
		mean.Paths[l] = q
	}
	return mean, rest, true
}

// wander is the slow part of where the pelvis is.
func wander(t *track.Track) ([]float64, bool) {
	lh, rh := t.Paths[body.LeftHip], t.Paths[body.RightHip]
	if lh == nil || rh == nil {
		return nil, false
	}
	middle, half := (t.TimeS[0]+t.TimeS[t.Frames()-1])/2, t.DurationS()/2
	row := func(i int) []float64 {
		u := (t.TimeS[i] - middle) / half
		return []float64{1, u, u * u, u * u * u}
	}
	var rows, x []float64
	for i := range t.TimeS {
		if sure(lh, i) && sure(rh, i) {
			rows, x = append(rows, row(i)...), append(x, (lh.X[i]+rh.X[i])/2)
		}
	}
	if len(x) < 16 {
		return nil, false
	}
	coef, _, ok := solve(mat.NewDense(len(x), 4, rows), x)
	if !ok {
		return nil, false
	}
	out := make([]float64, t.Frames())
	for i := range out {
		for j, v := range row(i) {
			out[i] += coef[j] * v
		}
	}
	return out, true
}

// around fits k harmonics to x over phase (strides) and leaves out, twice, what lies
// more than four robust deviations off. sd is the scatter that is left.
func around(phase, x []float64, k int) (coef []float64, sd float64, ok bool) {
	for round := 0; ; round++ {
		if len(x) < 3*(2*k+1) {
			return nil, 0, false
		}
		design := mat.NewDense(len(x), 2*k+1, nil)
		for i, p := range phase {
			design.SetRow(i, terms(p, k))
		}
		var rest []float64
		if coef, rest, ok = solve(design, x); !ok {
			return nil, 0, false
		}
		if round == 2 {
			sum := 0.0
			for _, v := range rest {
				sum += v * v
			}
			return coef, math.Sqrt(sum / float64(len(x)-2*k-1)), true
		}
		limit := 4 * 1.4826 * signal.MAD(rest)
		var p, y []float64
		for i, v := range rest {
			if math.Abs(v) <= limit {
				p, y = append(p, phase[i]), append(y, x[i])
			}
		}
		phase, x = p, y
	}
}

func terms(phase float64, k int) []float64 {
	row := make([]float64, 1, 2*k+1)
	row[0] = 1
	for j := 1; j <= k; j++ {
		sin, cos := math.Sincos(2 * math.Pi * float64(j) * phase)
		row = append(row, cos, sin)
	}
	return row
}

func at(coef []float64, phase float64) float64 {
	sum := 0.0
	for j, v := range terms(phase, (len(coef)-1)/2) {
		sum += coef[j] * v
	}
	return sum
}

// legLength is the length of thigh and shank in the track's unit, the mean of both
// legs' medians; 0 where it was not seen.
func legLength(t *track.Track) float64 {
	sum, n := 0.0, 0
	for _, s := range body.Sides {
		hip, knee, ankle := t.Paths[body.LeftHip.On(s)], t.Paths[body.LeftKnee.On(s)], t.Paths[body.LeftAnkle.On(s)]
		var v []float64
		for i := range t.TimeS {
			if sure(hip, i) && sure(knee, i) && sure(ankle, i) {
				v = append(v, math.Hypot(hip.X[i]-knee.X[i], hip.Y[i]-knee.Y[i])+math.Hypot(knee.X[i]-ankle.X[i], knee.Y[i]-ankle.Y[i]))
			}
		}
		if len(v) > 0 {
			sum, n = sum+signal.Median(v), n+1
		}
	}
	if n == 0 {
		return 0
	}
	return sum / float64(n)
}
