package event

import (
	"math"
	"slices"

	"gaitwright/num/signal"
)

// Table is what was learned about the witnesses of one moment from contacts
// timed by force: how late each is on average, how that changes with pace, and
// how their errors go together. Seconds, and seconds squared.
type Table struct {
	Of     Moment    // touch-down or lift-off
	BiasS  []float64 // mean lateness of each witness at PaceMean
	SlopeS []float64 // change of lateness a unit of pace
	// PaceMean is the mean pace of the contacts learned from, in leg lengths a
	// second.
	PaceMean float64
	// Between is the covariance of the witnesses' mean errors from runner to
	// runner and speed to speed, Within that from contact to contact. Both are
	// row by row.
	Between, Within []float64
	// RunnerSDS is the standard deviation of the method's mean error between
	// runners and speeds, found by leaving out one runner at a time.
	RunnerSDS float64
}

// distrustS is added, squared, to every witness's own variance: laboratories not
// learned from will differ in ways that these did not, and no witness is to be
// believed alone.
const distrustS = 0.004

// Limits of a witness's word in one contact against its habit in the clip.
const (
	aloneS     = 0.012 // never an outlier nearer than this
	outlierMAD = 4.0   // robust deviations
)

// How far a witness may leap from contact to contact: this share of the contacts
// must lie within so many of the usual standard deviations; see [Table.leaps].
const (
	leapShare = 0.8
	leapSDs   = 1.28 // within which that share of normal values lies
	freeLeap  = 1.5  // on the runs learned from nobody leaps
)

// How far a witness's habit may lie from the middle of all habits, in how far it
// usually lies from the others; see [Table.doubt].
const (
	freeHabit  = 3.0 // costs nothing
	halfBehind = 2.0 // touch-down from behind: is doubted by as much again
	// Where half of all lie farther than this at toe-off, more is free.
	allApart = 1.25
)

// verdict is the agreed time of one moment of one contact.
type verdict struct {
	timeS float64 // NaN where no witness spoke
	sdS   float64 // random error
	heard int     // witnesses that were heard and believed
	of    int     // witnesses that speak at all in this clip
}

// judge agrees on a time for each testimony of one leg. What a witness says in
// one contact is split into its habit, which is the same through the clip, and
// the contact's own; the habits are joined by their covariance between runners,
// the rest by their covariance within a clip (best linear unbiased estimate in
// both cases). A witness that in one contact strays from its habit is not heard
// in that contact.
func (tb *Table) judge(ts []Testimony) []verdict { return tb.weigh(ts).verdicts() }

// judgeBoth judges the testimonies of both legs of a runner.
func (tb *Table) judgeBoth(left, right []Testimony) (l, r []verdict) {
	a, b := tb.weigh(left), tb.weigh(right)
	if tb.fewToCorrect() {
		reconcile(a, b)
	}
	return a.verdicts(), b.verdicts()
}

// hearing is what the witnesses of one leg said through a clip, sorted into habits.
type hearing struct {
	tb       *Table
	ts       []Testimony
	said     []float64 // row by row a contact, lateness taken off
	middle   []float64 // of each contact, from which the habits are told
	speakers []int     // witnesses that speak often enough
	habit    []float64 // of each witness; NaN for those that do not
	stray    []float64 // how far each strays from its habit
	leap     []float64 // how far each leaps from habit to habit
}

