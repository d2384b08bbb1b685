package storetest

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"
)

// try gives the value, and panics on an error: within Read and Change that ends
// the test.
func try[T any](v T, err error) T {
	if err != nil {
		panic(fmt.Sprintf("storetest: %v", err))
	}
	return v
}

// second is the error alone.
func second[T any](_ T, err error) error { return err }

// same compares what two values say: times by their moment, JSON by its meaning,
// and an empty list is none.
func same(t testing.TB, want, got any) {
	t.Helper()
	if w, g := plain(want), plain(got); w != g {
		t.Errorf("got  %s\nwant %s", g, w)
	}
}

// plain writes a value so that equal ones are written alike.
func plain(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		panic(err)
	}
	d := json.NewDecoder(bytes.NewReader(b))
	d.UseNumber()
	var tree any
	if err := d.Decode(&tree); err != nil {
		panic(err)
	}
	b, err = json.Marshal(level(tree))
	if err != nil {
		panic(err)
	}
	return string(b)
}

// level makes times of one zone and empty lists none.
func level(v any) any {
	switch v := v.(type) {
	case map[string]any:
		for k, x := range v {
			v[k] = level(x)
		}
		return v
	case []any:
		if len(v) == 0 {
			return nil
		}
		for i, x := range v {
			v[i] = level(x)
		}
		return v
	case string:
		return moment(v)
	}
	return v
}

func nan() float64 { return math.NaN() }

// hash is an invented name of a file.
func hash(n int) string { return fmt.Sprintf("%064x", n+0xabc0000) }

// long is a text made to be a burden.
func long(s string) string { return strings.Repeat(s, 1<<18/len(s)) }
