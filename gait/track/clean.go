package track

import (
	"iter"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"gaitwright/gait/body"
	"gaitwright/num/signal"
)

// CleanOptions are the settings of Clean.
type CleanOptions struct {
	// GapLimitS is the longest gap, in seconds, that is bridged.
	GapLimitS float64
	// MinConfidence is the confidence below which a sample is dropped.
	MinConfidence float64
	// MinCutoffHz and MaxCutoffHz bound the cut-off that residual analysis
	// chooses; MaxFootCutoffHz does so for heels, toes, ankles and the other
	// points of the foot, which move faster near contact.
	MinCutoffHz, MaxCutoffHz, MaxFootCutoffHz float64
	// Reject tells whether outliers are looked for; a marker file has been
	// edited by its laboratory already, and there only missing samples are
	// mended.
	Reject bool
}

// DefaultClean are the settings for landmarks from video and for marker files.
// Running kinematics are usually filtered at 6-12 Hz, foot markers near impact
// up to 15-20 Hz, and gaps bridged up to a tenth of a second (from memory, see
// Winter 2009, Biomechanics and Motor Control of Human Movement, 4th ed.). The
// lower bound is above the second harmonic of the step rate, 5 to 7 Hz: on the
// synthetic runner the peaks of knee and oscillation read a third less too small
// with 7 Hz than with 5, and scatter no more (gaitwright truth --grid).
func DefaultClean(origin Origin) CleanOptions {
	o := CleanOptions{GapLimitS: 0.1, MinConfidence: 0.1, MinCutoffHz: 7, MaxCutoffHz: 12, MaxFootCutoffHz: 20, Reject: true}
	if origin == MarkerFile || origin == Synthetic {
		o.Reject = false
	}
	return o
}

// CleanReport is an account of what Clean did.
type CleanReport struct {
	CutoffHz map[string]float64 // by landmark and axis: "left_knee.x"
	Outliers int                // samples rejected
	Filled   int                // samples bridged
}

// Mend returns a copy of t in which outliers are removed and short gaps bridged,
// but nothing is smoothed: what contact detection works on. Points that nothing
// is measured from, of face and thumb, are left out.
func Mend(t *Track, o CleanOptions) (*Track, CleanReport) {
	kept := *t
	for l := range kept.Paths {
		if isMinor(body.Landmark(l)) {
			kept.Paths[l] = nil
		}
	}
	out := kept.Clone()
	report := CleanReport{CutoffHz: map[string]float64{}}
	if o.Reject {
		report.Outliers = rejectBrokenFeet(out) + rejectByRhythm(out) + rejectLocally(out, o)
	}
	var bridged atomic.Int64
	out.eachPath(func() func(body.Landmark, *Path) {
		return func(_ body.Landmark, p *Path) {
			var filled []bool
			for _, c := range p.axes() {
				filled = either(filled, signal.FillGaps(t.TimeS, c, o.GapLimitS, signal.Cubic))
			}
			if filled == nil {
				return
			}
			p.Filled = either(p.Filled, filled)
			for _, f := range filled {
				if f {
					bridged.Add(1)
				}
			}
		}
	})
	report.Filled = int(bridged.Load())
	return out, report
}

// Smooth returns a copy of t, each path low-passed without delay at a cut-off
// chosen for it by residual analysis within the bounds of o.
func Smooth(t *Track, o CleanOptions, report *CleanReport) (*Track, error) {
	return SmoothAgain(t, nil, o, report)
}

// Smoothed is what Smooth made of a track.
type Smoothed struct {
	From, To *Track
	CutoffHz map[string]float64 // as in CleanReport
}

// SmoothAgain is Smooth for a track of which an earlier form, on the same clock and
// with the same options, was smoothed before: paths that are still the same, bit by
// bit, are shared with what came of them then. before may be nil.
func SmoothAgain(t *Track, before *Smoothed, o CleanOptions, report *CleanReport) (*Track, error) {
	out := *t
	out.TimeS = slices.Clone(t.TimeS)
	var mu sync.Mutex // guards the report and the error
	var failed error
	out.eachPath(func() func(body.Landmark, *Path) {
		smoother := signal.NewSmoother(t.TimeS)
		return func(l body.Landmark, p *Path) {
			again := before != nil && p.same(before.From.Paths[l])
			if again {
				out.Paths[l] = before.To.Paths[l]
			} else {
				out.Paths[l] = p.Clone()
			}
			for axis, c := range out.Paths[l].axes() {
				name := l.String() + "." + axis
				var cutoff float64
				var err error
				if again {
					cutoff = before.CutoffHz[name]
				} else {
					cutoff = cutoffOf(c, smoother.RateHz(), l, o)
					err = smoother.LowPass(c, c, cutoff)
					cutoff = math.Round(cutoff*10) / 10
				}
				mu.Lock()
				if err != nil {
					failed = err
				}
				if report != nil {
					report.CutoffHz[name] = cutoff
				}
				mu.Unlock()
			}
		}
	})
	if failed != nil {
		return nil, failed
	}
	return &out, nil
}

