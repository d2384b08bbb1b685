package steprate

import (
	"fmt"
	"math"
)

// Pace is a speed at which the ramp is run, such as easy or tempo.
type Pace struct {
	Name     string
	SpeedMPS float64
	// Base is the step rate at this pace; 0 takes the ramp's own raised by what
	// the runner's rate rises with speed.
	Base float64
}

// Week is a week of the ramp.
type Week struct {
	Number int     `json:"number"`
	PerMin float64 `json:"per_min"` // at the first pace
	// At each pace of the ramp, in its order.
	At []AtPace `json:"at"`
	// ClickShare is the share of a run with the click, 0 to 1, and ClickMin the
	// minutes of it in a run of RunMin minutes, given as blocks of on and off.
	ClickShare float64 `json:"click_share"`
	RunMin     float64 `json:"run_min"`
	ClickMin   float64 `json:"click_min"`
	OnMin      float64 `json:"on_min"`
	OffMin     float64 `json:"off_min"`
	// Changed percents against the baseline.
	RisePercent float64 `json:"rise_percent"`
	Note        string  `json:"note,omitempty"`
}

// AtPace is a step rate and length at one pace.
type AtPace struct {
	Name        string  `json:"name"`
	SpeedMPS    float64 `json:"speed_mps"`
	PerMin      float64 `json:"per_min"`
	StepLengthM float64 `json:"step_length_m"`
}

// Options of a ramp; zero values take what is in brackets.
type Options struct {
	StepAWeek float64 // steps a minute more each week (1, common practice)
	RunMin    float64 // minutes of a run (30)
	// FadeWeeks is over how many weeks the click falls from all of the run to a
	// tenth (the length of the ramp).
	FadeWeeks int
	HoldWeeks int // weeks at the target at the end (2)
	// RisePerMPS is how much this runner's step rate rises with speed, steps a
	// minute for 1 m/s (5.6: Burns 2019).
	RisePerMPS float64
}

func (o Options) defaults() Options {
	if o.StepAWeek == 0 {
		o.StepAWeek = 1
	}
	if o.RunMin == 0 {
		o.RunMin = 30
	}
	if o.HoldWeeks == 0 {
		o.HoldWeeks = 2
	}
	if o.RisePerMPS == 0 {
		o.RisePerMPS = burnsPerMPS
	}
	return o
}

// Check refuses what cannot be meant.
func (o Options) Check() error {
	switch {
	case o.StepAWeek < 0 || o.StepAWeek > 10:
		return fmt.Errorf("%.3g steps a minute more each week are not 0.5 to 10", o.StepAWeek)
	case o.RunMin < 0 || o.RunMin > 600:
		return fmt.Errorf("a run of %.3g minutes is not 5 to 600", o.RunMin)
	case o.HoldWeeks < 0 || o.HoldWeeks > 26 || o.FadeWeeks < 0 || o.FadeWeeks > 104:
		return fmt.Errorf("hold up to 26 weeks, fade over up to 104")
	case math.Abs(o.RisePerMPS) > 40:
		return fmt.Errorf("a rise of %.3g steps a minute for 1 m/s is not -40 to 40", o.RisePerMPS)
	}
	return nil
}

// MaxWeeks bounds a ramp.
const MaxWeeks = 60

// leastShare is the share of the run with the click at the end of the fading
// (about 3 of 30 minutes in the schedules of Crowell & Davis 2011, Clin Biomech
// 26:78, from memory).
const leastShare = 0.1

