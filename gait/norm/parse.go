package norm

import (
	"bytes"
	"embed"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"sync"

	"gaitwright/gait/table"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/token"
	"github.com/santhosh-tekuri/jsonschema/v6"
)

// MaxBytes bounds a user's file of ranges.
const MaxBytes = 1 << 20

//go:embed ranges/*.yaml
var embedded embed.FS

//go:embed schema.json
var schemaJSON []byte

var schema = sync.OnceValue(func() *jsonschema.Schema {
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(schemaJSON))
	if err != nil {
		panic(err) // the schema is part of the program
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("ranges.json", doc); err != nil {
		panic(err)
	}
	return c.MustCompile("ranges.json")
})

// Schema returns the JSON Schema of files of ranges, for editors that check as
// one types.
func Schema() []byte { return bytes.Clone(schemaJSON) }

// withoutAliases refuses YAML that would grow when it is read.
func withoutAliases(data []byte) error {
	for _, t := range lexer.Tokenize(string(data)) {
		if t.Type == token.AliasType || t.Type == token.AnchorType {
			return fmt.Errorf("line %d: anchors and aliases are not used here; put a text that begins with & or * in quotes", t.Position.Line)
		}
	}
	return nil
}

// Parse reads a table from YAML and checks it: its shape against the schema, then
// every name, unit and range in it.
func Parse(data []byte) (*Table, error) {
	if len(data) > MaxBytes {
		return nil, fmt.Errorf("%d bytes are too many for a file of ranges (at most %d): is it the right file?", len(data), MaxBytes)
	}
	if err := withoutAliases(data); err != nil {
		return nil, err
	}
	asJSON, err := yaml.YAMLToJSON(data)
	if err != nil {
		return nil, fmt.Errorf("this is no well-formed YAML: %w", err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(asJSON))
	if err != nil {
		return nil, fmt.Errorf("this is no well-formed YAML: %w", err)
	}
	if err := schema().Validate(doc); err != nil {
		return nil, table.Faults(err, "file of reference ranges", map[string]string{"oneOf": "a row has either mean and sd, or low or high or both", "anyOf": "there are neither rows nor hide"})
	}
	var t Table
	if err := yaml.UnmarshalWithOptions(data, &t, yaml.Strict()); err != nil {
		return nil, fmt.Errorf("the ranges cannot be read: %w", err)
	}
	if err := t.check(); err != nil {
		return nil, err
	}
	return &t, nil
}

// Files returns the embedded YAML, by file name.
func Files() map[string][]byte {
	out := map[string][]byte{}
	names, err := fs.Glob(embedded, "ranges/*.yaml")
	if err != nil {
		panic(err) // the pattern is constant
	}
	for _, n := range names {
		b, err := embedded.ReadFile(n)
		if err != nil {
			panic(err) // the files are part of the program
		}
		out[strings.TrimPrefix(n, "ranges/")] = b
	}
	return out
}

// BuiltIn returns the embedded table.
var BuiltIn = sync.OnceValue(func() *Table {
	all := &Table{Name: "built in"}
	files := Files()
	names := make([]string, 0, len(files))
	for n := range files {
		names = append(names, n)
	}
	slices.Sort(names)
	for _, n := range names {
		t, err := Parse(files[n])
		if err != nil {
			panic(fmt.Sprintf("%s: %v", n, err)) // the files are part of the program
		}
		all.Rows = append(all.Rows, t.Rows...)
	}
	if err := all.check(); err != nil {
		panic(err)
	}
	return all
})

// Marshal writes the table as YAML that Parse reads.
func (t *Table) Marshal() ([]byte, error) { return yaml.MarshalWithOptions(t, yaml.Indent(2)) }
