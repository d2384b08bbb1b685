package app

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"gaitwright/internal/store"
)

// An earlier version kept each result as a folder named by the time. The folders
// are taken into the records when these are opened and are themselves left as
// they are; the name of each leads to the result ever after.
var folderPattern = regexp.MustCompile(`^[0-9]{8}-[0-9]{6}(-[0-9]+)?$`)

const (
	folderSession = "session.gob.gz" // in each folder
	takenIn       = "taken_in/"      // setting: the result a folder became, by its name
)

// takeInFolders takes in the folders that were not taken in yet, oldest first. A
// folder that cannot be read is left out and tried again the next time.
func (st *Studio) takeInFolders(r *records) error {
	ctx := context.Background()
	entries, err := os.ReadDir(st.dir)
	if err != nil {
		return err
	}
	var names []string
	for _, e := range entries {
		if e.IsDir() && folderPattern.MatchString(e.Name()) {
			names = append(names, e.Name())
		}
	}
	slices.SortFunc(names, byTimeAndNumber)
	var fresh []string
	err = r.Read(ctx, func(rd store.Reader) error {
		for _, n := range names {
			id, err := rd.Setting(takenIn + n)
			if err != nil {
				return err
			}
			if id == "" {
				fresh = append(fresh, n)
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	for _, name := range fresh {
		s, err := readFolder(filepath.Join(st.dir, name, folderSession))
		if err != nil {
			continue
		}
		result, err := st.newResult(ctx, r, s, resultPlace{})
		if err != nil {
			return err
		}
		err = r.Change(ctx, store.Deed{What: "Took in the result " + name}, func(w store.Writer) error {
			if err := w.PutResult(&result); err != nil {
				return err
			}
			return w.PutSetting(takenIn+name, result.ID)
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// byTimeAndNumber puts 20260314-092653 before 20260314-092653-2, and that before
// -10.
func byTimeAndNumber(a, b string) int {
	const stamp = len("20260314-092653")
	if c := strings.Compare(a[:stamp], b[:stamp]); c != 0 {
		return c
	}
	if c := len(a) - len(b); c != 0 {
		return c
	}
	return strings.Compare(a, b)
}

func readFolder(path string) (*Session, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	if i, err := f.Stat(); err != nil || !i.Mode().IsRegular() {
		return nil, errors.Join(err, fs.ErrInvalid)
	}
	return readSession(f, path)
}
