package norm

import (
	"embed"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"sync"

	"gaitwright/gait/table"

	"github.com/goccy/go-yaml"
)

// MaxBytes bounds a user's file of ranges.
const MaxBytes = 1 << 20

//go:embed ranges/*.yaml
var embedded embed.FS

//go:embed schema.json
var schemaJSON []byte

var rangesFile = table.NewFile("file of reference ranges", MaxBytes, schemaJSON, map[string]string{
	"oneOf": "a row has either mean and sd, or low or high or both", "anyOf": "there are neither rows nor hide"})

// Parse reads a table from YAML and checks it: its shape against the schema, then
// every name, unit and range in it.
func Parse(data []byte) (*Table, error) {
	var t Table
	if err := rangesFile.Read(data, &t); err != nil {
		return nil, err
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
