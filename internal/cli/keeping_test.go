package cli_test

import (
	"archive/zip"
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gaitwright/internal/app"
	"gaitwright/internal/cli"
)

// TestKeepingCommands backs a studio up, destroys it, puts it back, and erases a
// runner, all at the command line.
func TestKeepingCommands(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "studio")
	st, err := app.OpenStudio(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"Ada Lind (invented)", "Ada Lund (invented)"} {
		if _, err := st.NewRunner(t.Context(), "test", name); err != nil {
			t.Fatal(err)
		}
	}
	st.Close()
	typed := func(words string, args ...string) (int, string, string) {
		t.Helper()
		var o, e bytes.Buffer
		code := cli.Run(t.Context(), append([]string{"--results", dir}, args...), cli.Environment{Stdin: strings.NewReader(words + "\n"), Stdout: &o, Stderr: &e, Version: "test"})
		return code, o.String(), e.String()
	}
	file := filepath.Join(t.TempDir(), "studio.age")
	const words = "ladder pigeon nine copper"
	if code, _, said := typed("short", "backup", file); code != 2 || !strings.Contains(said, "passphrase of 10") {
		t.Errorf("a short passphrase: %d %s", code, said)
	}
	if _, err := os.Stat(file); err == nil {
		t.Error("something was written all the same")
	}
	if code, _, said := typed(words, "backup", filepath.Join(t.TempDir(), "studio.zip")); code != 2 || !strings.Contains(said, ".age") {
		t.Errorf("another ending: %d %s", code, said)
	}
	if code, out, said := typed(words, "backup", file); code != 0 || !strings.Contains(out, "2 runners") {
		t.Fatalf("%d %s %s", code, out, said)
	}
	if code, out, said := typed(words, "backup", "--check", file); code != 0 || !strings.Contains(out, "whole") {
		t.Errorf("checked: %d %s %s", code, out, said)
	}
	if code, _, said := typed(words+"x", "backup", "--check", file); code != 2 || !strings.Contains(said, "not the passphrase") {
		t.Errorf("another passphrase: %d %s", code, said)
	}
	if code, _, said := typed(words, "restore", file); code != 2 || !strings.Contains(said, "records already") {
		t.Errorf("over records: %d %s", code, said)
	}
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
	if code, out, said := typed(words, "restore", file); code != 0 || !strings.Contains(out, "2 runners") {
		t.Fatalf("%d %s %s", code, out, said)
	}
	if code, _, said := typed("", "erase", "Ada"); code != 1 || !strings.Contains(said, "Ada Lind (invented)") {
		t.Errorf("a part of a name: %d %s", code, said)
	}
	archive := filepath.Join(t.TempDir(), "ada.zip")
	if code, _, said := typed("", "takeaway", "ada lind (invented)", archive); code != 0 {
		t.Fatalf("%d %s", code, said)
	}
	if z, err := zip.OpenReader(archive); err != nil || len(z.File) < 3 {
		t.Errorf("the archive: %v", err)
	} else {
		z.Close()
	}
	if code, out, _ := typed("", "trail", "Ada Lind (invented)"); code != 0 || !strings.Contains(out, "Took in Ada Lind") || !strings.Contains(out, "Took away the runner's records") {
		t.Errorf("the trail: %d %s", code, out)
	}
	if code, _, said := typed("", "erase", "Ada Lind (invented)"); code != 5 || !strings.Contains(said, "nothing was erased") {
		t.Errorf("without the name: %d %s", code, said)
	}
	if code, out, said := typed("Ada Lind (invented)", "erase", "Ada Lind (invented)"); code != 0 || !strings.Contains(strings.Join(strings.Fields(out), " "), "nothing of this runner was found") {
		t.Errorf("erased: %d %s %s", code, out, said)
	}
	if code, out, _ := typed("", "trail"); code != 0 || strings.Contains(out, "Lind") || !strings.Contains(out, "Ada Lund") || !strings.Contains(out, "Erased a runner") {
		t.Errorf("the trail afterwards: %d %s", code, out)
	}
}
