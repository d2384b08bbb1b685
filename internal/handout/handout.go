package handout

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"html"
	"io"
	"math"
	"regexp"
	"strings"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/figure"
	"gaitwright/gait/programme"
	"gaitwright/gait/steprate"
)

// MaxBytes bounds the file; it has to go through a message.
const MaxBytes = 1_500_000

//go:embed page/*.js page/*.css page/*.html
var parts embed.FS

// Sheet is what the runner takes home.
type Sheet struct {
	// Visit is the name of the visit that takes the log back; may be empty.
	Visit          string
	Runner, Studio string
	Language       string // en or de
	// US shows speeds in miles an hour, paces a mile and lengths in inches. Inside the
	// sheet and in its log all stays in SI units, and the sheet keeps its name.
	US      bool
	Made    time.Time
	Plan    programme.Plan
	Library *programme.Library
	// Ramp are the weeks of the step-rate ramp, the first beginning with the
	// plan's first week; empty where there is none.
	Ramp []steprate.Week
	// Begin is the first day; the plan's where zero.
	Begin time.Time
	// Cautions are said at the head.
	Cautions []string
	// Accent is the foot whose click is lower.
	Accent body.Side
}

type data struct {
	Language  string              `json:"lang"`
	Units     string              `json:"units,omitempty"` // us; empty where metric
	Runner    string              `json:"runner"`
	Studio    string              `json:"studio"`
	Visit     string              `json:"visit"`
	Sheet     string              `json:"sheet"`
	Made      string              `json:"made"`
	Retest    string              `json:"retest"`
	Accent    string              `json:"accent"`
	FullDays  []int               `json:"full_days"`
	RunDays   []int               `json:"run_days"`
	Weeks     []week              `json:"weeks"`
	Exercises map[string]exercise `json:"exercises"`
	Stop      []said              `json:"stop"`
	Cautions  []said              `json:"cautions"`
	Rules     []rule              `json:"rules"`
	None      said                `json:"none"`
}

type week struct {
	Number int        `json:"n"`
	From   string     `json:"from"`
	Note   said       `json:"note"`
	Warm   []item     `json:"warm"`
	Full   []item     `json:"full"`
	Run    []item     `json:"run"`
	Click  *clickWeek `json:"click"`
}

// clickWeek is a week of the ramp with its note in the sheet's language.
type clickWeek struct {
	steprate.Week
	Note said `json:"note"`
}

type item struct {
	ID       string         `json:"id"`
	Code     string         `json:"code"`
	Exercise string         `json:"x"`
	Side     string         `json:"side"`
	Dose     programme.Dose `json:"dose"`
	TimeS    int            `json:"time_s"`
	Of       string         `json:"of"`
}

type exercise struct {
	Title   string   `json:"title"`
	Block   string   `json:"block"`
	Each    bool     `json:"each"`
	How     []string `json:"how"`
	Cue     string   `json:"cue"`
	Felt    string   `json:"felt"`
	NotFelt string   `json:"not_felt"`
	Easier  string   `json:"easier"`
	// Lang is the language of the words where it is not the sheet's, LangEasier that of
	// the easier one's title.
	Lang       string  `json:"l,omitempty"`
	LangEasier string  `json:"le,omitempty"`
	Start      drawing `json:"start"`
	End        drawing `json:"end"`
}

// drawing is a figure in millimetres, y down.
type drawing struct {
	Box    [4]float64 `json:"box"`
	Side   string     `json:"side"` // of the near limbs as drawn
	Shapes []shape    `json:"s"`
}

type shape struct {
	Role   string    `json:"r"`
	Points []float64 `json:"p"` // x, y, x, y …
	Width  float64   `json:"w,omitempty"`
	Fill   bool      `json:"f,omitempty"`
	Radius float64   `json:"d,omitempty"`
	Text   string    `json:"t,omitempty"`
	Dashed bool      `json:"h,omitempty"`
}

