package app

import (
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"

	"gaitwright/gait/body"
	"gaitwright/gait/event"
	"gaitwright/gait/track"
)

// maxEditsBytes bounds an edits file; a result of half an hour has under 2 MB.
const maxEditsBytes = 64 << 20

// Edits are an analyst's corrections of one clip. A re-run keeps them. Frames
// are those of the file, so that they stay true where another part of it is used.
type Edits struct {
	Placed  []event.Contact // contacts placed or moved by hand
	Removed []event.Contact // found contacts that are none
	Moves   []Move          // landmarks placed by hand
	Swaps   []Swap          // frames whose left and right are exchanged
}

// Move is a landmark placed by hand in one frame of a film.
type Move struct {
	Landmark string  `json:"landmark"`
	Frame    int     `json:"frame"`
	X        float64 `json:"x"` // pixels of the picture, right and down
	Y        float64 `json:"y"`
	// Blend is how many frames before and after take a part of the shift.
	Blend int `json:"blend"`
	// ErrorPX is how well the point could be seen when it was placed, one
	// standard deviation in pixels; 0 where it was not told.
	ErrorPX float64 `json:"error_px,omitempty"`
}

// Swap exchanges left and right of the legs or arms in the frames From to To,
// both included.
type Swap struct {
	From int        `json:"from"`
	To   int        `json:"to"`
	Part track.Part `json:"part"`
}

// Empty tells whether there is no correction.
func (e Edits) Empty() bool {
	return len(e.Placed)+len(e.Removed)+len(e.Moves)+len(e.Swaps) == 0
}

// The bounds of what one clip's corrections may hold, well beyond what a person
// does by hand.
const (
	maxMoves    = 20000
	maxSwaps    = 2000
	maxContacts = 20000
	maxBlend    = 120
	maxFrame    = 10_000_000
	maxPlacePX  = 1e5
)

// check refuses corrections that cannot be meant.
func (e Edits) check() error {
	if len(e.Moves) > maxMoves || len(e.Swaps) > maxSwaps || len(e.Placed) > maxContacts || len(e.Removed) > maxContacts {
		return fmt.Errorf("there are more corrections than a clip can have (%d landmarks, %d exchanges, %d contacts)", len(e.Moves), len(e.Swaps), len(e.Placed)+len(e.Removed))
	}
	for i, m := range e.Moves {
		if _, err := body.ParseLandmark(m.Landmark); err != nil {
			return fmt.Errorf("placed landmark %d: %w", i+1, err)
		}
		switch {
		case m.Frame < 0 || m.Frame > maxFrame:
			return fmt.Errorf("placed landmark %d: frame %d cannot be", i+1, m.Frame)
		case m.Blend < 0 || m.Blend > maxBlend:
			return fmt.Errorf("placed landmark %d: a shift blends into 0 to %d frames on each side, not %d", i+1, maxBlend, m.Blend)
		case !(math.Abs(m.X) <= maxPlacePX) || !(math.Abs(m.Y) <= maxPlacePX):
			return fmt.Errorf("placed landmark %d: %v, %v is no place in a picture", i+1, m.X, m.Y)
		case !(m.ErrorPX >= 0) || m.ErrorPX > maxPlacePX:
			return fmt.Errorf("placed landmark %d: an error of %v pixels cannot be", i+1, m.ErrorPX)
		}
	}
	for i, s := range e.Swaps {
		if _, err := track.ParsePart(string(s.Part)); err != nil {
			return fmt.Errorf("exchange %d: %w", i+1, err)
		}
		if s.From < 0 || s.To < s.From || s.To > maxFrame {
			return fmt.Errorf("exchange %d: frames %d to %d are no range", i+1, s.From, s.To)
		}
	}
	for i, c := range slices.Concat(e.Placed, e.Removed) {
		if _, err := (PageContact{Side: c.Side.String(), InitialContactS: c.InitialContactS, ToeOffS: c.ToeOffS}).contact(); err != nil {
			return fmt.Errorf("contact %d: %w", i+1, err)
		}
	}
	return nil
}

// settled returns the corrections in their one plain form: exchanges that do not
// overlap, one place for a landmark and frame (the last), all in order.
func (e Edits) settled() Edits {
	out := Edits{Placed: slices.Clone(e.Placed), Removed: slices.Clone(e.Removed)}
	byTime := func(a, b event.Contact) int { return cmp.Compare(a.InitialContactS, b.InitialContactS) }
	slices.SortStableFunc(out.Placed, byTime)
	slices.SortStableFunc(out.Removed, byTime)
	last := map[Move]Move{}
	for _, m := range e.Moves {
		last[Move{Landmark: m.Landmark, Frame: m.Frame}] = m
	}
	for _, m := range last {
		out.Moves = append(out.Moves, m)
	}
	slices.SortFunc(out.Moves, func(a, b Move) int {
		return cmp.Or(cmp.Compare(a.Frame, b.Frame), cmp.Compare(a.Landmark, b.Landmark))
	})
	for _, part := range [...]track.Part{track.Legs, track.Arms} {
		// Where an odd number of exchanges begins or ends, the state changes.
		var edges []int
		for _, s := range e.Swaps {
			if s.Part == part {
				edges = append(edges, s.From, s.To+1)
			}
		}
		slices.Sort(edges)
		var turns []int
		for _, f := range edges {
			if n := len(turns); n > 0 && turns[n-1] == f {
				turns = turns[:n-1]
			} else {
				turns = append(turns, f)
			}
		}
		for i := 0; i+1 < len(turns); i += 2 {
			out.Swaps = append(out.Swaps, Swap{From: turns[i], To: turns[i+1] - 1, Part: part})
		}
	}
	return out
}

// corrections returns the placed landmarks for a track whose frame 0 is the
// file's frame first.
func (e Edits) corrections(first int) []track.Correction {
	out := make([]track.Correction, 0, len(e.Moves))
	for _, m := range e.Moves {
		if l, err := body.ParseLandmark(m.Landmark); err == nil {
			out = append(out, track.Correction{Landmark: l, Frame: m.Frame - first, X: m.X, Y: m.Y, Blend: m.Blend})
		}
	}
	return out
}

// exchanges returns the exchanges for a track whose frame 0 is the file's frame
// first.
func (e Edits) exchanges(first int) []track.Exchange {
	out := make([]track.Exchange, 0, len(e.Swaps))
	for _, s := range e.Swaps {
		out = append(out, track.Exchange{From: s.From - first, To: s.To - first, Part: s.Part})
	}
	return out
}

// words says what was corrected of the landmarks, for the clip's warnings.
func (e Edits) words() []string {
	var out []string
	if n := len(e.Moves); n > 0 {
		out = append(out, fmt.Sprintf("%s placed by hand", plural(n, "landmark was", "landmarks were")))
	}
	if len(e.Swaps) > 0 {
		n := 0
		for _, s := range e.Swaps {
			n += s.To - s.From + 1
		}
		out = append(out, fmt.Sprintf("left and right were exchanged by hand in %s", plural(n, "frame", "frames")))
	}
	return out
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
			Moves    []Move        `json:"placed_landmarks"`
			Swaps    []Swap        `json:"exchanges"`
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
		e.Moves, e.Swaps = c.Moves, c.Swaps
		if err := e.check(); err != nil {
			return nil, fmt.Errorf("clip %d: %w", i+1, err)
		}
		out[filepath.Base(c.File)] = e.settled()
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
