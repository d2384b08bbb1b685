package app

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"gaitwright/gait/steprate"
	"gaitwright/internal/click"
	"gaitwright/internal/handout"
	"gaitwright/internal/store"
)

const docLog = "log"

// keptLog is what came back from the runner of a visit.
type keptLog struct {
	Version int64         `json:"-"`
	Days    []handout.Day `json:"days"` // by date
}

func parseKeptLog(doc store.Document) (*keptLog, error) {
	var k keptLog
	if err := json.Unmarshal(doc.Body, &k); err != nil {
		return nil, fmt.Errorf("the log of visit %s cannot be read: %w", doc.VisitID, err)
	}
	k.Version = doc.Version
	return &k, nil
}

// takesHome tells whether there is something to take home.
func (f *visitRecords) takesHome() bool { return f.plan != nil || f.steprate != nil }

// Handout gives the station Handout of a visit.
func (st *Studio) Handout(ctx context.Context, visitID string) (PageHandout, error) {
	f, err := st.reason(ctx, visitID)
	if err != nil {
		return PageHandout{}, err
	}
	return st.pageHandout(&f), nil
}

func (st *Studio) pageHandout(f *reasoned) PageHandout {
	p := PageHandout{Weeks: []PageLogWeek{}, Said: []string{}}
	s := st.sheet(f, "en")
	p.PlanWeeks, p.RampWeeks = len(s.Plan.Weeks), len(s.Ramp)
	switch {
	case f.intake.refer().stops():
		p.Missing = f.intake.refer().Text
	case p.PlanWeeks == 0 && p.RampWeeks == 0:
		p.Missing = "Make a plan or a step-rate ramp first; there is nothing to take home yet."
		if s.Plan.None != "" {
			p.Missing = s.Plan.None
		}
	default:
		p.Ready = true
	}
	if f.log == nil {
		return p
	}
	p.Version = f.log.Version
	p.Weeks = f.logWeeks()
	return p
}

// logWeeks are the weeks that came back, with what is proposed after each.
func (f *reasoned) logWeeks() []PageLogWeek {
	out := []PageLogWeek{}
	if f.log == nil {
		return out
	}
	planned := f.runsPlanned()
	ramp := f.pageStepRate()
	for _, w := range (handout.Log{Days: f.log.Days}).Weeks() {
		one := PageLogWeek{From: w.From, Planned: planned, Runs: w.Runs, RunMin: w.RunMin, Exercises: w.Exercises, ExerciseDays: w.ExerciseDays, PainNextDay: w.PainNextDay, Bone: w.Bone,
			Effort: w.Effort, Counts: w.Counts, Notes: w.Notes}
		l := steprate.Log{Planned: planned, Done: w.Runs, PainWorst: w.PainWorst, PainNextDay: w.PainNextDay, BonePain: w.Bone, Effort: w.Effort, Rate: w.PerMin, RateSEM: w.PerMinSEM}
		if w.PainKnown {
			one.PainWorst = &w.PainWorst
		}
		if w.Counts > 0 {
			one.PerMin = number(w.PerMin, 1)
		}
		asked := 0.0
		if i := slices.IndexFunc(ramp.Weeks, func(k PageRampWeek) bool { return k.From == w.From }); i >= 0 {
			one.RampWeek, asked = i+1, ramp.Weeks[i].PerMin
			one.Asked = &asked
			one.Turned = slices.ContainsFunc(ramp.Ask.Turns, func(t PageTurn) bool { return t.Week == i+1 })
		}
		next := steprate.Next(asked, l)
		one.Do, one.Why = next.Do, next.Why
		if next.Do == "go on" && one.RampWeek == 0 {
			one.Why = "Nothing speaks against going on with the programme."
		}
		out = append(out, one)
	}
	return out
}

// runsPlanned is how many runs a week are planned: by the plan, or as the runner
// trains.
func (f *visitRecords) runsPlanned() int {
	if f.plan != nil && len(f.plan.Plan.RunDays) > 0 {
		return len(f.plan.Plan.RunDays)
	}
	if f.intake != nil {
		return int(math.Round(orZero(f.intake.Training.RunsPerWeek)))
	}
	return 0
}

// sheet gathers what is taken home.
func (st *Studio) sheet(f *reasoned, language string) handout.Sheet {
	lib, _ := exercisesInUse()
	s := handout.Sheet{Visit: f.visit.ID, Runner: f.runner.Name, Language: language, Made: f.visit.Date, Library: lib, Begin: f.rampStart()}
	if f.plan != nil {
		start, _ := time.Parse(dayForm, f.plan.Ask.Start)
		s.Plan, _ = f.plan.Plan.Safe(lib, f.planInput(f.plan.Ask, start))
	}
	if f.steprate != nil {
		for _, w := range f.pageStepRate().Weeks {
			s.Ramp = append(s.Ramp, w.steprate())
		}
	}
	for _, c := range f.intake.cautions() {
		s.Cautions = append(s.Cautions, c.Text)
	}
	return s
}