// same tells whether two paths hold the same, bit by bit.
func (p *Path) same(q *Path) bool {
	if p == nil || q == nil || p == q {
		return p == q
	}
	bits := func(a, b []float64) bool {
		return (a == nil) == (b == nil) && slices.EqualFunc(a, b, func(x, y float64) bool { return math.Float64bits(x) == math.Float64bits(y) })
	}
	flags := func(a, b []bool) bool { return (a == nil) == (b == nil) && slices.Equal(a, b) }
	return p.Origin == q.Origin && bits(p.X, q.X) && bits(p.Y, q.Y) && bits(p.Z, q.Z) && bits(p.Confidence, q.Confidence) &&
		flags(p.Filled, q.Filled) && flags(p.Mended, q.Mended) && flags(p.Hand, q.Hand)
}

// eachPath calls a worker's function for each path of the track, on as many
// goroutines as there are processors; worker is called once on each of them.
func (t *Track) eachPath(worker func() func(body.Landmark, *Path)) {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), int(body.NumLandmarks)) {
		wg.Go(func() {
			work := worker()
			for l := next.Add(1) - 1; l < int64(body.NumLandmarks); l = next.Add(1) - 1 {
				if p := t.Paths[l]; p != nil {
					work(body.Landmark(l), p)
				}
			}
		})
	}
	wg.Wait()
}

// axes yields the path's coordinates by axis name, those it has, in the order of
// the axes: what is dropped by one is missing for the next, so that another order
// would be another result.
func (p *Path) axes() iter.Seq2[string, []float64] {
	return func(yield func(string, []float64) bool) {
		_ = (p.X == nil || yield("x", p.X)) && (p.Y == nil || yield("y", p.Y)) && (p.Z == nil || yield("z", p.Z))
	}
}

func either(a, b []bool) []bool {
	if a == nil {
		return b
	}
	for i := range b {
		a[i] = a[i] || b[i]
	}
	return a
}

func isFoot(l body.Landmark) bool {
	switch l.On(body.Left) {
	case body.LeftAnkle, body.LeftHeel, body.LeftToe, body.LeftMT1, body.LeftMT5, body.LeftHeelTop, body.LeftHeelBottom:
		return true
	}
	return false
}

// isMinor tells whether nothing is measured from a landmark: the face but for
// nose and ears, and the thumbs.
func isMinor(l body.Landmark) bool {
	switch {
	case l >= body.LeftEyeInner && l <= body.RightEyeOuter, l == body.LeftMouth, l == body.RightMouth,
		l == body.LeftThumb, l == body.RightThumb:
		return true
	}
	return false
}

// drop makes sample i of p missing on every axis.
func (p *Path) drop(i int) {
	for _, c := range [...][]float64{p.X, p.Y, p.Z} {
		if c != nil {
			c[i] = math.NaN()
		}
	}
}

// rejectLocally drops samples that stand away from their neighbours or were
// hardly seen, and returns how many.
func rejectLocally(t *Track, o CleanOptions) int {
	var dropped atomic.Int64
	t.eachPath(func() func(body.Landmark, *Path) {
		buf := make([]float64, t.Frames())
		settings := signal.DefaultOutliers
		settings.MinConfidence = o.MinConfidence
		return func(_ body.Landmark, p *Path) {
			for _, c := range p.axes() {
				settings.Floor = 3 * stepNoise(c)
				if signal.RejectOutliers(buf, c, p.Confidence, settings) == 0 {
					continue
				}
				for i := range c {
					if math.IsNaN(buf[i]) && !math.IsNaN(c[i]) {
						p.drop(i)
						dropped.Add(1)
					}
				}
			}
		}
	})
	return int(dropped.Load())
}

// noiseSamples is how many second differences are enough to know their middle.
const noiseSamples = 600

// stepNoise is the typical second difference of a path: jitter without motion.
func stepNoise(c []float64) float64 {
	d := make([]float64, 0, noiseSamples+1)
	for i := 2; i < len(c); i += 1 + len(c)/noiseSamples {
		if v := math.Abs(c[i] - 2*c[i-1] + c[i-2]); !math.IsNaN(v) {
			d = append(d, v)
		}
	}
	if len(d) == 0 {
		return 0
	}
	return signal.Median(d)
}
