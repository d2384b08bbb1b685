package cli

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"gaitwright/gait/clip"
	"gaitwright/gait/norm"
	"gaitwright/internal/app"
	"gaitwright/num/quantity"
)

type normsCommand struct {
	List    normsListCommand    `cmd:"" default:"withargs" help:"List, print or check reference ranges (what the bare command does)."`
	Compute normsComputeCommand `cmd:"" help:"Compute reference ranges from marker files of many people, by speed, and print them as YAML."`
}

type normsListCommand struct {
	Show  bool   `help:"Print the built-in ranges as YAML, to copy and edit."`
	Check string `help:"Check a file of your own." type:"path" placeholder:"FILE"`
	File  string `help:"Your own rows, laid over the built-in ones; without it the file in the configuration folder." type:"path" placeholder:"FILE"`

	Measure string `help:"Only this measure." placeholder:"NAME"`
	Speed   string `help:"Only what holds at this speed." placeholder:"SPEED"`
	Height  string `help:"Only what holds for this height." placeholder:"LENGTH"`
	Sex     string `help:"female or male." enum:"female,male," default:""`
	View    string `help:"Only what holds for this view: left, right, rear, front or spatial (marker files)." placeholder:"VIEW"`
}

// Run lists, prints or checks reference ranges.
func (c *normsListCommand) Run(r *run) error {
	switch {
	case c.Show:
		text, err := app.ShowNorms()
		if err == nil {
			r.printf("%s", text)
		}
		return err
	case c.Check != "":
		text, err := app.CheckNorms(c.Check)
		if err == nil {
			r.printf("%s", text)
		}
		return err
	}
	asked := app.NormsAsked{Measure: c.Measure, File: c.File, Conditions: norm.Conditions{Sex: c.Sex}}
	var err error
	read := func(flag, text string, parse func(string) (float64, error), to *float64) {
		if text != "" && err == nil {
			if *to, err = parse(text); err != nil {
				err = fmt.Errorf("%s: %w", flag, err)
			}
		}
	}
	read("--speed", c.Speed, in(quantity.ParseSpeed), &asked.SpeedMPS)
	read("--height", c.Height, in(quantity.ParseLength), &asked.HeightM)
	if c.View != "" && err == nil {
		asked.View, err = clip.ParseView(c.View)
	}
	if err != nil {
		return &app.Problem{Kind: app.KindUsage, What: err.Error()}
	}
	list, notes, err := app.ListNorms(asked)
	if err != nil {
		return err
	}
	for _, n := range notes {
		r.say("%s", n)
	}
	writeNorms(r.env.Stdout, list)
	return nil
}

// writeNorms prints one line a row, and its source below.
func writeNorms(w io.Writer, list []app.NormsOf) {
	if len(list) == 0 {
		fmt.Fprintln(w, "No reference range holds for that.")
		return
	}
	for i, m := range list {
		if i > 0 {
			fmt.Fprintln(w)
		}
		unit := ""
		if m.Measure.Unit != "" {
			unit = ", " + m.Measure.Unit
		}
		fmt.Fprintf(w, "%s (%s%s)\n", m.Measure.Title, m.Measure.Name, unit)
		// Rows of one sample at several speeds share their source.
		for k, row := range m.Rows {
			fmt.Fprintf(w, "  %s\n", normLine(m, row))
			if k+1 < len(m.Rows) && sameSample(row, m.Rows[k+1]) {
				continue
			}
			fmt.Fprintln(w, wrap(normSource(row), "      ", 100))
			if row.Contested != "" {
				fmt.Fprintln(w, wrap(row.Contested, "      contested: ", 100))
			}
		}
	}
	fmt.Fprintf(w, "\n%s\n", wrap(app.RangeNote, "", 100))
}

func normLine(m app.NormsOf, row norm.Row) string {
	text := row.RangeText()
	var about []string
	if row.Mean != nil {
		about = append(about, fmt.Sprintf("%s ± %s", m.Measure.Format(*row.Mean), m.Measure.Format(*row.SD)))
	}
	if row.N > 0 {
		about = append(about, fmt.Sprintf("n %d", row.N))
	}
	if row.Sex != "" {
		about = append(about, row.Sex)
	}
	if row.HeightM != nil {
		about = append(about, row.HeightText()+" m tall")
	}
	if len(row.Views) > 0 {
		about = append(about, "marker files only")
		for _, v := range row.Views {
			if v != clip.Spatial {
				about[len(about)-1] = fmt.Sprint("views ", row.Views)
			}
		}
	}
	speed := row.SpeedText()
	if row.SpeedMPS != nil {
		speed += " m/s"
	} else {
		speed += " speed"
	}
	if !row.Usable() {
		about = append(about, "LOW CONFIDENCE, not used as a norm")
	}
	return strings.TrimRight(padRight(text, 18)+" "+padRight(speed, 14)+" "+strings.Join(about, ", "), " ")
}

