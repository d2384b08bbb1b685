package sqlite

import (
	"bytes"
	"compress/flate"
	"fmt"
	"io"

	"gaitwright/internal/store"
)

// pack makes the content for the journal: text as it is, or, where it is long,
// deflated bytes.
func pack(body []byte) any {
	if len(body) < deflateFrom {
		return string(body)
	}
	var b bytes.Buffer
	z, err := flate.NewWriter(&b, flate.BestSpeed)
	if err != nil {
		panic("sqlite: " + err.Error())
	}
	// A write to memory cannot fail.
	z.Write(body)
	z.Close()
	return b.Bytes()
}

// unpack undoes pack.
func unpack(v any) (string, error) {
	switch v := v.(type) {
	case string:
		return v, nil
	case []byte:
		body, err := io.ReadAll(io.LimitReader(flate.NewReader(bytes.NewReader(v)), maxBody+1))
		if err != nil {
			return "", fmt.Errorf("%w: the journal: %w", store.ErrDamaged, err)
		}
		return string(body), nil
	}
	return "", fmt.Errorf("%w: the journal lacks a content", store.ErrDamaged)
}

// hashes finds the names of files in a record: words of 64 hexadecimal digits.
func hashes(body []byte) []string {
	var out []string
	run := 0
	for i := 0; i <= len(body); i++ {
		if i < len(body) && isHex(body[i]) {
			run++
			continue
		}
		if run == 64 && (i == len(body) || !isLetter(body[i])) && (i == 64 || !isLetter(body[i-65])) {
			out = append(out, string(body[i-64:i]))
		}
		run = 0
	}
	return out
}

func isHex(c byte) bool    { return '0' <= c && c <= '9' || 'a' <= c && c <= 'f' }
func isLetter(c byte) bool { return 'a' <= c|0x20 && c|0x20 <= 'z' || '0' <= c && c <= '9' }
