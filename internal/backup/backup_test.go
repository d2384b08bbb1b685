package backup

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"filippo.io/age"
	"pgregory.net/rapid"
)

func init() { WorkFactor = 10 } // the cost of guessing is not what is tested

var made = time.Date(2026, 5, 4, 12, 30, 0, 0, time.UTC)

func entry(name, body string) Entry {
	return Entry{Name: name, Bytes: int64(len(body)), Open: func() (io.ReadCloser, error) { return io.NopCloser(strings.NewReader(body)), nil }}
}

func write(t testing.TB, entries ...Entry) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Write(t.Context(), &b, "correct horse", About{Program: "test", Studio: "Lauf & Lot", Made: made}, entries, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func read(file []byte, passphrase string) (map[string]string, About, error) {
	got := map[string]string{}
	about, err := Read(context.Background(), bytes.NewReader(file), passphrase, nil, func(name string, n int64, r io.Reader) error {
		b, err := io.ReadAll(r)
		got[name] = string(b)
		return err
	})
	return got, about, err
}

func TestWhatGoesInComesOut(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		names := rapid.SliceOfNDistinct(rapid.StringMatching(`[a-z]{1,8}(/[a-z0-9]{1,70}){0,2}`), 0, 6, rapid.ID).Draw(rt, "names")
		want := map[string]string{}
		var entries []Entry
		for _, n := range names {
			want[n] = strings.Repeat(rapid.String().Draw(rt, "body"), rapid.SampledFrom([]int{0, 1, 1, 3000}).Draw(rt, "times"))
			entries = append(entries, entry(n, want[n]))
		}
		var b bytes.Buffer
		var last int64
		if err := Write(t.Context(), &b, "correct horse", About{Studio: "Lauf & Lot", Made: made}, entries, func(n int64) { last = n }); err != nil {
			rt.Fatal(err)
		}
		got, about, err := read(b.Bytes(), "correct horse")
		if err != nil {
			rt.Fatal(err)
		}
		var sum int64
		for n, w := range want {
			sum += int64(len(w))
			if got[n] != w {
				rt.Fatalf("%q came out as %d bytes, %d went in", n, len(got[n]), len(w))
			}
		}
		if len(got) != len(want) || about.Entries != len(want) || about.Bytes != sum || last != sum || about.Studio != "Lauf & Lot" || !about.Made.Equal(made) {
			rt.Fatalf("%d entries, %+v, %d moved", len(got), about, last)
		}
	})
}

// TestOpensWithTheStandardAlone reads a backup by age and nothing of this package.
func TestOpensWithTheStandardAlone(t *testing.T) {
	file := write(t, entry("studio.db", "records"))
	if !bytes.HasPrefix(file, []byte("age-encryption.org/v1\n-> scrypt ")) {
		t.Errorf("it begins with %.40q", file)
	}
	id, err := age.NewScryptIdentity("correct horse")
	if err != nil {
		t.Fatal(err)
	}
	r, err := age.Decrypt(bytes.NewReader(file), id)
	if err != nil {
		t.Fatal(err)
	}
	plain, err := io.ReadAll(r)
	if err != nil || !bytes.Contains(plain, []byte("records")) {
		t.Errorf("%v, %d bytes", err, len(plain))
	}
	if bytes.Contains(file, []byte("studio.db")) || bytes.Contains(file, []byte("Lauf")) {
		t.Error("names can be read in the file")
	}
}

func TestRefusals(t *testing.T) {
	file := write(t, entry("a", strings.Repeat("x", 200_000)), entry("b", "y"))
	// One that would take 2 GB of memory to open is not tried.
	dear := bytes.Replace(file, []byte(" 10\n"), []byte(" 21\n"), 1)
	for _, c := range []struct {
		name       string
		file       []byte
		passphrase string
		want       error
	}{
		{"a dear one", dear, "correct horse", ErrNotBackup},
		{"wrong passphrase", file, "correct house", ErrPassphrase},
		{"no passphrase", file, "", ErrPassphrase},
		{"nothing", nil, "correct horse", ErrNotBackup},
		{"another file", []byte(strings.Repeat("no backup at all\n", 100)), "correct horse", ErrNotBackup},
		{"more at the end", append(slices.Clone(file), "more"...), "correct horse", ErrDamaged},
	} {
		if _, _, err := read(c.file, c.passphrase); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
	// Wherever it is cut or altered, it is refused.
	rng := rand.New(rand.NewPCG(1, 2))
	for range 60 {
		at := rng.IntN(len(file))
		if _, _, err := read(file[:at], "correct horse"); err == nil {
			t.Errorf("cut at %d of %d it was taken for whole", at, len(file))
		}
		bad := slices.Clone(file)
		bad[at] ^= byte(1 + rng.IntN(255))
		if _, _, err := read(bad, "correct horse"); err == nil {
			t.Errorf("altered at %d it was taken for whole", at)
		}
	}
	if _, _, err := read(sealed(t, "hello"), "correct horse"); !errors.Is(err, ErrDamaged) {
		t.Errorf("an age file of something else: %v", err)
	}
}

// sealed is an age file of any content.
func sealed(t *testing.T, body string) []byte {
	t.Helper()
	to, err := age.NewScryptRecipient("correct horse")
	if err != nil {
		t.Fatal(err)
	}
	to.SetWorkFactor(WorkFactor)
	var b bytes.Buffer
	w, err := age.Encrypt(&b, to)
	if err == nil {
		_, err = io.WriteString(w, body)
	}
	if err = errors.Join(err, w.Close()); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestWhatCannotBeWritten(t *testing.T) {
	short := entry("a", "four")
	short.Bytes = 5
	broken := Entry{Name: "a", Open: func() (io.ReadCloser, error) { return nil, fmt.Errorf("the disk is gone") }}
	for name, entries := range map[string][]Entry{
		"a name twice":      {entry("a", ""), entry("a", "")},
		"a way out":         {entry("../a", "")},
		"a whole path":      {entry("/a", "")},
		"its own name":      {entry("about.json", "")},
		"shorter than said": {short},
		"not to be opened":  {broken},
	} {
		if err := Write(t.Context(), io.Discard, "correct horse", About{}, entries, nil); err == nil {
			t.Errorf("%s was written", name)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := Write(ctx, io.Discard, "correct horse", About{}, []Entry{entry("a", "b")}, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("after the end was asked for: %v", err)
	}
}

func FuzzRead(f *testing.F) {
	var b bytes.Buffer
	if err := Write(context.Background(), &b, "correct horse", About{Made: made}, []Entry{entry("a/b", "body")}, nil); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Add([]byte("age-encryption.org/v1\n"))
	f.Fuzz(func(t *testing.T, file []byte) {
		_, _, err := read(file, "correct horse")
		if err == nil && !bytes.Equal(file, b.Bytes()) {
			t.Error("an altered file was taken for whole")
		}
	})
}
