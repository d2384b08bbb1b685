package table

import (
	"errors"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// Each fault is said in plain words with its place; what is no fault of a schema
// stays as it is.
func TestFaultsInPlainWords(t *testing.T) {
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(`{"type": "object", "additionalProperties": false, "required": ["rows"], "properties": {"rows": {"type": "array", "items":
		{"type": "object", "required": ["id"], "properties": {"id": {"type": "string", "pattern": "^[a-z]+$"}, "tag": {"enum": ["seen", "computed"]}, "size": {"oneOf": [{"type": "number"}, {"type": "boolean"}]}}}}}}`))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("t.json", doc); err != nil {
		t.Fatal(err)
	}
	schema := c.MustCompile("t.json")
	for _, x := range []struct{ file, want string }{
		{`{"rows": [{"id": 7}]}`, "rows, entry 1, id: here stands a number; a text is wanted"},
		{`{"rows": [{}]}`, "rows, entry 1: missing: id"},
		{`{}`, "the file as a whole: missing: rows"},
		{`{"rows": [], "more": 1}`, "the file as a whole: more: not a name that is used here"},
		{`{"rows": [{"id": "A b"}]}`, `rows, entry 1, id: "A b" cannot be a name here`},
		{`{"rows": [{"id": "a", "tag": "guessed"}]}`, "rows, entry 1, tag: guessed is none of seen, computed"},
		{`{"rows": [{"id": "a", "size": "big"}]}`, "rows, entry 1, size: a size is a number, or true or false"},
	} {
		v, err := jsonschema.UnmarshalJSON(strings.NewReader(x.file))
		if err != nil {
			t.Fatal(err)
		}
		got := Faults(schema.Validate(v), "table of things", map[string]string{"oneOf": "a size is a number, or true or false"})
		if got == nil || !strings.HasPrefix(got.Error(), "this is no table of things, or has faults:\n  ") || !strings.Contains(got.Error(), x.want) {
			t.Errorf("%s: %v, want %q", x.file, got, x.want)
		}
	}
	if other := errors.New("no room"); Faults(other, "table", nil) != other {
		t.Error("another error was changed")
	}
}
