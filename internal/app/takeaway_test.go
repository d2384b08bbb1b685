package app

import (
	"path"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"pgregory.net/rapid"
)

func TestNamesEverySystemUnpacks(t *testing.T) {
	long := strings.Repeat("ä", 300)
	for from, want := range map[string]string{
		"side.mp4": "side.mp4", "Ä ö.mov": "Ä ö.mov", "CON": "file-CON", "con.mp4": "file-con.mp4", "NUL.tar.gz": "file-NUL.tar.gz", "Aux .mp4": "file-Aux .mp4",
		"COM1.mp4": "file-COM1.mp4", "lpt²": "file-lpt²", "CONIN$": "file-CONIN$", "console.mp4": "console.mp4", "COM10.mp4": "COM10.mp4",
		"a:b": "a-b", "a/../b": "a-..-b", "..": "file", "": "file", " . ": "file", "side.mp4. .": "side.mp4", "a\x00b\n": "a-b-", "\xff.mp4": "-.mp4",
		".CON.": "file-CON", "CON|": "CON-", long + ".mp4": strings.Repeat("ä", 98) + ".mp4",
	} {
		if got := zipName(from); got != want {
			t.Errorf("%q is named %q, want %q", from, got, want)
		}
	}
	taken := map[string]bool{}
	for _, c := range [][2]string{{"a.mp4", "a.mp4"}, {"A.MP4", "A-2.MP4"}, {"a.mp4", "a-3.mp4"}, {"a-2.mp4", "a-2-2.mp4"}, {"b", "b"}, {"b", "b-2"}} {
		if got := unlike(c[0], taken); got != c[1] {
			t.Errorf("%q beside what was there is named %q, want %q", c[0], got, c[1])
		}
	}
}

func TestAnyNameIsUnpacked(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		taken := map[string]bool{}
		seen := map[string]bool{}
		piece := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"CON", "nul", "a", "A", ".mp4", ".", " ", "..", "/", "com1", "-2"}))
		for range rapid.IntRange(1, 8).Draw(t, "names") {
			from := strings.Join(rapid.SliceOfN(piece, 0, 4).Draw(t, "name"), "")
			name := unlike(zipName(from), taken)
			stem := strings.ToLower(strings.TrimRight(strings.SplitN(name, ".", 2)[0], " "))
			reserved := map[string]bool{"con": true, "prn": true, "aux": true, "nul": true, "com1": true}
			switch {
			case name == "" || len(name) > 255 || !utf8.ValidString(name) || path.Base(name) != name,
				strings.ContainsAny(name, `<>:"/\|?*`) || strings.ContainsFunc(name, unicode.IsControl),
				strings.HasSuffix(name, ".") || strings.HasSuffix(name, " ") || strings.HasPrefix(name, "."),
				reserved[stem], seen[strings.ToLower(name)]:
				t.Fatalf("%q is named %q", from, name)
			}
			seen[strings.ToLower(name)] = true
		}
	})
}