// Write writes the file. The error says what the sheet lacks, or that it would be
// too large.
func Write(w io.Writer, s Sheet) error {
	d, err := s.data()
	if err != nil {
		return err
	}
	body, err := json.Marshal(d) // escapes <, > and &
	if err != nil {
		return err
	}
	page, err := assemble(d, body)
	if err != nil {
		return err
	}
	if len(page) > MaxBytes {
		return fmt.Errorf("the file for the phone would have %d kB, more than %d: take fewer weeks or exercises", len(page)/1000, MaxBytes/1000)
	}
	_, err = w.Write(page)
	return err
}

func (s Sheet) data() (data, error) {
	if s.Language == "" {
		s.Language = "en"
	}
	if s.Language != "en" && s.Language != "de" {
		return data{}, fmt.Errorf("the language %q is not known; en and de are", s.Language)
	}
	if len(s.Plan.Weeks) == 0 && len(s.Ramp) == 0 && s.Plan.None == "" {
		return data{}, fmt.Errorf("there is neither a programme nor a step-rate ramp to take home")
	}
	begin := s.Begin
	if begin.IsZero() {
		begin = s.Plan.Start
	}
	if begin.IsZero() {
		begin = s.Made
	}
	begin = monday(begin)
	d := data{Language: s.Language, Runner: s.Runner, Studio: s.Studio, Visit: s.Visit, Made: s.Made.Format(time.DateOnly), FullDays: list(s.Plan.FullDays), RunDays: list(s.Plan.RunDays),
		Weeks: []week{}, Exercises: map[string]exercise{}, Stop: []said{}, Cautions: []said{}, Rules: s.rules(), None: s.say(s.Plan.None), Accent: "left"}
	if s.Accent == body.Right {
		d.Accent = "right"
	}
	for _, sign := range programme.StopSigns {
		d.Stop = append(d.Stop, s.say(sign))
	}
	for _, c := range s.Cautions {
		d.Cautions = append(d.Cautions, s.say(c))
	}
	if !s.Plan.Retest.IsZero() {
		d.Retest = s.Plan.Retest.Format(time.DateOnly)
	}
	for n := range max(len(s.Plan.Weeks), len(s.Ramp)) {
		k := week{Number: n + 1, From: begin.AddDate(0, 0, 7*n).Format(time.DateOnly), Warm: []item{}, Full: []item{}, Run: []item{}}
		if n < len(s.Plan.Weeks) {
			p := s.Plan.Weeks[n]
			k.Note = s.say(p.Note)
			for _, g := range []struct {
				from []programme.Item
				to   *[]item
			}{{p.Warm, &k.Warm}, {p.Full, &k.Full}, {p.Running, &k.Run}} {
				for _, i := range g.from {
					one, err := s.item(i, d.Exercises)
					if err != nil {
						return d, err
					}
					*g.to = append(*g.to, one)
				}
			}
		}
		if n < len(s.Ramp) {
			c := s.Ramp[n]
			if !(c.PerMin >= 60 && c.PerMin <= 300) {
				return d, fmt.Errorf("week %d asks for %.0f steps a minute, which no click can give", n+1, c.PerMin)
			}
			k.Click = &clickWeek{c, s.say(c.Note)}
		}
		d.Weeks = append(d.Weeks, k)
	}
	all, err := json.Marshal(d)
	if err != nil {
		return d, err
	}
	sum := sha256.Sum256(all)
	d.Sheet = strings.ToUpper(hex.EncodeToString(sum[:4]))
	if s.US {
		d.Units = "us"
		for name, x := range d.Exercises {
			x.How = inUS(x.How)
			d.Exercises[name] = x
		}
	}
	return d, nil
}

// list is a slice that JSON writes as a list even where it is empty.
func list[T any](v []T) []T {
	if v == nil {
		return []T{}
	}
	return v
}

// monday is the first day of the week in which t lies.
func monday(t time.Time) time.Time {
	t = time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC)
	return t.AddDate(0, 0, -(int(t.Weekday())+6)%7)
}

