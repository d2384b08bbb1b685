package app

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gaitwright/internal/store"
)

func TestPassphrase(t *testing.T) {
	st, err := OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	ctx := t.Context()
	if has, err := st.HasPassphrase(ctx); has || err != nil {
		t.Errorf("a new studio has one: %v, %v", has, err)
	}
	if _, err := st.CheckPassphrase(ctx, ""); KindOf(err) != KindUsage {
		t.Errorf("checked before one was set: %v", err)
	}
	for _, weak := range []string{"", "short", "         ", strings.Repeat("a", 50), "abababababababab", "new\nline and more", "bell\aand more words", "\xff\xfe\xfd and more words", strings.Repeat("long words ", 30)} {
		if err := st.SetPassphrase(ctx, weak); KindOf(err) != KindUsage {
			t.Errorf("%q was taken: %v", weak, err)
		}
	}
	const right = "four Wörds of 山田 here"
	if err := st.SetPassphrase(ctx, right); err != nil {
		t.Fatal(err)
	}
	var kept string
	if err := st.readRecords(ctx, func(r store.Reader) (err error) { kept, err = r.Setting(settingPassphrase); return err }); err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(kept, "$argon2id$v=19$m=65536,t=3,p=4$") || strings.Contains(kept, "four") {
		t.Errorf("kept is %s", kept)
	}
	for text, want := range map[string]bool{
		right: true, " " + right + "\n": true,
		"four Wo\u0308rds of 山田 here": true, // the same letters, in two signs
		"four wörds of 山田 here":       false, "": false, right + "x": false, kept: false, strings.Repeat("x", 1<<20): false,
	} {
		if got, err := st.CheckPassphrase(ctx, text); got != want || err != nil {
			t.Errorf("%.40q: %v, %v, want %v", text, got, err, want)
		}
	}
	if err := st.SetPassphrase(ctx, "another four words"); err != nil {
		t.Fatal(err)
	}
	if got, _ := st.CheckPassphrase(ctx, right); got {
		t.Error("the old one still opens")
	}
}

// TestPHC reads a hash whose value was worked out elsewhere: the reference
// implementation's own test of Argon2id (P. H. C. test vectors, version 0x13,
// "password" and "somesalt", t=2, m=65536, p=1; from memory).
func TestPHC(t *testing.T) {
	const known = "$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc"
	c, salt, _, err := parsePHC(known)
	if err != nil {
		t.Fatal(err)
	}
	if got := c.phc(salt, c.tag("password", salt)); got != known {
		t.Errorf("the hash is %s, want %s", got, known)
	}
	for _, bad := range []string{"", "x", strings.Replace(known, "argon2id", "argon2i", 1), strings.Replace(known, "m=65536", "m=4294967295", 1), strings.Replace(known, "t=2", "t=0", 1),
		strings.Replace(known, "p=1", "p=0", 1), strings.Replace(known, "p=1", "p=256", 1), strings.Replace(known, "p=1", "p=1 ", 1), strings.Replace(known, "$c29", "$", 1), known + "A", known + "$"} {
		if _, _, _, err := parsePHC(bad); err == nil {
			t.Errorf("%s was read", bad)
		}
	}
}

func FuzzPHC(f *testing.F) {
	f.Add("$argon2id$v=19$m=65536,t=2,p=1$c29tZXNhbHQ$CTFhFdXPJO1aFaMaO6Mm5c8y7cJHAph8ArZWb2GRPPc")
	f.Add("$argon2id$v=19$m=8,t=1,p=1$$")
	f.Fuzz(func(t *testing.T, s string) {
		if c, salt, tag, err := parsePHC(s); err == nil && c.phc(salt, tag) != s {
			t.Errorf("%q is read as %q", s, c.phc(salt, tag))
		}
	})
}

func TestPHCIsReadAsWritten(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := cost{rapid.Uint32Range(2040, 1<<20).Draw(t, "m"), rapid.Uint32Range(1, 100).Draw(t, "t"), rapid.Uint8Range(1, 255).Draw(t, "p")}
		salt, tag := rapid.SliceOfN(rapid.Byte(), 8, 32).Draw(t, "salt"), rapid.SliceOfN(rapid.Byte(), tagBytes, tagBytes).Draw(t, "tag")
		c, s, g, err := parsePHC(want.phc(salt, tag))
		if err != nil || c != want || string(s) != string(salt) || string(g) != string(tag) {
			t.Fatalf("%v is read as %v, %v", want, c, err)
		}
	})
}
