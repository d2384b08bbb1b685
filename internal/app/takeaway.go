package app

import (
	"archive/zip"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"path"
	"regexp"
	"strings"
	"time"
	"unicode"

	"gaitwright/internal/store"
)

// runnerReadme explains what a runner takes away.
const runnerReadme = `What this studio keeps of %s, written on %s by %s.

runner.json           the person, and what was agreed to
visits/DATE/          one folder for each visit
  visit.json          the visit as the program shows it
  documents/          what was entered and worked out at each station, as kept
  clips/              films and other files, as they were taken in, unaltered
  results/            each measurement: measures.json and measures.csv with units,
                      sides and errors, and track-N.json, the landmarks of clip N
trail.csv             who saw and changed what, and when

JSON and CSV are open forms that any program can read. Numbers are in SI units,
angles in degrees. They are measurements of running, not a diagnosis.
`

// ExportRunner writes everything that is kept of one runner into a ZIP archive.
func (st *Studio) ExportRunner(ctx context.Context, w io.Writer, id string) error {
	kept, err := st.records()
	if err != nil {
		return err
	}
	runner, err := st.Runner(ctx, id)
	if err != nil {
		return err
	}
	z := zip.NewWriter(w)
	now := st.now()
	file := func(name string, method uint16) (io.Writer, error) {
		return z.CreateHeader(&zip.FileHeader{Name: name, Method: method, Modified: now})
	}
	putJSON := func(name string, v any) error {
		f, err := file(name, zip.Deflate)
		if err != nil {
			return err
		}
		e := json.NewEncoder(f)
		e.SetIndent("", "\t")
		e.SetEscapeHTML(false)
		return e.Encode(v)
	}
	f, err := file("README.txt", zip.Deflate)
	if err != nil {
		return err
	}
	if _, err := fmt.Fprintf(f, runnerReadme, runner.Name, now.Format("2 January 2006"), programName()); err != nil {
		return err
	}
	if err := putJSON("runner.json", runner); err != nil {
		return err
	}
	folders := map[string]int{}
	for _, v := range runner.Visits {
		dir := "visits/" + v.Date
		if folders[dir]++; folders[dir] > 1 {
			dir += fmt.Sprintf("-%d", folders[dir])
		}
		if err := st.exportVisit(ctx, kept, v.ID, dir, file, putJSON); err != nil {
			return fmt.Errorf("the visit of %s: %w", v.Date, err)
		}
	}
	lines, err := st.Trail(ctx, id)
	if err != nil {
		return err
	}
	if f, err = file("trail.csv", zip.Deflate); err != nil {
		return err
	}
	err = writeCSV(f, []string{"at", "who", "seen_or_done", "what", "undone_at", "undone_by"}, func(put func(...string)) error {
		for _, l := range lines {
			kind, undone := "done", ""
			if l.Saw {
				kind = "seen"
			}
			if l.UndoneAt != nil {
				undone = *l.UndoneAt
			}
			put(l.At, l.Who, kind, l.What, undone, l.UndoneBy)
		}
		return nil
	})
	if err != nil {
		return err
	}
	return z.Close()
}

func (st *Studio) exportVisit(ctx context.Context, kept *records, id, dir string, file func(string, uint16) (io.Writer, error), putJSON func(string, any) error) error {
	visit, err := st.Visit(ctx, id)
	if err != nil {
		return err
	}
	if err := putJSON(dir+"/visit.json", visit); err != nil {
		return err
	}
	var docs []store.Document
	var clips []store.Clip
	var results []store.Result
	err = kept.Read(ctx, func(r store.Reader) (err error) {
		if docs, err = r.DocumentsOf(id); err != nil {
			return err
		}
		if clips, err = r.ClipsOf(id); err != nil {
			return err
		}
		results, err = r.ResultsOf(id)
		return err
	})
	if err != nil {
		return recordProblem(err, "")
	}
	for _, d := range docs {
		name := d.Kind
		if d.Owner != id {
			name += "-" + d.Owner
		}
		if err := putJSON(dir+"/documents/"+zipName(name)+".json", d.Body); err != nil {
			return err
		}
	}
	taken := map[string]bool{}
	for _, c := range clips {
		from, err := kept.files.Open(c.Hash)
		if err != nil {
			continue // visit.json says that it is gone
		}
		name := unlike(zipName(c.Name), taken)
		to, err := file(dir+"/clips/"+name, zip.Store)
		if err == nil {
			_, err = io.Copy(to, contextReader{ctx, from})
		}
		from.Close()
		if err != nil {
			return err
		}
	}
	for _, one := range results {
		at := fmt.Sprintf("%s/results/%s-%s", dir, one.Created.Local().Format("2006-01-02-1504"), one.ID)
		s, err := st.loadKept(one.ID)
		if err != nil {
			return err
		}
		if err := putJSON(at+"/measures.json", s.Document()); err != nil {
			return err
		}
		f, err := file(at+"/measures.csv", zip.Deflate)
		if err != nil {
			return err
		}
		if err := s.WriteCSV(f); err != nil {
			return err
		}
		for n := range s.Clips {
			t, err := st.Track(one.ID, n)
			if err != nil {
				return err
			}
			if err := putJSON(fmt.Sprintf("%s/track-%d.json", at, n+1), t); err != nil {
				return err
			}
		}
	}
	return nil
}

// contextReader reads until the context ends.
type contextReader struct {
	ctx context.Context
	r   io.Reader
}

func (c contextReader) Read(p []byte) (int, error) {
	if err := c.ctx.Err(); err != nil {
		return 0, err
	}
	return c.r.Read(p)
}

// mostName is the longest name in bytes, with room for a number behind it; file systems
// take 255.
const mostName = 200

// deviceName is a name that Windows keeps for devices, with any ending and in any case
// (Microsoft, Naming Files, Paths, and Namespaces; from memory).
var deviceName = regexp.MustCompile(`(?i)^(con|prn|aux|nul|conin\$|conout\$|(com|lpt)[0-9¹²³]) *(\.|$)`)

// unlike makes a name one that is not taken yet, and takes it. Capitals alone are no
// difference to some systems.
func unlike(name string, taken map[string]bool) string {
	ending := path.Ext(name)
	one := name
	for n := 2; taken[strings.ToLower(one)]; n++ {
		one = fmt.Sprintf("%s-%d%s", strings.TrimSuffix(name, ending), n, ending)
	}
	taken[strings.ToLower(one)] = true
	return one
}

// zipName makes a name that every system can unpack.
func zipName(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || strings.ContainsRune(`<>:"/\|?*`, r) {
			return '-'
		}
		return r
	}, strings.ToValidUTF8(s, "-"))
	s = strings.Trim(s, ". ")
	if len(s) > mostName {
		ending := path.Ext(s)
		if len(ending) > 16 {
			ending = ""
		}
		s = strings.TrimRight(strings.ToValidUTF8(s[:mostName-len(ending)], ""), ". ") + ending
	}
	switch {
	case s == "":
		s = "file"
	case deviceName.MatchString(s):
		s = "file-" + s
	}
	return s
}

// ExportName is the name under which a runner's archive is saved.
func ExportName(runner string, at time.Time) string {
	return zipName(strings.Join(strings.Fields(runner), "-")) + "-" + at.Format(dayForm) + ".zip"
}
