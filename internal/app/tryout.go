package app

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"slices"

	"gaitwright/gait/clip"
	"gaitwright/internal/store"
	"gaitwright/internal/synth"
)

// Whoever has no film at hand tries the program on an invented runner: her visit is
// made at once, and her two films are drawn in the background, the side first, so
// that it can be measured while the other is drawn.

const jobDraw = "draw"

// PageTryAsk is POST /api/tryout. Language is en or de: that of what the invented
// runner says.
type PageTryAsk struct {
	Language string `json:"language"`
}

// PageTry names the visit of the invented runner.
type PageTry struct {
	VisitID string `json:"visit_id"`
}

// drawRequest is what a job of drawing was asked.
type drawRequest struct {
	View string `json:"view"`
	Name string `json:"name"` // of the film, for people
	Who  string `json:"who,omitempty"`
}

// drawnViews are the films that are drawn, in their order.
var drawnViews = []clip.View{clip.LeftSide, clip.Rear}

// TryOut makes the invented runner with a visit, with consent, intake and exam, and
// puts the drawing of her films into the queue. What is there or on its way is not
// made again. It returns the visit.
func (st *Studio) TryOut(ctx context.Context, who string, ask PageTryAsk) (PageTry, error) {
	words, ok := tryWords[ask.Language]
	if !ok {
		return PageTry{}, &Problem{Kind: KindUsage, Field: "language", What: fmt.Sprintf("the language is %q; it must be en or de", clean(ask.Language, 20))}
	}
	kept, err := st.records()
	if err != nil {
		return PageTry{}, err
	}
	if _, _, err := ffmpegReady(ctx); err != nil {
		return PageTry{}, err
	}
	if free, err := st.free(st.dir); err == nil && free < roomLeft {
		return PageTry{}, problem(KindFull, "", "Make room on the disk, or begin the program with a folder on another disk (--results).", "the disk has %.1f GB left, too little for films", float64(free)/1e9)
	}
	st.trying.Lock()
	defer st.trying.Unlock()
	visit, err := st.tryVisit(ctx, who, kept, words)
	if err != nil {
		return PageTry{}, err
	}
	if err := st.askForDrawings(ctx, who, kept, visit, words); err != nil {
		return PageTry{}, err
	}
	return PageTry{VisitID: visit}, nil
}

// tryVisit returns the newest visit of the invented runner, who is made where she
// is not there, as is what a visit lacks.
func (st *Studio) tryVisit(ctx context.Context, who string, kept *records, words tryText) (string, error) {
	runnerID, err := st.demoRunner(ctx, kept, demonstration(), words.name)
	if err != nil {
		return "", err
	}
	var f visitRecords
	visit := ""
	err = kept.Read(ctx, func(r store.Reader) error {
		visits, err := r.VisitsOf(runnerID)
		if err != nil || len(visits) == 0 {
			return err
		}
		visit = visits[0].ID
		f, _, err = openVisit(r, visit)
		return err
	})
	if err != nil {
		return "", recordProblem(err, "")
	}
	if visit == "" {
		made, err := st.NewVisit(ctx, who, runnerID, "")
		if err != nil {
			return "", err
		}
		visit = made.ID
	}
	if f.intake == nil {
		if _, err := st.ChangeIntake(ctx, who, visit, words.intake(demoIntake())); err != nil {
			return "", err
		}
	}
	if f.exam == nil {
		if _, err := st.ChangeExam(ctx, who, visit, demoExam()); err != nil {
			return "", err
		}
	}
	return visit, nil
}

// askForDrawings puts the films that a visit lacks into the queue.
func (st *Studio) askForDrawings(ctx context.Context, who string, kept *records, visit string, words tryText) error {
	var jobs []store.Job
	err := kept.Change(ctx, store.Deed{}, func(w store.Writer) error {
		jobs = nil
		f, _, err := openVisit(w, visit)
		if err != nil {
			return err
		}
		for _, v := range drawnViews {
			if f.hasView(v.String()) || f.draws(v) {
				continue
			}
			if err := f.mayFilm(); err != nil {
				return err
			}
			ask := drawRequest{View: v.String(), Name: words.films[v], Who: clean(who, maxWho)}
			j := store.Job{VisitID: visit, Kind: jobDraw, State: store.JobQueued, Message: "waiting", Request: rawJSON(ask)}
			if err := w.PutJob(&j); err != nil {
				return err
			}
			jobs = append(jobs, j)
		}
		return nil
	})
	if err != nil {
		return recordProblem(err, "")
	}
	for _, j := range jobs {
		st.tellJob(j)
	}
	if len(jobs) > 0 {
		st.tellVisit(visit, who)
		st.queue.nudge()
	}
	return nil
}

// drawnView is the view of the film that a job draws; empty where it does other work.
func drawnView(j store.Job) string {
	var ask drawRequest
	if j.Kind != jobDraw || json.Unmarshal(j.Request, &ask) != nil {
		return ""
	}
	return ask.View
}

// draws tells whether a film of that view is being drawn or waits for it.
func (f *visitRecords) draws(v clip.View) bool {
	return slices.ContainsFunc(f.jobs, func(j store.Job) bool { return j.State != store.JobFailed && drawnView(j) == v.String() })
}

