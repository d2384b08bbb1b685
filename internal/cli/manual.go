package cli

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/alecthomas/kong"
)

type manualCommand struct {
	Format string `help:"Form: a manual page for man, or Markdown." enum:"man,markdown" default:"man"`
}

// Run prints the manual, made from the commands themselves.
func (c *manualCommand) Run(r *run) error {
	if c.Format == "markdown" {
		return writeMarkdownManual(r.env.Stdout, r.model)
	}
	return writeManPage(r.env.Stdout, r.model)
}

// shownCommands are the commands that a person is told of, in the order of the help.
func shownCommands(model *kong.Application) []*kong.Node {
	var out []*kong.Node
	var add func(of []*kong.Node)
	add = func(of []*kong.Node) {
		for _, n := range of {
			if n.Type == kong.CommandNode && !n.Hidden {
				out = append(out, n)
				add(n.Children)
			}
		}
	}
	add(model.Children)
	return out
}

// nameOf is a command with those that it stands under.
func nameOf(n *kong.Node) string {
	if n.Parent == nil || n.Parent.Type != kong.CommandNode {
		return n.Name
	}
	return nameOf(n.Parent) + " " + n.Name
}

// ownFlags are the options of a command that a person is told of.
func ownFlags(n *kong.Node) []*kong.Flag {
	var out []*kong.Flag
	for _, f := range n.Flags {
		if !f.Hidden {
			out = append(out, f)
		}
	}
	return out
}

// usageOf is a command's line of usage without the options of the program.
func usageOf(n *kong.Node) string {
	s := nameOf(n)
	for _, f := range ownFlags(n) {
		if f.Required {
			s += " " + f.Summary()
		}
	}
	for _, p := range n.Positional {
		s += " " + p.Summary()
	}
	return s
}

// more is what is to be known of a flag beside its help.
func more(f *kong.Value) string {
	var out []string
	if names := slices.DeleteFunc(f.EnumSlice(), func(s string) bool { return s == "" }); len(names) > 0 {
		out = append(out, "One of "+strings.Join(names, ", ")+".")
	}
	if f.HasDefault && f.Default != "" && f.Default != "false" {
		out = append(out, "Usually "+f.Default+".")
	}
	if f.Flag != nil && len(f.Flag.Envs) > 0 {
		out = append(out, "Also set by the environment variable "+strings.Join(f.Flag.Envs, ", ")+".")
	}
	return strings.Join(out, " ")
}

func told(v *kong.Value) string { return strings.TrimSpace(v.Help + " " + more(v)) }

// writeManPage writes the manual page in the macros of man(7).
func writeManPage(w io.Writer, model *kong.Application) error {
	p := &manPage{w: w}
	p.printf(".TH %s 1 \"\" \"gaitwright\" \"gaitwright manual\"\n", roffText(strings.ToUpper(model.Name)))
	lead, rest, _ := strings.Cut(strings.TrimSpace(model.Help), "\n")
	p.printf(".SH NAME\n%s \\- %s\n", roffText(model.Name), roffText(lowerFirst(strings.TrimSuffix(lead, "."))))
	p.printf(".SH SYNOPSIS\n.B %s\n[\\fIOPTIONS\\fR] [\\fICOMMAND\\fR [\\fIARGUMENTS\\fR]]\n", roffText(model.Name))
	p.printf(".SH DESCRIPTION\n")
	p.text("Without a command the pages are opened in the browser. It measures and explains; it does not diagnose, and pain or warning signs belong with a licensed clinician.")
	p.printf(".SH OPTIONS\n")
	p.flags(ownFlags(model.Node))
	p.printf(".SH COMMANDS\n")
	for _, n := range shownCommands(model) {
		p.printf(".SS %s\n", roffText(usageOf(n)))
		p.text(n.Help)
		for _, a := range n.Positional {
			p.printf(".TP\n\\fI%s\\fR\n", roffText(strings.Trim(a.Summary(), "<>[]. ")))
			p.text(told(a))
		}
		p.flags(ownFlags(n))
	}
	p.printf(".SH EXIT STATUS\n")
	p.text(strings.TrimPrefix(strings.TrimSpace(rest), "Exit codes: "))
	p.printf(".SH SEE ALSO\n")
	p.text("The handbook, in the browser under /handbook.")
	return p.err
}

