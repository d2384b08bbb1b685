package web

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"strings"
	"sync"
)

// asset is one file of the built page, held ready both plain and compressed.
type asset struct {
	plain, packed []byte
	kind, tag     string
}

// page is the built page in memory, by path within the build.
type page map[string]asset

// kinds are the file types of a build; they are not left to the machine's own
// table, which may lack them.
var kinds = map[string]string{
	".html": "text/html; charset=utf-8",
	".js":   "text/javascript; charset=utf-8",
	".css":  "text/css; charset=utf-8",
	".svg":  "image/svg+xml",
	".json": "application/json",
}

func loadPage(dist fs.FS) page {
	p := page{}
	err := fs.WalkDir(dist, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		body, err := fs.ReadFile(dist, name)
		if err != nil {
			return err
		}
		kind := kinds[path.Ext(name)]
		if kind == "" {
			kind = mime.TypeByExtension(path.Ext(name))
		}
		p[name] = asset{plain: body, packed: pack(body, gzip.BestCompression), kind: kind, tag: tagOf(body)}
		return nil
	})
	if err == nil && p["index.html"].plain == nil {
		err = fmt.Errorf("index.html is missing")
	}
	if err != nil {
		panic("web: the embedded page cannot be read: " + err.Error())
	}
	return p
}

// serve answers with one file. Files under assets are named by their content
// and never change.
func (p page) serve(w http.ResponseWriter, r *http.Request, name string) {
	a, ok := p[name]
	if !ok {
		fail(w, http.StatusNotFound, "There is no such page here.")
		return
	}
	if strings.HasPrefix(name, "assets/") {
		w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	} else {
		w.Header().Set("Cache-Control", "no-cache")
	}
	send(w, r, a.kind, a.plain, a.packed, a.tag)
}

// send writes a body, compressed where packed is given and the browser takes it,
// or nothing where the browser has it already.
func send(w http.ResponseWriter, r *http.Request, kind string, plain, packed []byte, tag string) {
	h := w.Header()
	h.Set("ETag", tag)
	h.Set("Content-Type", kind)
	if packed != nil {
		h.Add("Vary", "Accept-Encoding")
	}
	if known(r, tag) {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	body := plain
	if packed != nil && len(packed) < len(plain) && takesGzip(r) {
		h.Set("Content-Encoding", "gzip")
		body = packed
	}
	h.Set("Content-Length", fmt.Sprint(len(body)))
	if r.Method != http.MethodHead {
		w.Write(body)
	}
}

func tagOf(body []byte) string {
	sum := sha256.Sum256(body)
	return `W/"` + hex.EncodeToString(sum[:12]) + `"`
}

// known tells whether the browser named tag as one it holds.
func known(r *http.Request, tag string) bool {
	for _, t := range strings.Split(r.Header.Get("If-None-Match"), ",") {
		if t = strings.TrimSpace(t); t == tag || t == "*" {
			return true
		}
	}
	return false
}

func takesGzip(r *http.Request) bool {
	for _, part := range strings.Split(r.Header.Get("Accept-Encoding"), ",") {
		name, weight, _ := strings.Cut(strings.TrimSpace(part), ";")
		if strings.EqualFold(strings.TrimSpace(name), "gzip") {
			return strings.ReplaceAll(weight, " ", "") != "q=0"
		}
	}
	return false
}

// packers keep what a compression works in, most of a megabyte, for the next one
// of the same level.
var packers [gzip.BestCompression + 1]sync.Pool

func pack(body []byte, level int) []byte {
	var b bytes.Buffer
	z, ok := packers[level].Get().(*gzip.Writer)
	if ok {
		z.Reset(&b)
	} else {
		var err error
		if z, err = gzip.NewWriterLevel(&b, level); err != nil {
			panic("web: " + err.Error())
		}
	}
	// A write to memory cannot fail.
	z.Write(body)
	z.Close()
	packers[level].Put(z)
	return b.Bytes()
}
