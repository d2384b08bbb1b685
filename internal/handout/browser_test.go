package handout_test

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"gaitwright/gait/programme"
	"gaitwright/internal/browsertest"
	"gaitwright/internal/handout"
)

// TestSheetOnAPhone opens the file in Chromium as a phone would, without a
// network, and takes back the log that it gives.
func TestSheetOnAPhone(t *testing.T) {
	browsertest.Need(t)
	dir := t.TempDir()
	env := []string{"OUT=" + dir}
	for name, language := range map[string]string{"SHEET": "en", "SHEET_DE": "de"} {
		file := filepath.Join(dir, "homework-"+language+".html")
		s := sheet(t, language)
		s.Runner = "Ada"
		if err := os.WriteFile(file, written(t, s), 0o644); err != nil {
			t.Fatal(err)
		}
		env = append(env, name+"="+file)
	}
	us := sheet(t, "en")
	us.Runner, us.US = "Ada", true
	file := filepath.Join(dir, "homework-us.html")
	if err := os.WriteFile(file, written(t, us), 0o644); err != nil {
		t.Fatal(err)
	}
	env = append(env, "SHEET_US="+file)
	browsertest.Script(t, "homework", 5*time.Minute, env...)
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
		if len(weeks[0].Notes) != 1 || weeks[0].Notes[0] != "Legs heavy after the hill" {
			t.Errorf("the note came back as %q", weeks[0].Notes)
		}
	}
}