func (w PageRampWeek) steprate() steprate.Week {
	k := steprate.Week{Number: w.Number, PerMin: w.PerMin, RunMin: w.RunMin, OnMin: w.OnMin, OffMin: w.OffMin, RisePercent: w.RisePercent, Note: w.Note}
	for _, a := range w.At {
		k.At = append(k.At, steprate.AtPace{Name: a.Name, SpeedMPS: a.SpeedMPS, PerMin: a.PerMin, StepLengthM: a.StepLengthM})
	}
	return k
}

// Homework gives the file for the runner's phone, and its name. The language is en
// or de, the units are those of ReportAsk; what comes back from the phone is the same
// in both.
func (st *Studio) Homework(ctx context.Context, visitID, language, units string) (data []byte, name string, err error) {
	if units, err = knownUnits(units); err != nil {
		return nil, "", err
	}
	f, err := st.reason(ctx, visitID)
	if err != nil {
		return nil, "", err
	}
	p := st.pageHandout(&f)
	if !p.Ready {
		return nil, "", &Problem{Kind: KindNotAllowed, What: p.Missing}
	}
	s := st.sheet(&f, language)
	s.US = units == "us"
	settings, err := st.Settings(ctx)
	if err != nil {
		return nil, "", err
	}
	s.Studio = settings.Studio
	var b bytes.Buffer
	if err := handout.Write(&b, s); err != nil {
		return nil, "", &Problem{Kind: KindUsage, What: err.Error(), Err: err}
	}
	return b.Bytes(), "homework-" + s.Begin.Format(dayForm) + ".html", nil
}

// HomeworkFor is Homework of a visit, or of the visit of a kept result.
func (st *Studio) HomeworkFor(ctx context.Context, name, language, units string) ([]byte, error) {
	visit := name
	if err := st.readRecords(ctx, func(r store.Reader) error { _, err := r.Visit(name); return err }); err != nil {
		s, err := st.Load(name)
		if err != nil {
			return nil, &Problem{Kind: KindUsage, What: fmt.Sprintf("%q is neither a visit nor a kept result", clean(name, 60)), Mend: "Take the name from the page's address, or from the list of results.", Err: err}
		}
		if s.VisitID == "" {
			return nil, &Problem{Kind: KindUsage, What: "this result belongs to no visit, so there is no plan for it", Mend: "Begin a visit and make a plan there."}
		}
		visit = s.VisitID
	}
	data, _, err := st.Homework(ctx, visit, language, units)
	return data, err
}

// ClickTrack writes the click of a week of a visit's ramp as WAV: the whole run
// with its parts on and off, at one of its paces, both counted from 0.
func (st *Studio) ClickTrack(ctx context.Context, visitID string, week, pace int) (write func(io.Writer) error, name string, size int64, err error) {
	f, err := st.reason(ctx, visitID)
	if err != nil {
		return nil, "", 0, err
	}
	if f.intake.refer().stops() {
		return nil, "", 0, f.noStepRate()
	}
	weeks := f.pageStepRate().Weeks
	if week < 0 || week >= len(weeks) || pace < 0 || pace >= len(weeks[week].At) {
		return nil, "", 0, &Problem{Kind: KindNotFound, What: "The ramp has no such week or pace."}
	}
	w := weeks[week]
	p := click.Pattern{PerMin: math.Round(w.At[pace].PerMin), Minutes: min(w.RunMin, click.MaxMinutes), OnMin: w.OnMin, OffMin: w.OffMin, CountIn: 8, Accent: "both"}
	if w.OffMin == 0 {
		p.OnMin = 0
	}
	if err := p.Check(); err != nil {
		return nil, "", 0, &Problem{Kind: KindUsage, What: err.Error(), Err: err}
	}
	const head = 44 // bytes before the samples of a WAV file
	return func(to io.Writer) error { return click.Write(to, p) }, fmt.Sprintf("click-week-%d-%.0f.wav", week+1, p.PerMin), head + 2*p.Samples(), nil
}

// keptLogOf is the log of a visit as it is kept; empty where none is.
func (st *Studio) keptLogOf(ctx context.Context, visitID string) (*keptLog, error) {
	k := &keptLog{}
	err := st.readRecords(ctx, func(r store.Reader) error {
		if _, err := r.Visit(visitID); err != nil {
			return err
		}
		doc, err := visitDocument(r, docLog, visitID)
		if err != nil || doc.Version == 0 {
			return err
		}
		k, err = parseKeptLog(doc)
		return err
	})
	if err != nil {
		return nil, missingRecord(err, "visit")
	}
	return k, nil
}