func (s Sheet) item(i programme.Item, have map[string]exercise) (item, error) {
	e := s.Library.Lookup(i.Exercise)
	if e == nil {
		return item{}, fmt.Errorf("the programme has an exercise %q that is in no library: take it out, or bring the library back", i.Exercise)
	}
	if _, ok := have[e.Name]; !ok {
		start, err := draw(e.Start)
		if err == nil {
			var end drawing
			if end, err = draw(e.End); err == nil {
				x := s.words(e)
				x.Block, x.Each, x.Start, x.End = e.Block, e.Each, start, end
				have[e.Name] = x
			}
		}
		if err != nil {
			return item{}, fmt.Errorf("the figure of %q cannot be drawn: %w", e.Title, err)
		}
	}
	side := sideWord(i.Side)
	id := e.Name + "/" + side
	return item{ID: id, Code: codeOf(id), Exercise: e.Name, Side: side, Dose: i.Dose, Of: i.Of, TimeS: programme.TimeS(s.Library, []programme.Item{i})}, nil
}

// words are those of an exercise, in the sheet's language where there are such.
func (s Sheet) words(e *programme.Exercise) exercise {
	in := func(e *programme.Exercise) (*programme.Exercise, string) {
		x := e.In(s.Language)
		if x == e && s.Language != "en" {
			return x, "en"
		}
		return x, ""
	}
	w, lang := in(e)
	x := exercise{Title: w.Title, How: list(w.How), Cue: w.Cue, Felt: w.Felt, NotFelt: w.NotFelt, Lang: lang}
	if easier := s.Library.Lookup(e.Easier); easier != nil {
		easier, x.LangEasier = in(easier)
		x.Easier = easier.Title
	}
	return x
}

func sideWord(s body.Side) string {
	if s == body.Left || s == body.Right {
		return s.String()
	}
	return ""
}

func draw(p figure.Pose) (drawing, error) {
	d, err := p.Draw()
	if err != nil {
		return drawing{}, err
	}
	const edge = 30
	mm := func(v float64) float64 { return math.Round(v * 1000) }
	low, high := d.Bounds()
	out := drawing{Box: [4]float64{mm(low.X) - edge, mm(-high.Y) - edge, mm(high.X-low.X) + 2*edge, mm(high.Y-low.Y) + 2*edge}, Side: p.NearSide().String(), Shapes: []shape{}}
	for _, s := range d.Shapes {
		one := shape{Role: strings.ReplaceAll(string(s.Role), " ", "-"), Width: mm(s.Width), Fill: s.Fill, Radius: mm(s.Radius), Text: s.Text, Dashed: s.Dashed}
		for _, q := range s.Points {
			one.Points = append(one.Points, mm(q.X), mm(-q.Y))
		}
		out.Shapes = append(out.Shapes, one)
	}
	return out, nil
}

// scripts in the order in which they are joined to one.
var scripts = []string{"page/words.js", "page/code.js", "page/click.js", "page/timer.js", "page/sheet.js"}

var exports = regexp.MustCompile(`(?m)^export `)

func assemble(d data, body []byte) ([]byte, error) {
	var script bytes.Buffer
	script.WriteString("\"use strict\";\n(() => {\n")
	for _, name := range scripts {
		text, err := parts.ReadFile(name)
		if err != nil {
			return nil, err
		}
		script.Write(exports.ReplaceAll(text, nil))
	}
	script.WriteString("})();\n")
	style, err := parts.ReadFile("page/sheet.css")
	if err != nil {
		return nil, err
	}
	frame, err := parts.ReadFile("page/frame.html")
	if err != nil {
		return nil, err
	}
	policy := "default-src 'none'; script-src '" + sum(script.Bytes()) + "'; style-src '" + sum(style) + "'; base-uri 'none'; form-action 'none'"
	title := "Homework"
	if d.Language == "de" {
		title = "Hausaufgaben"
	}
	if d.Runner != "" {
		title += " · " + d.Runner
	}
	return []byte(strings.NewReplacer("{{lang}}", d.Language, "{{policy}}", policy, "{{title}}", html.EscapeString(title), "{{style}}", string(style), "{{data}}", string(body), "{{script}}", script.String()).Replace(string(frame))), nil
}

func sum(text []byte) string {
	s := sha256.Sum256(text)
	return "sha256-" + base64.StdEncoding.EncodeToString(s[:])
}
