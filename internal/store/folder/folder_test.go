package folder

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"testing"
	"testing/iotest"
	"time"

	"pgregory.net/rapid"

	"gaitwright/internal/store"
)

func open(t testing.TB, options ...Option) *Folder {
	t.Helper()
	f, err := Open(filepath.Join(t.TempDir(), "films"), options...)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return f
}

func sum(b []byte) string {
	s := sha256.Sum256(b)
	return hex.EncodeToString(s[:])
}

// inside lists the files of a folder.
func inside(t testing.TB, f *Folder) (out []string) {
	t.Helper()
	err := filepath.WalkDir(f.dir, func(p string, d fs.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			out = append(out, p)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func content(t testing.TB, f *Folder, name string) []byte {
	t.Helper()
	file, err := f.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	b, err := io.ReadAll(file)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestPut(t *testing.T) {
	f := open(t)
	for _, body := range [][]byte{{}, []byte("a film"), bytes.Repeat([]byte{7}, 3<<20)} {
		for range 2 { // the second time it is kept already
			name, n, err := f.Put(t.Context(), bytes.NewReader(body), int64(len(body)))
			if err != nil || name != sum(body) || n != int64(len(body)) {
				t.Fatalf("put %d bytes: %s, %d, %v", len(body), name, n, err)
			}
			if got := content(t, f, name); !bytes.Equal(got, body) {
				t.Errorf("%d bytes came back as %d", len(body), len(got))
			}
			p, err := f.Path(name)
			if err != nil {
				t.Fatal(err)
			}
			if b, err := os.ReadFile(p); err != nil || !bytes.Equal(b, body) {
				t.Errorf("at %s lie %d bytes (%v)", p, len(b), err)
			}
		}
	}
	if got := inside(t, f); len(got) != 3 {
		t.Errorf("kept are %q", got)
	}
}

// TestDamagedFileIsMended puts a file anew whose kept copy was cut short.
func TestDamagedFileIsMended(t *testing.T) {
	f := open(t)
	name, _, err := f.Put(t.Context(), strings.NewReader("a film"), 0)
	if err != nil {
		t.Fatal(err)
	}
	p, _ := f.Path(name)
	if err := os.Truncate(p, 2); err != nil {
		t.Fatal(err)
	}
	if _, _, err := f.Put(t.Context(), strings.NewReader("a film"), 0); err != nil {
		t.Fatal(err)
	}
	if got := content(t, f, name); string(got) != "a film" {
		t.Errorf("it is still %q", got)
	}
}

func TestFailedPutLeavesNothing(t *testing.T) {
	f := open(t)
	body := bytes.Repeat([]byte("x"), 100_000)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	boom := errors.New("the cable was pulled")
	var large *TooLargeError
	_, _, err := f.Put(t.Context(), bytes.NewReader(body), int64(len(body))-1)
	if !errors.As(err, &large) {
		t.Errorf("too large: %v", err)
	}
	if _, _, err := f.Put(ctx, bytes.NewReader(body), 0); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
	if _, _, err := f.Put(t.Context(), io.MultiReader(bytes.NewReader(body), iotest.ErrReader(boom)), 0); !errors.Is(err, boom) || errors.Is(err, store.ErrFull) {
		t.Errorf("broken off: %v", err)
	}
	f.wrap = limited(50_000)
	if _, _, err := f.Put(t.Context(), bytes.NewReader(body), 0); !errors.Is(err, store.ErrFull) {
		t.Errorf("disk full: %v", err)
	}
	if got := inside(t, f); len(got) != 0 {
		t.Errorf("left behind: %q", got)
	}
}

// limited is a disk with room for n bytes.
func limited(n int) func(io.Writer) io.Writer {
	return func(w io.Writer) io.Writer {
		left := n
		return writer(func(p []byte) (int, error) {
			if len(p) <= left {
				left -= len(p)
				return w.Write(p)
			}
			k, err := w.Write(p[:left])
			left = 0
			return k, errors.Join(err, &fs.PathError{Op: "write", Path: "x", Err: noSpace})
		})
	}
}

type writer func([]byte) (int, error)

func (w writer) Write(p []byte) (int, error) { return w(p) }

func TestNothingEscapes(t *testing.T) {
	f := open(t)
	outside := filepath.Join(filepath.Dir(f.dir), "outside")
	if err := os.WriteFile(outside, []byte("secret"), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"", ".", "..", "../outside", "/etc/passwd", strings.Repeat("../", 21) + "x", strings.Repeat("A", 64), strings.Repeat("a", 63), strings.Repeat("a", 62) + "/x", strings.Repeat("a", 63) + "\x00", strings.Repeat("g", 64)} {
		if _, err := f.Open(name); !errors.Is(err, store.ErrNotFound) {
			t.Errorf("Open(%q): %v", name, err)
		}
		if _, err := f.Path(name); !errors.Is(err, store.ErrNotFound) {
			t.Errorf("Path(%q): %v", name, err)
		}
		if _, _, _, err := f.Part(name); !errors.Is(err, store.ErrNotFound) {
			t.Errorf("Part(%q): %v", name, err)
		}
		if err := f.Abandon(name); !errors.Is(err, store.ErrNotFound) {
			t.Errorf("Abandon(%q): %v", name, err)
		}
		if _, err := f.Append(t.Context(), name, 0, strings.NewReader("x")); !errors.Is(err, store.ErrNotFound) {
			t.Errorf("Append(%q): %v", name, err)
		}
		if _, err := f.Finish(t.Context(), name); !errors.Is(err, store.ErrNotFound) {
			t.Errorf("Finish(%q): %v", name, err)
		}
	}
	// A link that somebody laid there leads nowhere.
	name := strings.Repeat("ab", 32)
	if err := os.Mkdir(filepath.Join(f.dir, "files", "ab"), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(outside, filepath.Join(f.dir, filepath.FromSlash(place(name)))); err != nil {
		t.Skip("the system makes no links:", err)
	}
	if file, err := f.Open(name); err == nil {
		file.Close()
		t.Error("a link led out of the folder")
	}
	if got, _ := os.ReadFile(outside); string(got) != "secret" {
		t.Error("the file outside was touched")
	}
}

func TestParts(t *testing.T) {
	f := open(t)
	body := bytes.Repeat([]byte("0123456789"), 1000)
	id, err := f.Begin([]byte(`{"name":"ü.mp4"}`), int64(len(body)))
	if err != nil {
		t.Fatal(err)
	}
	end, err := f.Append(t.Context(), id, 0, bytes.NewReader(body[:4000]))
	if err != nil || end != 4000 {
		t.Fatalf("first part: %d, %v", end, err)
	}
	var off *store.OffsetError
	for _, at := range []int64{0, 3999, 4001, -1} {
		if end, err := f.Append(t.Context(), id, at, bytes.NewReader(body)); !errors.As(err, &off) || off.Want != 4000 || off.Got != at || end != 4000 {
			t.Errorf("a part at %d: %d, %v", at, end, err)
		}
	}
	if _, err := f.Finish(t.Context(), id); err == nil {
		t.Error("finished before all had arrived")
	}
	// The connection breaks in the middle of a part: what came stays.
	end, err = f.Append(t.Context(), id, 4000, io.MultiReader(bytes.NewReader(body[4000:4700]), iotest.ErrReader(io.ErrUnexpectedEOF)))
	if !errors.Is(err, io.ErrUnexpectedEOF) || end != 4700 {
		t.Errorf("a broken part: %d, %v", end, err)
	}
	// The disk fills up in the middle of a part: what was written stays.
	f.wrap = limited(100)
	if end, err = f.Append(t.Context(), id, 4700, bytes.NewReader(body[4700:])); !errors.Is(err, store.ErrFull) || end != 4800 {
		t.Errorf("a part on a full disk: %d, %v", end, err)
	}
	// The program starts again.
	g, err := Open(f.dir)
	if err != nil {
		t.Fatal(err)
	}
	defer g.Close()
	at, size, meta, err := g.Part(id)
	if err != nil || at != 4800 || size != int64(len(body)) || string(meta) != `{"name":"ü.mp4"}` {
		t.Fatalf("after a restart: %d of %d, %q, %v", at, size, meta, err)
	}
	if end, err = g.Append(t.Context(), id, at, bytes.NewReader(body[at:])); err != nil || end != size {
		t.Fatalf("the rest: %d, %v", end, err)
	}
	name, err := g.Finish(t.Context(), id)
	if err != nil || name != sum(body) {
		t.Fatalf("finished as %s, %v", name, err)
	}
	if got := content(t, g, name); !bytes.Equal(got, body) {
		t.Error("what was kept is not what was sent")
	}
	// The answer was lost: asked again, it is the same, until it is forgotten.
	if at, size, _, err := g.Part(id); at != size || size != int64(len(body)) || err != nil {
		t.Errorf("a finished upload: %d of %d, %v", at, size, err)
	}
	if end, err := g.Append(t.Context(), id, size, strings.NewReader("more")); !errors.Is(err, store.ErrTooMuch) || end != size {
		t.Errorf("more of a finished one: %d, %v", end, err)
	}
	if again, err := g.Finish(t.Context(), id); err != nil || again != name {
		t.Errorf("finished again as %s, %v", again, err)
	}
	if err := g.Abandon(id); err != nil {
		t.Error(err)
	}
	if _, _, _, err := g.Part(id); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a forgotten upload: %v", err)
	}
	if got := inside(t, g); len(got) != 1 || !bytes.Equal(content(t, g, name), body) {
		t.Errorf("kept are %q", got)
	}
}

// TestStoppedWhileItIsFinished stops between the steps by which a part becomes a kept
// file, and wants the file.
func TestStoppedWhileItIsFinished(t *testing.T) {
	f := open(t)
	const body = "a film that arrived whole"
	id, err := f.Begin([]byte("{}"), int64(len(body)))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.Append(t.Context(), id, 0, strings.NewReader(body)); err != nil {
		t.Fatal(err)
	}
	whole := func(when string) {
		t.Helper()
		if at, size, _, err := f.Part(id); at != size || err != nil {
			t.Errorf("%s %d of %d bytes are there, %v", when, at, size, err)
		}
		path, err := f.Arrived(id)
		if err != nil {
			t.Fatalf("%s: %v", when, err)
		}
		if b, err := os.ReadFile(path); err != nil || string(b) != body {
			t.Errorf("%s it holds %q, %v", when, b, err)
		}
	}
	whole("before")
	cancelled, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := f.Finish(cancelled, id); !errors.Is(err, context.Canceled) {
		t.Errorf("called off: %v", err)
	}
	whole("called off,")
	plain := f.wrap
	f.wrap = limited(3)
	if _, err := f.Finish(t.Context(), id); !errors.Is(err, store.ErrFull) {
		t.Errorf("on a full disk: %v", err)
	}
	f.wrap = plain
	whole("on a full disk")
	if got := inside(t, f); len(got) != 2 {
		t.Errorf("on a full disk are left %q", got)
	}
	// Its name is written down, and the part was not moved yet.
	if err := f.rewrite(id, about{Size: int64(len(body)), Meta: []byte("{}"), Kept: sum([]byte(body))}); err != nil {
		t.Fatal(err)
	}
	whole("half finished")
	if name, err := f.Finish(t.Context(), id); err != nil || name != sum([]byte(body)) {
		t.Errorf("gone on with: %s, %v", name, err)
	}
	whole("finished")
	// What was kept of it is gone: its name is still known, to be forgotten.
	if err := f.Remove(sum([]byte(body))); err != nil {
		t.Fatal(err)
	}
	if _, _, meta, err := f.Part(id); !errors.Is(err, store.ErrNotFound) || string(meta) != "{}" {
		t.Errorf("what is lost is said to be %q, %v", meta, err)
	}
	if _, err := f.Finish(t.Context(), id); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("what is lost is finished: %v", err)
	}
	if ids, err := f.Arriving(); err != nil || !slices.Equal(ids, []string{id}) {
		t.Errorf("known are %q, %v", ids, err)
	}
	if err := f.Abandon(id); err != nil {
		t.Error(err)
	}
	if got := inside(t, f); len(got) != 0 {
		t.Errorf("left are %q", got)
	}
}

func TestPartsAreBounded(t *testing.T) {
	f := open(t)
	id, err := f.Begin(nil, 10)
	if err != nil {
		t.Fatal(err)
	}
	if end, err := f.Append(t.Context(), id, 0, strings.NewReader(strings.Repeat("x", 1<<20))); err == nil || end != 10 {
		t.Errorf("more than was said: %d, %v", end, err)
	}
	if _, err := f.Begin(nil, -1); err == nil {
		t.Error("a negative size was taken")
	}
	if _, err := f.Begin(make([]byte, 1<<20), 1); err == nil {
		t.Error("a long meta was taken")
	}
	if err := f.Abandon(id); err != nil {
		t.Error(err)
	}
	empty, err := f.Begin(nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	if name, err := f.Finish(t.Context(), empty); err != nil || name != sum(nil) {
		t.Errorf("an empty file: %s, %v", name, err)
	}
	if err := f.Abandon(empty); err != nil {
		t.Error(err)
	}
	f.wrap = limited(3)
	if _, err := f.Begin(nil, 1); !errors.Is(err, store.ErrFull) {
		t.Errorf("on a full disk: %v", err)
	}
	if got := inside(t, f); len(got) != 1 {
		t.Errorf("left are %q", got)
	}
}

func TestOneWriterAPart(t *testing.T) {
	f := open(t)
	id, err := f.Begin(nil, 10)
	if err != nil {
		t.Fatal(err)
	}
	r, w := io.Pipe()
	done := make(chan error)
	go func() { _, err := f.Append(t.Context(), id, 0, r); done <- err }()
	if _, err := w.Write([]byte("12345")); err != nil {
		t.Fatal(err)
	}
	if _, err := f.Append(t.Context(), id, 5, strings.NewReader("x")); !errors.Is(err, ErrInUse) {
		t.Errorf("a second writer: %v", err)
	}
	if err := f.Abandon(id); !errors.Is(err, ErrInUse) {
		t.Errorf("abandoned while it arrives: %v", err)
	}
	w.Close()
	if err := <-done; err != nil {
		t.Error(err)
	}
}

// TestAnyPartsMakeTheFile cuts a file anywhere, breaks off anywhere, and wants
// the file.
func TestAnyPartsMakeTheFile(t *testing.T) {
	f := open(t)
	rapid.Check(t, func(t *rapid.T) {
		body := rapid.SliceOfN(rapid.Byte(), 0, 300).Draw(t, "body")
		id, err := f.Begin(nil, int64(len(body)))
		if err != nil {
			t.Fatal(err)
		}
		for {
			at, size, _, err := f.Part(id)
			if err != nil {
				t.Fatal(err)
			}
			if at == size {
				break
			}
			n := rapid.Int64Range(1, size-at).Draw(t, "length")
			var r io.Reader = bytes.NewReader(body[at : at+n])
			broken := rapid.Bool().Draw(t, "broken")
			if broken {
				r = io.MultiReader(r, iotest.ErrReader(io.ErrUnexpectedEOF))
			}
			end, err := f.Append(context.Background(), id, at, r)
			if end != at+n || (err != nil) != (broken && end < size) { // after the last byte nobody listens
				t.Fatalf("from %d by %d: %d, %v", at, n, end, err)
			}
		}
		if name, err := f.Finish(context.Background(), id); err != nil || name != sum(body) {
			t.Fatalf("%s, %v", name, err)
		}
	})
}

func TestSweep(t *testing.T) {
	now := time.Now()
	f := open(t, WithClock(func() time.Time { return now }))
	put := func(s string) string {
		name, _, err := f.Put(t.Context(), strings.NewReader(s), 0)
		if err != nil {
			t.Fatal(err)
		}
		return name
	}
	wanted, unwanted := put("wanted"), put("unwanted")
	part, err := f.Begin(nil, 5)
	if err != nil {
		t.Fatal(err)
	}
	stranger := filepath.Join(f.dir, "files", "notes.txt")
	if err := os.WriteFile(stranger, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	sweep := func(after time.Duration, want int64) {
		t.Helper()
		now = now.Add(after)
		if n, err := f.Sweep(map[string]bool{wanted: true}); n != want || err != nil {
			t.Errorf("after %v more: %d bytes freed, %v, want %d", after, n, err, want)
		}
	}
	sweep(0, 0) // too young
	sweep(25*time.Hour, int64(len("unwanted")))
	if _, err := f.Open(unwanted); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("the unwanted: %v", err)
	}
	if got := content(t, f, wanted); string(got) != "wanted" {
		t.Errorf("the wanted is %q", got)
	}
	if _, _, _, err := f.Part(part); err != nil {
		t.Errorf("an upload of yesterday: %v", err)
	}
	now = now.Add(7 * 24 * time.Hour)
	if _, err := f.Sweep(map[string]bool{wanted: true}); err != nil {
		t.Error(err)
	}
	if _, _, _, err := f.Part(part); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("an upload of last week: %v", err)
	}
	if _, err := os.Stat(stranger); err != nil {
		t.Errorf("a file that is none of ours was removed: %v", err)
	}
	// A file that is put again is young again.
	now = time.Now().Add(48 * time.Hour)
	again := put("again")
	now = now.Add(47 * time.Hour)
	put("again")
	now = now.Add(2 * time.Hour)
	if _, err := f.Sweep(nil); err != nil {
		t.Error(err)
	}
	if _, err := f.Open(again); err != nil {
		t.Errorf("a file put two hours ago: %v", err)
	}
}

// TestDiskFull fills a small disk of its own; it needs the rights to make one.
func TestDiskFull(t *testing.T) {
	if runtime.GOOS != "linux" || os.Geteuid() != 0 {
		t.Skip("needs Linux and the rights to mount a small disk; the full disk is imitated in the other tests")
	}
	dir := t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=1m", "none", dir).CombinedOutput(); err != nil {
		t.Skipf("no small disk can be mounted: %s", out)
	}
	t.Cleanup(func() { exec.Command("umount", dir).Run() })
	f, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	small, _, err := f.Put(t.Context(), strings.NewReader("small"), 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := f.Put(t.Context(), io.LimitReader(zeros{}, 2<<20), 0); !errors.Is(err, store.ErrFull) || !errors.Is(err, syscall.ENOSPC) {
		t.Errorf("put: %v", err)
	}
	id, err := f.Begin(nil, 2<<20)
	if err != nil {
		t.Fatal(err)
	}
	end, err := f.Append(t.Context(), id, 0, io.LimitReader(zeros{}, 2<<20))
	if !errors.Is(err, store.ErrFull) {
		t.Errorf("append: %v", err)
	}
	if at, _, _, err := f.Part(id); at != end || at == 0 || err != nil {
		t.Errorf("%d bytes are there (%v), said were %d", at, err, end)
	}
	if err := f.Abandon(id); err != nil {
		t.Errorf("making room: %v", err)
	}
	if _, _, err := f.Put(t.Context(), io.LimitReader(zeros{}, 500<<10), 0); err != nil {
		t.Errorf("after making room: %v", err)
	}
	if got := content(t, f, small); string(got) != "small" {
		t.Errorf("what was kept before is %q", got)
	}
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

func TestRemoveAndArriving(t *testing.T) {
	f := open(t)
	ctx := t.Context()
	hash, _, err := f.Put(ctx, strings.NewReader("a film"), 0)
	if err != nil {
		t.Fatal(err)
	}
	for range 2 { // the second finds it gone, which is what was asked for
		if err := f.Remove(hash); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := f.Open(hash); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("a removed file opens: %v", err)
	}
	if err := f.Remove("../../secret"); err == nil {
		t.Error("a path was taken for the name of a file")
	}
	var want []string
	for range 3 {
		id, err := f.Begin([]byte("{}"), 10)
		if err != nil {
			t.Fatal(err)
		}
		want = append(want, id)
	}
	if err := f.Abandon(want[1]); err != nil {
		t.Fatal(err)
	}
	want = slices.Delete(want, 1, 2)
	if got, err := f.Arriving(); err != nil || !slices.Equal(got, want) {
		t.Errorf("arriving are %q (%v), want %q", got, err, want)
	}
}
