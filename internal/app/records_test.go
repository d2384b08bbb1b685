package app

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"gaitwright/internal/store"
)

// What the records refuse is said in words, with a kind that decides the answer.
func TestRefusalsOfTheRecordsInWords(t *testing.T) {
	for _, tt := range []struct {
		err  error
		kind Kind
		says string
	}{
		{store.ErrFull, KindFull, "Make room"},
		{store.ErrBusy, KindBusy, "Close the other program"},
		{store.ErrNotFound, KindNotFound, "no such record"},
		{store.ErrNewer, KindUnexpected, "later version"},
		{store.ErrForeign, KindUnexpected, "Name another folder"},
		{store.ErrGone, KindUnexpected, "Put it back"},
		{store.ErrCursor, KindUsage, "Begin the list anew"},
		{&store.Conflict{Kind: store.KindRunner, Have: 1, Kept: 3}, KindStale, "another screen"},
		{problem(KindNotAllowed, "", "", "own words"), KindNotAllowed, "own words"},
	} {
		err := recordProblem(fmt.Errorf("writing: %w", tt.err), "studio.db")
		if KindOf(err) != tt.kind || !strings.Contains(err.Error(), tt.says) {
			t.Errorf("%v: kind %d, %v", tt.err, KindOf(err), err)
		}
		if !errors.Is(err, tt.err) && tt.kind != KindStale {
			t.Errorf("%v is not in the chain", tt.err)
		}
	}
	if recordProblem(nil, "") != nil {
		t.Error("no error is one")
	}
	if s, ok := AsStale(recordProblem(&store.Conflict{Kind: store.KindClip, Kept: 3}, "")); !ok || s.Kept != 3 {
		t.Error("the version that is kept is lost")
	}
}

// What a studio keeps is of people: its folder is for whoever made it alone.
func TestFolderOfAStudioIsItsOwnersAlone(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("permissions are not those of Unix here")
	}
	dir := filepath.Join(t.TempDir(), "studio")
	st, err := OpenStudio(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	if _, err := st.records(); err != nil {
		t.Fatal(err)
	}
	i, err := os.Stat(dir)
	if err != nil {
		t.Fatal(err)
	}
	if i.Mode().Perm()&0o077 != 0 {
		t.Errorf("the folder is open to others: %v", i.Mode())
	}
}

// Files that no record names are removed at the start of the work once they are
// old; those that are named stay.
func TestFilesNobodyNamesAreRemoved(t *testing.T) {
	st, err := OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	kept, err := st.records()
	if err != nil {
		t.Fatal(err)
	}
	if err := st.Save(&Session{Created: time.Now(), Clips: []*Clip{{Path: "a.mp4"}}}); err != nil {
		t.Fatal(err)
	}
	if _, _, err := kept.files.Put(t.Context(), strings.NewReader("nobody's"), 0); err != nil {
		t.Fatal(err)
	}
	files := func() (n int) {
		err := filepath.WalkDir(filepath.Join(st.dir, filesFolder), func(path string, d os.DirEntry, err error) error {
			if err == nil && d.Type().IsRegular() {
				n++
				old := time.Now().Add(-50 * time.Hour)
				err = os.Chtimes(path, old, old)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	if n := files(); n != 2 {
		t.Fatalf("%d files", n)
	}
	st.tidy(t.Context())
	if n := files(); n != 1 {
		t.Errorf("%d files are left", n)
	}
	ids, err := st.IDs()
	if err != nil || len(ids) != 1 {
		t.Fatal(ids, err)
	}
	if _, err := st.Load(ids[0]); err != nil {
		t.Errorf("the result: %v", err)
	}
}

// FuzzFormat tells the format of any first bytes without a panic, and no binary is
// taken for text.
func FuzzFormat(f *testing.F) {
	for _, s := range []string{"", "{\"a\":1}", "PathFileType\t4", "\x02\x50", "a,b\n1,2", "\x00\x00\x00\x18ftypmp42", "\xef\xbb\xbf{", "YUV4MPEG2 W1"} {
		f.Add([]byte(s))
	}
	known := map[string]bool{formatFilm: true, formatC3D: true, formatTRC: true, formatCSV: true, formatJSON: true}
	f.Fuzz(func(t *testing.T, head []byte) {
		got := sniffFormat(head)
		if !known[got] {
			t.Errorf("%q is %q", head, got)
		}
		if strings.ContainsRune(string(head), 0) && (got == formatCSV || got == formatJSON) {
			t.Errorf("%q, which holds zeros, is %s", head, got)
		}
	})
}

// FuzzClean makes any text one harmless line of bounded length.
func FuzzClean(f *testing.F) {
	for _, s := range []string{"", "a b", "\x1b[31m", "\u202e", strings.Repeat("é", 300), "\xff\xfe"} {
		f.Add(s, 20)
	}
	f.Fuzz(func(t *testing.T, s string, most int) {
		most = 1 + int(uint(most)%200)
		got := clean(s, most)
		if n := len([]rune(got)); n > most || strings.ContainsAny(got, "\n\r\x1b\u202e\x00") {
			t.Errorf("%q becomes %q of %d characters, at most %d", s, got, n, most)
		}
	})
}
