package table

import (
	"bytes"
	"fmt"
	"sync"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/token"
	"github.com/santhosh-tekuri/jsonschema/v6"
)

// File is a kind of YAML file that people write too.
type File struct {
	what     string
	maxBytes int
	schema   func() *jsonschema.Schema // nil for a kind without one
	choices  map[string]string
}

// NewFile describes a kind of file: what names it, such as "file of reference
// ranges"; maxBytes bounds one; schemaJSON is its JSON Schema, nil for none; choices
// is as in Faults. A schema that is none panics at the first Read.
func NewFile(what string, maxBytes int, schemaJSON []byte, choices map[string]string) *File {
	f := &File{what: what, maxBytes: maxBytes, choices: choices}
	if schemaJSON != nil {
		f.schema = sync.OnceValue(func() *jsonschema.Schema {
			doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(schemaJSON))
			if err != nil {
				panic(err) // the schema is part of the program
			}
			c := jsonschema.NewCompiler()
			if err := c.AddResource("schema.json", doc); err != nil {
				panic(err)
			}
			return c.MustCompile("schema.json")
		})
	}
	return f
}

// Read reads a file into a struct, strictly: one within its bound, without anchors and
// aliases (with them a small file could grow without end), of the schema's shape, and
// with no name that the struct lacks.
func (f *File) Read(data []byte, into any) error {
	if len(data) > f.maxBytes {
		return fmt.Errorf("%d bytes are too many for a %s (at most %d): is it the right file?", len(data), f.what, f.maxBytes)
	}
	for _, t := range lexer.Tokenize(string(data)) {
		if t.Type == token.AliasType || t.Type == token.AnchorType {
			return fmt.Errorf("line %d: a %s has no anchors and aliases; put a text that begins with & or * in quotes", t.Position.Line, f.what)
		}
	}
	if f.schema != nil {
		asJSON, err := yaml.YAMLToJSON(data)
		if err != nil {
			return fmt.Errorf("this is no well-formed YAML: %w", err)
		}
		doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(asJSON))
		if err != nil {
			return fmt.Errorf("this is no well-formed YAML: %w", err)
		}
		if err := f.schema().Validate(doc); err != nil {
			return Faults(err, f.what, f.choices)
		}
	}
	if err := yaml.UnmarshalWithOptions(data, into, yaml.Strict()); err != nil {
		return fmt.Errorf("the %s cannot be read: %w", f.what, err)
	}
	return nil
}
