package app

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"gaitwright/internal/render"
)

// The international pound and foot.
const (
	kgPerPound    = 0.45359237
	metresPerFoot = 0.3048
)

// inUSWords are a runner's facts in feet, inches and pounds.
func (r RunnerFacts) inUSWords() string {
	var p []string
	if r.HeightM > 0 {
		halves := math.Round(2 * r.HeightM / metresPerInch)
		p = append(p, fmt.Sprintf("%d ft %.3g in", int(halves)/24, math.Mod(halves, 24)/2))
	}
	if r.LegLengthM > 0 {
		p = append(p, fmt.Sprintf("leg %.1f in", r.LegLengthM/metresPerInch))
	}
	if r.MassKG > 0 {
		p = append(p, fmt.Sprintf("%.0f lb", r.MassKG/kgPerPound))
	}
	if r.Sex != "" {
		p = append(p, r.Sex)
	}
	return strings.Join(p, ", ")
}

const aNumber = `[−-]?\d+(?:[.,]\d+)?`

var (
	oneFigure    = regexp.MustCompile(aNumber)
	metricFigure = regexp.MustCompile(`(` + aNumber + `(?:(?: ± | to | bis |–|-)` + aNumber + `)*)([ \x{202f}]?)(m/s|km/h|km|cm|mm|kg|m)\b`)
	kilometrePer = regexp.MustCompile(`(\d+):(\d\d)( ?)min/km\b`)
	trainingKM   = regexp.MustCompile(`^(?:longest |längster )?` + aNumber + ` km(?: a week| pro Woche)?$`)
)

// usUnit is how a metric unit is shown: what a number is divided by, the unit, and how
// many decimals the number has then.
type usUnit struct {
	by       float64
	name     string
	decimals func(had int) int
}

// usUnitOf is the unit for numbers of at most this size in a metric unit. From 2.5 m on
// it is the foot: so far away is a camera, not a foot or a hip.
func usUnitOf(unit string, size float64) (usUnit, bool) {
	same := func(more int) func(int) int { return func(had int) int { return max(0, had+more) } }
	// A treadmill shows tenths of a mile an hour.
	tenths := func(had int) int {
		if had == 2 {
			return 1
		}
		return had
	}
	switch unit {
	case "m/s":
		return usUnit{metresPerMile / 3600, "mph", tenths}, true
	case "km/h":
		return usUnit{metresPerMile / 1000, "mph", tenths}, true
	case "km":
		return usUnit{metresPerMile / 1000, "miles", func(had int) int { return max(1, had) }}, true
	case "kg":
		return usUnit{kgPerPound, "lb", same(0)}, true
	case "mm":
		return usUnit{metresPerInch * 1000, "in", same(2)}, true
	case "cm":
		return usUnit{metresPerInch * 100, "in", same(1)}, true
	case "m":
		if size >= 2.5 {
			return usUnit{metresPerFoot, "ft", same(0)}, true
		}
		return usUnit{metresPerInch, "in", same(-1)}, true
	}
	return usUnit{}, false
}

var germanUnits = map[string]string{"in": "Zoll", "ft": "Fuß", "miles": "Meilen"}

// figures turns each number of a text, in the language's form.
func (u usUnit) figures(text, language string) string {
	return oneFigure.ReplaceAllStringFunc(text, func(s string) string {
		v, fraction := readFigure(s)
		out := fmt.Sprintf("%.*f", u.decimals(fraction), v/u.by)
		if u.name == "miles" {
			out = strings.TrimSuffix(out, ".0")
		}
		out = strings.Replace(out, "-", s[:max(0, strings.IndexFunc(s, func(r rune) bool { return r >= '0' && r <= '9' }))], 1)
		if language == "de" {
			out = strings.Replace(out, ".", ",", 1)
		}
		return out
	})
}