type manPage struct {
	w   io.Writer
	err error
}

func (p *manPage) printf(format string, args ...any) {
	if p.err == nil {
		_, p.err = fmt.Fprintf(p.w, format, args...)
	}
}

func (p *manPage) text(s string) { p.printf("%s\n", roffText(s)) }

func (p *manPage) flags(flags []*kong.Flag) {
	for _, f := range flags {
		p.printf(".TP\n\\fB%s\\fR\n", roffText(flagSummary(f)))
		p.text(told(f.Value))
	}
}

// flagSummary is a flag with the form of its value.
func flagSummary(f *kong.Flag) string {
	s := "--" + f.Name
	if f.Short != 0 {
		s = fmt.Sprintf("-%c, %s", f.Short, s)
	}
	if f.IsBool() {
		return s
	}
	if f.PlaceHolder != "" {
		return s + "=" + f.PlaceHolder
	}
	return s + "=" + strings.ToUpper(f.Name)
}

// roffText writes text so that it is printed as it is.
func roffText(s string) string {
	s = strings.NewReplacer(`\`, `\e`, "-", `\-`, "\n", " ", "`", `\(ga`, "'", `\(aq`, "^", `\(ha`, "~", `\(ti`).Replace(s)
	if strings.HasPrefix(s, ".") {
		s = `\&` + s
	}
	var b strings.Builder
	for _, r := range s {
		if r < 0x80 {
			b.WriteRune(r)
		} else {
			fmt.Fprintf(&b, `\[u%04X]`, r)
		}
	}
	return b.String()
}

func lowerFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

// writeMarkdownManual writes the handbook's page of commands.
func writeMarkdownManual(w io.Writer, model *kong.Application) error {
	var b strings.Builder
	b.WriteString("# Commands\n\nMade by `gaitwright manual --format markdown` from the commands themselves, not typed.\n`gaitwright COMMAND --help` prints the same; `gaitwright manual | man -l -` shows it as a\nmanual page, and `gaitwright completion bash` completes commands in a shell.\n\n")
	_, rest, _ := strings.Cut(strings.TrimSpace(model.Help), "\n")
	b.WriteString(strings.TrimSpace(rest) + "\n\n")
	b.WriteString("| command | what it does |\n|---|---|\n")
	for _, n := range shownCommands(model) {
		fmt.Fprintf(&b, "| [%s](#%s) | %s |\n", nameOf(n), strings.ReplaceAll(nameOf(n), " ", "-"), cell(n.Help))
	}
	b.WriteString("\n## For every command\n\n")
	markdownValues(&b, ownFlags(model.Node), nil)
	for _, n := range shownCommands(model) {
		fmt.Fprintf(&b, "\n## %s\n\n%s\n\n    %s %s\n", nameOf(n), n.Help, model.Name, usageOf(n))
		if len(n.Positional)+len(ownFlags(n)) > 0 {
			b.WriteString("\n")
		}
		markdownValues(&b, ownFlags(n), n.Positional)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func markdownValues(b *strings.Builder, flags []*kong.Flag, args []*kong.Positional) {
	if len(flags)+len(args) == 0 {
		return
	}
	b.WriteString("| | |\n|---|---|\n")
	for _, a := range args {
		fmt.Fprintf(b, "| `%s` | %s |\n", codeCell(a.Summary()), cell(told(a)))
	}
	for _, f := range flags {
		fmt.Fprintf(b, "| `%s` | %s |\n", codeCell(flagSummary(f)), cell(told(f.Value)))
	}
}

// codeCell writes what stands in a cell as code.
func codeCell(s string) string { return strings.ReplaceAll(s, "|", `\|`) }

// cell writes text so that it stands in a cell of a table.
func cell(s string) string {
	return strings.NewReplacer("|", `\|`, "\n", " ", "<", `\<`).Replace(s)
}
