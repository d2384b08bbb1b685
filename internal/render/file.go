package render

import (
	"bytes"
	"fmt"
	"html"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// FileDPI is how fine a PNG written by WriteFile is.
const FileDPI = 150

// Kinds lists the endings of file names that WriteFile knows.
var Kinds = []string{".pdf", ".html", ".svg", ".png"}

// WritePDF writes the report as a PDF of one page.
func (r *Report) WritePDF(w io.Writer) error {
	p, err := r.Page()
	if err != nil {
		return err
	}
	return p.WritePDF(w, r.Made)
}

// WriteSVG writes the report as a stand-alone SVG.
func (r *Report) WriteSVG(w io.Writer) error {
	p, err := r.Page()
	if err != nil {
		return err
	}
	return p.WriteSVG(w)
}

// WritePNG writes the report as a picture.
func (r *Report) WritePNG(w io.Writer, dpi float64) error {
	p, err := r.Page()
	if err != nil {
		return err
	}
	return p.WritePNG(w, dpi)
}

// WriteHTML writes the report as a web page that needs nothing else: the same
// sheet, its text to be read, searched and copied, its pictures within. Printed,
// it fills one sheet.
func (r *Report) WriteHTML(w io.Writer) error {
	p, err := r.Page()
	if err != nil {
		return err
	}
	return p.WriteHTML(w)
}

// WriteHTML writes the page as a web page that needs nothing else.
func (p *Page) WriteHTML(w io.Writer) error {
	var svg bytes.Buffer
	if err := p.WriteInlineSVG(&svg); err != nil {
		return err
	}
	_, err := fmt.Fprintf(w, `<!doctype html>
<html lang="en">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>%s</title>
<style>
@page { size: %spt %spt; margin: 0; }
body { margin: 0; background: #dfe4e2; }
main { max-width: 60rem; margin: 1.5rem auto; background: #fff; box-shadow: 0 1px 8px #0003; }
main > svg { display: block; width: 100%%; height: auto; }
@media (max-width: 62rem) { main { margin: 0; box-shadow: none; } }
@media print { body { background: none; } main { margin: 0; max-width: none; width: %spt; box-shadow: none; } }
</style>
<main>
%s</main>
</html>
`, html.EscapeString(p.Title), num(p.Size.W), num(p.Size.H), num(p.Size.W), svg.String())
	return err
}

// WriteFile writes the report in the form that the ending of the path names:
// .pdf, .html, .svg or .png. The file appears whole or not at all.
func (r *Report) WriteFile(path string) error {
	if err := knownKind(path); err != nil {
		return err
	}
	p, err := r.Page()
	if err != nil {
		return err
	}
	return p.WriteFile(path, r.Made)
}

// WriteFile writes the page in the form that the ending of the path names; made
// is the date a PDF carries.
func (p *Page) WriteFile(path string, made time.Time) error {
	if err := knownKind(path); err != nil {
		return err
	}
	return whole(path, func(w io.Writer) error {
		switch kind(path) {
		case ".pdf":
			return p.WritePDF(w, made)
		case ".svg":
			return p.WriteSVG(w)
		case ".png":
			return p.WritePNG(w, FileDPI)
		default:
			return p.WriteHTML(w)
		}
	})
}

func kind(path string) string {
	k := strings.ToLower(filepath.Ext(path))
	if k == ".htm" {
		return ".html"
	}
	return k
}

func knownKind(path string) error {
	for _, k := range Kinds {
		if kind(path) == k {
			return nil
		}
	}
	return fmt.Errorf("%s: the kind of file is not known; end its name in %s", path, strings.Join(Kinds, ", "))
}

// whole writes beside the path and moves the result there when it is complete.
func whole(path string, write func(io.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return fmt.Errorf("%s cannot be written: %w", path, err)
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	if err := write(f); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if err := f.Chmod(0o644); err != nil {
		return fmt.Errorf("%s cannot be written: %w", path, err)
	}
	if err := f.Sync(); err != nil {
		return fmt.Errorf("%s cannot be written: %w", path, err)
	}
	if err := f.Close(); err != nil {
		return fmt.Errorf("%s cannot be written: %w", path, err)
	}
	return os.Rename(f.Name(), path)
}
