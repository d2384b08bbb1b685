package norm

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"

	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
	"gaitwright/gait/table"
	"gaitwright/num/agree"
)

// Band is what was usual of a curve over the stride among people measured: mean and
// standard deviation over persons at each hundredth, in the curve's unit, from one
// contact to the same foot's next.
type Band struct {
	Curve    string      `yaml:"curve"`
	Views    []clip.View `yaml:"views,flow"` // of what it was measured from; spatial are marker files
	SpeedMPS Span        `yaml:"speed_mps,flow"`
	N        int         `yaml:"n"` // people
	Unit     string      `yaml:"unit"`
	Mean     []float64   `yaml:"mean,flow"`
	SD       []float64   `yaml:"sd,flow"`
	Source   string      `yaml:"source"`
	Sample   string      `yaml:"sample"`
	Method   string      `yaml:"method"`
}

// bandFile is a file of bands.
type bandFile struct {
	Bands []Band `yaml:"bands"`
}

// CurveTrial is one person's curves at one speed, for computing bands.
type CurveTrial struct {
	Person   string
	View     clip.View
	SpeedMPS float64
	Curves   []measure.Curve
}

// ComputeBands groups trials by speed, to the nearest half metre a second, as Compute
// does, and returns a band a curve and group. A person counts once a group, with the
// mean of left and right and of repeated trials. Curves with gaps, and those that
// fewer than Fewest persons give, are left out.
func ComputeBands(trials []CurveTrial, o Origin) []Band {
	type key struct {
		curve string
		speed float64
	}
	type sum struct {
		total [101]float64
		n     float64
	}
	people := map[key]map[string]*sum{}
	units, views := map[string]string{}, map[key][]clip.View{}
	speeds := map[key][]float64{}
	for _, t := range trials {
		if !(t.SpeedMPS > 0) {
			continue
		}
		for _, c := range t.Curves {
			if slices.ContainsFunc(c.Mean[:], func(v float64) bool { return math.IsNaN(v) || math.IsInf(v, 0) }) {
				continue
			}
			k := key{c.Name, math.Round(2*t.SpeedMPS) / 2}
			if people[k] == nil {
				people[k] = map[string]*sum{}
			}
			if people[k][t.Person] == nil {
				people[k][t.Person] = &sum{}
			}
			s := people[k][t.Person]
			for i, v := range c.Mean {
				s.total[i] += v
			}
			s.n++
			units[c.Name] = c.Unit
			speeds[k] = append(speeds[k], t.SpeedMPS)
			if !slices.Contains(views[k], t.View) {
				views[k] = append(views[k], t.View)
			}
		}
	}
	var out []Band
	for k, persons := range people {
		if len(persons) < Fewest {
			continue
		}
		low, high := round(slices.Min(speeds[k])-0.1, 2), round(slices.Max(speeds[k])+0.1, 2)
		b := Band{Curve: k.curve, Views: views[k], SpeedMPS: Span{&low, &high}, N: len(persons), Unit: units[k.curve], Source: o.Source, Sample: o.Sample, Method: o.Method,
			Mean: make([]float64, 101), SD: make([]float64, 101)}
		slices.Sort(b.Views)
		for i := range b.Mean {
			var x []float64
			for _, s := range persons {
				x = append(x, s.total[i]/s.n)
			}
			slices.Sort(x) // the order of a map must not show in the last digit
			of := agree.MeanOf(x)
			b.Mean[i], b.SD[i] = round(of.Value, 4), round(of.SD, 4)
		}
		out = append(out, b)
	}
	slices.SortFunc(out, func(a, b Band) int {
		return cmp.Or(strings.Compare(a.Curve, b.Curve), cmp.Compare(*a.SpeedMPS.Low, *b.SpeedMPS.Low))
	})
	return out
}

// MarshalBands writes a file of bands.
func MarshalBands(bands []Band) ([]byte, error) {
	return yaml.Marshal(bandFile{bands})
}

var bandsFile = table.NewFile("file of bands of curves", MaxBytes, nil, nil)

