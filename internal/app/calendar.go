package app

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"gaitwright/gait/programme"
	"gaitwright/internal/ical"
)

// PlanCalendar is the plan and the step-rate ramp as a calendar file, and a name
// for it: the runs with the week's click, the exercises, the re-test.
func (st *Studio) PlanCalendar(ctx context.Context, visitID string) (data []byte, name string, err error) {
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
			e := ical.Event{Key: fmt.Sprintf("week %d, run %d", n+1, k+1), Start: day(d).Add(7 * time.Hour), Title: fmt.Sprintf("Warm-up before the run, week %d", n+1)}
			length := programme.TimeS(lib, w.Warm)
			if c := rampWeekOf(ramp, day(d)); c != nil {
				e.Title = fmt.Sprintf("Run with the click: %.0f steps/min, week %d", c.PerMin, n+1)
				e.Description = c.inWords() + "\n"
				length += int(60 * c.RunMin)
			} else if len(w.Warm) == 0 && len(w.Running) == 0 {
				continue
			}
			if len(w.Warm) > 0 && !strings.HasPrefix(e.Title, "Warm") {
				e.Description += "\nBefore the run:\n"
			}
			e.Description += listText(lib, w.Warm)
			if drills := programme.DrillsOn(w.Running, k, len(runDays)); len(drills) > 0 {
				e.Description += "While running:\n" + listText(lib, drills)
			}
			e.Description += cautionText
			e.Length = atLeast(length)
			events = append(events, e)
		}
		for k, d := range p.FullDays {
			if len(w.Full) == 0 {
				continue
			}
			events = append(events, ical.Event{Key: fmt.Sprintf("week %d, full %d", w.Number, k+1), Start: day(d).Add(18 * time.Hour), Length: atLeast(programme.TimeS(lib, w.Full)),
				Title: fmt.Sprintf("Exercises, week %d", w.Number), Description: w.Note + "\n" + listText(lib, w.Full) + cautionText})
		}
	}
	if retest, err := time.Parse(dayForm, p.Retest); err == nil && len(p.Weeks) > 0 {
		events = append(events, ical.Event{Key: "re-test", Start: retest.Add(9 * time.Hour), Length: time.Hour, Title: "Re-test", Description: "Film and tests again, to see what changed."})
	}
	var out bytes.Buffer
	if err := ical.Write(&out, "Running plan", visitID, st.now(), events); err != nil {
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

// inWords says how a run of the week goes.
func (w *PageRampWeek) inWords() string {
	click := "with the click all the way"
	if w.OffMin > 0 {
		click = fmt.Sprintf("%s min with the click and %s min without, in turn", tenth(w.OnMin), tenth(w.OffMin))
	}
	text := fmt.Sprintf("Run %s min, %s.", tenth(w.RunMin), click)
	for _, a := range w.At {
		text += fmt.Sprintf("\n%.0f steps a minute, both feet", a.PerMin)
		if a.SpeedMPS > 0 {
			text += fmt.Sprintf(", at %.1f km/h (%s min/km)", a.SpeedKMH, a.Pace)
		}
		if len(w.At) > 1 {
			text += ": " + a.Name
		}
	}
	return text + "\nKeep the pace; the step gets shorter, the run does not get faster."
}

// tenth writes a number with at most one decimal.
func tenth(v float64) string {
	return fmt.Sprintf("%.4g", math.Round(v*10)/10)
}
