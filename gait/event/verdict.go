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
func (tb *Table) judge(ts []Testimony) []verdict {
	k := len(tb.BiasS)
	n := len(ts)
	out := make([]verdict, n)
	if n == 0 {
		return out
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
		row, weight = row[:0], weight[:0]
		for w := range k {
			v := t.TimesS[w] - tb.BiasS[w] - tb.SlopeS[w]*off
			if tb.muted(w) {
				v = math.NaN()
			}
			said[i*k+w] = v
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
	if len(speakers) == 0 {
		for i := range out {
			out[i].timeS = math.NaN()
		}
		return out
	}
	rough := tb.roughness(speakers, stray)
	common := tb.common(speakers, habit)
	var heard []int
	for i := range ts {
		heard = heard[:0]
		for _, w := range speakers {
			d := said[i*k+w] - habit[w] - middle[i]
			if math.Abs(d) <= math.Max(aloneS, outlierMAD*stray[w]) {
				heard = append(heard, w)
			}
		}
		v := verdict{timeS: math.NaN(), heard: len(heard), of: len(speakers)}
		if len(heard) > 0 {
			v.timeS = common
			weights := tb.weights(heard, tb.Within)
			for j, w := range heard {
				v.timeS += weights[j] * (said[i*k+w] - habit[w])
			}
			v.sdS = rough * math.Sqrt(quadratic(weights, heard, tb.Within, k))
		}
		out[i] = v
	}
	return out
}

// common joins the habits of the speakers by their covariance between runners. In
// a gait unlike those learned from, a witness may take another crest for its own
// throughout, and would drag the rest along: a doubt grows with its habit and is
// added, squared, to its variance, so that the farther off it is the less it says.
// Where at toe-off all lie far apart, as in a foot that leaves without a whip, none
// is the one that errs, and more is free. On the runs learned from this changes
// nothing.
func (tb *Table) common(speakers []int, habit []float64) float64 {
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
		cov[w*k+w] += d * d
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
	if tb.Of == TouchDown && tb.fromBehind() {
		r := habitS / (halfBehind * apartS)
		return habitS * r * r
	}
	return math.Max(0, habitS-freeHabit*apartS)
}

// fromBehind tells whether the table is for tracks in which forward is not seen.
func (tb *Table) fromBehind() bool {
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
