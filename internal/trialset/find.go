package trialset

import (
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strconv"
	"strings"

	"gaitwright/num/quantity"
)

// MostFiles bounds how many files a set may have.
const MostFiles = 200_000

// maxTableBytes bounds the participants' table.
const maxTableBytes = 16 << 20

// Trial is one trial of a participant: the files that were taken at the same time.
type Trial struct {
	Subject  string
	Trial    string  // what the name says for {trial}; empty for none
	SpeedMPS float64 // 0 where the names do not tell
	Files    []File
	Standing string // slash-separated from the set's folder; empty for none
	Person   Person
}

// File is one file of a trial.
type File struct {
	Path string // slash-separated, from the set's folder
	View string // left, right, rear, front; empty where the name does not tell
}

// Person is what the set tells of a participant; zero where it does not.
type Person struct {
	AgeY       float64
	Sex        string // "female", "male" or empty
	HeightM    float64
	LegLengthM float64
	MassKG     float64
}

// Set is what was found in a folder.
type Set struct {
	Trials []Trial // by subject, speed and trial
	Notes  []string
	// Table is the participants' table that was read; empty for none.
	Table string
}

// Subjects counts the participants who have trials.
func (s Set) Subjects() int {
	n, last := 0, ""
	for _, t := range s.Trials {
		if t.Subject != last || n == 0 {
			n++
		}
		last = t.Subject
	}
	return n
}

// Count tells how many files of a folder fit a pattern of the layout.
func (l *Layout) Count(files []string) int {
	n := 0
	for _, f := range files {
		for _, re := range l.trials {
			if re.MatchString(f) {
				n++
				break
			}
		}
	}
	return n
}

// List returns the files of a set's folder and its subfolders, slash-separated and in
// order. Hidden files and folders are left out.
func List(dir fs.FS) ([]string, error) {
	var out []string
	err := fs.WalkDir(dir, ".", func(p string, e fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case p != "." && strings.HasPrefix(e.Name(), "."):
			if e.IsDir() {
				return fs.SkipDir
			}
			return nil
		case e.IsDir():
			return nil
		}
		if len(out) == MostFiles {
			return fmt.Errorf("more than %d files: name the folder of one set", MostFiles)
		}
		out = append(out, p)
		return nil
	})
	return out, err
}

// Find finds the trials among the files of a folder.
func (l *Layout) Find(dir fs.FS, files []string) (Set, error) {
	var s Set
	standing, stands := map[string]string{}, map[string]bool{} // by subject; files
	if l.standing != nil {
		for _, f := range files {
			if m := l.standing.FindStringSubmatch(f); m != nil {
				stands[f] = true
				if standing[key(m[1])] == "" {
					standing[key(m[1])] = f
				}
			}
		}
	}
	people, err := l.people(dir, &s)
	if err != nil {
		return s, err
	}
	type id struct {
		subject, trial string
		speed          float64
	}
	at := map[id]int{}
	unknown := map[string]bool{}
	for _, f := range files {
		one, view, ok, err := l.read(f)
		if err != nil {
			return s, fmt.Errorf("%s: %w", f, err)
		}
		if !ok || stands[f] {
			continue
		}
		k := id{key(one.Subject), one.Trial, one.SpeedMPS}
		i, seen := at[k]
		if seen && slices.ContainsFunc(s.Trials[i].Files, func(f File) bool { return f.View == view }) {
			// Two files that nothing tells apart are two trials, not two views of one.
			one.Trial = path.Base(f)
			seen = false
		}
		if !seen {
			one.Standing = standing[key(one.Subject)]
			p, known := people[key(one.Subject)]
			if people != nil && !known && !unknown[one.Subject] {
				unknown[one.Subject] = true
				s.Notes = append(s.Notes, fmt.Sprintf("%s has no line for subject %s", s.Table, one.Subject))
			}
			one.Person = p
			i = len(s.Trials)
			at[k] = i
			s.Trials = append(s.Trials, one)
		}
		s.Trials[i].Files = append(s.Trials[i].Files, File{f, view})
	}
	slices.SortStableFunc(s.Trials, func(a, b Trial) int {
		return cmp.Or(natural(a.Subject, b.Subject), cmp.Compare(a.SpeedMPS, b.SpeedMPS), natural(a.Trial, b.Trial), cmp.Compare(a.Files[0].Path, b.Files[0].Path))
	})
	return s, nil
}

// read reads what a file's name says.
func (l *Layout) read(file string) (t Trial, view string, ok bool, err error) {
	for i, re := range l.trials {
		m := re.FindStringSubmatch(file)
		if m == nil {
			continue
		}
		ok = true
		speed := ""
		for k, name := range l.names[i] {
			switch word := m[k+1]; name {
			case "subject":
				t.Subject = word
			case "trial":
				t.Trial = word
			case "speed":
				speed = word
			case "view":
				view = cmp.Or(l.Views[word], strings.ToLower(word))
			}
		}
		t.SpeedMPS, err = l.speedOf(speed)
		return t, view, ok, err
	}
	return t, "", false, nil
}

