package cli

import (
	"fmt"
	"io"
	"math"
	"os"
	"strings"

	"gaitwright/gait/clip"
	"gaitwright/gait/event"
	"gaitwright/internal/app"
	"gaitwright/num/quantity"
)

type measureCommand struct {
	Files []string `arg:"" name:"file" help:"Films (any kind ffmpeg reads), C3D, TRC or keypoint files of one runner." type:"path"`

	Speed   string  `help:"Belt speed: 3.5m/s, 12.6km/h, 7.8mph or a pace such as 4:45/km or 7:39/mi." placeholder:"SPEED" group:"What is known"`
	Belt    string  `name:"belt-length" help:"Length of the belt once around; with --seam it gives the true belt speed, in place of --speed." placeholder:"LENGTH" group:"What is known"`
	Seam    string  `help:"Times, on the same clock as --start, at which the belt's seam passes one place: 1.20s,2.27s,3.34s." placeholder:"TIMES" group:"What is known"`
	Height  string  `help:"Runner's height: 178cm, 1.78m or 5ft10in." placeholder:"LENGTH" group:"What is known"`
	Leg     string  `help:"Leg length, greater trochanter to ground, where it was measured." placeholder:"LENGTH" group:"What is known"`
	Mass    string  `help:"Body mass: 70kg or 154lb." placeholder:"MASS" group:"What is known"`
	Sex     string  `help:"female or male: chooses the table of segment masses." enum:"female,male," default:"" group:"What is known"`
	Incline float64 `help:"Belt incline in percent. One percent to stand for the wind was found from 3.75 m/s; slower runners showed no need (Jones & Doust 1996, J Sports Sci 14:321, from memory)." default:"0" group:"What is known"`
	Ground  bool    `help:"The runner ran over ground, not on a treadmill." name:"overground" group:"What is known"`
	Name    string  `help:"Runner's name, for the report." group:"What is known"`
	Studio  string  `help:"Studio's name, for the report." group:"What is known"`

	View        []string `help:"View of each film in order: left, right (the runner's side toward the camera), rear, front. Told from the picture where left out." placeholder:"VIEW" group:"The film"`
	CaptureRate float64  `help:"Frames a second at which the film was really taken, where it was exported slowed down." placeholder:"HZ" group:"The film"`
	Start       string   `help:"Where to begin, on the clip's clock (12.5s or 1:05). By default the steady part is found." placeholder:"TIME" group:"The film"`
	End         string   `help:"Where to stop." placeholder:"TIME" group:"The film"`
	Scale       []string `help:"Pixels that a known length in the runner's plane covers, for each film: 918px=2m." placeholder:"PX=LENGTH" group:"The film"`
	Roll        float64  `help:"Degrees by which the picture has to be turned clockwise to be level." default:"0" group:"The film"`
	Yaw         float64  `help:"Degrees by which the side camera stood off square, positive where it stood ahead of the runner and saw the chest; corrected for." default:"0" group:"The film"`
	Distance    string   `name:"camera-distance" help:"Distance from the side camera to the middle of the belt: near and far leg are then brought to one scale." placeholder:"LENGTH" group:"The film"`
	Runner      string   `help:"Where the runner is, if several people are seen: x,y in pixels, or x,y@time." placeholder:"X,Y" group:"The film"`
	Sticker     []string `help:"A sticker to follow, by one click on it: its name, the frame counted from 0, and pixels from the top-left corner; 2:NAME=… for the second film. The names of landmarks take part in the measurement (gaitwright explain landmarks). Repeat for more stickers, or for a further click on one." placeholder:"NAME=FRAME,X,Y" sep:"none" group:"The film"`
	Model       string   `help:"Pose model: lite (quick), full, heavy (slow, a little better)." enum:"lite,full,heavy" default:"full" group:"The film"`

	Static    string `help:"Standing trial that belongs to a marker file." type:"path" placeholder:"FILE" group:"Marker files"`
	MarkerSet string `name:"markers" help:"Your own mapping of marker names to landmarks (YAML)." type:"path" placeholder:"FILE" group:"Marker files"`
	Contacts  string `help:"Take ground contacts from force plates or from motion. Default: force where the file has it." enum:"force,motion," default:"" group:"Marker files"`

	Edits string `help:"An earlier result (JSON) whose contacts were corrected by hand: those marked edited, and removed ones, are kept." type:"path" placeholder:"FILE" group:"The film"`

	JSON      string  `help:"Write everything as JSON ('-' for standard output)." placeholder:"FILE" group:"Output"`
	CSV       string  `help:"Write the measures as CSV ('-' for standard output)." placeholder:"FILE" group:"Output"`
	Report    string  `help:"Write the one-page report: .pdf, .png, .svg or .html." type:"path" placeholder:"FILE" group:"Output"`
	Paper     string  `help:"Paper of the report." enum:"a4,letter" default:"a4" group:"Output"`
	Units     string  `help:"Units of speed, pace, length and mass in the report: ${enum}." enum:"metric,us" default:"metric" group:"Output"`
	Annotated string  `help:"Write each film with the skeleton drawn in it; with several films the view is put before the ending." type:"path" placeholder:"FILE.mp4" group:"Output"`
	Slow      float64 `help:"How many times slower the annotated film plays." default:"4" group:"Output"`
	Keep      bool    `help:"Keep the result for the browser pages." default:"true" negatable:"" group:"Output"`
	Threads   int     `help:"Processor cores for the network; 0 is all." default:"0" group:"Output"`
	All       bool    `help:"Print all measures, not the main ones alone. JSON and CSV always hold all." group:"Output"`
	Ranges    bool    `help:"Print the reference ranges beside the measures that have one." group:"Output"`
	Quiet     bool    `short:"q" help:"Print no table and no progress." group:"Output"`
}

