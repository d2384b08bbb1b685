package cli

import (
	"fmt"
	"strings"

	"gaitwright/internal/app"
	"gaitwright/num/quantity"
)

type beltCommand struct {
	Length      string  `help:"Length of the belt once around: 3.22m." placeholder:"LENGTH" required:""`
	LengthError string  `help:"How far the length may be off, one standard deviation; 5mm where it is not given." placeholder:"LENGTH"`
	Seam        string  `help:"Times at which the seam, or tape on the belt, passes one place: 1.20s,2.27s,3.34s." placeholder:"TIMES" required:""`
	Speed       string  `help:"What the display shows, to compare." placeholder:"SPEED"`
	Film        string  `help:"Film that the times were read from: its frame rate gives their error." type:"path" placeholder:"FILE"`
	CaptureRate float64 `help:"Frames a second at which the film was really taken, where it was exported slowed down; the times are those the player shows." placeholder:"HZ"`
	Rate        float64 `help:"Frames a second the times were read from, where no film is named; 30 where it is not given." placeholder:"HZ"`
}

// Run prints the belt's speed with its error, and the display's.
func (c *beltCommand) Run(r *run) error {
	req, err := c.request()
	if err != nil {
		return &app.Problem{Kind: app.KindUsage, What: err.Error()}
	}
	s, err := app.CheckBelt(r.ctx, req)
	if err != nil {
		return err
	}
	v := quantity.Speed(s.SpeedMPS)
	r.printf("true belt speed  %s  (%.2f km/h, %.2f mph, %s, %s)\n", s, v.KMH(), v.MPH(), v.Pace(), v.PaceMile())
	r.printf("error            ± %.2f %% (one standard deviation): belt length and the times, each good to %.0f ms\n", 100*s.RelativeSD, 1000*s.ReadingSDS)
	r.printf("turns            %d in all, one in %.3f s", s.Turns, s.TurnS)
	if s.Skipped > 0 {
		r.printf("; %d not among the times", s.Skipped)
	}
	r.printf("\n")
	if req.DisplayMPS > 0 {
		r.printf("%s\n", wrap(s.Against(req.DisplayMPS), "", 100))
	}
	r.printf("%s\n", wrap("Time the belt with the runner on it: a belt slows under each foot. Ten turns or more are best.", "", 100))
	return nil
}

func (c *beltCommand) request() (app.BeltRequest, error) {
	var req app.BeltRequest
	req.Film, req.CaptureRateHz, req.FrameRateHz = c.Film, c.CaptureRate, c.Rate
	for _, f := range []struct {
		flag, text string
		read       func(string) (float64, error)
		to         *float64
	}{
		{"--length", c.Length, in(quantity.ParseLength), &req.LengthM},
		{"--length-error", c.LengthError, in(quantity.ParseLength), &req.LengthSDM},
		{"--speed", c.Speed, in(quantity.ParseSpeed), &req.DisplayMPS},
	} {
		if f.text == "" {
			continue
		}
		v, err := f.read(f.text)
		if err != nil {
			return req, fmt.Errorf("%s: %w", f.flag, err)
		}
		*f.to = v
	}
	times, err := parseTimes(c.Seam)
	if err != nil {
		return req, fmt.Errorf("--seam: %w", err)
	}
	req.TimesS = times
	return req, nil
}

// parseTimes reads times with commas between them, in seconds.
func parseTimes(text string) ([]float64, error) {
	var out []float64
	for _, one := range strings.Split(text, ",") {
		if one = strings.TrimSpace(one); one == "" {
			continue
		}
		t, err := quantity.ParseTime(one)
		if err != nil {
			return nil, err
		}
		out = append(out, t.Seconds())
	}
	return out, nil
}
