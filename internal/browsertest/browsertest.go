// Package browsertest drives the page in a real Chromium from Go tests: each script
// ui/e2e/NAME.e2e.mjs is a Node program that is given the page's address and a
// browser, prints what it tried, and fails by its exit code.
package browsertest

import (
	"context"
	"errors"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

var shots = flag.String("shots", "", "folder for pictures of the pages that tests in a browser look at")

// ui is the page's folder, from any package in internal.
var ui = filepath.Join("..", "..", "ui")

// Need skips the test, saying so, where Node, Chromium or the page's test packages
// are not installed, or with -short. Script does it too; a test that prepares much
// asks before.
func Need(t testing.TB) (node, chromium string) {
	t.Helper()
	if testing.Short() {
		t.Skip("drives a browser; left out with -short")
	}
	node, err := exec.LookPath("node")
	if err != nil {
		t.Skip("needs Node 20 or later; install it to test the page in a browser")
	}
	chromium = os.Getenv("CHROMIUM")
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if chromium == "" {
			chromium, _ = exec.LookPath(name)
		}
	}
	if chromium == "" {
		t.Skip("needs Chromium; install it, or name it in the environment variable CHROMIUM")
	}
	if _, err := os.Stat(filepath.Join(ui, "node_modules", "playwright-core")); errors.Is(err, os.ErrNotExist) {
		t.Skip("needs the page's test packages; run `npm ci --ignore-scripts` in ui")
	}
	return node, chromium
}

// busy is how much longer a script may take on a machine that does much else.
const busy = 4

// Script runs a script to its end. limit is the longest it takes on a machine that does
// little else; a busy one has four times that. The environment has CHROMIUM,
// OUT (a folder of the test) and, where -shots names a folder, SHOTS, one of the
// script's own in it; env adds to it, such as PAGE, the page's address.
func Script(t testing.TB, name string, limit time.Duration, env ...string) string {
	t.Helper()
	node, chromium := Need(t)
	ctx, cancel := context.WithTimeout(t.Context(), busy*limit)
	defer cancel()
	cmd := exec.CommandContext(ctx, node, filepath.Join("e2e", name+".e2e.mjs"))
	cmd.Dir = ui
	cmd.Env = append(os.Environ(), "CHROMIUM="+chromium, "OUT="+t.TempDir())
	if *shots != "" {
		abs, err := filepath.Abs(*shots)
		if err != nil {
			t.Fatal(err)
		}
		cmd.Env = append(cmd.Env, "SHOTS="+filepath.Join(abs, name))
	}
	cmd.Env = append(cmd.Env, env...)
	out, err := cmd.CombinedOutput()
	t.Logf("%s", out)
	if err != nil {
		t.Fatalf("%s in the browser: %v", name, err)
	}
	return string(out)
}