// weigh finds the habits of the witnesses.
func (tb *Table) weigh(ts []Testimony) *hearing {
	k := len(tb.BiasS)
	n := len(ts)
	h := &hearing{tb: tb, ts: ts, leap: make([]float64, k)}
	if n == 0 {
		return h
	}
	trust := make([]float64, k)   // weight of a witness's word in one contact
	trustIn := make([]float64, k) // the same before its habit is known
	for w := range k {
		within := tb.Within[w*k+w] + distrustS*distrustS
		trust[w], trustIn[w] = 1/within, 1/(within+tb.Between[w*k+w])
	}
	// Lateness taken off.
	paces := make([]float64, 0, n)
	for _, t := range ts {
		if !math.IsNaN(t.Pace) {
			paces = append(paces, t.Pace)
		}
	}
	usual := signal.Median(paces)
	said := make([]float64, n*k)
	middle := make([]float64, n)
	row, weight := make([]float64, 0, k), make([]float64, 0, k)
	for i, t := range ts {
		// The pace of the clip, not of the contact: it stands for the runner's
		// speed, and its own noise is not to move contacts.
		off := usual - tb.PaceMean
		if math.IsNaN(off) {
			off = 0
		}
		for w := range k {
			v := t.TimesS[w] - tb.BiasS[w] - tb.SlopeS[w]*off
			if tb.muted(w) {
				v = math.NaN()
			}
			said[i*k+w] = v
		}
	}
	if tb.fewToCorrect() {
		h.leap = tb.leaps(said, n)
		for w, d := range h.leap {
			trust[w], trustIn[w] = 1/(1/trust[w]+d*d), 1/(1/trustIn[w]+d*d)
		}
	}
	for i := range ts {
		row, weight = row[:0], weight[:0]
		for w, v := range said[i*k : (i+1)*k] {
			if !math.IsNaN(v) {
				row, weight = append(row, v), append(weight, trustIn[w])
			}
		}
		middle[i] = weightedMedian(row, weight)
	}
	// Habits, and how far each witness strays from its own.
	habit, stray := make([]float64, k), make([]float64, k)
	dev := make([]float64, n)
	var speakers []int
	for pass := range 2 {
		speakers = speakers[:0]
		for w := range k {
			spoke := 0
			for i := range ts {
				dev[i] = said[i*k+w] - middle[i]
				if !math.IsNaN(dev[i]) {
					spoke++
				}
			}
			habit[w], stray[w] = math.NaN(), math.NaN()
			if spoke*2 >= n || spoke >= 5 {
				habit[w], stray[w] = signal.Median(dev), signal.MAD(dev)
				speakers = append(speakers, w)
			}
		}
		if pass == 0 {
			// A second look, with the habits taken off, finds a better middle.
			for i := range ts {
				row, weight = row[:0], weight[:0]
				for _, w := range speakers {
					if v := said[i*k+w] - habit[w]; !math.IsNaN(v) {
						row, weight = append(row, v), append(weight, trust[w])
					}
				}
				middle[i] = weightedMedian(row, weight)
			}
		}
	}
	h.said, h.middle, h.speakers, h.habit, h.stray = said, middle, speakers, habit, stray
	return h
}

// verdicts joins what was heard.
func (h *hearing) verdicts() []verdict {
	tb, k := h.tb, len(h.tb.BiasS)
	out := make([]verdict, len(h.ts))
	if len(h.speakers) == 0 {
		for i := range out {
			out[i].timeS = math.NaN()
		}
		return out
	}
	rough := tb.roughness(h.speakers, h.stray)
	common, within := h.common(), widened(tb.Within, h.leap)
	var heard []int
	for i := range out {
		heard = heard[:0]
		for _, w := range h.speakers {
			d := h.said[i*k+w] - h.habit[w] - h.middle[i]
			if math.Abs(d) <= math.Max(aloneS, outlierMAD*h.stray[w]) {
				heard = append(heard, w)
			}
		}
		v := verdict{timeS: math.NaN(), heard: len(heard), of: len(h.speakers)}
		if len(heard) > 0 {
			v.timeS = common
			weights := tb.weights(heard, within)
			for j, w := range heard {
				v.timeS += weights[j] * (h.said[i*k+w] - h.habit[w])
			}
			v.sdS = rough * math.Sqrt(quadratic(weights, heard, within, k))
		}
		out[i] = v
	}
	return out
}

// Feet of one runner that land more unlike than feetApartS, by the time to the lowest
// point of the pelvis, are looked at again; feetAlikeS is how unlike they usually
// are, one standard deviation. By force, the feet of the 19 runs of seven runners
// differ by 8.6 ms (root mean square), 20 at most.
const (
	feetApartS = 0.025
	feetAlikeS = 0.010
)

// reconcile looks again at two feet that land at quite unlike times before the
// pelvis is lowest. Where the witnesses of a foot fall into two camps, the
// likelier camp is hard to tell from that foot alone; but both feet land alike, and
// the other foot tells it. Each foot keeps its own middle or takes the other's,
// whichever pair of middles is the likeliest.
func reconcile(left, right *hearing) {
	feet := [2]*hearing{left, right}
	var from, at [2]float64 // the middles and the agreed times after the anchors
	for f, h := range feet {
		if len(h.speakers) == 0 {
			return
		}
		from[f] = h.afterAnchorS()
		at[f] = from[f] + h.common()
	}
	if !(math.Abs(at[0]-at[1]) > feetApartS) {
		return
	}
	var unlikely [2][2]float64 // of each foot at each middle
	for f, h := range feet {
		for c := range at {
			unlikely[f][c] = h.unlikely(at[c] - from[f])
		}
	}
	best, least := [2]int{0, 1}, math.Inf(1)
	for l := range at {
		for r := range at {
			d := (at[l] - at[r]) / feetAlikeS
			if u := d*d/2 + unlikely[0][l] + unlikely[1][r]; u < least {
				best, least = [2]int{l, r}, u
			}
		}
	}
	for f, h := range feet {
		if best[f] != f {
			h.shift(at[best[f]] - from[f])
		}
	}
}

