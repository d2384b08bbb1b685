package app

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"sync"

	"golang.org/x/sync/errgroup"

	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
	"gaitwright/internal/synth"
	"gaitwright/num/signal"
)

// GridRequest asks for the truth bench over a grid: around one ordinary way of
// filming, each condition is changed on its own.
type GridRequest struct {
	Runners   int     // different runners in each cell
	Seconds   float64 // of each clip
	FilmCells bool    // render a few cells and follow them with the pose model too; slow
	Model     string
}

// GridCell is one condition of the grid, tried on several runners.
type GridCell struct {
	Factor, Level string
	Request       TruthRequest
	Rows          []GridRow
	Contacts      []GridContacts
	Impossible    int // runners drawn anew because no leg could run so
}

// GridRow is the error of one measure over the runners and sides of a cell.
type GridRow struct {
	View, Name, Title, Unit string
	Decimals                int
	Bias, SD                float64 // of measured minus true
	Stated                  float64 // the error the program states, median
	Covered                 float64 // share of errors within 1.96 times the stated one
	Values, Withheld        int
}

// GridContacts is the error of the contact times in one view of a cell, seconds.
type GridContacts struct {
	View             string
	LandingS, LeaveS [2]float64 // mean and SD over the runners' means
	WithinS          [2]float64 // SD within a clip: landing, leaving
	StepRate         float64    // largest error, steps a minute
	Missed, Extra    int
	Contacts         int
}

// gridFault is a change of the runner that a film should show.
type gridFault struct {
	name  string
	apply func(p *synth.Params)
}

var gridFaults = []gridFault{
	{"forefoot landing", func(p *synth.Params) {
		p.FootAngleAtContactDeg = synth.Both(-4)
		p.OverstrideM = synth.Both(0.6 * p.OverstrideM.Left)
	}},
	{"overstride", func(p *synth.Params) {
		p.OverstrideM = synth.Both(p.OverstrideM.Left + 0.04)
		p.KneeFlexionAtContactDeg = synth.Both(9)
	}},
	{"little hip extension", func(p *synth.Params) { p.HipExtensionShiftDeg = synth.Both(-5) }},
	{"pelvic drop, right", func(p *synth.Params) { p.PelvicDropDeg.Right = 10 }},
	{"knee inward, right", func(p *synth.Params) { p.KneeValgusDeg.Right = 12 }},
	{"crossing feet", func(p *synth.Params) { p.StepWidthM = -0.03 }},
	{"heel whip, left", func(p *synth.Params) { p.HeelWhipDeg.Left = 12 }},
	{"trunk forward", func(p *synth.Params) { p.TrunkLeanDeg = 16 }},
	{"uneven steps", func(p *synth.Params) { p.StepTimeSkew = 0.06 }},
}

// usualFilming is the middle of the grid. The pose model's landmarks tremble by
// 1 to 2 pixels in a picture 1280 pixels high, those of the foot by 2 to 4 (white
// part of the noise, own measurement on rendered clips); it is taken smaller here
// because the contact rules for exact landmarks are not made for trembling ones.
func usualFilming(seconds float64) TruthRequest {
	return TruthRequest{SpeedMPS: 3, RateHz: 120, Seconds: seconds, WidthPX: 720, HeightPX: 1280, NoisePX: 1}
}

// gridCells lists the conditions.
func gridCells(q GridRequest) []GridCell {
	var cells []GridCell
	add := func(factor, level string, change func(*TruthRequest)) {
		t := usualFilming(q.Seconds)
		t.Model = q.Model
		if change != nil {
			change(&t)
		}
		cells = append(cells, GridCell{Factor: factor, Level: level, Request: t})
	}
	add("usual", "3 m/s, 120 frames/s, 720×1280, square, 1 px", nil)
	for _, v := range []float64{2.5, 3.5, 4.5} {
		add("speed", fmt.Sprintf("%g m/s", v), func(t *TruthRequest) { t.SpeedMPS = v })
	}
	for _, v := range []float64{-8, 8} {
		add("step rate", fmt.Sprintf("%+.0f %%", v), func(t *TruthRequest) { t.stepRatePercent = v })
	}
	for _, v := range []float64{30, 60, 240} {
		add("frames/s", fmt.Sprintf("%g", v), func(t *TruthRequest) { t.RateHz = v })
	}
	for _, v := range [][2]int{{360, 640}, {1080, 1920}} {
		add("picture", fmt.Sprintf("%d×%d", v[0], v[1]), func(t *TruthRequest) { t.WidthPX, t.HeightPX = v[0], v[1] })
	}
	for _, v := range []float64{5, 10, 20} {
		add("camera turned", fmt.Sprintf("%g°", v), func(t *TruthRequest) { t.YawDeg = v })
	}
	for _, v := range []float64{10, 20} {
		add("camera turned", fmt.Sprintf("%g°, given", v), func(t *TruthRequest) { t.YawDeg, t.TellCamera = v, true })
	}
	for _, v := range []float64{0, 2, 4} {
		add("noise", fmt.Sprintf("%g px", v), func(t *TruthRequest) { t.NoisePX = v })
	}
	for i, f := range gridFaults {
		add("runner", f.name, func(t *TruthRequest) { t.fault = i + 1 })
	}
	if q.FilmCells {
		add("film", "rendered, 120 frames/s", func(t *TruthRequest) { t.Film = true })
		add("film", "rendered, 60 frames/s", func(t *TruthRequest) { t.Film, t.RateHz = true, 60 })
		add("film", "rendered, camera turned 10°", func(t *TruthRequest) { t.Film, t.YawDeg = true, 10 })
	}
	return cells
}

