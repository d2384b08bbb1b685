package app

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestReliabilityInWords(t *testing.T) {
	for _, c := range []struct{ table, want, never string }{
		// The second reader reads 2 higher, give or take 0.1.
		{"A,B\n10,12\n14,16.1\n9,10.9\n20,22\n17,19\n", "A reads lower than B, by 2.000 on average", "cannot tell them apart"},
		{"A,B\n10,10.2\n14,13.8\n9,9.2\n20,19.8\n17,17\n", "5 subjects are few", "reads"},
		{"A,B\n9,9\n8,8\n7,7\n", "same to the last digit", "must differ"},
		{"A,B\n9,1\n8,2\n7,3\n", "cannot tell them apart", ""},
	} {
		path := filepath.Join(t.TempDir(), "table.csv")
		if err := os.WriteFile(path, []byte(c.table), 0o600); err != nil {
			t.Fatal(err)
		}
		found, _, err := CheckReliability(ReliabilityRequest{Files: []string{path}})
		if err != nil || len(found) != 1 {
			t.Fatal(found, err)
		}
		said := strings.Join(found[0].InWords(), " ")
		if !strings.Contains(said, c.want) || c.never != "" && strings.Contains(strings.ReplaceAll(said, "readings", ""), c.never) {
			t.Errorf("%q: %s", c.table, said)
		}
	}
}
