package app

import (
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"testing"
)

// TestAStudioLeftOpenIsClosedToOthers: a studio that others can read is for its owner
// alone from when it is opened, told once; what is not the studio's stays as it is.
func TestAStudioLeftOpenIsClosedToOthers(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("permissions are not those of Unix here")
	}
	t.Parallel()
	dir := filepath.Join(t.TempDir(), "studio")
	st, err := OpenStudio(dir)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := st.NewRunner(t.Context(), "", "Ida Invented"); err != nil {
		t.Fatal(err)
	}
	film := filepath.Join(dir, filesFolder, "files", "5d", "film")
	elsewhere := filepath.Join(t.TempDir(), "elsewhere")
	for _, err := range []error{os.MkdirAll(filepath.Dir(film), 0o700), os.WriteFile(film, nil, 0o600), os.Mkdir(elsewhere, 0o755), os.Symlink(elsewhere, filepath.Join(dir, stillsFolder))} {
		if err != nil {
			t.Fatal(err)
		}
	}
	modes := func() map[string]fs.FileMode {
		out := map[string]fs.FileMode{}
		if err := filepath.WalkDir(dir, func(p string, e fs.DirEntry, err error) error {
			if err != nil || e.Type()&fs.ModeSymlink != 0 {
				return err
			}
			i, err := e.Info()
			if err == nil {
				rel, _ := filepath.Rel(dir, p)
				out[rel] = i.Mode() & (fs.ModePerm | fs.ModeSetgid)
			}
			return err
		}); err != nil {
			t.Fatal(err)
		}
		return out
	}
	open := func(dirs, files fs.FileMode) {
		t.Helper()
		for rel, m := range modes() {
			to := files
			if i, err := os.Stat(filepath.Join(dir, rel)); err == nil && i.IsDir() {
				to = dirs
			}
			if err := os.Chmod(filepath.Join(dir, rel), to); err != nil {
				t.Fatal(rel, m, err)
			}
		}
	}
	opened := func(want string) {
		t.Helper()
		if said, err := forOwnerOnly(dir); err != nil || (said != "") != (want != "") {
			t.Errorf("%q, %v; want %q", said, err, want)
		}
	}
	closed := func(taken fs.FileMode, but ...string) {
		t.Helper()
		all := modes()
		for _, rel := range but {
			if all[rel]&0o077 == 0 {
				t.Errorf("%s was changed: %v", rel, all[rel])
			}
			delete(all, rel)
		}
		for rel, m := range all {
			if m&taken != 0 {
				t.Errorf("%s is open to others: %v", rel, m)
			}
			if m&0o600 != 0o600 {
				t.Errorf("%s is closed to its owner: %v", rel, m)
			}
		}
	}
	opened("") // one that was never open
	st.Close()
	open(0o755, 0o644)
	if st, err = OpenStudio(dir); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(st.Close)
	if _, err := st.Runners(t.Context(), RunnerQuery{}); err != nil {
		t.Fatal(err)
	}
	closed(0o077)
	opened("")
	open(0o755, 0o644)
	opened("told")
	closed(0o077)
	// One that is shared with a group on purpose stays so.
	open(0o775|fs.ModeSetgid, 0o664)
	opened("told")
	closed(0o007)
	if m := modes(); m["."] != 0o770|fs.ModeSetgid || m[recordsFile] != 0o660 {
		t.Errorf("shared with a group, and now %v, %v", m["."], m[recordsFile])
	}
	// A folder that holds something else stays open, and so does the other thing.
	if err := os.WriteFile(filepath.Join(dir, "notes.txt"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	open(0o755, 0o644)
	opened("told")
	closed(0o077, ".", "notes.txt")
	if i, err := os.Stat(elsewhere); err != nil || i.Mode().Perm() != 0o755 {
		t.Errorf("where a link leads to: %v, %v", i.Mode(), err)
	}
}

// TestAFolderThatIsNoStudioIsLeftAsItIs: what is no studio's is refused, and its rights
// stay as they are.
func TestAFolderThatIsNoStudioIsLeftAsItIs(t *testing.T) {
	dir := t.TempDir()
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	other := filepath.Join(dir, recordsFile)
	if err := os.WriteFile(other, []byte("of another program"), 0o644); err != nil {
		t.Fatal(err)
	}
	st, err := OpenStudio(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	if _, err := st.records(); err == nil {
		t.Fatal("it is opened")
	}
	for path, want := range map[string]fs.FileMode{dir: 0o755, other: 0o644} {
		if i, err := os.Stat(path); err != nil || i.Mode().Perm() != want && runtime.GOOS != "windows" {
			t.Errorf("%s: %v, %v", path, i.Mode(), err)
		}
	}
}
