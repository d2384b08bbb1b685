package app

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"sync"

	"gaitwright/internal/store"
)

// proposal is what was reasoned over a result, in short: to open a visit it is not
// measured again with its corrections, which takes a second for a long film.
type proposal struct {
	Key   string   `json:"k"` // of all that it follows from
	Names []string `json:"f"` // of the findings, the weightiest first
}

// proposedNow are the findings that a visit gives to decide as things stand: a test or
// a correction may have changed what there is since something was decided.
func (st *Studio) proposedNow(ctx context.Context, kept *records, f *visitRecords) ([]string, error) {
	result := f.results[0].ID
	var d digest
	err := kept.Read(ctx, func(r store.Reader) (err error) { d, err = digestIn(r, result); return err })
	if err != nil {
		return nil, err
	}
	if key, err := f.reasonsKey(); err == nil && d.Proposal != nil && d.Proposal.Key == key {
		return d.Proposal.Names, nil
	}
	now, err := st.reason(ctx, f.visit.ID)
	if err != nil {
		return nil, err
	}
	names := proposed(now.report)
	if len(now.results) == 0 || now.results[0].ID != result {
		return names, nil // measured anew meanwhile
	}
	key, err := now.reasonsKey()
	if err != nil {
		return names, nil
	}
	// It is not kept where that fails, or where the numbers in short are not there yet:
	// the next time it is reasoned again.
	_ = kept.Change(ctx, store.Deed{}, func(w store.Writer) error {
		d, err := digestIn(w, result)
		if err != nil || d.Version != digestVersion {
			return err
		}
		d.Proposal = &proposal{key, names}
		return w.PutDigest(result, rawJSON(d))
	})
	return names, nil
}

// digestIn returns a result's numbers in short, the zero value where it has none.
func digestIn(r store.Reader, result string) (digest, error) {
	var d digest
	err := r.EachDigest([]string{result}, func(_ string, body []byte) error { return json.Unmarshal(body, &d) })
	return d, err
}

// reasonsKey differs whenever something did that the findings of a visit follow from:
// the newest result and its corrections, the exam, what was told, the rules and ranges
// in use, the program itself.
func (f *visitRecords) reasonsKey() (string, error) {
	h := sha256.New()
	build, err := thisBuild()
	if err != nil {
		return "", err
	}
	var tests map[string]PageExamEntry
	if f.exam != nil {
		tests = f.exam.Entries
	}
	told, err := json.Marshal([]any{build, f.results[0].ID, f.results[0].Hash, f.corrections[f.results[0].ID], tests, f.intake.told()})
	if err != nil {
		return "", err
	}
	h.Write(told)
	for _, own := range []string{RulesFile(), NormsFile()} {
		if err := hashIfThere(h, own); err != nil {
			return "", err
		}
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

func hashIfThere(h io.Writer, path string) error {
	fmt.Fprintf(h, "\n%s\n", path)
	if err := hashFile(h, path); !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

// thisBuild tells one build of the program from another; two may bear one version.
var thisBuild = sync.OnceValues(func() (string, error) {
	self, err := os.Executable()
	if err != nil {
		return "", err
	}
	i, err := os.Stat(self)
	if err != nil {
		return "", err
	}
	return fmt.Sprintf("%s %d %d", Version, i.Size(), i.ModTime().UnixNano()), nil
})