// speedOf is the speed that a word of a name stands for, metres a second.
func (l *Layout) speedOf(word string) (float64, error) {
	text := l.Speed
	if word != "" {
		switch said, known := l.Speeds[word]; {
		case known:
			text = said
		case l.SpeedUnit != "":
			text = word + l.SpeedUnit
		case len(l.Speeds) > 0:
			return 0, fmt.Errorf("the layout does not say what speed %q is", word)
		default:
			text = word
		}
	}
	if text == "" {
		return 0, nil
	}
	v, err := quantity.ParseSpeed(text)
	return float64(v), err
}

// people reads the participants' table; nil where there is none.
func (l *Layout) people(dir fs.FS, s *Set) (map[string]Person, error) {
	if l.Participants == nil {
		return nil, nil
	}
	for _, name := range l.Participants.Files {
		f, err := dir.Open(name)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return nil, err
		}
		defer f.Close()
		s.Table = name
		people, err := l.Participants.read(f)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		return people, nil
	}
	s.Notes = append(s.Notes, "the set's table of participants ("+strings.Join(l.Participants.Files, ", ")+") is not in the folder: age, sex, height and mass are not known")
	return nil, nil
}

// read reads the table: commas, semicolons or tabs between cells, a header line. Of
// several lines of one subject the first counts.
func (p *Participants) read(r io.Reader) (map[string]Person, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxTableBytes+1))
	if err != nil {
		return nil, err
	}
	if len(data) > maxTableBytes {
		return nil, fmt.Errorf("more than %d bytes are too many for a table of participants", maxTableBytes)
	}
	text := strings.TrimPrefix(string(data), "\ufeff")
	head, _, _ := strings.Cut(text, "\n")
	rows := csv.NewReader(strings.NewReader(text))
	rows.FieldsPerRecord, rows.TrimLeadingSpace = -1, true
	for _, comma := range ";\t" {
		if strings.Count(head, string(comma)) > strings.Count(head, string(rows.Comma)) {
			rows.Comma = comma
			rows.TrimLeadingSpace = false // a tab is a space
		}
	}
	names, err := rows.Read()
	if err != nil {
		return nil, fmt.Errorf("this is no table with a header line: %w", err)
	}
	at := map[string]int{}
	for i, n := range names {
		n = strings.ToLower(strings.TrimSpace(n))
		if _, twice := at[n]; !twice {
			at[n] = i
		}
	}
	for _, need := range p.columns() {
		if _, ok := at[strings.ToLower(need)]; !ok {
			return nil, fmt.Errorf("line 1: the column %q is missing; there are %s", need, strings.Join(names, ", "))
		}
	}
	out := map[string]Person{}
	for {
		rec, err := rows.Read()
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		if err != nil {
			return nil, fmt.Errorf("this is no well-formed table: %w", err)
		}
		line, _ := rows.FieldPos(0)
		cell := func(name string) string {
			if i, ok := at[strings.ToLower(name)]; name != "" && ok && i < len(rec) {
				if s := strings.TrimSpace(rec[i]); s != "-" && !strings.EqualFold(s, "nan") && !strings.EqualFold(s, "na") {
					return s
				}
			}
			return ""
		}
		subject := cell(p.Subject)
		if subject == "" {
			continue
		}
		if _, twice := out[key(subject)]; twice {
			continue
		}
		var one Person
		if s := cell(p.Age); s != "" {
			if one.AgeY, err = strconv.ParseFloat(s, 64); err != nil {
				return nil, fmt.Errorf("line %d, column %s: %q is not a number", line, p.Age, s)
			}
		}
		switch strings.ToLower(cell(p.Sex)) {
		case "f", "female", "w", "woman":
			one.Sex = "female"
		case "m", "male", "man":
			one.Sex = "male"
		}
		for _, c := range []struct {
			of *Column
			to *float64
		}{{p.Height, &one.HeightM}, {p.Leg, &one.LegLengthM}, {p.Mass, &one.MassKG}} {
			if c.of == nil || cell(c.of.Column) == "" {
				continue
			}
			if *c.to, err = c.of.read(cell(c.of.Column)); err != nil {
				return nil, fmt.Errorf("line %d, column %s: %w", line, c.of.Column, err)
			}
		}
		out[key(subject)] = one
	}
}

// read turns a cell into the SI value.
func (c *Column) read(text string) (float64, error) {
	if c.Unit == "kg" || c.Unit == "lb" {
		v, err := quantity.ParseMass(text + c.Unit)
		return float64(v), err
	}
	v, err := quantity.ParseLength(text + c.Unit)
	return float64(v), err
}

func (p *Participants) columns() []string {
	out := []string{p.Subject}
	for _, s := range []string{p.Age, p.Sex} {
		if s != "" {
			out = append(out, s)
		}
	}
	for _, c := range []*Column{p.Height, p.Leg, p.Mass} {
		if c != nil {
			out = append(out, c.Column)
		}
	}
	return out
}

// key is a subject's name for comparing: 1, 01 and 001 are the same person.
func key(subject string) string {
	s := strings.ToLower(strings.TrimSpace(subject))
	if t := strings.TrimLeft(s, "0"); t != "" && strings.Trim(t, "0123456789") == "" {
		return t
	}
	return s
}

// natural compares names as a person would: 2 before 10.
func natural(a, b string) int {
	x, errX := strconv.Atoi(a)
	y, errY := strconv.Atoi(b)
	if errX == nil && errY == nil && x != y {
		return cmp.Compare(x, y)
	}
	return cmp.Compare(a, b)
}