// afterAnchorS is how long after their anchors the middles of the contacts lie.
func (h *hearing) afterAnchorS() float64 {
	after := make([]float64, len(h.middle))
	for i, m := range h.middle {
		after[i] = m - h.ts[i].AnchorS
	}
	return signal.Median(after)
}

// unlikely is how unlikely the habits are if the middle lay laterS later: the
// negative logarithm, each habit spread as Cauchy's about it, so that those of the
// other camp are no likelier for being a little nearer.
func (h *hearing) unlikely(laterS float64) float64 {
	sum := 0.0
	for _, w := range h.speakers {
		r := (h.habit[w] - laterS) / math.Hypot(h.tb.apart(w, h.speakers), h.leap[w])
		sum += math.Log1p(r * r)
	}
	return sum
}

// shift makes the middles later and tells the habits from there.
func (h *hearing) shift(laterS float64) {
	for i := range h.middle {
		h.middle[i] += laterS
	}
	for _, w := range h.speakers {
		h.habit[w] -= laterS
	}
}

// leaps finds how far each witness leaps from one of the n contacts to another, one
// standard deviation: one that takes now this crest and now that for its own has no
// habit, though those of its words that agree may look like one. A witness that
// leaps does so against most of the others; what a pair of them strays by in a clip
// as rough as this is free.
func (tb *Table) leaps(said []float64, n int) []float64 {
	k := len(tb.BiasS)
	apart := make([]float64, k*k) // spread of each pair
	off := make([]float64, n)
	var ratio []float64
	usual := func(w, p int) float64 {
		return math.Sqrt(tb.Within[w*k+w] + tb.Within[p*k+p] - 2*tb.Within[w*k+p] + 2*distrustS*distrustS)
	}
	for w := range k {
		for p := range w {
			spread := math.NaN()
			if !tb.muted(w) && !tb.muted(p) {
				for i := range off {
					off[i] = said[i*k+w] - said[i*k+p]
				}
				usually := signal.Median(off)
				for i := range off {
					off[i] = math.Abs(off[i] - usually)
				}
				spread = signal.Quantile(off, leapShare) / leapSDs
			}
			if !math.IsNaN(spread) {
				ratio = append(ratio, spread/usual(w, p))
			}
			apart[w*k+p], apart[p*k+w] = spread, spread
		}
	}
	free := freeLeap * math.Max(1, signal.Median(ratio))
	out := make([]float64, k)
	for w := range out {
		ratio = ratio[:0]
		for p := range k {
			if spread := apart[w*k+p]; p != w && !math.IsNaN(spread) {
				ratio = append(ratio, math.Max(0, spread-free*usual(w, p)))
			}
		}
		if len(ratio) > 1 {
			out[w] = signal.Median(ratio)
		}
	}
	return out
}

// widened is a covariance with the square of each leap added to its diagonal.
func widened(cov, leap []float64) []float64 {
	if slices.Max(leap) == 0 {
		return cov
	}
	cov = slices.Clone(cov)
	for w, d := range leap {
		cov[w*len(leap)+w] += d * d
	}
	return cov
}

// common joins the habits of the speakers by the covariance between runners. In
// a gait unlike those learned from, a witness may take another crest for its own
// throughout, and would drag the rest along: a doubt grows with its habit and is
// added, squared, to its variance, so that the farther off it is the less it says.
// Where at toe-off all lie far apart, as in a foot that leaves without a whip, none
// is the one that errs, and more is free. On the runs learned from this changes
// nothing.
func (h *hearing) common() float64 {
	tb, speakers, habit := h.tb, h.speakers, h.habit
	k := len(tb.BiasS)
	apart, ratio := make([]float64, len(speakers)), make([]float64, len(speakers))
	for j, w := range speakers {
		apart[j] = tb.apart(w, speakers)
		ratio[j] = math.Abs(habit[w]) / apart[j]
	}
	wider := 1.0
	if r := signal.Median(ratio) / allApart; tb.Of == LiftOff && r > 1 {
		wider = r * r
	}
	cov := slices.Clone(tb.Between)
	for j, w := range speakers {
		d := tb.doubt(math.Abs(habit[w]), wider*apart[j])
		cov[w*k+w] += d*d + h.leap[w]*h.leap[w]
	}
	sum := 0.0
	for j, weight := range tb.weights(speakers, cov) {
		sum += weight * habit[speakers[j]]
	}
	return sum
}

// doubt is the standard deviation, in seconds, that is added to a witness whose
// habit lies so far from the middle of all, where witnesses like it lie apartS from
// the others: what is beyond the free part. At touch-down from behind and in front
// most witnesses speak of one and the same pelvis, and few are left to correct one
// that errs: there nothing is free, and the doubt grows as the cube of the habit.
func (tb *Table) doubt(habitS, apartS float64) float64 {
	if tb.fewToCorrect() {
		r := habitS / (halfBehind * apartS)
		return habitS * r * r
	}
	return math.Max(0, habitS-freeHabit*apartS)
}