// ParseBands reads a file of bands, strictly, and refuses what cannot be one.
func ParseBands(data []byte) ([]Band, error) {
	var f bandFile
	if err := bandsFile.Read(data, &f); err != nil {
		return nil, err
	}
	for i, b := range f.Bands {
		fault := ""
		switch {
		case measure.CurveTitle(b.Curve) == b.Curve:
			fault = fmt.Sprintf("there is no curve %q", b.Curve)
		case len(b.Mean) != 101 || len(b.SD) != 101:
			fault = fmt.Sprintf("it has %d means and %d standard deviations; there must be 101 of each, from 0 to 100 %% of the stride", len(b.Mean), len(b.SD))
		case slices.ContainsFunc(append(slices.Clone(b.Mean), b.SD...), func(v float64) bool { return math.IsNaN(v) || math.Abs(v) > 1e6 }):
			fault = "a number in it is no number of a curve"
		case slices.ContainsFunc(b.SD, func(v float64) bool { return v < 0 }):
			fault = "a standard deviation is below nought"
		case b.N < 2:
			fault = "n must be two people or more"
		case len(b.Views) == 0:
			fault = "views are missing: left, right, rear, front, or spatial for marker files"
		case b.SpeedMPS.Low == nil || b.SpeedMPS.High == nil || !(*b.SpeedMPS.Low < *b.SpeedMPS.High):
			fault = "speed_mps must have low and high"
		case strings.TrimSpace(b.Source) == "":
			fault = "source is missing: whose data they are"
		}
		if fault != "" {
			return nil, fmt.Errorf("band %d: %s", i+1, fault)
		}
	}
	return f.Bands, nil
}

// alikeEverywhere are the curves that mean the same in a film from the side as in a
// marker file. A film refers the hip to the trunk, takes the shoulders for the pelvis,
// and its frontal angles are projections.
var alikeEverywhere = []string{"knee_flexion", "ankle_dorsiflexion", "thigh_angle", "shank_angle", "foot_angle", "trunk_lean"}

// BandOf finds the band of a curve in its unit at a speed: of several that measured
// from the same view, then that of more people. One from marker files serves for films
// where the curve means the same there. Where none holds at the speed, it is worked out
// between a slower and a faster one of the same people.
func BandOf(bands []Band, curve, unit string, view clip.View, speedMPS float64) (Band, bool) {
	var found, slower, faster []Band
	for _, b := range bands {
		if b.Curve != curve || b.Unit != unit || !(speedMPS > 0) || !slices.Contains(b.Views, view) && (!slices.Contains(b.Views, clip.Spatial) || !slices.Contains(alikeEverywhere, curve)) {
			continue
		}
		switch {
		case b.SpeedMPS.Holds(speedMPS):
			found = append(found, b)
		case *b.SpeedMPS.High < speedMPS:
			slower = append(slower, b)
		default:
			faster = append(faster, b)
		}
	}
	if len(found) == 0 {
		return bandBetween(slower, faster, speedMPS)
	}
	same := func(b Band) int {
		if slices.Contains(b.Views, view) {
			return 1
		}
		return 0
	}
	return slices.MaxFunc(found, func(a, b Band) int { return cmp.Or(same(a)-same(b), a.N-b.N) }), true
}

// bandBetween is the band at a speed between the nearest slower and the nearest faster
// one of the same people.
func bandBetween(slower, faster []Band, speedMPS float64) (Band, bool) {
	nearest := func(a, b Band) int {
		return cmp.Compare(math.Abs(a.SpeedMPS.middle()-speedMPS), math.Abs(b.SpeedMPS.middle()-speedMPS))
	}
	slices.SortFunc(slower, nearest)
	slices.SortFunc(faster, nearest)
	for _, a := range slower {
		for _, b := range faster {
			if a.Source != b.Source || a.Sample != b.Sample || !slices.Equal(a.Views, b.Views) {
				continue
			}
			w := (speedMPS - a.SpeedMPS.middle()) / (b.SpeedMPS.middle() - a.SpeedMPS.middle())
			out := a
			out.N, out.SpeedMPS = min(a.N, b.N), Span{a.SpeedMPS.Low, b.SpeedMPS.High}
			out.Mean, out.SD = make([]float64, len(a.Mean)), make([]float64, len(a.SD))
			for i := range out.Mean {
				out.Mean[i] = (1-w)*a.Mean[i] + w*b.Mean[i]
				out.SD[i] = (1-w)*a.SD[i] + w*b.SD[i]
			}
			return out, true
		}
	}
	return Band{}, false
}

// Ends are the lower and upper ends between which one more person lies with 95 %
// probability at each hundredth.
func (b Band) Ends() (low, high [101]float64) {
	for i := range low {
		k := agree.PredictionInterval(b.Mean[i], b.SD[i], b.N)
		low[i], high[i] = k.Low, k.High
	}
	return low, high
}
