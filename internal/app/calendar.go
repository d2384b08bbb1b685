package app

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/programme"
	"gaitwright/internal/ical"
)

// PlanCalendar is the plan and the step-rate ramp as a calendar file in a language of
// ReportLanguages, and a name for it: the runs with the week's click, the exercises,
// the re-test. The units are those of ReportAsk. The same session is the same event in
// each language and in both units.
func (st *Studio) PlanCalendar(ctx context.Context, visitID, language, units string) (data []byte, name string, err error) {
	if reportWordsBy[language] == nil {
		return nil, "", &Problem{Kind: KindUsage, Field: "lang", What: fmt.Sprintf("the language %q is not known", clean(language, 20)), Mend: "Choose en or de."}
	}
	if units, err = knownUnits(units); err != nil {
		return nil, "", err
	}
	w0 := wordsOf(ReportAsk{Language: language, Units: units})
	say := &w0.Calendar
	f, err := st.reason(ctx, visitID)
	if err != nil {
		return nil, "", err
	}
	p := st.pagePlan(&f)
	if f.plan == nil || p.None != "" {
		p.Weeks = nil
	}
	ramp := f.pageStepRate().Weeks
	if f.intake.refer().stops() {
		ramp = nil // nobody runs by it now
	}
	if len(p.Weeks) == 0 && len(ramp) == 0 {
		return nil, "", &Problem{Kind: KindNotFound, What: "There is no plan to put into a calendar.", Mend: p.None}
	}
	start, runDays := f.rampStart(), programme.Spread(min(7, max(1, f.runsPlanned())))
	if len(p.Weeks) > 0 {
		if start, err = time.Parse(dayForm, p.Ask.Start); err != nil {
			return nil, "", fmt.Errorf("the plan of visit %s: %w", visitID, err)
		}
		runDays = p.RunDays
	}
	lib, _ := exercisesInUse()
	var events []ical.Event
	for n := range max(len(p.Weeks), len(ramp)) {
		var w programme.Week
		if n < len(p.Weeks) {
			w = p.Weeks[n]
		}
		day := func(d int) time.Time { return start.AddDate(0, 0, 7*n+d) }
		for k, d := range runDays {
			e := ical.Event{Key: fmt.Sprintf("week %d, run %d", n+1, k+1), Start: day(d).Add(7 * time.Hour), Title: filled(say.Warm, "n", fmt.Sprint(n+1))}
			length, withClick := programme.TimeS(lib, w.Warm), false
			if c := rampWeekOf(ramp, day(d)); c != nil {
				e.Title = filled(say.Click, "rate", fmt.Sprintf("%.0f", c.PerMin), "n", fmt.Sprint(n+1))
				e.Description = w0.run(c) + "\n"
				withClick = true
				length += int(60 * c.RunMin)
			} else if len(w.Warm) == 0 && len(w.Running) == 0 {
				continue
			}
			if len(w.Warm) > 0 && withClick {
				e.Description += "\n" + say.Before + "\n"
			}
			e.Description += w0.list(lib, w.Warm)
			if drills := programme.DrillsOn(w.Running, k, len(runDays)); len(drills) > 0 {
				e.Description += say.Drills + "\n" + w0.list(lib, drills)
			}
			e.Description += say.Care
			e.Length = atLeast(length)
			events = append(events, e)
		}
		for k, d := range p.FullDays {
			if len(w.Full) == 0 {
				continue
			}
			events = append(events, ical.Event{Key: fmt.Sprintf("week %d, full %d", w.Number, k+1), Start: day(d).Add(18 * time.Hour), Length: atLeast(programme.TimeS(lib, w.Full)),
				Title: filled(say.Full, "n", fmt.Sprint(w.Number)), Description: programme.Say(language, w.Note) + "\n" + w0.list(lib, w.Full) + say.Care})
		}
	}
	if retest, err := time.Parse(dayForm, p.Retest); err == nil && len(p.Weeks) > 0 {
		events = append(events, ical.Event{Key: "re-test", Start: retest.Add(9 * time.Hour), Length: time.Hour, Title: say.Retest, Description: say.Why})
	}
	var out bytes.Buffer
	if err := ical.Write(&out, say.Name, visitID, st.now(), events); err != nil {
		return nil, "", err
	}
	return out.Bytes(), "running-plan-" + start.Format(dayForm) + ".ics", nil
}

// rampWeekOf is the week of the ramp in which a day lies; nil where none is.
func rampWeekOf(ramp []PageRampWeek, day time.Time) *PageRampWeek {
	for i := range ramp {
		from, err := time.Parse(dayForm, ramp[i].From)
		if err == nil && !day.Before(from) && day.Before(from.AddDate(0, 0, 7)) {
			return &ramp[i]
		}
	}
	return nil
}

// run says how a run of a week of the ramp goes.
func (w *reportWords) run(k *PageRampWeek) string {
	say := &w.Calendar
	text := filled(say.Whole, "run", w.tenth(k.RunMin))
	if k.OffMin > 0 {
		text = filled(say.Parts, "run", w.tenth(k.RunMin), "on", w.tenth(k.OnMin), "off", w.tenth(k.OffMin))
	}
	for _, a := range k.At {
		text += "\n" + filled(say.Rate, "rate", fmt.Sprintf("%.0f", a.PerMin))
		if a.SpeedMPS > 0 {
			text += w.atPace(a)
		}
		if len(k.At) > 1 {
			name := a.Name
			if name == "easy" {
				name = say.Easy
			}
			text += ": " + name
		}
	}
	return text + "\n" + say.Keep
}

// atPace says the speed and pace of a step rate.
func (w *reportWords) atPace(a PageWeekAt) string {
	if !w.us {
		return filled(w.Calendar.AtPace, "kmh", w.comma(fmt.Sprintf("%.1f", a.SpeedKMH)), "pace", a.Pace)
	}
	return filled(w.Calendar.AtPaceUS, "mph", w.comma(fmt.Sprintf("%.1f", 3600/metresPerMile*a.SpeedMPS)), "pace", paceText(metresPerMile, a.SpeedMPS))
}

// list is a list of exercises, a line each.
func (w *reportWords) list(lib *programme.Library, items []programme.Item) string {
	var b strings.Builder
	for _, i := range items {
		e := lib.Lookup(i.Exercise).In(w.language)
		side := ""
		if s := w.Sides[i.Side.String()]; s != "" && i.Side != body.NoSide {
			side = ", " + s
		}
		fmt.Fprintf(&b, "- %s%s: %s. %s\n", e.Title, side, w.dose(i.Dose), e.Cue)
	}
	return b.String()
}

// tenth writes a number with at most one decimal.
func (w *reportWords) tenth(v float64) string {
	return w.comma(fmt.Sprintf("%.4g", math.Round(v*10)/10))
}

// comma is a number with the language's sign before the decimals.
func (w *reportWords) comma(s string) string {
	if w.language == "de" {
		return strings.Replace(s, ".", ",", 1)
	}
	return s
}
