package web

import (
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"

	"gaitwright/gait/table"
	"gaitwright/ui"
)

// TestGermanHasWhatIsSaidOfRunFiles reads from the readers' and the folder's own
// sources what they say of a file, and asks for each its German.
func TestGermanHasWhatIsSaidOfRunFiles(t *testing.T) {
	words := table.NewWords(ui.Told())
	readers, err := filepath.Glob(filepath.Join("..", "runfile", "*.go"))
	if err != nil {
		t.Fatal(err)
	}
	said := regexp.MustCompile(`(?:errors\.New|fmt\.Errorf)\(("(?:[^"\\]|\\.)+")`)
	inApp := regexp.MustCompile(`(?:What|Mend): +("(?:[^"\\]|\\.)+")(?:,|\})`)
	verb := regexp.MustCompile(`%[dsvwq]`)
	n := 0
	look := func(file string, what *regexp.Regexp) {
		source, err := os.ReadFile(file)
		if err != nil {
			t.Skip("the sources are absent: ", err)
		}
		for _, m := range what.FindAllStringSubmatch(string(source), -1) {
			text, err := strconv.Unquote(m[1])
			if err != nil {
				t.Fatal(file, err)
			}
			if text[0] == '%' {
				text = "it is no well-formed XML" + text[2:]
			}
			n++
			if text = verb.ReplaceAllString(text, "7"); words.Say(text) == text {
				t.Errorf("%s: no German for %q", file, text)
			}
		}
	}
	for _, f := range readers {
		if ok, _ := filepath.Match("*_test.go", filepath.Base(f)); !ok {
			look(f, said)
		}
	}
	look(filepath.Join("..", "app", "runfolder.go"), inApp)
	if n < 20 {
		t.Errorf("only %d texts were found", n)
	}
}
