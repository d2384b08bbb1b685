package sqlite

import (
	"bytes"
	"encoding/json"
	"fmt"
	"time"

	"gaitwright/internal/store"
)

// The forms are the content of records as kept: what changes here changes what
// later versions of the program must still read.

// keys are what a record is found by beside its ID.
type keys struct {
	parent, label, owner string
	at                   time.Time // zero: when it was made
}

type form interface{ keys() (keys, error) }

type runnerForm struct {
	Name            string  `json:"name"`
	Sex             string  `json:"sex,omitempty"`
	BornYear        int     `json:"born_year,omitempty"`
	HeightM         float64 `json:"height_m,omitempty"`
	MassKG          float64 `json:"mass_kg,omitempty"`
	LegLengthM      float64 `json:"leg_length_m,omitempty"`
	LegLengthHow    string  `json:"leg_length_how,omitempty"`
	ConsentFilming  string  `json:"consent_filming,omitempty"`
	ConsentRecords  string  `json:"consent_records,omitempty"`
	ConsentResearch string  `json:"consent_research,omitempty"`
	ConsentPlaces   string  `json:"consent_positions,omitempty"`
	Note            string  `json:"note,omitempty"`
}

type visitForm struct {
	Runner string   `json:"runner"`
	Date   string   `json:"date,omitempty"`
	Tags   []string `json:"tags,omitempty"`
	Note   string   `json:"note,omitempty"`
}

type clipForm struct {
	Visit       string          `json:"visit"`
	Name        string          `json:"name,omitempty"`
	Kind        string          `json:"kind,omitempty"`
	Hash        string          `json:"hash,omitempty"`
	Bytes       int64           `json:"bytes,omitempty"`
	Facts       json.RawMessage `json:"facts,omitempty"`
	Probe       json.RawMessage `json:"probe,omitempty"`
	Track       string          `json:"track,omitempty"`
	TrackedWith string          `json:"tracked_with,omitempty"`
}

type documentForm struct {
	Visit string          `json:"visit,omitempty"`
	Kind  string          `json:"kind"`
	Owner string          `json:"owner"`
	Body  json.RawMessage `json:"body,omitempty"`
}

type resultForm struct {
	Visit   string          `json:"visit,omitempty"`
	Clips   []string        `json:"clips,omitempty"`
	Runner  string          `json:"runner_name,omitempty"`
	Hash    string          `json:"hash,omitempty"`
	Summary json.RawMessage `json:"summary,omitempty"`
}

type runForm struct {
	Runner   string          `json:"runner"`
	Start    string          `json:"start,omitempty"`
	Name     string          `json:"name,omitempty"`
	Hash     string          `json:"hash"`
	Bytes    int64           `json:"bytes,omitempty"`
	Samples  string          `json:"samples,omitempty"`
	Original string          `json:"original,omitempty"`
	Use      string          `json:"use,omitempty"`
	Facts    json.RawMessage `json:"facts,omitempty"`
}

type jobForm struct {
	Visit   string          `json:"visit,omitempty"`
	Clip    string          `json:"clip,omitempty"`
	Kind    string          `json:"kind,omitempty"`
	Request json.RawMessage `json:"request,omitempty"`
	Share   float64         `json:"share,omitempty"`
	Message string          `json:"message,omitempty"`
	Started string          `json:"started,omitempty"`
	Ended   string          `json:"ended,omitempty"`
	Outcome string          `json:"outcome,omitempty"`
	Broken  int             `json:"broken,omitempty"`
}

func (f *runnerForm) keys() (keys, error) { return keys{}, nil }
func (f *visitForm) keys() (keys, error) {
	at, err := parseTime(f.Date)
	return keys{parent: f.Runner, at: at}, err
}
func (f *clipForm) keys() (keys, error) { return keys{parent: f.Visit}, nil }
func (f *documentForm) keys() (keys, error) {
	return keys{parent: f.Visit, label: f.Kind, owner: f.Owner}, nil
}
func (f *resultForm) keys() (keys, error) { return keys{parent: f.Visit}, nil }
func (f *runForm) keys() (keys, error) {
	at, err := parseTime(f.Start)
	return keys{parent: f.Runner, owner: f.Hash, at: at}, err
}

// formOf gives an empty form of a kind.
func formOf(kind store.Kind) (form, error) {
	switch kind {
	case store.KindRunner:
		return &runnerForm{}, nil
	case store.KindVisit:
		return &visitForm{}, nil
	case store.KindClip:
		return &clipForm{}, nil
	case store.KindDocument:
		return &documentForm{}, nil
	case store.KindResult:
		return &resultForm{}, nil
	case store.KindRun:
		return &runForm{}, nil
	}
	return nil, fmt.Errorf("%q is not a kind of record", kind)
}

// maxBody bounds one record; what is larger belongs into a file.
const maxBody = 32 << 20

func encode(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		return nil, fmt.Errorf("the record cannot be written down: %w", err)
	}
	if b.Len() > maxBody {
		return nil, fmt.Errorf("the record is larger than %d MB; keep large things as files", maxBody>>20)
	}
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), nil
}

func decode(id, body string, v any) error {
	if err := json.Unmarshal([]byte(body), v); err != nil {
		return fmt.Errorf("%w: record %s: %w", store.ErrDamaged, id, err)
	}
	return nil
}

// timeText writes a time with its zone; the zero time is empty.
func timeText(t time.Time) (string, error) {
	if t.IsZero() {
		return "", nil
	}
	if _, offset := t.Zone(); offset%60 != 0 {
		t = t.UTC() // the form knows no seconds of a zone
	}
	if y := t.Year(); y < 1 || y > 9999 {
		return "", fmt.Errorf("the year %d is not one of the calendar's; give the date as year, month and day", y)
	}
	text, err := t.MarshalText()
	if err != nil {
		return "", fmt.Errorf("the date %v cannot be kept: %w", t, err)
	}
	return string(text), nil
}

func parseTime(text string) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	return time.Parse(time.RFC3339Nano, text)
}

// times converts several, and keeps the first error.
type times struct{ err error }

func (c *times) text(t time.Time) string {
	s, err := timeText(t)
	if c.err == nil {
		c.err = err
	}
	return s
}

func (c *times) parse(text string) time.Time {
	t, err := parseTime(text)
	if c.err == nil {
		c.err = err
	}
	return t
}

// micro turns a kept time into one.
func micro(us int64) time.Time { return time.UnixMicro(us).UTC() }

// deflateFrom is the length from which past contents are packed.
const deflateFrom = 1 << 10
