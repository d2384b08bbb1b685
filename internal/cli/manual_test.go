package cli

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/alecthomas/kong"
)

func theModel(t *testing.T) *kong.Application {
	t.Helper()
	parser, err := newParser(&commands{}, Environment{Version: "test"}, func(int) {})
	if err != nil {
		t.Fatal(err)
	}
	return parser.Model
}

// TestCommandsPage holds the handbook's page of commands against the commands;
// -update writes it anew.
func TestCommandsPage(t *testing.T) {
	var b bytes.Buffer
	if err := writeMarkdownManual(&b, theModel(t)); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join("..", "..", "docs", "commands.md")
	if *update {
		if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if kept, err := os.ReadFile(path); err != nil || !bytes.Equal(kept, b.Bytes()) {
		t.Errorf("docs/commands.md is not what the commands say (-update writes it anew): %v", err)
	}
}

// TestManPage: the page has the sections of a manual page and every command with
// every option, each macro stands alone, and groff, where it is there, has no
// complaint and prints the words.
func TestManPage(t *testing.T) {
	model := theModel(t)
	var b bytes.Buffer
	if err := writeManPage(&b, model); err != nil {
		t.Fatal(err)
	}
	page := b.String()
	for _, head := range []string{"NAME", "SYNOPSIS", "DESCRIPTION", "OPTIONS", "COMMANDS", "EXIT STATUS", "SEE ALSO"} {
		if !strings.Contains(page, "\n.SH "+head+"\n") {
			t.Errorf("the section %s is missing", head)
		}
	}
	macro := regexp.MustCompile(`^\.(TH|SH|SS|TP|B)( |$)`)
	for i, line := range strings.Split(strings.TrimSuffix(page, "\n"), "\n") {
		if line == "" || (line[0] == '.' || line[0] == '\'') && !macro.MatchString(line) {
			t.Errorf("line %d: %q", i+1, line)
		}
	}
	for _, n := range shownCommands(model) {
		for _, f := range ownFlags(n) {
			if !strings.Contains(page, roffText("--"+f.Name)) {
				t.Errorf("%s: --%s is missing", n.Name, f.Name)
			}
		}
	}
	groff, err := exec.LookPath("groff")
	if err != nil {
		t.Skip("groff is not here to print the page")
	}
	cmd := exec.Command(groff, "-man", "-Tutf8", "-ww", "-P-c")
	cmd.Stdin = strings.NewReader(page)
	var out, complaints bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &complaints
	if err := cmd.Run(); err != nil || complaints.Len() > 0 {
		t.Errorf("groff: %v %s", err, complaints.String())
	}
	plain := strings.Join(strings.Fields(regexp.MustCompile(`.\x08`).ReplaceAllString(out.String(), "")), " ")
	for _, want := range []string{"gaitwright - measures how a person runs", "Write the report of a visit", "One of a4, letter"} {
		if !strings.Contains(strings.ToLower(plain), strings.ToLower(want)) {
			t.Errorf("groff does not print %q", want)
		}
	}
}

func TestRoffText(t *testing.T) {
	for in, want := range map[string]string{
		`.begins`:   `\&.begins`,
		`a-b 'c' \`: `a\-b \(aqc\(aq \e`,
		"5° ± 1\nx": `5\[u00B0] \[u00B1] 1 x`,
	} {
		if got := roffText(in); got != want {
			t.Errorf("%q is %q, want %q", in, got, want)
		}
	}
}

// TestQuotedCommands reads every command that the handbook and the README quote. A
// line to be typed is understood whole; within a sentence, the command and its
// options are there.
func TestQuotedCommands(t *testing.T) {
	files, err := filepath.Glob(filepath.Join("..", "..", "docs", "*.md"))
	if err != nil || len(files) < 8 {
		t.Fatalf("%d pages, %v", len(files), err)
	}
	files = append(files, filepath.Join("..", "..", "README.md"))
	fence := regexp.MustCompile("(?s)```sh\n(.*?)```")
	line := regexp.MustCompile(`(?m)^(?:    )?(?:bin/)?gaitwright((?: [^\n#]*)?)(?:#.*)?$`)
	indented := regexp.MustCompile(`(?m)^    (?:bin/)?gaitwright.*$`)
	inline := regexp.MustCompile("`(?:bin/)?gaitwright ([^`|]*)(?:\\\\?\\|[^`]*)?`")
	whole, parts := 0, 0
	model := theModel(t)
	for _, file := range files {
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		name := filepath.Base(file)
		if name == "commands.md" {
			continue // lines of usage, not of use
		}
		var typed []string
		for _, f := range fence.FindAllStringSubmatch(string(b), -1) {
			typed = append(typed, strings.Split(f[1], "\n")...)
		}
		typed = append(typed, indented.FindAllString(string(b), -1)...)
		for _, l := range typed {
			m := line.FindStringSubmatch(l)
			if m == nil {
				continue
			}
			whole++
			exited := false
			parser, err := newParser(&commands{}, Environment{Stdout: &bytes.Buffer{}, Stderr: &bytes.Buffer{}}, func(int) { exited = true })
			if err != nil {
				t.Fatal(err)
			}
			if _, err := parser.Parse(splitWords(m[1])); err != nil && !exited {
				t.Errorf("%s: %s: %v", name, l, err)
			}
		}
		for _, m := range inline.FindAllStringSubmatch(strings.ReplaceAll(string(b), "\n", " "), -1) {
			words := splitWords(m[1])
			if len(words) == 0 || words[0] == "COMMAND" {
				continue
			}
			parts++
			node := model.Node
			for _, w := range words {
				if child := childOf(node, w); child != nil {
					node = child
				} else if strings.HasPrefix(w, "--") && w != "--help" && flagOf(node, strings.SplitN(w, "=", 2)[0]) == nil {
					t.Errorf("%s: gaitwright %s: there is no %s", name, m[1], w)
				}
			}
			if node == model.Node {
				t.Errorf("%s: gaitwright %s: there is no such command", name, m[1])
			}
		}
	}
	if whole < 12 || parts < 40 {
		t.Errorf("only %d lines and %d commands within sentences were found", whole, parts)
	}
}

// splitWords splits as a shell does, as far as the handbook goes: quotes, and square
// brackets or dots of what may be left out or repeated taken away.
func splitWords(s string) []string {
	s = strings.NewReplacer("[", "", "]", "", "…", "").Replace(s)
	var out []string
	for _, m := range regexp.MustCompile(`"([^"]*)"|(\S+)`).FindAllStringSubmatch(s, -1) {
		out = append(out, m[1]+m[2])
	}
	return out
}
