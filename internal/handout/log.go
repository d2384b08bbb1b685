package handout

import (
	"bytes"
	"crypto/sha256"
	"encoding/base32"
	"encoding/json"
	"fmt"
	"hash/crc32"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"gaitwright/gait/programme"
)

// Bounds of a log.
const (
	MaxLogBytes = 256 << 10
	maxDays     = 400
	maxDone     = 80
	maxNote     = 1000
)

// Log is what the runner entered.
type Log struct {
	Format int    `json:"gaitwright_log"`
	Visit  string `json:"visit"`
	Sheet  string `json:"sheet"`
	Days   []Day  `json:"days"`
	// Unknown counts exercises of a code that no library has.
	Unknown int `json:"-"`
	// Short says that it came as a code of an earlier sheet, which holds no notes.
	Short bool `json:"-"`
}

// Day is one day of it. What was not entered is nil.
type Day struct {
	Date    string   `json:"date"`
	Done    []string `json:"done"` // exercise/side
	Ran     bool     `json:"ran"`
	RunMin  *float64 `json:"run_min"`
	Pain    *int     `json:"pain"`     // the worst, 0 to 10
	NextDay bool     `json:"next_day"` // not gone by the next morning
	Bone    bool     `json:"bone"`     // pin-point on a bone
	Effort  *int     `json:"effort"`   // of the run, 0 to 10
	PerMin  *float64 `json:"per_min"`  // counted, steps a minute of both feet
	Note    string   `json:"note"`
}

// codeOf is a short name of an exercise and side.
func codeOf(id string) string {
	s := sha256.Sum256([]byte(id))
	return base32.StdEncoding.EncodeToString(s[:5])[:4]
}

// ParseLog reads a log, as the file or as the code that the page shows, whole or as
// the parts of its QR codes; lib names
// the exercises of a code. Everything that cannot be meant is refused.
func ParseLog(text []byte, lib *programme.Library) (Log, error) {
	if len(text) > MaxLogBytes {
		return Log{}, fmt.Errorf("a log has at most %d kB; this has %d", MaxLogBytes>>10, len(text)>>10)
	}
	text = bytes.TrimSpace(bytes.TrimPrefix(text, []byte("\xef\xbb\xbf")))
	var l Log
	var err error
	switch {
	case len(text) == 0:
		return l, fmt.Errorf("the log is empty")
	case text[0] == '{':
		l, err = parseFile(text)
	default:
		var code string
		if code, err = joinParts(string(text)); err == nil {
			l, err = parseCode(code, lib)
		}
	}
	if err != nil {
		return Log{}, err
	}
	return l, l.check()
}

func parseFile(text []byte) (Log, error) {
	var l Log
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(&l); err != nil {
		return l, fmt.Errorf("this is no log of the homework: %w", err)
	}
	if _, err := d.Token(); err != io.EOF {
		return l, fmt.Errorf("something follows after the end of the log")
	}
	if l.Format != 1 {
		return l, fmt.Errorf("this is no log of the homework (or one of a later version)")
	}
	return l, nil
}

// maxParts bounds into how many QR codes one log is cut.
const maxParts = 99

// joinParts joins the parts of a code, GW2:number/of:sum:piece, in any order and one
// of them even twice, to GW1:…:sum; sum is that of all pieces joined. A code that is
// in one piece is given back as it is.
func joinParts(text string) (string, error) {
	text = strings.ToUpper(strings.Join(strings.Fields(text), ""))
	if !strings.HasPrefix(text, "GW2:") {
		return text, nil
	}
	var pieces []string
	sum := ""
	for _, part := range strings.Split(text, "GW2:")[1:] {
		f := strings.SplitN(part, ":", 3)
		var k, n int
		if len(f) == 3 {
			number, of, _ := strings.Cut(f[0], "/")
			k, _ = strconv.Atoi(number)
			n, _ = strconv.Atoi(of)
		}
		if k < 1 || n < k || n > maxParts || len(f[1]) != 8 {
			return "", fmt.Errorf("a part of the code (%.20q) cannot be read: scan it again", part)
		}
		if pieces == nil {
			pieces, sum = make([]string, n), f[1]
		}
		if n != len(pieces) || f[1] != sum {
			return "", fmt.Errorf("these are parts of two codes: scan those of one")
		}
		pieces[k-1] = f[2]
	}
	var missing []string
	for i, p := range pieces {
		if p == "" {
			missing = append(missing, strconv.Itoa(i+1))
		}
	}
	if len(missing) > 0 {
		return "", fmt.Errorf("of %d parts of the code these are missing: %s", len(pieces), strings.Join(missing, ", "))
	}
	return strings.Join(pieces, "") + ":" + sum, nil
}

