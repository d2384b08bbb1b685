package table

import (
	"strings"
	"testing"
)

const thingsSchema = `{"type": "object", "required": ["rows"], "properties": {"rows": {"type": "array", "items": {"oneOf": [{"type": "number"}, {"type": "boolean"}]}}}}`

func TestFileIsReadStrictly(t *testing.T) {
	with := NewFile("table of things", 60, []byte(thingsSchema), map[string]string{"oneOf": "a thing is a number, or true or false"})
	without := NewFile("table of things", 60, nil, nil)
	type things struct {
		Rows []any `yaml:"rows"`
	}
	for _, x := range []struct{ text, shaped, plain string }{
		{"rows: [1, true]", "", ""},
		{"rows: [some]", "rows, entry 1: a thing is a number, or true or false", ""},
		{"more: 1", "the file as a whole: missing: rows", `unknown field "more"`},
		{"rows: [1]\nmore: 1", `unknown field "more"`, `unknown field "more"`}, // the schema lets it through, the struct does not
		{"rows: [1]\nrows: [2]", "rows", "rows"},
		{"rows: &a [1]", "line 1: a table of things has no anchors and aliases", "line 1: a table of things has no anchors and aliases"},
		{"# none\nrows: [*a]", "line 2: a table of things has no anchors", "line 2: a table of things has no anchors"},
		{"rows: [", "no well-formed YAML", "cannot be read"},
		{"", "the file as a whole: here stands nothing", ""},
		{"rows: [1] #" + strings.Repeat("-", 50), "61 bytes are too many for a table of things (at most 60)", "61 bytes are too many for a table of things (at most 60)"},
	} {
		for want, f := range map[*string]*File{&x.shaped: with, &x.plain: without} {
			var got things
			err := f.Read([]byte(x.text), &got)
			if *want == "" && err != nil || *want != "" && (err == nil || !strings.Contains(err.Error(), *want)) {
				t.Errorf("%q (schema %v): %v, want %q", x.text, f == with, err, *want)
			}
		}
	}
	var got things
	if err := with.Read([]byte("rows: [1, true]"), &got); err != nil || len(got.Rows) != 2 || got.Rows[1] != true {
		t.Errorf("read %v, %v", got, err)
	}
}

func FuzzFileRead(f *testing.F) {
	kind := NewFile("table of things", 1<<16, []byte(thingsSchema), nil)
	f.Add([]byte("rows: [1, true]"))
	f.Add([]byte("rows:\n  - &a 1\n  - *a"))
	f.Fuzz(func(t *testing.T, data []byte) {
		var into struct {
			Rows []any `yaml:"rows"`
		}
		if kind.Read(data, &into) != nil {
			return
		}
		for _, r := range into.Rows {
			switch r.(type) {
			case bool, uint64, int64, float64:
			default:
				t.Errorf("%q: the schema lets %T through", data, r)
			}
		}
	})
}