// Run carries the command out.
func (c *measureCommand) Run(r *run) error {
	req, err := c.request()
	if err != nil {
		return &app.Problem{Kind: app.KindUsage, What: err.Error()}
	}
	if err := c.checkOutputs(); err != nil {
		return err
	}
	studio, err := r.studio()
	if err != nil {
		return err
	}
	session, err := r.measure(studio, req, c.Quiet)
	if err != nil {
		return err
	}
	return c.deliver(r, studio, session)
}

// checkOutputs refuses, before the work begins, files that cannot be written after
// it.
func (c *measureCommand) checkOutputs() error {
	for _, o := range []struct {
		path    string
		endings []string
	}{
		{c.JSON, nil}, {c.CSV, nil},
		{c.Report, []string{".pdf", ".png", ".svg", ".html"}},
		{c.Annotated, []string{".mp4"}},
	} {
		if o.path == "" || o.path == "-" && o.endings == nil {
			continue
		}
		if err := app.CheckOutput(o.path, o.endings...); err != nil {
			return err
		}
	}
	if c.JSON == "-" && c.CSV == "-" {
		return &app.Problem{Kind: app.KindUsage, What: "JSON and CSV cannot both go to standard output", Mend: "Give one of them a file."}
	}
	if !(c.Slow >= 0.1 && c.Slow <= 100) {
		return &app.Problem{Kind: app.KindUsage, What: "--slow must lie between 0.1 and 100"}
	}
	return nil
}

// measure runs the main job and, at a terminal, asks for the capture rate where
// the clip's clock looks slowed down.
func (r *run) measure(studio *app.Studio, req app.Request, quiet bool) (*app.Session, error) {
	for {
		bar := newProgress(r.env.Stderr, r.env.Terminal && !quiet)
		session, err := studio.Measure(r.ctx, req, bar)
		bar.Done()
		slowed, ok := app.AsSlowed(err)
		if !ok || !r.env.Interactive || quiet {
			return session, err
		}
		r.say("%v", err)
		fmt.Fprintf(r.env.Stderr, "Frames a second at which it was filmed (such as %s; empty to give up): ", joinRates(slowed.LikelyRatesHz))
		var hz float64
		if _, scanErr := fmt.Fscanln(r.env.Stdin, &hz); scanErr != nil || hz <= 0 {
			return nil, err
		}
		req.CaptureRateHz = hz
	}
}

func joinRates(hz []float64) string {
	var s []string
	for _, v := range hz {
		s = append(s, fmt.Sprintf("%.0f", v))
	}
	return strings.Join(s, " or ")
}

func (c *measureCommand) deliver(r *run, studio *app.Studio, s *app.Session) error {
	if c.Keep {
		if err := studio.Save(s); err != nil {
			return err
		}
	}
	if c.JSON != "" {
		if err := r.write(c.JSON, s.WriteJSON); err != nil {
			return err
		}
	}
	if c.CSV != "" {
		if err := r.write(c.CSV, s.WriteCSV); err != nil {
			return err
		}
	}
	toStdout := c.JSON == "-" || c.CSV == "-"
	if !c.Quiet && !toStdout {
		if err := writeTable(r.env.Stdout, s, c.All); err != nil {
			return err
		}
		writeComparison(r.env.Stdout, s)
		if c.Ranges {
			table, notes, err := app.Norms("")
			if err != nil {
				return err
			}
			for _, n := range notes {
				r.say("%s", n)
			}
			writeRanges(r.env.Stdout, s, table)
		}
	}
	report := c.Report
	if report != "" {
		if err := s.WriteReport(r.ctx, report, c.Paper, c.Units); err != nil {
			return err
		}
		r.say("report: %s", report)
	}
	if c.Annotated != "" {
		bar := newProgress(r.env.Stderr, r.env.Terminal && !c.Quiet)
		paths, err := s.WriteAnnotated(r.ctx, c.Annotated, c.Slow, bar)
		bar.Done()
		if err != nil {
			return err
		}
		for _, p := range paths {
			r.say("annotated film: %s", p)
		}
	}
	if c.Keep && !c.Quiet {
		r.say("kept as %s; `gaitwright` opens it in the browser", s.ID)
	}
	return nil
}

