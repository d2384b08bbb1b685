package app_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gaitwright/gait/finding"
	"gaitwright/gait/programme"
	"gaitwright/internal/app"
)

func checkMarkers(file string) (string, error) { return app.MarkerSets("", file) }

func checkLayout(file string) (string, error) { return app.TrialLayouts("", file) }

func TestOwnFiles(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		file := filepath.Join(dir, name)
		if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return file
	}
	whole := write("exercises.yaml", programme.Source())
	if text, err := app.CheckExercises(whole); err != nil || !strings.Contains(text, "is sound") {
		t.Errorf("%s %v", text, err)
	}
	rules := write("rules.yaml", finding.Source())
	if text, err := app.CheckRules(rules); err != nil || !strings.Contains(text, "16 patterns") {
		t.Errorf("%s %v", text, err)
	}
	for _, c := range []struct {
		check func(string) (string, error)
		file  string
		want  string
	}{
		{app.CheckExercises, filepath.Join(dir, "none.yaml"), "no such file"},
		{app.CheckExercises, dir, "a folder"},
		{app.CheckExercises, write("a.yaml", "version: 9"), "version 9"},
		{app.CheckExercises, write("b.yaml", strings.Replace(programme.Source(), "block: release", "block: scold", 1)), "scold"},
		{app.CheckRules, write("c.yaml", "version: 1"), "missing: contested"},
		{app.CheckRules, write("d.yaml", strings.Replace(finding.Source(), "measure: pelvic_drop", "measure: pelvic_dorp", 1)), "pelvic_dorp"},
		{app.CheckRules, write("e.yaml", "\x00\xff"), ""},
		{app.CheckRules, write("f.yaml", "version: &a 1"), "anchors"},
		{app.CheckExercises, write("g.yaml", "version: &a 1"), "anchors"},
		{app.CheckNorms, dir, "a folder"},
		{checkMarkers, filepath.Join(dir, "none.yaml"), "no such mapping of marker names"},
		{checkMarkers, write("h.yaml", strings.Repeat("#", 1<<20+1)), "larger than"},
		{checkMarkers, write("i.yaml", "name: a"), "missing: landmarks"},
		{checkLayout, dir, "a folder"},
		{checkLayout, write("j.yaml", "name: a"), "missing: trials"},
	} {
		if _, err := c.check(c.file); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", filepath.Base(c.file), err, c.want)
		}
	}
	// In use: an own exercise is listed, a damaged file is said and left aside.
	t.Setenv("GAITWRIGHT_EXERCISES", write("mine.yaml", strings.ReplaceAll(programme.Source(), `title: "Bridge on both legs"`, `title: "My own bridge"`)))
	if text := app.ListExercises(""); !strings.Contains(text, "My own bridge (own)") {
		t.Error("the own exercise is not listed")
	}
	t.Setenv("GAITWRIGHT_EXERCISES", write("bad.yaml", "version: 9"))
	if text := app.ListExercises(""); !strings.Contains(text, "are not used") || !strings.Contains(text, "Bridge on both legs") {
		t.Error("a damaged file is not said, or nothing is listed")
	}
}