// parseCode reads GW1:visit:sheet:day:…:sum with days of
// YYMMDD.minutes.pain.flags.effort.rate.exercises.note; a dash is not entered, the
// note is in base 32 and was not written by earlier sheets.
func parseCode(text string, lib *programme.Library) (Log, error) {
	cut := strings.LastIndex(text, ":")
	if !strings.HasPrefix(text, "GW1:") || cut < 4 {
		return Log{}, fmt.Errorf("this is neither a log file nor a code of the homework; a code begins with GW1")
	}
	if got, want := text[cut+1:], fmt.Sprintf("%08X", crc32.ChecksumIEEE([]byte(text[:cut]))); got != want {
		return Log{}, fmt.Errorf("the code is not whole: copy or scan it again")
	}
	fields := strings.Split(text[:cut], ":")
	if len(fields) < 3 {
		return Log{}, fmt.Errorf("the code is not whole: copy or scan it again")
	}
	l := Log{Format: 1, Visit: fields[1], Sheet: fields[2]}
	names := map[string]string{}
	if lib != nil {
		for _, e := range lib.Exercises {
			for _, side := range []string{"", "left", "right"} {
				id := e.Name + "/" + side
				names[codeOf(id)] = id
			}
		}
	}
	for _, f := range fields[3:] {
		p := strings.Split(f, ".")
		if len(p) < 7 || len(p) > 8 || len(p[6])%4 != 0 {
			return Log{}, fmt.Errorf("a day of the code (%.12q) cannot be read", f)
		}
		day, err := time.Parse("060102", p[0])
		if err != nil {
			return Log{}, fmt.Errorf("a day of the code (%.12q) cannot be read", f)
		}
		one := Day{Date: day.Format(time.DateOnly), Done: []string{}}
		var bad bool
		whole := func(s string) *int {
			if s == "-" {
				return nil
			}
			n, err := strconv.Atoi(s)
			bad = bad || err != nil
			return &n
		}
		float := func(n *int) *float64 {
			if n == nil {
				return nil
			}
			v := float64(*n)
			return &v
		}
		one.RunMin, one.Pain = float(whole(p[1])), whole(p[2])
		flags := whole(p[3])
		one.Effort, one.PerMin = whole(p[4]), float(whole(p[5]))
		if bad || flags == nil || *flags < 0 || *flags > 7 {
			return Log{}, fmt.Errorf("a day of the code (%.12q) cannot be read", f)
		}
		one.NextDay, one.Bone, one.Ran = *flags&1 > 0, *flags&2 > 0, *flags&4 > 0
		for c := range slices.Chunk([]byte(p[6]), 4) {
			if id, ok := names[string(c)]; ok {
				one.Done = append(one.Done, id)
			} else {
				l.Unknown++
			}
		}
		if len(p) == 8 {
			note, err := base32.StdEncoding.WithPadding(base32.NoPadding).DecodeString(p[7])
			if err != nil {
				return Log{}, fmt.Errorf("the note of a day of the code (%.12q) cannot be read", f)
			}
			one.Note = string(note)
		} else {
			l.Short = true
		}
		l.Days = append(l.Days, one)
	}
	return l, nil
}

var (
	idForm    = regexp.MustCompile(`^[a-z0-9_-]{1,60}/(left|right)?$`)
	visitForm = regexp.MustCompile(`^[0-9A-Z]{26}$|^$`)
	sheetForm = regexp.MustCompile(`^[0-9A-F]{8}$`)
)

