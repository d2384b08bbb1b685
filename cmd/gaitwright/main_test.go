package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"gaitwright": main})
}

// TestScripts runs the program as a person or a script would: each file in
// testdata is one sitting at the command line.
func TestScripts(t *testing.T) {
	root, err := filepath.Abs("../..")
	if err != nil {
		t.Fatal(err)
	}
	shared := os.Getenv("GAITWRIGHT_SHARED")
	if shared == "" {
		shared = filepath.Join(root, "..", "shared")
	}
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(e *testscript.Env) error {
			e.Setenv("GAITWRIGHT_RESULTS", filepath.Join(e.WorkDir, "results"))
			e.Setenv("GAITWRIGHT_MODELS", filepath.Join(root, "setup", "node_modules"))
			e.Setenv("SHARED", shared)
			// The folder of the program alone: a machine without ffmpeg.
			e.Setenv("PROGRAM", filepath.SplitList(e.Getenv("PATH"))[0])
			e.Setenv("SCHEMA", filepath.Join(root, "docs", "measures.schema.json"))
			return nil
		},
		Condition: func(cond string) (bool, error) {
			switch cond {
			case "shared":
				_, err := os.Stat(filepath.Join(shared, "data"))
				return err == nil, nil
			case "ffmpeg":
				_, err := exec.LookPath("ffmpeg")
				return err == nil, nil
			case "model":
				_, err := os.Stat(filepath.Join(root, "setup", "node_modules", "@mediapipe", "pose"))
				return err == nil, nil
			}
			return false, nil
		},
	})
}
