package app

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"gaitwright/gait/body"
	"gaitwright/gait/event"
)

// maxEditsBytes bounds an edits file; a result of half an hour has under 2 MB.
const maxEditsBytes = 64 << 20

// Edits are an analyst's corrections of the contacts of one clip: contacts
// placed or moved by hand, and found contacts that are none. A re-run keeps them.
type Edits struct {
	Placed  []event.Contact
	Removed []event.Contact
}

// readEdits reads the corrections out of a result written by --json (and edited
// by hand or by another program): in each clip the contacts whose "edited" is
// true, and those listed as "removed_contacts". The key is the name of the
// clip's file without its folder.
func readEdits(path string) (map[string]Edits, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, &Problem{Kind: KindUsage, File: path, What: "the corrections cannot be read: " + err.Error(), Mend: "Name a result that was written with --json.", Err: err}
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxEditsBytes))
	if err != nil {
		return nil, err
	}
	out, err := parseEdits(data)
	if err != nil {
		return nil, &Problem{Kind: KindUsage, File: path, What: err.Error(), Mend: "Name a result that was written with --json, with \"edited\": true on the contacts that were corrected.", Err: err}
	}
	return out, nil
}

func parseEdits(data []byte) (map[string]Edits, error) {
	var doc struct {
		Clips []struct {
			File     string        `json:"file"`
			Contacts []PageContact `json:"contacts"`
			Removed  []PageContact `json:"removed_contacts"`
		} `json:"clips"`
	}
	if err := json.Unmarshal(data, &doc); err != nil {
		return nil, fmt.Errorf("this is not a result of gaitwright: %w", err)
	}
	out := map[string]Edits{}
	for i, c := range doc.Clips {
		if c.File == "" {
			return nil, fmt.Errorf("clip %d names no file", i+1)
		}
		var e Edits
		for k, p := range c.Contacts {
			if !p.Edited {
				continue
			}
			contact, err := p.contact()
			if err != nil {
				return nil, fmt.Errorf("clip %d, contact %d: %w", i+1, k+1, err)
			}
			e.Placed = append(e.Placed, contact)
		}
		for k, p := range c.Removed {
			contact, err := p.contact()
			if err != nil {
				return nil, fmt.Errorf("clip %d, removed contact %d: %w", i+1, k+1, err)
			}
			e.Removed = append(e.Removed, contact)
		}
		out[filepath.Base(c.File)] = e
	}
	return out, nil
}

// contact turns the written form back; it checks side and times.
func (p PageContact) contact() (event.Contact, error) {
	side, err := body.ParseSide(p.Side)
	if err != nil || side == body.NoSide {
		return event.Contact{}, fmt.Errorf("side %q must be left or right", p.Side)
	}
	d := p.ToeOffS - p.InitialContactS
	if !(d > 0.03) || d > 1.5 {
		return event.Contact{}, fmt.Errorf("a contact from %.3f to %.3f s cannot be: it must last 0.03 to 1.5 s", p.InitialContactS, p.ToeOffS)
	}
	return event.Contact{Side: side, InitialContactS: p.InitialContactS, ToeOffS: p.ToeOffS, Edited: true}, nil
}

// apply lays the corrections over freshly found contacts.
func (e Edits) apply(fresh event.Series) event.Series {
	if len(e.Placed) == 0 && len(e.Removed) == 0 {
		return fresh
	}
	kept := fresh
	kept.Contacts = nil
	for _, c := range fresh.Contacts {
		gone := false
		for _, r := range e.Removed {
			gone = gone || c.Side == r.Side && c.InitialContactS < r.ToeOffS && r.InitialContactS < c.ToeOffS
		}
		if !gone {
			kept.Contacts = append(kept.Contacts, c)
		}
	}
	out := event.Merge(e.Placed, kept)
	out.Notes = append(out.Notes, fmt.Sprintf("%d contacts placed and %d removed by hand", len(e.Placed), len(e.Removed)))
	return out
}
