package app

import (
	"bytes"
	"context"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// The search after an erasure reads every file to its end, also one of more than a
// gigabyte, and finds what lies across two pieces that are read.
func TestErasureSearchReadsAll(t *testing.T) {
	dir := t.TempDir()
	const id = "01HZ0000000000000000000000"
	tr := &traces{words: map[string]bool{id: true}, phrases: [][]byte{[]byte("Ada Lind (invented)")}}
	put := func(name string, size, at int64, text string) {
		t.Helper()
		f, err := os.Create(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		if err := f.Truncate(size); err != nil {
			t.Fatal(err)
		}
		if _, err := f.WriteAt([]byte(text), at); err != nil {
			t.Fatal(err)
		}
	}
	put("clean", 3<<20, 0, "Bo Stays (invented)")
	put("border", 3<<20, 1<<20-5, "Ada Lind (invented)")
	put("id-at-border", 3<<20, 2<<20-9, id)
	files, read, left, err := tr.search(t.Context(), dir)
	if err != nil || files != 3 || read != 9<<20 || !slices.Equal(left, []string{"border", "id-at-border"}) {
		t.Errorf("%d files, %d bytes, left %v, %v", files, read, left, err)
	}
	const large = 1<<30 + 1<<20
	if found, n, err := tr.in(t.Context(), io.MultiReader(io.LimitReader(zeros{}, large), strings.NewReader(id))); !found || n != large+int64(len(id)) || err != nil {
		t.Errorf("after a gigabyte: %v, %d bytes, %v", found, n, err)
	}
	hash := strings.Repeat("0123456789abcdef", 4)
	tr.words[hash] = true
	for at := range 200 {
		for _, w := range []string{id, hash} {
			b := bytes.Repeat([]byte("-"), 300)
			copy(b[at:], w)
			if !tr.inPiece(b) || !tr.inPiece(append(bytes.Repeat([]byte("0"), at), w...)) {
				t.Errorf("%s at %d is not found", w, at)
			}
			if b[at+9]++; tr.inPiece(b) {
				t.Errorf("another word at %d is taken for it", at)
			}
		}
	}
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	if _, _, _, err := tr.search(gone, dir); err == nil {
		t.Error("a search that was given up is done")
	}
}

type zeros struct{}

func (zeros) Read(b []byte) (int, error) {
	clear(b)
	return len(b), nil
}

func BenchmarkErasureSearch(b *testing.B) {
	tr := &traces{words: map[string]bool{"01HZ0000000000000000000000": true}, phrases: [][]byte{[]byte("Ada Lind (invented)"), bytes.Repeat([]byte{7, 9}, 32)}}
	film := make([]byte, 32<<20)
	for i, x := range film {
		film[i] = x ^ byte(i*i>>7)
	}
	b.SetBytes(int64(len(film)))
	for b.Loop() {
		if found, _, err := tr.in(b.Context(), bytes.NewReader(film)); found || err != nil {
			b.Fatal(found, err)
		}
	}
}