// Ramp returns the weeks from base to target at fixed paces, the first of which
// is the one that base was found at. The first week already asks for one step
// more.
func Ramp(base Rate, target float64, paces []Pace, o Options) ([]Week, error) {
	if err := o.Check(); err != nil {
		return nil, err
	}
	o = o.defaults()
	rise := target - base.PerMin
	if !(rise > 0) {
		return nil, fmt.Errorf("the target of %.0f steps a minute is not above the baseline of %.1f", target, base.PerMin)
	}
	if rise > base.PerMin*MostPercent/100+20 {
		return nil, fmt.Errorf("from %.0f to %.0f steps a minute is more than any trial changed: go in stages", base.PerMin, target)
	}
	climb := int(math.Ceil(rise/o.StepAWeek - 1e-9))
	total := climb + o.HoldWeeks
	if total > MaxWeeks {
		return nil, fmt.Errorf("the ramp takes %d weeks, more than %d: take larger steps or a nearer target", total, MaxWeeks)
	}
	fade := o.FadeWeeks
	if fade == 0 {
		fade = total
	}
	if len(paces) == 0 {
		paces = []Pace{{Name: "easy", SpeedMPS: base.SpeedMPS}}
	}
	var out []Week
	for n := 1; n <= total; n++ {
		up := min(rise, float64(n)*o.StepAWeek)
		w := Week{Number: n, PerMin: base.PerMin + up, RunMin: o.RunMin, RisePercent: 100 * up / base.PerMin, ClickShare: share(n, fade)}
		w.ClickMin = w.ClickShare * o.RunMin
		w.OnMin, w.OffMin = blocks(w.ClickShare)
		for i, p := range paces {
			at := p.Base
			if at == 0 {
				at = base.PerMin
				if i > 0 && base.SpeedMPS > 0 && p.SpeedMPS > 0 {
					at += o.RisePerMPS * (p.SpeedMPS - base.SpeedMPS)
				}
			}
			at *= 1 + up/base.PerMin
			a := AtPace{Name: p.Name, SpeedMPS: p.SpeedMPS, PerMin: at}
			if p.SpeedMPS > 0 {
				a.StepLengthM = StepLengthM(p.SpeedMPS, at)
			}
			w.At = append(w.At, a)
		}
		switch {
		case n == 1:
			w.Note = "All of the run with the click; keep the pace, let the step shorten."
		case n == climb+1:
			w.Note = "At the target; now with less and less of the click."
		case n == total:
			w.Note = "One run without any click: count, and bring the count to the re-test."
		}
		out = append(out, w)
	}
	return out, nil
}

// share is how much of the run has the click: all in the first half of the
// fading, then falling in a line to a tenth.
func share(week, fade int) float64 {
	half := float64(fade) / 2
	n := float64(week)
	if n <= half || fade <= 1 {
		return 1
	}
	s := 1 - (1-leastShare)*(n-half)/(float64(fade)-half)
	return max(leastShare, math.Round(s*20)/20)
}

// blocks are minutes with and without the click.
func blocks(share float64) (on, off float64) {
	switch {
	case share >= 0.95:
		return 5, 0
	case share >= 0.5:
		return 3, math.Max(0.5, math.Round(2*(3/share-3))/2)
	}
	return 1, math.Round(2*(1/share-1)) / 2
}

// Advice is what to do after a week.
type Advice struct {
	Do  string // "go on", "hold", "step back" or "stop"
	Why string
}

// Log is what came back from a week.
type Log struct {
	Planned, Done int  // runs
	PainWorst     int  // 0 to 10
	PainNextDay   bool // not gone by the next morning
	BonePain      bool
	Effort        int // 0 to 10, of the easy runs
	// Rate is the step rate at the week's pace, with its error; 0 where not known.
	Rate, RateSEM float64
}

// Next tells what follows a week, by the pain-monitoring model (Thomeé 1997, Phys
// Ther 77:1690; Silbernagel 2007, Am J Sports Med 35:897; cut-offs from memory),
// by what was done and how hard it felt, and by whether the rate was reached.
func Next(asked float64, l Log) Advice {
	switch {
	case l.BonePain:
		return Advice{"stop", "Pin-point pain on a bone: stop running and see a clinician."}
	case l.PainWorst > 5 || l.PainNextDay:
		return Advice{"step back", fmt.Sprintf("Pain %d of 10%s: go back a week.", l.PainWorst, map[bool]string{true: ", not gone by the next morning", false: ""}[l.PainNextDay])}
	case l.PainWorst > 2:
		return Advice{"hold", fmt.Sprintf("Pain %d of 10: stay at this week.", l.PainWorst)}
	case l.Planned > 0 && 2*l.Done < l.Planned:
		return Advice{"hold", fmt.Sprintf("%d of %d runs were done: do this week again.", l.Done, l.Planned)}
	case l.Effort >= 7:
		return Advice{"hold", fmt.Sprintf("An easy run felt like %d of 10: stay until it is easy again.", l.Effort)}
	case l.Rate > 0 && l.RateSEM >= 0 && l.Rate+1.96*l.RateSEM < asked-1:
		return Advice{"hold", fmt.Sprintf("%.0f steps a minute were taken where %.0f were asked: do this week again.", l.Rate, asked)}
	}
	return Advice{"go on", "One step a minute more next week, at the same pace."}
}