// readFigure reads a number as aNumber has it, and how many decimals it has.
func readFigure(s string) (v float64, fraction int) {
	s = strings.NewReplacer("−", "-", ",", ".").Replace(s)
	v, _ = strconv.ParseFloat(s, 64)
	if _, after, ok := strings.Cut(s, "."); ok {
		fraction = len(after)
	}
	return v, fraction
}

// usText says the speeds, lengths and masses of a text in US units. Moments and
// stiffnesses (Nm/kg, kN/m) are as the literature has them everywhere.
func usText(text, language string) string {
	text = kilometrePer.ReplaceAllStringFunc(text, func(s string) string {
		m := kilometrePer.FindStringSubmatch(s)
		a, _ := strconv.Atoi(m[1])
		b, _ := strconv.Atoi(m[2])
		mile := map[string]string{"de": "Meile"}[language]
		if mile == "" {
			mile = "mile"
		}
		return paceText(metresPerMile, 1000/float64(60*a+b)) + m[3] + "min/" + mile
	})
	var b strings.Builder
	from := 0
	for _, at := range metricFigure.FindAllStringSubmatchIndex(text, -1) {
		numbers, gap, unit := text[at[2]:at[3]], text[at[4]:at[5]], text[at[6]:at[7]]
		rest := text[at[1]:]
		if strings.HasPrefix(rest, "/") || strings.HasPrefix(rest, "²") || strings.HasPrefix(rest, "·") {
			continue // of another unit
		}
		size := 0.0
		for _, s := range oneFigure.FindAllString(numbers, -1) {
			v, _ := readFigure(s)
			size = max(size, math.Abs(v))
		}
		u, ok := usUnitOf(unit, size)
		if !ok {
			continue
		}
		name := u.name
		if language == "de" && germanUnits[name] != "" {
			name = germanUnits[name]
		}
		b.WriteString(text[from:at[0]] + u.figures(numbers, language) + gap + name)
		from = at[1]
	}
	return b.String() + text[from:]
}

// usPlan is what is known of a clinician's report before it is said in another language.
type usPlan struct {
	ownWords     map[[2]int]bool        // part and block of what the coach wrote
	plainColumns map[*render.Grid][]int // whose numbers have the unit of the value
}

// valueColumn is where the tables of measures and tests have the value.
const valueColumn = 2

func planUS(r *render.Dossier) usPlan {
	p := usPlan{map[[2]int]bool{}, map[*render.Grid][]int{}}
	for i, part := range r.Parts {
		columns := map[string][]int{"Measures": {3, 4, 6}, "Exam": {3, 5}}[part.Title]
		for k, b := range part.Blocks {
			if b.Table != nil && columns != nil {
				p.plainColumns[b.Table] = columns
			}
			if b.Small == "The coach's own finding." {
				p.ownWords[[2]int{i, k - 1}] = true
				p.ownWords[[2]int{i, k + 1}] = k+1 < len(part.Blocks) && part.Blocks[k+1].Text != ""
			}
		}
	}
	return p
}

