package app

import (
	"fmt"
	"io"
	"strings"

	"gaitwright/gait/clip"
	"gaitwright/gait/exam"
	"gaitwright/gait/measure"
)

// tableCell writes text so that it stands in a cell of a Markdown table.
func tableCell(s string) string {
	return strings.NewReplacer("|", `\|`, "\n", " ", "<", `\<`).Replace(s)
}

// WriteMeasuresPage writes the handbook's page of measures, from the catalogue that
// the program measures by.
func WriteMeasuresPage(w io.Writer) error {
	var b strings.Builder
	b.WriteString("# Measures\n\nMade from the catalogue that the program measures by (`go test ./internal/app -run\nTestReferencePages -update`), not typed. `gaitwright explain NAME` shows the same with a\ndrawing, and what strides a steady mean needs. Errors are standard errors of\nmeasurement or standard deviations as said; how large they are in whole films is told\nin [What to trust](accuracy.md).\n\nSides: left and right are always told apart; *both* has one value for both feet.\n")
	catalogue := measure.Catalogue()
	group := ""
	for _, d := range catalogue {
		if d.Group != group {
			group = d.Group
			fmt.Fprintf(&b, "\n## %s\n\n| measure | name | unit | sides |\n|---|---|---|---|\n", group)
		}
		sides := "both"
		if d.Sided {
			sides = "left, right"
		}
		fmt.Fprintf(&b, "| [%s](#%s) | `%s` | %s | %s |\n", tableCell(d.Title), anchor(d.Title), d.Name, tableCell(d.Unit), sides)
	}
	b.WriteString("\n## Each measure\n")
	for _, d := range catalogue {
		fmt.Fprintf(&b, "\n### %s\n\n%s\n\n", d.Title, tableCell(d.Definition))
		var views []string
		for _, v := range d.Views() {
			views = append(views, v.String())
		}
		b.WriteString("| | |\n|---|---|\n")
		for _, row := range [][2]string{
			{"Sign", d.Sign}, {"Formula", d.Formula}, {"Letters", d.Letters()}, {"Views", strings.Join(views, ", ")},
			{"Source", d.Source}, {"Error", d.Error}, {"Caution", d.Caution}, {"Where it is withheld", d.Instead},
		} {
			if row[1] != "" {
				fmt.Fprintf(&b, "| %s | %s |\n", row[0], tableCell(row[1]))
			}
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// anchor is the anchor of a heading, as the handbook and most readers of Markdown
// make it.
func anchor(heading string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(heading) {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '-' || r == '_':
			b.WriteRune(r)
		case r == ' ':
			b.WriteByte('-')
		}
	}
	return b.String()
}

// LANFolder is where in a studio's folder the door for other devices keeps its key.
const LANFolder = "lan"

// studioFiles tell what lies in a studio's folder, by the first element of the path.
var studioFiles = [][2]string{
	{recordsFile, "all records: runners, visits, what was entered, results, and the list of deeds (SQLite); with -wal and -shm beside it while the program runs"},
	{filesFolder, "films and other files as they were taken in, unaltered, and measured landmarks; each named by the SHA-256 of its content, so that none is kept twice and none can change unseen"},
	{lockName, "keeps two programs from measuring in one folder at once"},
	{stillsFolder, "frames of films that reports show, kept so that a report need not wait for them; may be removed at any time"},
	{errandFolder, "what work in the background is making, until it is done"},
	{exportFolder, "films and pictures to take away, until the program stops"},
	{LANFolder, "key and certificate of the door for tablets (`--lan`), for this machine alone; a backup does not hold them"},
	{ownErrorsFile, "the studio's own errors, where readings were adopted (YAML)"},
}

// WriteFilesPage writes the handbook's page of files.
func WriteFilesPage(w io.Writer) error {
	var b strings.Builder
	b.WriteString("# Files\n\nMade from the program (`go test ./internal/app -run TestReferencePages -update`), not\ntyped.\n\n## In the studio's folder\n\n`gaitwright where` tells where it is. Do not change anything in it by hand; back it up\nwith `gaitwright backup FILE.age`, which may be done while the program runs.\n\n| name | holds |\n|---|---|\n")
	for _, f := range studioFiles {
		fmt.Fprintf(&b, "| `%s` | %s |\n", f[0], tableCell(f[1]))
	}
	fmt.Fprintf(&b, "\nReference ranges of your own lie outside of it, in the file `norms.yaml` that\n`gaitwright where` names: [Reference ranges](reference-ranges.md).\n\n## What is read\n\n| file | as | told by |\n|---|---|---|\n"+
		"| films | any kind that ffmpeg reads | what the other kinds are not |\n"+
		"| marker files | C3D, TRC: [marker sets](marker-sets.md) | `.c3d`, `.trc`, or the first bytes |\n"+
		"| keypoint files | CSV, JSON: [keypoint files](keypoint-files.md) | `.csv`, `.json`, or the first bytes |\n"+
		"| tables of exam trials | CSV with the columns %s | the command or page it is given to |\n"+
		"| runs of a watch | FIT, TCX, GPX, also packed (`.gz`) | the first bytes |\n"+
		"| logs of the homework | the file, the letters, or a picture of the code | the first bytes |\n"+
		"| rules, exercises, ranges and marker mappings of your own | YAML, checked strictly | the command it is given to |\n"+
		"| a backup | age (age-encryption.org/v1) over an archive | its first line |\n", quotedList(exam.Columns()))
	b.WriteString("\n## What is written\n\n| file | holds | by |\n|---|---|---|\n" +
		"| JSON and CSV of a result | [what `gaitwright measure` writes](output.md) | `gaitwright measure --json`, `--csv` |\n" +
		"| PDF, SVG, PNG, HTML of a report | two pages for the runner, or everything for a clinician | Handout, `gaitwright report` |\n" +
		"| one HTML file | the homework: exercises, timers, click and log, without a network | Handout, `gaitwright homework` |\n" +
		"| `.ics` | the plan and the runs with the click (iCalendar) | Handout, `gaitwright calendar` |\n" +
		"| `.wav` | a click track | Handout, `gaitwright click` |\n" +
		"| `.age` | the whole studio, encrypted | Keeping data, `gaitwright backup` |\n" +
		"| `.zip` of a runner | everything kept of one runner, with a README | the runner's page, `gaitwright takeaway` |\n" +
		"| `.zip` of all runners | measured values without names: CSV, JSON, Parquet | All runners, `gaitwright together --out` |\n" +
		"\nFiles are written whole or not at all. Times are seconds, lengths metres, angles\ndegrees, step rates steps a minute of both feet; unknown numbers are empty in CSV and\n`null` in JSON.\n\n## Columns of all runners' values\n\n| column | unit | means |\n|---|---|---|\n")
	for _, c := range togetherColumns {
		fmt.Fprintf(&b, "| `%s` | %s | %s |\n", c[0], tableCell(c[1]), tableCell(c[2]))
	}
	b.WriteString("\n## Names of views\n\n")
	var views []string
	for _, v := range []clip.View{clip.LeftSide, clip.RightSide, clip.Rear, clip.Front, clip.Spatial} {
		views = append(views, v.String())
	}
	fmt.Fprintf(&b, "%s: where the camera looks from; *left* is the runner's left side toward the camera,\n*spatial* a marker file.\n", quotedList(views))
	_, err := io.WriteString(w, b.String())
	return err
}

func quotedList(names []string) string { return "`" + strings.Join(names, "`, `") + "`" }