// holds tells whether all that a log says is kept already.
func (k *keptLog) holds(l *handout.Log) bool {
	for _, d := range l.Days {
		i, there := k.find(d.Date)
		if !there || !sameDay(k.Days[i], l.Over(k.Days[i], d)) {
			return false
		}
	}
	return true
}

func (k *keptLog) find(date string) (int, bool) {
	return slices.BinarySearchFunc(k.Days, date, func(a handout.Day, date string) int { return strings.Compare(a.Date, date) })
}

func sameDay(a, b handout.Day) bool { return bytes.Equal(rawJSON(a), rawJSON(b)) }

// AddLog takes a runner's log in. Days that are there already are replaced; one
// that comes as a code, which holds no notes, leaves the notes.
func (st *Studio) AddLog(ctx context.Context, who, visitID string, ask PageLogAsk) (PageHandout, error) {
	lib, _ := exercisesInUse()
	l, err := handout.ParseLog([]byte(ask.Text), lib)
	if err != nil {
		return PageHandout{}, &Problem{Kind: KindUsage, Field: "text", What: err.Error(), Mend: "Nothing was taken in.", Err: err}
	}
	if l.Visit != visitID {
		return PageHandout{}, &Problem{Kind: KindUsage, Field: "text", What: "This log is of another visit's homework; nothing was taken in.", Mend: "Open the visit that the homework was made at."}
	}
	if len(l.Days) == 0 {
		return PageHandout{}, &Problem{Kind: KindUsage, Field: "text", What: "Nothing was entered in this log."}
	}
	last := st.now().Add(26 * time.Hour).Format(dayForm)
	if day := l.Days[len(l.Days)-1].Date; day > last {
		return PageHandout{}, &Problem{Kind: KindUsage, Field: "text", What: "The log has a day in the future, " + day + ".", Mend: "Check the day on the runner's phone."}
	}
	added, changed := 0, 0
	// A log that is here already is no deed.
	if k, err := st.keptLogOf(ctx, visitID); err != nil {
		return PageHandout{}, err
	} else if k.holds(&l) {
		p, err := st.Handout(ctx, visitID)
		if err == nil {
			p.Said = append(p.Said, "This log is here already; nothing is new in it.")
		}
		return p, err
	}
	err = st.change(ctx, who, "Took in the runner's log, "+plural(len(l.Days), "day", "days"), visitID, func(w store.Writer) error {
		if _, err := w.Visit(visitID); err != nil {
			return err
		}
		doc, err := visitDocument(w, docLog, visitID)
		if err != nil {
			return err
		}
		k := &keptLog{}
		if doc.Version > 0 {
			if k, err = parseKeptLog(doc); err != nil {
				return err
			}
		}
		for _, d := range l.Days {
			i, there := k.find(d.Date)
			if !there {
				k.Days = slices.Insert(k.Days, i, d)
				added++
				continue
			}
			if d = l.Over(k.Days[i], d); !sameDay(k.Days[i], d) {
				k.Days[i] = d
				changed++
			}
		}
		if len(k.Days) > 2000 {
			return &Problem{Kind: KindUsage, What: "a visit keeps at most 2000 days of logs"}
		}
		doc.Body = rawJSON(k)
		return w.PutDocument(&doc)
	})
	if err != nil {
		return PageHandout{}, missingRecord(err, "visit")
	}
	p, err := st.Handout(ctx, visitID)
	if err != nil {
		return p, err
	}
	said := fmt.Sprintf("%s taken in, %d new.", plural(len(l.Days), "day", "days"), added)
	if same := len(l.Days) - added - changed; changed > 0 || same > 0 {
		said = fmt.Sprintf("%s taken in: %d new, %d changed, %d here already.", plural(len(l.Days), "day", "days"), added, changed, same)
	}
	p.Said = append(p.Said, said)
	if l.Unknown > 0 {
		p.Said = append(p.Said, fmt.Sprintf("%s not in the library and left out.", plural(l.Unknown, "exercise is", "exercises are")))
	}
	return p, nil
}

// ReadCode reads a QR code of the homework out of a camera's JPEG picture; empty
// where none is seen. The picture is not kept.
func (st *Studio) ReadCode(picture []byte) (string, error) {
	head, err := jpeg.DecodeConfig(bytes.NewReader(picture))
	if err == nil && (head.Width > codeSide || head.Height > codeSide) {
		return "", problem(KindUsage, "", "", "a picture of %d×%d pixels; up to %d are taken", head.Width, head.Height, codeSide)
	}
	if err == nil {
		var decoded image.Image
		if decoded, err = jpeg.Decode(bytes.NewReader(picture)); err == nil {
			return handout.ReadQR(decoded), nil
		}
	}
	return "", problem(KindUsage, "", "", "this is no JPEG picture, or a broken one")
}

// codeSide bounds the longer side of a picture of a code, pixels.
const codeSide = 2560