// inUS says a clinician's report in US units, from the figures that are printed: what
// stands in a sentence and in a table is the same number. People's own words stay.
func inUS(r *render.Dossier, plan usPlan, language string) {
	put := func(s *string) {
		said, own := *s, ""
		for _, mark := range []string{" Rejected by the coach: ", "Verworfen, weil: "} {
			if i := strings.Index(said, mark); i >= 0 {
				said, own = said[:i], said[i:]
			}
		}
		*s = usText(said, language) + own
	}
	for i := range r.Facts {
		if f := &r.Facts[i]; f.Label == "Training" {
			parts := strings.Split(f.Value, ", ")
			for n := range parts {
				if trainingKM.MatchString(parts[n]) { // else the runner's own words
					put(&parts[n])
				}
			}
			f.Value = strings.Join(parts, ", ")
		}
	}
	for i := range r.Parts {
		for k := range r.Parts[i].Blocks {
			b := &r.Parts[i].Blocks[k]
			if plan.ownWords[[2]int{i, k}] {
				continue
			}
			for _, s := range []*string{&b.Head, &b.Text, &b.Small, &b.Warn} {
				put(s)
			}
			b.List = slices.Clone(b.List) // it may be the engine's
			for n := range b.List {
				put(&b.List[n])
			}
			for n := range b.Plots {
				plotInUS(&b.Plots[n], language)
			}
			for n := range b.Frames {
				put(&b.Frames[n].Title)
				put(&b.Frames[n].Label)
			}
			if b.Table == nil {
				continue
			}
			for n := range b.Table.Rows {
				row := &b.Table.Rows[n]
				put(&row.Head)
				if columns := plan.plainColumns[b.Table]; columns != nil && len(row.Cells) > valueColumn {
					if m := metricFigure.FindStringSubmatch(row.Cells[valueColumn]); m != nil && m[0] == row.Cells[valueColumn] {
						v, _ := readFigure(m[1])
						if u, ok := usUnitOf(m[3], math.Abs(v)); ok {
							for _, c := range columns {
								row.Cells[c] = u.figures(row.Cells[c], language)
							}
						}
					}
				}
				for c := range row.Cells {
					put(&row.Cells[c])
				}
			}
		}
	}
}

// pageInUS says a measurement's one page in US units.
func pageInUS(r *render.Report) {
	r.US = true
	say := func(s string) string { return usText(s, "en") }
	r.Measures = slices.Clone(r.Measures)
	inches := map[string]bool{}
	for i := range r.Measures {
		m := &r.Measures[i]
		m.Text, m.Flag, m.Reason = say(m.Text), say(m.Flag), say(m.Reason)
		if m.Unit != "m" {
			continue
		}
		m.Unit, inches[m.Name] = "in", true
		for _, v := range []*float64{&m.Value, &m.SD, &m.SEM, &m.MDC95, &m.Bias} {
			*v /= metresPerInch
		}
	}
	r.Asymmetries = slices.Clone(r.Asymmetries)
	for i := range r.Asymmetries {
		if a := &r.Asymmetries[i]; inches[a.Name] {
			for _, v := range []*float64{&a.Left, &a.Right, &a.Difference, &a.SEM} {
				*v /= metresPerInch
			}
		}
	}
	r.Curves = slices.Clone(r.Curves)
	for i := range r.Curves {
		if c := &r.Curves[i]; c.Unit == "m" {
			c.Unit = "in"
			inInches(&c.Mean)
			inInches(&c.SD)
		}
	}
	for i := range r.KeyFrames {
		k := &r.KeyFrames[i]
		k.Title, k.Label = say(k.Title), say(k.Label)
	}
	for _, list := range []*[]string{&r.Remarks, &r.Warnings, &r.Notes, &r.Method} {
		*list = slices.Clone(*list)
		for i, s := range *list {
			(*list)[i] = say(s)
		}
	}
}

// inInches turns a curve of metres.
func inInches(all *[101]float64) {
	for i := range all {
		all[i] /= metresPerInch
	}
}

// plotInUS turns a plot of lengths; one of angles stays.
func plotInUS(p *render.CurvePlot, language string) {
	if p.Unit != "m" {
		return
	}
	p.Unit = "in"
	if language == "de" {
		p.Unit = germanUnits[p.Unit]
	}
	p.Curves = slices.Clone(p.Curves)
	for i := range p.Curves {
		c := &p.Curves[i]
		c.Unit = p.Unit
		inInches(&c.Mean)
		inInches(&c.SD)
	}
	if p.Reference != nil {
		r := *p.Reference
		inInches(&r.Low)
		inInches(&r.High)
		p.Reference = &r
	}
	p.Bars = slices.Clone(p.Bars)
	for i := range p.Bars {
		p.Bars[i].Low /= metresPerInch
		p.Bars[i].High /= metresPerInch
	}
}
