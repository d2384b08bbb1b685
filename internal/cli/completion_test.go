package cli

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

func TestComplete(t *testing.T) {
	model := theModel(t)
	for _, tt := range []struct {
		typed string // words before, then the one being typed
		want  string // candidates; … where there are more
	}{
		{"rep", "report"},
		{"comp", "completion"}, // what scripts ask is not offered
		{"report --pap", "--paper"},
		{"report VISIT --paper ", "a4 letter"},
		{"report VISIT --paper=l", "--paper=letter"},
		{"report VISIT --paper = l", "letter"},
		{"report VISIT --paper =", "a4 letter"},
		{"report --for clinician --re", "--results"},
		{"--results somewhere mea", "measure"},
		{"--version rep", "report"},
		{"explain duty", "duty_factor"},
		{"explain duty_factor ", ""},
		{"completion p", "powershell"},
		{"measure side.mp4 re", ""}, // file names are the shell's
		{"measure --speed ", ""},
		{"measure -- mea", ""},
		{"norms --sh", "--show"},
		{"norms co", "compute"},
		{"norms compute --meth", "--method"},
		{"nonsense rep", ""},
		{"--none rep", "report"},
		{"re", "report restore …"},
	} {
		words := strings.Split(tt.typed, " ")
		var got []string
		for _, c := range complete(model, words[:len(words)-1], words[len(words)-1]) {
			if c.word == "" || strings.ContainsAny(c.word+c.means, "\t\n") {
				t.Errorf("%q: %+v", tt.typed, c)
			}
			got = append(got, c.word)
		}
		want := strings.Fields(tt.want)
		if n := len(want); n > 0 && want[n-1] == "…" {
			for _, w := range want[:n-1] {
				if !slices.Contains(got, w) {
					t.Errorf("%q: %v is without %s", tt.typed, got, w)
				}
			}
		} else if !slices.Equal(got, want) {
			t.Errorf("%q gives %v, want %v", tt.typed, got, want)
		}
	}
	// Each command's options are offered.
	for _, n := range shownCommands(model) {
		for _, f := range ownFlags(n) {
			if len(complete(model, strings.Split(nameOf(n), " "), "--"+f.Name)) == 0 {
				t.Errorf("%s --%s is not offered", nameOf(n), f.Name)
			}
		}
	}
}

// TestCompletionInShells sources the scripts in the shells that are here and asks
// them what they would offer; the program is this test's own binary.
func TestCompletionInShells(t *testing.T) {
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	program := "#!/bin/sh\nGAITWRIGHT_TEST_RUN=1 exec '" + exe + "' \"$@\"\n"
	if err := os.WriteFile(filepath.Join(dir, "gaitwright"), []byte(program), 0o755); err != nil {
		t.Fatal(err)
	}
	t.Setenv("PATH", dir+string(os.PathListSeparator)+os.Getenv("PATH"))
	tried := 0
	for shell, scripts := range map[string]map[string]string{
		"bash": {
			`source <(gaitwright completion bash); COMP_WORDS=(gaitwright rep); COMP_CWORD=1; _gaitwright; echo "${COMPREPLY[*]}"`:                                   "report",
			`source <(gaitwright completion bash); COMP_WORDS=(gaitwright report V --paper = ""); COMP_CWORD=5; _gaitwright; echo "${COMPREPLY[*]}"`:                 "a4 letter",
			`source <(gaitwright completion bash); COMP_WORDS=(gaitwright measure side); COMP_CWORD=2; _gaitwright; echo "${#COMPREPLY[@]}"; complete -p gaitwright`: "0\ncomplete -o bashdefault -o default -F _gaitwright gaitwright",
			`source <(gaitwright completion bash); COMP_WORDS=(gaitwright explain duty); COMP_CWORD=2; _gaitwright; compgen -W "${COMPREPLY[*]}" duty`:               "duty_factor",
		},
		"zsh": {
			`compdef() { :; }; _describe() { print -rl -- "${found[@]}"; }; _files() { echo files; }; source <(gaitwright completion zsh); words=(gaitwright completion z); CURRENT=3; _gaitwright`: "zsh:",
			`compdef() { :; }; _describe() { print -rl -- "${found[@]}"; }; _files() { echo files; }; source <(gaitwright completion zsh); words=(gaitwright measure s); CURRENT=3; _gaitwright`:    "files",
		},
		"fish": {
			`gaitwright completion fish | source; complete -C "gaitwright report V --paper "`: "a4\nletter",
			`gaitwright completion fish | source; complete -C "gaitwright completion p"`:      "powershell",
		},
	} {
		path, err := exec.LookPath(shell)
		if err != nil {
			t.Logf("%s is not here", shell)
			continue
		}
		tried++
		for script, want := range scripts {
			out, err := exec.Command(path, "-c", script).CombinedOutput()
			if got := strings.TrimSpace(string(out)); err != nil || !strings.HasPrefix(got, want) {
				t.Errorf("%s: %s\ngives %q, %v, want %q", shell, script, got, err, want)
			}
		}
	}
	if tried == 0 {
		t.Skip("none of bash, zsh and fish is here")
	}
}
