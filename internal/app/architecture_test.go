package app_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// stages is the one path: a package of the trade may import those before it.
var stages = []string{"table", "body", "figure", "clip", "track", "event", "live", "measure", "exam", "norm", "finding", "programme", "steprate", "retest", "cohort"}

// numeric are the modules outside the standard library that mathematics may use.
var numeric = []string{"gonum.org/v1/gonum"}

// TestImportRules reads the import graph and holds it against the architecture:
// mathematics knows no gait, the trade flows one way, adapters do not know each
// other, only app joins, and the two faces know app alone.
func TestImportRules(t *testing.T) {
	cmd := exec.Command("go", "list", "-json=ImportPath,Imports,Standard", "gaitwright/...")
	cmd.Dir = "../.."
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	type pkg struct {
		ImportPath string
		Imports    []string
	}
	dec := json.NewDecoder(bytes.NewReader(out))
	seen := 0
	for {
		var p pkg
		if err := dec.Decode(&p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
		seen++
		for _, i := range p.Imports {
			if why := forbidden(p.ImportPath, i); why != "" {
				t.Errorf("%s imports %s: %s", p.ImportPath, i, why)
			}
		}
	}
	if seen < 10 {
		t.Fatalf("only %d packages were listed", seen)
	}
}

func forbidden(from, to string) string {
	own, ok := strings.CutPrefix(to, "gaitwright/")
	switch {
	case strings.HasPrefix(from, "gaitwright/num/"):
		if ok && !strings.HasPrefix(own, "num/") {
			return "mathematics knows no gait"
		}
		if !ok && strings.Contains(strings.Split(to, "/")[0], ".") && !slices.ContainsFunc(numeric, func(m string) bool { return strings.HasPrefix(to, m) }) {
			return "mathematics uses the standard library and numeric libraries alone"
		}
	case strings.HasPrefix(from, "gaitwright/gait/"):
		if to == "os" || to == "net/http" || to == "database/sql" || strings.HasPrefix(own, "internal/") && ok {
			return "the trade knows no files, no HTTP and no SQL"
		}
		if rest, is := strings.CutPrefix(own, "gait/"); ok && is {
			a, b := stage(strings.TrimPrefix(from, "gaitwright/gait/")), stage(rest)
			if a < 0 || b < 0 || b >= a {
				return "data moves one way along the path"
			}
		}
	case from == "gaitwright/internal/app":
		if own == "internal/cli" || own == "internal/web" {
			return "app does not know its faces"
		}
	case from == "gaitwright/internal/cli" || from == "gaitwright/internal/web":
		if strings.HasPrefix(own, "internal/") && ok && own != "internal/app" {
			return "a face knows app alone"
		}
	case strings.HasPrefix(from, "gaitwright/internal/"):
		adapter := strings.Split(strings.TrimPrefix(from, "gaitwright/internal/"), "/")[0]
		if rest, is := strings.CutPrefix(own, "internal/"); ok && is && strings.Split(rest, "/")[0] != adapter {
			return "adapters never import each other"
		}
	}
	return ""
}

func stage(path string) int {
	return slices.Index(stages, strings.Split(path, "/")[0])
}

func TestForbiddenSeesABreach(t *testing.T) {
	for _, c := range [][2]string{
		{"gaitwright/num/signal", "gaitwright/gait/body"},
		{"gaitwright/gait/track", "gaitwright/gait/event"},
		{"gaitwright/internal/pose", "gaitwright/internal/video"},
		{"gaitwright/internal/web", "gaitwright/internal/pose"},
		{"gaitwright/gait/measure", "os"},
	} {
		if forbidden(c[0], c[1]) == "" {
			t.Errorf("%s may import %s", c[0], c[1])
		}
	}
	if why := forbidden("gaitwright/gait/event", "gaitwright/gait/track"); why != "" {
		t.Errorf("event may import track: %s", why)
	}
}
