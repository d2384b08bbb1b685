package app

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode/utf8"

	"gaitwright/gait/clip"
	"gaitwright/internal/keypoint"
	"gaitwright/internal/video"
)

// The formats that are read.
const (
	formatFilm = "film"
	formatC3D  = "c3d"
	formatTRC  = "trc"
	formatCSV  = "csv"
	formatJSON = "json"
)

// formatOf tells a file's format: by the ending of its name where it has one, as
// files named by a person do, and by its first bytes where it has none, as files
// named by their content do.
func formatOf(path string) string {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".c3d":
		return formatC3D
	case ".trc":
		return formatTRC
	case ".csv":
		return formatCSV
	case ".json":
		return formatJSON
	case "":
		f, err := os.Open(path)
		if err != nil {
			return formatFilm
		}
		defer f.Close()
		head := make([]byte, 512)
		n, err := io.ReadFull(f, head)
		if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
			return formatFilm
		}
		return sniffFormat(head[:n])
	}
	return formatFilm
}

// sniffFormat tells the format by the first bytes: the second byte of a C3D file
// is 80, a TRC file begins with PathFileType, and what else is readable text is a
// table of keypoints.
func sniffFormat(head []byte) string {
	text := bytes.TrimLeft(bytes.TrimPrefix(head, []byte("\xef\xbb\xbf")), " \t\r\n")
	switch {
	case bytes.HasPrefix(head, []byte("\x89PNG")), bytes.HasPrefix(head, []byte("%PDF")):
		return formatFilm // their second byte is 80 too; the reader of films says what they are
	case len(head) >= 2 && head[1] == 80 && head[0] >= 1 && !isText(head):
		return formatC3D
	case bytes.HasPrefix(text, []byte("PathFileType")):
		return formatTRC
	case !isText(head):
		return formatFilm
	case bytes.HasPrefix(text, []byte("{")):
		return formatJSON
	case bytes.HasPrefix(text, []byte("YUV4MPEG2")):
		return formatFilm
	case bytes.ContainsAny(text, ",;"):
		return formatCSV
	}
	return formatFilm // its reader says in words what it is not
}

// isText tells whether the bytes are text, but for a character cut off at the
// end.
func isText(head []byte) bool {
	if bytes.IndexByte(head, 0) >= 0 {
		return false
	}
	for len(head) > 0 {
		r, n := utf8.DecodeRune(head)
		if r == utf8.RuneError && n == 1 {
			return len(head) < utf8.UTFMax
		}
		if r < ' ' && r != '\n' && r != '\r' && r != '\t' {
			return false
		}
		head = head[n:]
	}
	return true
}

// tellFile reads what a kept file says of itself: its kind (film, markers or
// keypoints) and, for keypoints, the view. It refuses what cannot be measured.
func tellFile(ctx context.Context, path string) (kind string, p clipProbe, view string, err error) {
	p.Format = formatOf(path)
	switch p.Format {
	case formatC3D, formatTRC:
		m, err := readMarkers(path)
		if err != nil {
			return "", p, "", err
		}
		t := m.points.TimeS
		p.Frames = len(t)
		if n := len(t); n > 1 {
			p.DurationS = t[n-1] - t[0]
			p.RateHz = float64(n-1) / p.DurationS
		}
		p.Warnings = m.notes
		return "markers", p, "", nil
	case formatCSV, formatJSON:
		f, err := keypoint.Open(path)
		if err != nil {
			return "", p, "", fileProblem(path, err)
		}
		p.WidthPX, p.HeightPX, p.Frames, p.RateHz, p.DurationS = f.WidthPX, f.HeightPX, f.Track.Frames(), f.Track.RateHz(), f.Track.DurationS()
		if f.View != clip.UnknownView {
			view = f.View.String()
		}
		return "keypoints", p, view, nil
	}
	facts, err := video.Probe(ctx, path)
	if err != nil {
		return "", p, "", videoProblem(path, err)
	}
	p.WidthPX, p.HeightPX, p.Frames, p.RateHz, p.DurationS = facts.WidthPX, facts.HeightPX, facts.Frames(), facts.MedianHz, facts.DurationS
	if facts.Slowdown() > 1 {
		p.CaptureRateHz = facts.CaptureRateHz
	}
	p.Warnings = facts.Warnings
	return "film", p, "", nil
}

// filmEndings are the endings of names by which people and cameras say that a file is a
// film.
var filmEndings = []string{".mp4", ".mov", ".m4v", ".mkv", ".webm", ".avi", ".mts", ".m2ts", ".mpg", ".mpeg", ".3gp", ".wmv"}

// namedFilm puts into words that a file whose name says film holds text that cannot be
// read, where the reader of text would speak of tables and their columns.
func namedFilm(err error, name, format string) error {
	ending := strings.ToLower(filepath.Ext(name))
	var p *Problem
	if !errors.As(err, &p) || !slices.Contains(filmEndings, ending) || format != formatCSV && format != formatJSON && format != formatTRC {
		return err
	}
	return &Problem{Kind: p.Kind, File: p.File, What: "the name ends in " + ending + " as that of a film does, and what is in the file is text",
		Mend: "Give the film itself, as the phone or camera wrote it; where another program made this file, fetch the film again. A table of keypoints is given with a name that ends in .csv or .json.", Err: err}
}

// nameIn puts a clip's name in the place of the path under which its file is
// kept, in every sentence of an error. An empty name changes nothing.
func nameIn(err error, path, name string) error {
	var p *Problem
	if !errors.As(err, &p) || name == "" {
		return err
	}
	q := *p
	swap := func(s string) string {
		return strings.ReplaceAll(strings.ReplaceAll(s, path, name), filepath.Base(path), name)
	}
	q.File, q.What, q.Mend = swap(q.File), swap(q.What), swap(q.Mend)
	return &q
}