// gridRunner draws one ordinary runner for a cell; all of it is invented.
func gridRunner(q TruthRequest, seed uint64) synth.Params {
	rng := rand.New(rand.NewPCG(seed, 11))
	height := 1.74 + 0.07*rng.NormFloat64()
	height = math.Max(1.55, math.Min(1.95, height))
	rate := synth.UsualStepRateSPM(height, q.SpeedMPS)*(1+q.stepRatePercent/100) + 4*rng.NormFloat64()
	p := synth.NewParams(height, q.SpeedMPS, rate)
	p.Female = seed%2 == 0
	p.Variation = synth.Usual()
	spread := func(mean synth.Sided, sd float64) synth.Sided {
		return synth.Sided{Left: mean.Left + sd*rng.NormFloat64(), Right: mean.Right + sd*rng.NormFloat64()}
	}
	p.FootAngleAtContactDeg = spread(synth.Both(14), 3)
	p.KneeFlexionAtContactDeg = spread(p.KneeFlexionAtContactDeg, 2)
	p.PelvicDropDeg = spread(p.PelvicDropDeg, 1.5)
	p.KneeValgusDeg = spread(p.KneeValgusDeg, 2)
	p.HeelWhipDeg = spread(p.HeelWhipDeg, 2)
	p.ToeOutDeg = spread(p.ToeOutDeg, 2)
	p.StepWidthM += 0.02 * rng.NormFloat64()
	p.TrunkLeanDeg += 2 * rng.NormFloat64()
	if q.fault > 0 {
		gridFaults[q.fault-1].apply(&p)
	}
	p.Seed = seed
	return p
}

// TruthGrid runs the chain on synthetic runners over the grid.
func (st *Studio) TruthGrid(ctx context.Context, q GridRequest, progress Progress) ([]GridCell, error) {
	if q.Runners < 2 || q.Runners > 50 {
		return nil, problem(KindUsage, "", "", "the number of runners in a cell must lie between 2 and 50")
	}
	cells := gridCells(q)
	progress.Stage("running through the grid", "", len(cells))
	var mu sync.Mutex
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(runtime.GOMAXPROCS(0))
	for i := range cells {
		g.Go(func() error {
			runners := q.Runners
			if cells[i].Request.Film {
				runners = min(runners, 2)
			}
			if err := st.fillCell(ctx, &cells[i], runners); err != nil {
				return fmt.Errorf("%s %s: %w", cells[i].Factor, cells[i].Level, err)
			}
			mu.Lock()
			defer mu.Unlock()
			progress.Advance(1)
			return nil
		})
	}
	err := g.Wait()
	progress.Done()
	return cells, err
}

func (st *Studio) fillCell(ctx context.Context, cell *GridCell, runners int) error {
	var all []*TruthResult
	for seed := uint64(1); len(all) < runners; seed++ {
		if cell.Impossible > 3*runners {
			return problem(KindNoResult, "", "", "no runner of this cell can run so")
		}
		q := cell.Request
		q.Seed = seed
		p := gridRunner(q, seed)
		p.DurationS = q.Seconds + 1
		runner, err := synth.New(p)
		if err != nil {
			cell.Impossible++
			continue
		}
		r, err := st.truthOfRunner(ctx, runner, q, NoProgress{})
		if err != nil {
			return err
		}
		all = append(all, r)
	}
	cell.summarise(all)
	return nil
}

// summarise joins the runs of a cell.
func (cell *GridCell) summarise(all []*TruthResult) {
	for _, view := range []clip.View{clip.LeftSide, clip.Rear} {
		for _, d := range measure.Catalogue() {
			row := GridRow{View: view.String(), Name: d.Name, Title: d.Title, Unit: d.Unit, Decimals: d.Decimals}
			var off, stated []float64
			for _, r := range all {
				for _, m := range r.Measures {
					if m.Name != d.Name || m.View != row.View {
						continue
					}
					if math.IsNaN(m.Measured) {
						row.Withheld++
						continue
					}
					off, stated = append(off, m.Error()), append(stated, m.SEM)
					if math.Abs(m.Error()) <= 1.96*m.SEM {
						row.Covered++
					}
				}
			}
			if len(off)+row.Withheld == 0 {
				continue
			}
			row.Bias, row.SD, row.Values = signal.MeanSD(off)
			row.Stated = signal.Median(stated)
			row.Covered /= float64(len(off))
			cell.Rows = append(cell.Rows, row)
		}
		k := GridContacts{View: view.String()}
		var down, up, downSD, upSD []float64
		for _, r := range all {
			for _, c := range r.Contacts {
				if c.View != k.View {
					continue
				}
				k.Missed += c.Missed
				k.Extra += c.Extra
				if len(c.Rows) == 0 {
					continue
				}
				k.Contacts += c.Rows[0].Pairs
				down, up = append(down, c.Rows[0].BiasS), append(up, c.Rows[1].BiasS)
				downSD, upSD = append(downSD, c.Rows[0].SDS), append(upSD, c.Rows[1].SDS)
				k.StepRate = math.Max(k.StepRate, math.Abs(c.MotionStepRate-c.ForceStepRate))
			}
		}
		k.LandingS[0], k.LandingS[1], _ = signal.MeanSD(down)
		k.LeaveS[0], k.LeaveS[1], _ = signal.MeanSD(up)
		k.WithinS = [2]float64{signal.Median(downSD), signal.Median(upSD)}
		cell.Contacts = append(cell.Contacts, k)
	}
}

// row returns the error of one measure in one view; ok is false where the cell
// has none.
func (cell *GridCell) row(view, name string) (GridRow, bool) {
	for _, r := range cell.Rows {
		if r.View == view && r.Name == name {
			return r, true
		}
	}
	return GridRow{}, false
}
