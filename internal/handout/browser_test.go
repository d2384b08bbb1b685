package handout_test

import (
	"errors"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"gaitwright/gait/programme"
	"gaitwright/internal/handout"
)

var shots = flag.String("shots", "", "folder for pictures of the sheet")

// TestSheetOnAPhone opens the file in Chromium as a phone would, without a
// network, and takes back the log that it gives.
func TestSheetOnAPhone(t *testing.T) {
	if testing.Short() {
		t.Skip("drives a browser; left out with -short")
	}
	node, err := exec.LookPath("node")
	if err != nil {
		t.Skip("needs Node 20 or later; install it to test the sheet in a browser")
	}
	chromium := os.Getenv("CHROMIUM")
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if chromium == "" {
			chromium, _ = exec.LookPath(name)
		}
	}
	if chromium == "" {
		t.Skip("needs Chromium; install it, or name it in the environment variable CHROMIUM")
	}
	ui := filepath.Join("..", "..", "ui")
	if _, err := os.Stat(filepath.Join(ui, "node_modules", "playwright-core")); errors.Is(err, os.ErrNotExist) {
		t.Skip("needs the page's test packages; run `npm ci --ignore-scripts` in ui")
	}
	dir := t.TempDir()
	env := append(os.Environ(), "CHROMIUM="+chromium, "OUT="+dir)
	for name, language := range map[string]string{"SHEET": "en", "SHEET_DE": "de"} {
		file := filepath.Join(dir, "homework-"+language+".html")
		s := sheet(t, language)
		s.Runner = "Ada"
		if err := os.WriteFile(file, written(t, s), 0o644); err != nil {
			t.Fatal(err)
		}
		env = append(env, name+"="+file)
	}
	if *shots != "" {
		abs, err := filepath.Abs(*shots)
		if err != nil {
			t.Fatal(err)
		}
		env = append(env, "SHOTS="+abs)
	}
	cmd := exec.CommandContext(t.Context(), node, filepath.Join("e2e", "homework.e2e.mjs"))
	cmd.Dir, cmd.Env = ui, env
	said, err := cmd.CombinedOutput()
	t.Logf("%s", said)
	if err != nil {
		t.Fatalf("the sheet in the browser: %v", err)
	}
	for _, name := range []string{"log.json", "code.txt"} {
		text, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		l, err := handout.ParseLog(text, programme.Default())
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		weeks := l.Weeks()
		if l.Visit != visit || l.Unknown > 0 || len(weeks) != 1 || weeks[0].From != "2026-03-09" || weeks[0].Runs != 1 || weeks[0].RunMin != 32 || weeks[0].Effort != 4 ||
			weeks[0].PainWorst != 2 || weeks[0].PerMin != 163 || weeks[0].Exercises != 2 {
			t.Errorf("%s came back as %+v", name, weeks)
		}
		if name == "log.json" && (len(weeks[0].Notes) != 1 || weeks[0].Notes[0] != "Legs heavy after the hill") {
			t.Errorf("the note came back as %q", weeks[0].Notes)
		}
	}
}
