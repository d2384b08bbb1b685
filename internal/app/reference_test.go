package app_test

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gaitwright/gait/measure"
	"gaitwright/internal/app"
)

// TestReferencePages holds the handbook's pages of measures and files against the
// program that they are made from; -update writes them anew.
func TestReferencePages(t *testing.T) {
	for file, write := range map[string]func(io.Writer) error{"measures.md": app.WriteMeasuresPage, "files.md": app.WriteFilesPage} {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Fatal(err)
		}
		path := filepath.Join("..", "..", "docs", file)
		if *update {
			if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if kept, err := os.ReadFile(path); err != nil || !bytes.Equal(kept, b.Bytes()) {
			t.Errorf("docs/%s is not what the program says (-update writes it anew): %v", file, err)
		}
		if file == "measures.md" {
			for _, d := range measure.Catalogue() {
				if !strings.Contains(b.String(), "`"+d.Name+"`") || !strings.Contains(b.String(), "### "+d.Title+"\n") {
					t.Errorf("%s is not told of", d.Name)
				}
			}
		}
	}
}
