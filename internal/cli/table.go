package cli

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"gaitwright/internal/app"
)

// pageWidth is how wide lines of text are printed.
const pageWidth = 100

// writeTable prints a session's measures for a person, by headings, left and right
// beside one another, each with its error; below, the cautions, what was withheld
// and why. Without all the main measures alone are printed.
func writeTable(w io.Writer, s *app.Session, all bool) error {
	var b strings.Builder
	for i, t := range s.Tables(all) {
		if i > 0 {
			b.WriteString("\n")
		}
		fmt.Fprintf(&b, "%s\n%s\n", t.Title, wrapPhrases(t.Subtitle))
		writeRows(&b, t)
		if t.More > 0 {
			fmt.Fprintf(&b, "\n  %d more measures: --all\n", t.More)
		}
		if len(t.Cautions)+len(t.Withheld)+len(t.Warnings) > 0 || t.OtherView+t.Strides != "" {
			b.WriteString("\n")
		}
		for i, caution := range t.Cautions {
			fmt.Fprintf(&b, "%s\n", wrap(caution, "  "+app.Mark(i)+"  ", pageWidth))
		}
		if t.Strides != "" {
			fmt.Fprintf(&b, "%s\n", wrap(t.Strides, "  ", pageWidth))
		}
		for _, note := range t.Withheld {
			fmt.Fprintf(&b, "%s\n", wrap(note, "  not given: ", pageWidth))
		}
		if t.OtherView != "" {
			fmt.Fprintf(&b, "%s\n", wrap(t.OtherView, "  not given: ", pageWidth))
		}
		for _, warning := range t.Warnings {
			fmt.Fprintf(&b, "%s\n", wrap(warning, "  note: ", pageWidth))
		}
	}
	b.WriteString("\n")
	for _, n := range s.Notes {
		fmt.Fprintf(&b, "%s\n", wrap(n, "note: ", pageWidth))
	}
	fmt.Fprintf(&b, "%s\n", wrap(app.PlusMinusNote, "± ", pageWidth))
	fmt.Fprintf(&b, "%s\n", wrap(app.CautionNote, "", pageWidth))
	_, err := io.WriteString(w, b.String())
	return err
}

// writeRows prints the rows under their headings, the columns as wide as they need
// to be.
func writeRows(b *strings.Builder, t app.Table) {
	title, unit, strides := 0, 0, len("strides")
	value, marks := [3]int{}, [3]int{}
	for _, g := range t.Groups {
		for _, r := range g.Rows {
			title = max(title, utf8.RuneCountInString(r.Title), utf8.RuneCountInString(r.Detail)+2)
			unit = max(unit, utf8.RuneCountInString(r.Unit))
			strides = max(strides, utf8.RuneCountInString(r.Strides))
			for i, c := range [...]app.TableCell{r.Left, r.Right, r.Both} {
				value[i] = max(value[i], utf8.RuneCountInString(c.Value))
				marks[i] = max(marks[i], len(c.Marks))
			}
		}
	}
	line := func(head string, cells [3]app.TableCell, unitText, n string) {
		text := "  " + padRight(head, title)
		for i, c := range cells {
			if value[i] > 0 {
				text += "  " + padLeft(c.Value, value[i]) + padRight(" "+c.Marks, marks[i]+1)
			}
		}
		text += " " + padRight(unitText, unit) + "  " + padLeft(n, strides)
		b.WriteString(strings.TrimRight(text, " ") + "\n")
	}
	for i, g := range t.Groups {
		b.WriteString("\n")
		var heads [3]app.TableCell
		n := ""
		if i == 0 {
			heads, n = [3]app.TableCell{{Value: "left"}, {Value: "right"}, {Value: "both"}}, "strides"
		}
		head := g.Title
		text := padRight(head, title+2)
		for i, c := range heads {
			if value[i] > 0 {
				text += "  " + padLeft(c.Value, value[i]) + strings.Repeat(" ", marks[i]+1)
			}
		}
		text += " " + strings.Repeat(" ", unit) + "  " + padLeft(n, strides)
		b.WriteString(strings.TrimRight(text, " ") + "\n")
		for _, r := range g.Rows {
			line(r.Title, [3]app.TableCell{r.Left, r.Right, r.Both}, r.Unit, r.Strides)
			if r.Detail != "" {
				b.WriteString("    " + r.Detail + "\n")
			}
		}
	}
}

// wrapPhrases joins phrases with dots between them, on lines of at most pageWidth.
func wrapPhrases(phrases []string) string {
	var lines []string
	line := ""
	for _, p := range phrases {
		switch {
		case line == "":
			line = p
		case utf8.RuneCountInString(line)+3+utf8.RuneCountInString(p) > pageWidth:
			lines, line = append(lines, line), p
		default:
			line += " · " + p
		}
	}
	return strings.Join(append(lines, line), "\n")
}

func padLeft(s string, n int) string {
	return strings.Repeat(" ", max(0, n-utf8.RuneCountInString(s))) + s
}

func padRight(s string, n int) string {
	return s + strings.Repeat(" ", max(0, n-utf8.RuneCountInString(s)))
}

// wrap breaks text into lines of at most width runes, the first after lead and
// the others indented as far.
func wrap(text, lead string, width int) string {
	indent := strings.Repeat(" ", utf8.RuneCountInString(lead))
	var lines []string
	line := lead
	used := utf8.RuneCountInString(lead)
	for _, word := range strings.Fields(text) {
		n := utf8.RuneCountInString(word)
		if used+n > width && used > len(indent) {
			lines = append(lines, strings.TrimRight(line, " "))
			line, used = indent, len(indent)
		}
		line += word + " "
		used += n + 1
	}
	return strings.Join(append(lines, strings.TrimRight(line, " ")), "\n")
}