// drawJob draws one film of the invented runner and takes it in. One that was begun
// and not ended is drawn anew; one that is in the visit already is not drawn again.
func (st *Studio) drawJob(ctx context.Context, job store.Job) error {
	var ask drawRequest
	if err := json.Unmarshal(job.Request, &ask); err != nil {
		return err
	}
	view, err := clip.ParseView(ask.View)
	if err != nil {
		return err
	}
	kept, err := st.records()
	if err != nil {
		return err
	}
	var f visitRecords
	err = kept.Read(ctx, func(r store.Reader) (err error) { f, _, err = openVisit(r, job.VisitID); return err })
	if err != nil {
		return recordProblem(err, "")
	}
	if i := slices.IndexFunc(f.clips, func(c clipRecord) bool { return c.Name == ask.Name }); i >= 0 {
		job.ClipID = f.clips[i].ID
	} else {
		if err := f.mayFilm(); err != nil {
			return err
		}
		c, err := st.drawInto(ctx, kept, job, view, ask)
		if err != nil {
			return err
		}
		job.ClipID = c.ID
	}
	job.State, job.Share, job.Message, job.Outcome = store.JobDone, 1, "drawn", job.ClipID
	st.endJob(ctx, job)
	return nil
}

// drawInto draws the film and takes it into the job's visit.
func (st *Studio) drawInto(ctx context.Context, kept *records, job store.Job, view clip.View, ask drawRequest) (PageVisitClip, error) {
	st.queue.mu.Lock()
	live := st.queue.now[job.ID]
	st.queue.mu.Unlock()
	e, err := st.sendOut(ctx, errandOrder{Draw: &drawOrder{View: view, Film: st.drawing}})
	if err != nil {
		return PageVisitClip{}, err
	}
	defer e.close()
	if _, err := e.finish(&jobProgress{st: st, ctx: ctx, live: live, alone: true}, nil); err != nil {
		// Where the film was drawn is gone with it, and says nothing to anybody.
		var p *Problem
		if errors.As(err, &p) {
			nameless := *p
			nameless.File = ""
			err = &nameless
		}
		return PageVisitClip{}, err
	}
	hash, bytes, err := e.keep(ctx, kept.files, drawnFile)
	if err != nil {
		return PageVisitClip{}, err
	}
	return st.takeIn(ctx, ask.Who, job.VisitID, ask.Name, hash, bytes, drawnFacts(st.drawing.camera(view), st.drawing, demonstration().SpeedMPS))
}

// drawnFile is the file in which an errand leaves the film it drew.
const drawnFile = "drawn.mp4"

// drawOrder is the drawing of a film of the invented runner as an errand.
type drawOrder struct {
	View clip.View
	Film filmOptions
}

// carryOut draws, on the errand, and leaves the film as a file.
func (o *drawOrder) carryOut(ctx context.Context, order *errandOrder, say *errandTongue) (frames int, err error) {
	p := demonstration()
	p.DurationS = o.Film.Seconds + 1
	runner, err := synth.New(p)
	if err != nil {
		return 0, err
	}
	_, err = shootFilm(ctx, runner, o.View, filepath.Join(order.Dir, drawnFile), o.Film, say)
	return len(synth.Clock(o.Film.RateHz, o.Film.Seconds)), err
}

// drawnFacts is what is known of a drawn film: its view, the belt's speed, a metre
// where the runner is, and when the belt's seam passed the middle.
func drawnFacts(cam synth.Camera, o filmOptions, speedMPS float64) PageClipFacts {
	f := PageClipFacts{View: cam.View.String(), SpeedMPS: known(speedMPS), CameraDistanceM: known(cam.DistanceM())}
	// A metre upright on the middle of the belt, which every view shows unshortened.
	x1, y1, _ := cam.Project(synth.Vec{})
	x2, y2, _ := cam.Project(synth.Vec{Y: 1})
	f.Scale = &PageClipScale{X1: x1, Y1: y1, X2: x2, Y2: y2, LengthM: 1}
	f.Belt = &PageClipBelt{LengthM: synth.BeltLoopM}
	clock := synth.Clock(o.RateHz, o.Seconds)
	for t := 0.0; t <= clock[len(clock)-1]; t += synth.BeltLoopM / speedMPS {
		f.Belt.SeamTimesS = append(f.Belt.SeamTimesS, math.Round(t*o.RateHz)/o.RateHz) // as it is seen: frame by frame
	}
	return f
}

// tryText is what the invented runner is called and says in a language.
type tryText struct {
	name   string
	films  map[clip.View]string
	intake func(PageIntake) PageIntake
}

var tryWords = map[string]tryText{
	"en": {synth.DemoRunner + " (invented)", map[clip.View]string{clip.LeftSide: "invented, left side.mp4", clip.Rear: "invented, rear.mp4"},
		func(p PageIntake) PageIntake { return p }},
	"de": {synth.DemoRunner + " (erfunden)", map[clip.View]string{clip.LeftSide: "erfunden, linke Seite.mp4", clip.Rear: "erfunden, von hinten.mp4"},
		func(p PageIntake) PageIntake {
			p.Training.RecentChange = "Seit einem Monat zwei Bergläufe in der Woche."
			p.Shoes = "Neutralschuh, 8 mm Sprengung, etwa 400 km alt"
			p.Goals = "Ein Halbmarathon im Frühjahr, ohne dass das Knie sich meldet."
			p.History = "Vor zwei Jahren links den Knöchel verstaucht; ausgeheilt."
			p.Complaint = "Ein dumpfer Schmerz vorn am rechten Knie etwa ab dem achten Kilometer, am nächsten Morgen weg."
			for i := range p.Pain {
				p.Pain[i].Since, p.Pain[i].When = "seit sechs Wochen", "bergab und nach dem achten Kilometer"
			}
			return p
		}},
}