func (l *Log) check() error {
	if !visitForm.MatchString(l.Visit) || !sheetForm.MatchString(l.Sheet) {
		return fmt.Errorf("the log does not say of which sheet it is")
	}
	if len(l.Days) > maxDays {
		return fmt.Errorf("a log has at most %d days; this has %d", maxDays, len(l.Days))
	}
	for i := range l.Days {
		d := &l.Days[i]
		t, err := time.Parse(time.DateOnly, d.Date)
		switch {
		case err != nil || t.Year() < 2000 || t.Year() > 2200:
			return fmt.Errorf("%.20q is no day of the log", d.Date)
		case len(d.Done) > maxDone:
			return fmt.Errorf("%s has more than %d exercises", d.Date, maxDone)
		case d.RunMin != nil && !(*d.RunMin >= 0 && *d.RunMin <= 1440):
			return fmt.Errorf("%s has a run of %.4g minutes", d.Date, *d.RunMin)
		case d.Pain != nil && (*d.Pain < 0 || *d.Pain > 10):
			return fmt.Errorf("%s has a pain of %d, which is not 0 to 10", d.Date, *d.Pain)
		case d.Effort != nil && (*d.Effort < 0 || *d.Effort > 10):
			return fmt.Errorf("%s has an effort of %d, which is not 0 to 10", d.Date, *d.Effort)
		case d.PerMin != nil && !(*d.PerMin >= 60 && *d.PerMin <= 300):
			return fmt.Errorf("%s has %.4g steps a minute; count both feet", d.Date, *d.PerMin)
		case !utf8.ValidString(d.Note) || utf8.RuneCountInString(d.Note) > maxNote:
			return fmt.Errorf("the note of %s is no text, or longer than %d characters", d.Date, maxNote)
		}
		for _, id := range d.Done {
			if !idForm.MatchString(id) {
				return fmt.Errorf("%s names an exercise %.20q, which is none", d.Date, id)
			}
		}
		slices.Sort(d.Done)
		d.Done = list(slices.Compact(d.Done))
		d.Note = strings.TrimSpace(strings.Map(func(r rune) rune {
			if r != '\n' && unicode.IsControl(r) || unicode.In(r, unicode.Bidi_Control) {
				return -1
			}
			return r
		}, d.Note))
	}
	slices.SortFunc(l.Days, func(a, b Day) int { return strings.Compare(a.Date, b.Date) })
	for i := 1; i < len(l.Days); i++ {
		if l.Days[i].Date == l.Days[i-1].Date {
			return fmt.Errorf("%s is in the log twice", l.Days[i].Date)
		}
	}
	return nil
}

// Over is a day of the log over the same day as it was known: a code of an earlier
// sheet leaves its note, and a code's numbers, which are rounded, leave those that
// round to them.
func (l *Log) Over(known, d Day) Day {
	if l.Short {
		d.Note = known.Note
	}
	round := func(to **float64, was *float64) {
		if *to != nil && was != nil && math.Round(*was) == **to {
			*to = was
		}
	}
	round(&d.RunMin, known.RunMin)
	round(&d.PerMin, known.PerMin)
	return d
}

// Summary is a week of a log.
type Summary struct {
	From              string  // its Monday
	Runs              int     // days on which the runner ran
	RunMin            float64 // minutes run
	Exercises         int     // exercises done, each day's counted
	ExerciseDays      int     // days with any
	PainWorst         int
	PainKnown         bool
	PainNextDay, Bone bool
	Effort            int     // the hardest of the runs, 0 where not entered
	PerMin, PerMinSEM float64 // mean of the counts of the runner, 0 where none
	Counts            int
	Notes             []string
}

// Weeks sums a log up by weeks from Monday. A count by the runner is taken to be
// good to 2 steps a minute (half a minute of both feet, off by one step), so the
// mean of n to 2/√n.
func (l Log) Weeks() []Summary {
	var out []Summary
	for _, d := range l.Days {
		t, err := time.Parse(time.DateOnly, d.Date)
		if err != nil {
			continue
		}
		from := monday(t).Format(time.DateOnly)
		if len(out) == 0 || out[len(out)-1].From != from {
			out = append(out, Summary{From: from, Notes: []string{}})
		}
		s := &out[len(out)-1]
		if d.Ran {
			s.Runs++
			if d.RunMin != nil {
				s.RunMin += *d.RunMin
			}
			if d.Effort != nil {
				s.Effort = max(s.Effort, *d.Effort)
			}
		}
		s.Exercises += len(d.Done)
		if len(d.Done) > 0 {
			s.ExerciseDays++
		}
		if d.Pain != nil {
			s.PainWorst, s.PainKnown = max(s.PainWorst, *d.Pain), true
		}
		s.PainNextDay, s.Bone = s.PainNextDay || d.NextDay, s.Bone || d.Bone
		if d.PerMin != nil {
			s.PerMin = (s.PerMin*float64(s.Counts) + *d.PerMin) / float64(s.Counts+1)
			s.Counts++
		}
		if d.Note != "" {
			s.Notes = append(s.Notes, d.Note)
		}
	}
	for i := range out {
		if out[i].Counts > 0 {
			out[i].PerMinSEM = 2 / math.Sqrt(float64(out[i].Counts))
		}
	}
	return out
}
