package app

import (
	"archive/zip"
	"context"
	"crypto/rand"
	"fmt"
	"io"
	"math"
	mathrand "math/rand/v2"
	"strconv"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/cohort"
	"gaitwright/gait/measure"
)

// TogetherRow is one measured value of the export without names.
type TogetherRow struct {
	Person     string  `parquet:"person" json:"person"`
	Sex        string  `parquet:"sex" json:"sex"`
	AgeBand    string  `parquet:"age_band" json:"age_band"`
	HeightBand string  `parquet:"height_band" json:"height_band"`
	Visit      int32   `parquet:"visit" json:"visit"`
	Day        int32   `parquet:"day" json:"day"`
	Findings   string  `parquet:"findings" json:"findings"`
	Complaints string  `parquet:"complaints" json:"complaints"`
	Planned    bool    `parquet:"planned" json:"planned"`
	View       string  `parquet:"view" json:"view"`
	SpeedMPS   float64 `parquet:"speed_mps" json:"speed_mps"`
	Origin     string  `parquet:"origin" json:"origin"`
	Measure    string  `parquet:"measure" json:"measure"`
	Side       string  `parquet:"side" json:"side"`
	Value      float64 `parquet:"value" json:"value"`
	SEM        float64 `parquet:"sem" json:"sem"`
	MDC95      float64 `parquet:"mdc95" json:"mdc95"`
	Unit       string  `parquet:"unit" json:"unit"`
}

// togetherColumns explain the columns, in their order: the data dictionary.
var togetherColumns = [][3]string{
	{"person", "text", "A code made by chance for this export alone; the next export has others. Rows of one person have the same."},
	{"sex", "text", "female, male, or empty where not told"},
	{"age_band", "text", "Ten years of age at the first visit, such as 30-39; empty where not told"},
	{"height_band", "text", "Ten centimetres of height, such as 170-179 cm; empty where not told"},
	{"visit", "integer", "The person's visits counted from 1"},
	{"day", "integer", "Days since the person's first visit; no date is given"},
	{"findings", "text", "Names of the findings that the coach accepted at this visit, with ; between them. They are observations, not diagnoses."},
	{"complaints", "text", "Places that hurt at this visit, with ; between them"},
	{"planned", "boolean", "Whether a programme was given at this visit"},
	{"view", "text", "From where it was filmed: left, right, rear, front, or spatial for markers in space"},
	{"speed_mps", "number", "Belt speed, m/s; 0 where not known"},
	{"origin", "text", "What found the landmarks: pose model, sticker, hand, marker file"},
	{"measure", "text", "Name of the measure; gaitwright explain NAME tells its definition, sign and source"},
	{"side", "text", "left, right, or empty for measures of both feet together"},
	{"value", "number", "The mean over the strides used, in unit"},
	{"sem", "number", "Standard error of measurement of value, in unit: strides, landmarks, frame rate and scale"},
	{"mdc95", "number", "Smallest real change between two such values, 1.96·√2·sem (Weir 2005, J Strength Cond Res 19:231)"},
	{"unit", "text", "Unit of value, sem and mdc95"},
}

// leastAlike is the size of a group from which people count as hidden in it: five is
// the least that guidance on released health data often asks (common practice).
const leastAlike = 5

// AnonymityText says how well people are hidden in the export.
func AnonymityText(a cohort.Anonymity) string {
	const always = "Leaving names out does not make data anonymous: someone who knows a runner may know the runner again by sex, age, height, complaint and the dates of visits. Share it only with people who have agreed to keep it safe, and only as far as consent and local rules allow."
	switch {
	case a.K == 0:
		return "There is nobody in it."
	case a.K < leastAlike:
		return fmt.Sprintf("Caution: %d of the people in it are alike in sex, age and height with fewer than %d others (the smallest group has %d; k-anonymity, Sweeney 2002, Int J Uncertain Fuzz 10:557). ", a.Alone, leastAlike-1, a.K) + always
	}
	return fmt.Sprintf("Every person in it is alike in sex, age and height with at least %d others (k-anonymity, Sweeney 2002, Int J Uncertain Fuzz 10:557). ", a.K-1) + always
}

