package norm

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
	"gaitwright/num/agree"
)

// Fewest is the least number of people from whom a row is computed.
const Fewest = 5

// Trial is one person's measures at one speed, for computing rows.
type Trial struct {
	Person   string
	View     clip.View
	SpeedMPS float64
	Measures []measure.Measure
}

// Origin says where computed rows come from.
type Origin struct {
	ID             string // begins the ids of the rows
	Source, Sample string
	Method         string
	Confidence     Confidence
	Note           string
}

// Compute groups trials by speed, to the nearest half metre a second, and returns
// one row a measure and group: mean and standard deviation over persons. A person
// counts once a group, with the mean of left and right and of repeated trials,
// because two legs of one runner are not two runners. The class of a strike, the
// share of crossover steps (none in most runners, all in some: mean and SD say
// nothing), and a measure that fewer than Fewest persons give or in which all agree
// to the last digit, are left out. The speeds of a row are those measured, and 0.1 m/s more
// either way.
func Compute(trials []Trial, o Origin) []Row {
	type key struct {
		speed float64
		name  string
	}
	values := map[key]map[string][]float64{}
	views := map[clip.View]bool{}
	speeds := map[float64][]float64{} // measured speeds by group
	for _, t := range trials {
		if !(t.SpeedMPS > 0) {
			continue
		}
		speed := math.Round(2*t.SpeedMPS) / 2
		speeds[speed] = append(speeds[speed], t.SpeedMPS)
		views[t.View] = true
		for name, v := range byPerson(t.Measures) {
			k := key{speed, name}
			if values[k] == nil {
				values[k] = map[string][]float64{}
			}
			values[k][t.Person] = append(values[k][t.Person], v)
		}
	}
	groups := make([]float64, 0, len(speeds))
	for s := range speeds {
		groups = append(groups, s)
	}
	slices.Sort(groups)
	var rows []Row
	for _, d := range measure.Catalogue() {
		if d.Name == "crossover_share" {
			continue
		}
		for _, speed := range groups {
			persons := values[key{speed, d.Name}]
			if len(persons) < Fewest {
				continue
			}
			x := make([]float64, 0, len(persons))
			for _, v := range persons {
				x = append(x, agree.MeanOf(v).Value)
			}
			slices.Sort(x)
			of := agree.MeanOf(x)
			low, high := round(slices.Min(speeds[speed])-0.1, 2), round(slices.Max(speeds[speed])+0.1, 2)
			mean, sd := round(of.Value, d.Decimals+1), round(of.SD, d.Decimals+1)
			if sd == 0 {
				continue
			}
			rows = append(rows, Row{ID: fmt.Sprintf("%s-%s-%g", o.ID, strings.ReplaceAll(d.Name, "_", "-"), speed), Measure: d.Name, Views: holdsFor(d, views),
				SpeedMPS: &Span{&low, &high}, Mean: &mean, SD: &sd, N: len(x), Unit: d.Unit, Source: o.Source, Sample: o.Sample, Method: o.Method,
				Tag: Computed, Confidence: o.Confidence, Note: o.Note})
		}
	}
	return rows
}

// byPerson returns one value a measure: the mean of left and right.
func byPerson(ms []measure.Measure) map[string]float64 {
	sums, n := map[string]float64{}, map[string]float64{}
	sides := map[string]body.Side{}
	for _, m := range ms {
		if m.Withheld() || m.Text != "" {
			continue
		}
		sums[m.Name] += m.Value
		n[m.Name]++
		sides[m.Name] = m.Side
	}
	out := map[string]float64{}
	for name, s := range sums {
		if n[name] == 2 || sides[name] == body.NoSide {
			out[name] = s / n[name]
		}
	}
	return out
}

// spatialOnly are the measures whose meaning depends on what found the landmarks:
// a film refers the hip to the trunk and takes the shoulders for the pelvis, and
// its frontal angles are projections.
var spatialOnly = []string{"hip_flexion_at_contact", "hip_extension_at_toe_off", "triple_extension", "vertical_oscillation", "overstride", "heel_to_com_at_contact",
	"pelvic_drop", "hip_adduction", "knee_frontal_angle", "knee_separation", "rearfoot_eversion", "heel_whip"}

// holdsFor is where a computed row holds: everywhere for times, and for marker
// files alone where the meaning depends on the landmarks.
func holdsFor(d measure.Definition, from map[clip.View]bool) []clip.View {
	if len(from) == 1 && from[clip.Spatial] && slices.Contains(spatialOnly, d.Name) {
		return []clip.View{clip.Spatial}
	}
	return nil
}

func round(v float64, decimals int) float64 {
	p := math.Pow(10, float64(decimals))
	return math.Round(v*p) / p
}
