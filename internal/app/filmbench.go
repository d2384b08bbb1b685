package app

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gaitwright/gait/body"
	"gaitwright/gait/measure"
	"gaitwright/internal/synth"
	"gaitwright/num/signal"
)

// FilmBench is the whole program tried on films of several invented runners: who
// they are, how they are dressed, how fast they run and how they are filmed is
// different in each.
type FilmBench struct {
	Runners []*TruthResult
}

// filmings are the speeds and frame rates gone through, in order.
var filmings = []struct{ speedMPS, rateHz, seconds float64 }{
	{2.5, 120, 6}, {3.5, 120, 6}, {4.5, 120, 6}, {3, 240, 5}, {4, 120, 6}, {3.25, 60, 6}, {2.75, 120, 6}, {3.75, 60, 6},
}

// filmCase is one runner and how he is filmed.
type filmCase struct {
	params  synth.Params
	request TruthRequest
}

// filmCases draws n invented runners from seeds from first on.
func filmCases(n int, first uint64) []filmCase {
	var out []filmCase
	for seed := first; len(out) < n; seed++ {
		f := filmings[len(out)%len(filmings)]
		q := TruthRequest{Film: true, SpeedMPS: f.speedMPS, RateHz: f.rateHz, Seconds: f.seconds, WidthPX: demoFilm.WidthPX, HeightPX: demoFilm.HeightPX, Seed: seed, dress: seed}
		p := gridRunner(q, seed)
		p.DurationS = q.Seconds + 1
		if _, err := synth.New(p); err == nil {
			out = append(out, filmCase{p, q})
		}
	}
	return out
}

// FilmBench films n invented runners, the one of the demonstration first, follows
// them with the pose model and returns what the program makes of them beside the
// truth. It takes about a minute and a half a runner on two processors.
func (st *Studio) FilmBench(ctx context.Context, n int, model string, progress Progress) (*FilmBench, error) {
	if n < 1 || n > 50 {
		return nil, problem(KindUsage, "", "", "the number of runners on film must lie between 1 and 50")
	}
	p := synth.Demo()
	q := TruthRequest{Film: true, SpeedMPS: p.SpeedMPS, RateHz: demoFilm.RateHz, Seconds: 6, WidthPX: demoFilm.WidthPX, HeightPX: demoFilm.HeightPX, Seed: p.Seed}
	p.DurationS = q.Seconds + 1
	return st.filmAll(ctx, append([]filmCase{{p, q}}, filmCases(n-1, 1)...), model, progress)
}

// filmAll films each case and measures it.
func (st *Studio) filmAll(ctx context.Context, cases []filmCase, model string, progress Progress) (*FilmBench, error) {
	b := &FilmBench{}
	for _, k := range cases {
		k.request.Model = model
		r, err := st.truthOf(ctx, k.params, k.request, progress)
		if err != nil {
			return nil, fmt.Errorf("runner at %.3g m/s: %w", k.request.SpeedMPS, err)
		}
		b.Runners = append(b.Runners, r)
	}
	return b, nil
}

// FilmRow is the error of one measure on the films of a bench: of the leg near the
// camera, the far leg, or both together.
type FilmRow struct {
	View, Name       string
	Side             body.Side
	Bias, SD         float64 // of measured minus true over the runners, in the measure's unit
	Stated           float64 // the error that the program states, median
	Within           int     // how many lie within 1.96 times their stated error
	Values, Withheld int
}

// Rows sums the bench up by measure and side, in the order of the catalogue.
func (b *FilmBench) Rows() []FilmRow {
	type key struct {
		view, name string
		side       body.Side
	}
	var order []key
	all := map[key][]TruthRow{}
	for _, r := range b.Runners {
		for _, m := range r.Measures {
			k := key{m.View, m.Name, m.Side}
			if all[k] == nil {
				order = append(order, k)
			}
			all[k] = append(all[k], m)
		}
	}
	names := map[string]int{}
	for i, d := range measure.Catalogue() {
		names[d.Name] = i
	}
	slices.SortStableFunc(order, func(x, y key) int {
		if x.view != y.view {
			return indexOfView(x.view) - indexOfView(y.view)
		}
		return names[x.name] - names[y.name]
	})
	var out []FilmRow
	for _, k := range order {
		row := FilmRow{View: k.view, Name: k.name, Side: k.side}
		var off, stated []float64
		for _, m := range all[k] {
			if math.IsNaN(m.Measured) {
				row.Withheld++
				continue
			}
			off, stated = append(off, m.Error()), append(stated, m.SEM)
			if m.Within() {
				row.Within++
			}
		}
		row.Values = len(off)
		row.Bias, row.SD, _ = signal.MeanSD(off)
		row.Stated = signal.Median(stated)
		out = append(out, row)
	}
	return out
}

func indexOfView(v string) int {
	if v == "rear" {
		return 1
	}
	return 0
}

// Cover is how many of all values lie within 1.96 times their stated error, of how
// many.
func (b *FilmBench) Cover() (within, values int) {
	for _, r := range b.Rows() {
		within, values = within+r.Within, values+r.Values
	}
	return within, values
}

// Outside names the measures of which no value, of so many or more, lies within
// 1.96 times its stated error.
func (b *FilmBench) Outside(atLeast int) []string {
	var out []string
	for _, r := range b.Rows() {
		if r.Values >= atLeast && r.Within == 0 {
			out = append(out, r.Name+" "+r.Side.String())
		}
	}
	return out
}