// togetherRows are the rows of the export, people in an order of chance.
func (st *Studio) togetherRows(ctx context.Context) ([]TogetherRow, cohort.Anonymity, error) {
	g, err := st.gather(ctx)
	if err != nil {
		return nil, cohort.Anonymity{}, err
	}
	var seed [32]byte
	rand.Read(seed[:])
	rng := mathrand.New(mathrand.NewChaCha8(seed))
	rows := []TogetherRow{}
	var known []string
	for n, i := range rng.Perm(len(g.runners)) {
		r, person := g.runners[i], g.people[i]
		if len(r.Visits) == 0 {
			continue
		}
		first := r.Visits[0].Day
		base := TogetherRow{Person: fmt.Sprintf("P%04d", n+1), Sex: r.Sex}
		if person.BornYear > 0 {
			age := (first.Year() - person.BornYear) / 10 * 10
			base.AgeBand = fmt.Sprintf("%d-%d", age, age+9)
		}
		if person.HeightM > 0 {
			h := int(math.Round(100*person.HeightM)) / 10 * 10
			base.HeightBand = fmt.Sprintf("%d-%d cm", h, h+9)
		}
		used := false
		for k, v := range r.Visits {
			at := base
			at.Visit, at.Day = int32(k+1), int32(math.Round(v.Day.Sub(first).Hours()/24))
			at.Findings, at.Complaints, at.Planned = strings.Join(v.Findings, ";"), strings.Join(v.Complaints, ";"), len(v.Planned) > 0
			for _, x := range v.Values {
				row := at
				row.View, row.SpeedMPS, row.Origin, row.Measure = x.View, x.SpeedMPS, x.Origin, x.Name
				if x.Side != body.NoSide {
					row.Side = x.Side.String()
				}
				row.Value, row.SEM, row.MDC95 = x.Value, x.SEM, 1.96*math.Sqrt2*x.SEM
				if d, ok := measure.Lookup(x.Name); ok {
					row.Unit = d.Unit
				}
				rows = append(rows, row)
				used = true
			}
		}
		if used {
			known = append(known, base.Sex+"|"+base.AgeBand+"|"+base.HeightBand)
		}
	}
	return rows, cohort.AnonymityOf(known, leastAlike), nil
}

// ExportTogether writes what was measured of all consenting runners, without names,
// as CSV, JSON and Parquet with a dictionary, into a ZIP archive. It returns how well
// people are hidden in it.
func (st *Studio) ExportTogether(ctx context.Context, w io.Writer) (string, error) {
	rows, anonymity, err := st.togetherRows(ctx)
	if err != nil {
		return "", err
	}
	said := AnonymityText(anonymity)
	z := zip.NewWriter(w)
	file := func(name string, write func(io.Writer) error) {
		if err != nil {
			return
		}
		var f io.Writer
		if f, err = z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: st.now()}); err == nil {
			err = write(f)
		}
	}
	file("README.txt", func(w io.Writer) error {
		_, err := fmt.Fprintf(w, "Measured values of running from one studio, without names, written by %s.\n\n%s\n\nmeasures.csv, measures.json and measures.parquet hold the same rows, one for each\nmeasured value; dictionary.csv explains the columns. A value is never to be used\nwithout its error.\n", programName(), wrapText(said, 78))
		return err
	})
	table := dataTable[TogetherRow]{togetherColumns, TogetherRow.fields, func(do func([]TogetherRow) error) error { return do(rows) }}
	file("dictionary.csv", table.writeDictionary)
	file("measures.csv", table.writeCSV)
	file("measures.json", table.writeJSON)
	file("measures.parquet", table.writeParquet)
	if err != nil {
		return said, err
	}
	return said, z.Close()
}

func (r TogetherRow) fields() []string {
	number := func(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }
	return []string{r.Person, r.Sex, r.AgeBand, r.HeightBand, strconv.Itoa(int(r.Visit)), strconv.Itoa(int(r.Day)), r.Findings, r.Complaints, strconv.FormatBool(r.Planned),
		r.View, number(r.SpeedMPS), r.Origin, r.Measure, r.Side, number(r.Value), number(r.SEM), number(r.MDC95), r.Unit}
}

// wrapText breaks a text into lines of at most so many letters.
func wrapText(text string, width int) string {
	var b strings.Builder
	n := 0
	for _, word := range strings.Fields(text) {
		k := len([]rune(word))
		switch {
		case n == 0:
		case n+1+k > width:
			b.WriteByte('\n')
			n = 0
		default:
			b.WriteByte(' ')
			n++
		}
		b.WriteString(word)
		n += k
	}
	return b.String()
}
