package cli

import (
	"bytes"
	"context"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the golden files anew")

// TestGolden holds what a person sees against what was agreed to be shown.
func TestGolden(t *testing.T) {
	t.Setenv("GAITWRIGHT_NORMS", filepath.Join(t.TempDir(), "none.yaml"))
	days := filepath.Join("testdata", "days.csv")
	for name, args := range map[string][]string{
		"belt":              {"belt", "--length", "3.22m", "--seam", "1.20s,2.27s,3.34s,5.48s", "--rate", "60", "--speed", "2.9m/s"},
		"norms-contact":     {"norms", "--measure", "contact_time", "--speed", "2.8m/s"},
		"norms-shank":       {"norms", "--measure", "shank_angle_at_contact"},
		"reliability-one":   {"reliability", days, "--measure", "contact_time", "--side", "left"},
		"reliability-table": {"reliability", days},
		"reliability-help":  {"reliability", "--help"},
	} {
		t.Run(name, func(t *testing.T) {
			var out, errs bytes.Buffer
			code := Run(context.Background(), append([]string{"--results", t.TempDir()}, args...), Environment{Stdin: strings.NewReader(""), Stdout: &out, Stderr: &errs, Version: "test"})
			if code > 0 {
				t.Fatalf("exit code %d: %s", code, errs.String())
			}
			golden := filepath.Join("testdata", name+".golden")
			if *update {
				if err := os.WriteFile(golden, out.Bytes(), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			want, err := os.ReadFile(golden)
			if err != nil {
				t.Fatal(err)
			}
			if got := out.String(); got != string(want) {
				t.Errorf("%s differs from what is printed (-update writes it anew):\n%s", golden, got)
			}
		})
	}
}

// The incline that is entered at the terminal comes with what is disputed about it.
func TestInclineSaysWhatIsDisputed(t *testing.T) {
	var out, errs bytes.Buffer
	Run(context.Background(), []string{"measure", "--help"}, Environment{Stdin: strings.NewReader(""), Stdout: &out, Stderr: &errs, Version: "test"})
	help := strings.Join(strings.Fields(out.String()), " ")
	for _, s := range []string{"3.75 m/s", "Jones & Doust 1996"} {
		if !strings.Contains(help, s) {
			t.Errorf("the help of measure does not say %q", s)
		}
	}
}
