package cli

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"gaitwright/internal/app"
)

// writeTable prints a session's measures for a person: one line a measure, left
// and right beside one another, each with its error, and below what was
// withheld and why.
func writeTable(w io.Writer, s *app.Session) error {
	var b strings.Builder
	for i, c := range s.Tables() {
		if i > 0 {
			b.WriteString("\n")
		}
		fmt.Fprintf(&b, "%s\n%s\n\n", c.Title, c.Subtitle)
		wide := 0
		for _, row := range c.Rows {
			wide = max(wide, utf8.RuneCountInString(row.Title))
		}
		line := func(title, left, right, both, unit, strides, flag string) {
			text := fmt.Sprintf("  %s %s %s %s  %s %s  %s", padRight(title, wide), padLeft(left, 15), padLeft(right, 15), padLeft(both, 15), padRight(unit, 9), padLeft(strides, 7), flag)
			b.WriteString(strings.TrimRight(text, " ") + "\n")
		}
		line("", "left", "right", "both", "", "strides", "")
		for _, row := range c.Rows {
			line(row.Title, row.Left, row.Right, row.Both, row.Unit, row.Strides, row.Flag)
		}
		for _, note := range c.Withheld {
			fmt.Fprintf(&b, "%s\n", wrap(note, "  not given: ", 100))
		}
		for _, warning := range c.Warnings {
			fmt.Fprintf(&b, "%s\n", wrap(warning, "  note: ", 100))
		}
	}
	for _, n := range s.Notes {
		fmt.Fprintf(&b, "%s\n", wrap(n, "note: ", 100))
	}
	fmt.Fprintf(&b, "\n%s\n", wrap(app.PlusMinusNote, "± ", 100))
	fmt.Fprintf(&b, "%s\n", wrap(app.CautionNote, "", 100))
	_, err := io.WriteString(w, b.String())
	return err
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