// write sends output to a file, written whole or not at all, or to standard
// output for "-".
func (r *run) write(path string, to func(io.Writer) error) error {
	if path == "-" {
		return to(r.env.Stdout)
	}
	return app.WriteFileWhole(path, to)
}

func (c *measureCommand) request() (app.Request, error) {
	req := app.Request{Files: c.Files, Studio: c.Studio, Model: c.Model, Overground: c.Ground, InclinePct: c.Incline,
		CaptureRateHz: c.CaptureRate, StaticFile: c.Static, EditsFile: c.Edits, MarkerSetFile: c.MarkerSet, Contacts: event.Method(c.Contacts),
		RollDeg: c.Roll, YawDeg: c.Yaw, Threads: c.Threads}
	req.Runner.Name, req.Runner.Sex = c.Name, c.Sex
	for _, f := range []struct {
		flag, text string
		read       func(string) (float64, error)
		to         *float64
	}{
		{"--speed", c.Speed, in(quantity.ParseSpeed), &req.SpeedMPS},
		{"--belt-length", c.Belt, in(quantity.ParseLength), &req.BeltLengthM},
		{"--height", c.Height, in(quantity.ParseLength), &req.Runner.HeightM},
		{"--leg", c.Leg, in(quantity.ParseLength), &req.Runner.LegLengthM},
		{"--mass", c.Mass, in(quantity.ParseMass), &req.Runner.MassKG},
		{"--camera-distance", c.Distance, in(quantity.ParseLength), &req.CameraDistanceM},
		{"--start", c.Start, in(quantity.ParseTime), &req.StartS},
		{"--end", c.End, in(quantity.ParseTime), &req.EndS},
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
	if c.Seam != "" {
		times, err := parseTimes(c.Seam)
		if err != nil {
			return req, fmt.Errorf("--seam: %w", err)
		}
		req.SeamTimesS = times
	}
	for _, v := range c.View {
		for _, one := range strings.Split(v, ",") {
			view, err := clip.ParseView(strings.TrimSpace(one))
			if err != nil {
				return req, fmt.Errorf("--view: %w", err)
			}
			req.Views = append(req.Views, view)
		}
	}
	for _, s := range c.Scale {
		px, err := parseScale(s)
		if err != nil {
			return req, err
		}
		req.PixelsPerM = append(req.PixelsPerM, px)
	}
	if c.Runner != "" {
		p, err := parsePoint(c.Runner)
		if err != nil {
			return req, err
		}
		req.Point = &p
	}
	stickers, err := parseStickers(c.Sticker, len(req.Files))
	if err != nil {
		return req, err
	}
	req.Stickers = stickers
	return req, nil
}

// in turns a reader of a quantity into a reader of its SI value.
func in[Q ~float64](read func(string) (Q, error)) func(string) (float64, error) {
	return func(text string) (float64, error) {
		q, err := read(text)
		return float64(q), err
	}
}

func parseScale(text string) (float64, error) {
	px, length, ok := strings.Cut(text, "=")
	var n float64
	if ok {
		if _, err := fmt.Sscanf(strings.TrimSuffix(strings.TrimSpace(px), "px"), "%g", &n); err != nil {
			ok = false
		}
	}
	if !ok || !(n > 0) || math.IsInf(n, 0) {
		return 0, fmt.Errorf("--scale %q: write pixels=length, such as 918px=2m", text)
	}
	m, err := quantity.ParseLength(length)
	if err != nil {
		return 0, fmt.Errorf("--scale: %w", err)
	}
	return n / m.M(), nil
}

func parsePoint(text string) (app.Point, error) {
	place, at, timed := strings.Cut(text, "@")
	var p app.Point
	if _, err := fmt.Sscanf(place, "%g,%g", &p.X, &p.Y); err != nil {
		return p, fmt.Errorf("--runner %q: write x,y in pixels from the top-left corner, such as 640,380 or 640,380@2.5s", text)
	}
	if timed {
		s, err := quantity.ParseTime(at)
		if err != nil {
			return p, fmt.Errorf("--runner: %w", err)
		}
		p.TimeS = s.Seconds()
	}
	return p, nil
}

// isTerminal tells whether a file is a terminal.
func isTerminal(f *os.File) bool {
	i, err := f.Stat()
	return err == nil && i.Mode()&os.ModeCharDevice != 0
}

// Standard returns the process's own streams as an Environment.
func Standard(version string) Environment {
	return Environment{Stdin: os.Stdin, Stdout: os.Stdout, Stderr: os.Stderr,
		Terminal: isTerminal(os.Stderr), Interactive: isTerminal(os.Stdin) && isTerminal(os.Stderr), Version: version}
}