// fewToCorrect tells whether the table is for touch-down where forward is not seen.
func (tb *Table) fewToCorrect() bool {
	if tb.Of != TouchDown {
		return false
	}
	for w := range tb.BiasS {
		if witnesses[tb.Of][w].behind && !tb.muted(w) {
			return true
		}
	}
	return false
}

// apart returns how far witness w lies from another speaker in a runner, one
// standard deviation; the median over the others.
func (tb *Table) apart(w int, speakers []int) float64 {
	k := len(tb.BiasS)
	var sd []float64
	for _, p := range speakers {
		if p != w {
			sd = append(sd, math.Sqrt(tb.Between[w*k+w]+tb.Between[p*k+p]-2*tb.Between[w*k+p]+2*distrustS*distrustS))
		}
	}
	if len(sd) == 0 {
		return math.Inf(1)
	}
	return signal.Median(sd)
}

// roughness is how many times as far the witnesses stray in this clip as they did
// where the table was learned, never below 1: landmarks that tremble more give
// rougher times, and the stated error says so.
func (tb *Table) roughness(speakers []int, stray []float64) float64 {
	ratio := make([]float64, len(speakers))
	for i, w := range speakers {
		ratio[i] = stray[w] / math.Sqrt(tb.Within[w*len(tb.BiasS)+w])
	}
	return math.Max(1, signal.Median(ratio))
}

// weightedMedian returns the value at which half of the weight lies on either
// side, between the two nearest where it falls between them; NaN for no values.
// Both slices are put in the order of the values.
func weightedMedian(v, weight []float64) float64 {
	total := 0.0
	for i := range v {
		total += weight[i]
		for j := i; j > 0 && v[j-1] > v[j]; j-- {
			v[j-1], v[j] = v[j], v[j-1]
			weight[j-1], weight[j] = weight[j], weight[j-1]
		}
	}
	before := 0.0 // weight up to the middle of the value before
	for i := range v {
		at := before + weight[i]/2
		if i > 0 {
			at += weight[i-1] / 2
		}
		if at >= total/2 {
			if i == 0 {
				return v[0]
			}
			return v[i-1] + (v[i]-v[i-1])*(total/2-before)/(at-before)
		}
		before = at
	}
	if len(v) == 0 {
		return math.NaN()
	}
	return v[len(v)-1]
}

// mute takes its say from witness w, of which nothing is known.
func (tb *Table) mute(w int) {
	k := len(tb.BiasS)
	tb.BiasS[w], tb.SlopeS[w] = 0, 0
	for p := range k {
		tb.Between[w*k+p], tb.Between[p*k+w] = 0, 0
		tb.Within[w*k+p], tb.Within[p*k+w] = 0, 0
	}
	tb.Between[w*k+w], tb.Within[w*k+w] = mutedVariance, mutedVariance
}

// mutedVariance, in squared seconds, marks a witness that was never heard when
// the table was learned.
const mutedVariance = 1.0

func (tb *Table) muted(w int) bool { return tb.Between[w*len(tb.BiasS)+w] >= mutedVariance }

// weights returns the weights, adding up to one, of the best linear unbiased
// estimate from the witnesses ws whose errors have the given covariance.
func (tb *Table) weights(ws []int, cov []float64) []float64 {
	k, n := len(tb.BiasS), len(ws)
	a := make([]float64, n*n)
	one := make([]float64, n)
	for i, p := range ws {
		for j, q := range ws {
			a[i*n+j] = cov[p*k+q]
		}
		a[i*n+i] += distrustS * distrustS
		one[i] = 1
	}
	solve(a, one)
	total := 0.0
	for _, v := range one {
		total += v
	}
	for i := range one {
		one[i] /= total
	}
	return one
}

func quadratic(w []float64, ws []int, cov []float64, k int) float64 {
	s := 0.0
	for i, p := range ws {
		for j, q := range ws {
			s += w[i] * w[j] * cov[p*k+q]
		}
	}
	return max(s, 0)
}

// solve replaces b by the solution of a x = b, a being symmetric and positive
// definite, row by row; a is destroyed.
func solve(a, b []float64) {
	n := len(b)
	for p := range n {
		for r := p + 1; r < n; r++ {
			f := a[r*n+p] / a[p*n+p]
			for c := p; c < n; c++ {
				a[r*n+c] -= f * a[p*n+c]
			}
			b[r] -= f * b[p]
		}
	}
	for p := n - 1; p >= 0; p-- {
		for c := p + 1; c < n; c++ {
			b[p] -= a[p*n+c] * b[c]
		}
		b[p] /= a[p*n+p]
	}
}