func normSource(row norm.Row) string {
	text := strings.TrimSuffix(row.Source, ".") + ". " + strings.TrimSuffix(row.Sample, ".") + "; " + row.Method + ". [" + string(row.Tag) + ", " + string(row.Confidence) + " confidence; " + row.ID + "]"
	if row.Own {
		text = "OWN ROW. " + text
	}
	if row.Note != "" {
		text += " " + row.Note
	}
	return text
}

func sameSample(a, b norm.Row) bool {
	return a.Source == b.Source && a.Sample == b.Sample && a.Method == b.Method && a.Contested == b.Contested && a.Note == b.Note && a.Own == b.Own && a.Usable() == b.Usable() && a.Source != ""
}

type normsComputeCommand struct {
	Files  []string `arg:"" name:"file" help:"Marker files (or any other that measure reads) of many people." type:"existingfile"`
	Person string   `help:"Regular expression of what in a file's name is the person." default:"${person}"`
	Name   string   `help:"Name of the table; the ids of its rows begin with it." default:"own"`
	Source string   `help:"Whose data they are: author, year, journal." default:"own measurements"`
	Sample string   `help:"Who was measured. By default the number and names of the people."`
	Method string   `help:"How it was done." default:"gaitwright norms compute"`
	Note   string   `help:"What else should be known."`
	Curves bool     `help:"Compute bands of the curves over the stride instead; kept as curves.yaml beside your own ranges, they are drawn in reports."`
}

// Run measures the files and prints the rows.
func (c *normsComputeCommand) Run(r *run) error {
	studio, err := r.studio()
	if err != nil {
		return err
	}
	bar := newProgress(r.env.Stderr, r.env.Terminal)
	ask := app.NormsRequest{Files: c.Files, Person: c.Person, Name: c.Name, Source: c.Source, Sample: c.Sample, Method: c.Method, Note: c.Note}
	var text []byte
	var notes []string
	if c.Curves {
		text, notes, err = studio.ComputeBands(r.ctx, ask, bar)
	} else {
		var table *norm.Table
		if table, notes, err = studio.ComputeNorms(r.ctx, ask, bar); err == nil {
			text, err = table.Marshal()
		}
	}
	bar.Done()
	if err != nil {
		return err
	}
	for _, n := range notes {
		r.say("%s", n)
	}
	_, err = r.env.Stdout.Write(text)
	return err
}

// writeRanges prints, for each clip, the measures that have a reference range
// beside it.
func writeRanges(w io.Writer, s *app.Session, table *norm.Table) {
	for i, lines := range s.RangeTable(table) {
		if len(lines) == 0 {
			continue
		}
		fmt.Fprintf(w, "\nReference ranges · %s\n", s.Tables(false)[i].Title)
		wide, ranges := 0, 0
		for _, l := range lines {
			wide, ranges = max(wide, utf8.RuneCountInString(l.Title)), max(ranges, utf8.RuneCountInString(l.Range))
		}
		sources := map[string]int{}
		var order []string
		title := ""
		for _, l := range lines {
			if _, ok := sources[l.Source]; !ok {
				order = append(order, l.Source)
				sources[l.Source] = len(order)
			}
			name := l.Title
			if name == title {
				name = ""
			}
			title = l.Title
			fmt.Fprintf(w, "  %s %s %s  %s %s  %s [%d]\n", padRight(name, wide), padRight(l.Side, 5), padLeft(l.Value, 15), padRight(l.Verdict, 13), padLeft(l.Range, ranges), padRight(l.Unit, 12), sources[l.Source])
		}
		for _, source := range order {
			fmt.Fprintln(w, wrap(source, fmt.Sprintf("  [%d] ", sources[source]), 100))
		}
	}
	fmt.Fprintf(w, "%s\n", wrap(app.RangeNote, "  ", 100))
}
