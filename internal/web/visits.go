package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"mime"
	"net"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"time"

	"gaitwright/internal/app"
)

// Visits are the stations of a visit: runners, films, jobs. The kind of an
// app.Problem decides the status of the answer.
type Visits interface {
	Runners(ctx context.Context, q app.RunnerQuery) (app.PageRunners, error)
	NewRunner(ctx context.Context, who, name string) (app.PageRunner, error)
	Runner(ctx context.Context, id string) (app.PageRunner, error)
	ChangeRunner(ctx context.Context, who, id, visit string, p app.PageRunner) (app.PageRunner, error)
	NewVisit(ctx context.Context, who, runner, day string) (app.PageVisit, error)
	Visit(ctx context.Context, id string) (app.PageVisit, error)
	ChangeVisit(ctx context.Context, who, id string, p app.PageVisitFacts) (app.PageVisit, error)
	RemoveVisit(ctx context.Context, who, id string, version int64) (app.PageRunner, error)
	Undo(ctx context.Context, who, visit string) (app.PageVisit, error)
	Redo(ctx context.Context, who, visit string) (app.PageVisit, error)
	IntakeForm() app.PageIntakeForm
	ChangeIntake(ctx context.Context, who, visit string, p app.PageIntake) (app.PageIntake, error)
	BeginUpload(ctx context.Context, who, visit string, ask app.PageUploadAsk) (app.PageUpload, error)
	Upload(id string) (app.PageUpload, error)
	AddToUpload(ctx context.Context, id string, offset int64, part io.Reader) (end int64, err error)
	AbandonUpload(id string) error
	FinishUpload(ctx context.Context, who, id string) (app.PageVisitClip, error)
	Clip(ctx context.Context, id string) (app.PageVisitClip, error)
	ChangeClip(ctx context.Context, who, id string, p app.PageClipChange) (app.PageVisitClip, error)
	RemoveClip(ctx context.Context, who, id string, version int64) (app.PageVisit, error)
	Belt(ctx context.Context, clip string) (app.PageBeltCheck, error)
	ClipFrame(ctx context.Context, clip string, n int) ([]byte, error)
	ClipTimes(ctx context.Context, clip string) (app.PageClipTimes, error)
	ClipPoster(ctx context.Context, clip string) ([]byte, error)
	MeasureVisit(ctx context.Context, who, visit string, ask app.PageMeasureAsk) (app.PageJob, error)
	Jobs(ctx context.Context) ([]app.PageJob, error)
	TryOut(ctx context.Context, who string, ask app.PageTryAsk) (app.PageTry, error)
	CancelJob(ctx context.Context, who, id string) (app.PageJob, error)
	Settings(ctx context.Context) (app.PageSettings, error)
	ChangeSettings(ctx context.Context, who string, p app.PageSettings) (app.PageSettings, error)
	Events() (events <-chan app.PageEvent, leave func())
	Exams
	Stickers
	Handouts
	Reports
	Runs
	Returns
	Lives
	Plans
	Keeper
}

// recordID is the shape of a record's name.
var recordID = regexp.MustCompile(`^[0-9A-Z]{26}$`)

// slowRoutes are what takes longer to answer than all else, and how long it may.
var slowRoutes = map[string]time.Duration{eraseRoute: eraseWithin}

// maxBody bounds what a form sends.
const maxBody = 1 << 20

func (a api) visitRoutes(mux *http.ServeMux) {
	handle := func(pattern string, work func(*http.Request, string) (any, error)) {
		mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
			id := r.PathValue("id")
			if id != "" && !recordID.MatchString(id) {
				fail(w, http.StatusNotFound, "There is no such record; start again from the list of runners.")
				return
			}
			if within, ok := slowRoutes[pattern]; ok {
				http.NewResponseController(w).SetWriteDeadline(time.Now().Add(within))
			}
			r.Body = http.MaxBytesReader(w, r.Body, maxBody)
			out, err := work(r, id)
			if err != nil {
				a.deny(w, r, err)
				return
			}
			a.json(w, r, out)
		})
	}
	src := a.src
	handle("GET /api/runners", func(r *http.Request, _ string) (any, error) {
		q, err := runnerQuery(r.URL.Query())
		if err != nil {
			return nil, err
		}
		return src.Runners(r.Context(), q)
	})
	handle("POST /api/runners", func(r *http.Request, _ string) (any, error) {
		var ask struct {
			Name string `json:"name"`
		}
		if err := read(r, &ask); err != nil {
			return nil, err
		}
		return src.NewRunner(r.Context(), who(r), ask.Name)
	})
	handle("GET /api/runners/{id}", func(r *http.Request, id string) (any, error) { return src.Runner(r.Context(), id) })
	handle("PUT /api/runners/{id}", func(r *http.Request, id string) (any, error) {
		var p app.PageRunner
		if err := read(r, &p); err != nil {
			return nil, err
		}
		visit := r.URL.Query().Get("visit")
		if err := aVisit(visit); err != nil {
			return nil, err
		}
		return src.ChangeRunner(r.Context(), who(r), id, visit, p)
	})
	handle("POST /api/runners/{id}/visits", func(r *http.Request, id string) (any, error) {
		var ask struct {
			Date string `json:"date"`
		}
		if err := read(r, &ask); err != nil {
			return nil, err
		}
		return src.NewVisit(r.Context(), who(r), id, ask.Date)
	})
	handle("GET /api/visits/{id}", func(r *http.Request, id string) (any, error) { return src.Visit(r.Context(), id) })
	handle("PUT /api/visits/{id}", func(r *http.Request, id string) (any, error) {
		var p app.PageVisitFacts
		if err := read(r, &p); err != nil {
			return nil, err
		}
		return src.ChangeVisit(r.Context(), who(r), id, p)
	})
	handle("DELETE /api/visits/{id}", func(r *http.Request, id string) (any, error) {
		v, err := version(r)
		if err != nil {
			return nil, err
		}
		return src.RemoveVisit(r.Context(), who(r), id, v)
	})
	handle("POST /api/visits/{id}/undo", func(r *http.Request, id string) (any, error) { return src.Undo(r.Context(), who(r), id) })
	handle("POST /api/visits/{id}/redo", func(r *http.Request, id string) (any, error) { return src.Redo(r.Context(), who(r), id) })
	handle("GET /api/intake/form", func(*http.Request, string) (any, error) { return src.IntakeForm(), nil })
	handle("PUT /api/visits/{id}/intake", func(r *http.Request, id string) (any, error) {
		var p app.PageIntake
		if err := read(r, &p); err != nil {
			return nil, err
		}
		if _, err := src.ChangeIntake(r.Context(), who(r), id, p); err != nil {
			return nil, err
		}
		return src.Visit(r.Context(), id)
	})
	handle("GET /api/clips/{id}", func(r *http.Request, id string) (any, error) { return src.Clip(r.Context(), id) })
	handle("PUT /api/clips/{id}", func(r *http.Request, id string) (any, error) {
		var p app.PageClipChange
		if err := read(r, &p); err != nil {
			return nil, err
		}
		return src.ChangeClip(r.Context(), who(r), id, p)
	})
	handle("DELETE /api/clips/{id}", func(r *http.Request, id string) (any, error) {
		v, err := version(r)
		if err != nil {
			return nil, err
		}
		return src.RemoveClip(r.Context(), who(r), id, v)
	})
	handle("GET /api/clips/{id}/belt", func(r *http.Request, id string) (any, error) { return src.Belt(r.Context(), id) })
	handle("GET /api/clips/{id}/times", func(r *http.Request, id string) (any, error) { return src.ClipTimes(r.Context(), id) })
	handle("POST /api/visits/{id}/measure", func(r *http.Request, id string) (any, error) {
		var ask app.PageMeasureAsk
		if err := read(r, &ask); err != nil {
			return nil, err
		}
		return src.MeasureVisit(r.Context(), who(r), id, ask)
	})
	handle("POST /api/tryout", func(r *http.Request, _ string) (any, error) {
		var ask app.PageTryAsk
		if err := read(r, &ask); err != nil {
			return nil, err
		}
		return src.TryOut(r.Context(), who(r), ask)
	})
	handle("GET /api/jobs", func(r *http.Request, _ string) (any, error) { return src.Jobs(r.Context()) })
	handle("POST /api/jobs/{id}/cancel", func(r *http.Request, id string) (any, error) { return src.CancelJob(r.Context(), who(r), id) })
	handle("GET /api/settings", func(r *http.Request, _ string) (any, error) { return src.Settings(r.Context()) })
	handle("PUT /api/settings", func(r *http.Request, _ string) (any, error) {
		var p app.PageSettings
		if err := read(r, &p); err != nil {
			return nil, err
		}
		return src.ChangeSettings(r.Context(), who(r), p)
	})
	mux.HandleFunc("GET /api/clips/{id}/frames/{frame}", a.clipFrame)
	mux.HandleFunc("GET /api/clips/{id}/poster", a.clipPoster)
	a.uploadRoutes(mux)
	a.stickerRoutes(handle)
	a.examRoutes(handle)
	a.handoutRoutes(mux, handle)
	a.reportRoutes(mux)
	a.runRoutes(mux, handle)
	a.returnRoutes(handle)
	a.liveRoutes(mux, handle)
	a.planRoutes(mux, handle)
	a.keepingRoutes(mux, handle)
	mux.HandleFunc("GET "+eventsPath, a.events)
}

func runnerQuery(q url.Values) (app.RunnerQuery, error) {
	out := app.RunnerQuery{Text: q.Get("q"), Tag: q.Get("tag"), From: q.Get("from"), To: q.Get("to"), After: q.Get("after")}
	if s := q.Get("limit"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil || n < 1 {
			return out, asked("The address says limit=%s, which is no number of rows. Write a number from 1.", short(s))
		}
		out.Limit = n
	}
	return out, nil
}

// who names the person or device that does something, for the list of deeds. The
// page writes it percent-encoded, since headers hold no other letters.
func who(r *http.Request) string {
	h := r.Header.Get("Gaitwright-Who")
	if s, err := url.PathUnescape(h); err == nil {
		return s
	}
	return h
}

func version(r *http.Request) (int64, error) {
	v, err := strconv.ParseInt(r.URL.Query().Get("version"), 10, 64)
	if err != nil {
		return 0, asked("Say which version was seen, as ?version= and a number.")
	}
	return v, nil
}

// badBody is what cannot be read of a request.
type badBody struct {
	status int
	text   string
}

func (e *badBody) Error() string { return e.text }

// read decodes the body of a request: one JSON value with known names alone.
func read(r *http.Request, to any) error {
	// Another site's page cannot send this type without being asked first.
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != "application/json" {
		return &badBody{http.StatusUnsupportedMediaType, "Forms are sent as application/json."}
	}
	d := json.NewDecoder(r.Body)
	d.DisallowUnknownFields()
	err := d.Decode(to)
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		return &badBody{http.StatusRequestEntityTooLarge, fmt.Sprintf("What was sent is larger than %d MB.", large.Limit>>20)}
	}
	var late net.Error
	if errors.As(err, &late) && late.Timeout() {
		return &badBody{http.StatusRequestTimeout, "What was sent did not arrive in time. Send it again."}
	}
	if err == nil {
		if _, more := d.Token(); more != io.EOF {
			err = errors.New("something follows after its end")
		}
	}
	if err != nil {
		return &badBody{http.StatusBadRequest, "What was sent cannot be understood: " + err.Error()}
	}
	return nil
}

// statuses of problems, by their kind.
var statuses = map[app.Kind]int{
	app.KindNotFound: http.StatusNotFound, app.KindStale: http.StatusConflict, app.KindNotAllowed: http.StatusPreconditionFailed,
	app.KindTooLarge: http.StatusRequestEntityTooLarge, app.KindUsage: http.StatusUnprocessableEntity, app.KindNoResult: http.StatusUnprocessableEntity,
	app.KindAskBack: http.StatusUnprocessableEntity, app.KindBusy: http.StatusServiceUnavailable, app.KindNotInstalled: http.StatusServiceUnavailable,
	app.KindFull: http.StatusInsufficientStorage,
}

// refusal is the body of an answer that refuses.
type refusal struct {
	Error   string `json:"error"`
	Field   string `json:"field,omitempty"`
	Version int64  `json:"version,omitempty"` // that is kept, of a stale write
}

// deny answers with an error of the visits.
func (a api) deny(w http.ResponseWriter, r *http.Request, err error) {
	var bad *badBody
	var p *app.Problem
	switch {
	case errors.Is(err, context.Canceled) && r.Context().Err() != nil:
		return // the browser has moved on
	case errors.As(err, &bad):
		fail(w, bad.status, bad.text)
		return
	case errors.Is(err, fs.ErrNotExist) && !errors.As(err, &p):
		fail(w, http.StatusNotFound, err.Error())
		return
	}
	body := refusal{Error: app.InOneLine(err)}
	status := http.StatusInternalServerError
	if errors.As(err, &p) {
		body.Field = p.Field
		if s, ok := statuses[p.Kind]; ok {
			status = s
		}
	}
	if s, ok := app.AsStale(err); ok {
		body.Version = s.Kept
	}
	if status == http.StatusInternalServerError {
		a.log.Warn("the page could not be answered", "path", r.URL.Path, "error", err)
	}
	answerWith(w, status, body)
}

func answerWith(w http.ResponseWriter, status int, v any) {
	body, err := json.Marshal(v)
	if err != nil {
		panic("web: " + err.Error())
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	w.Write(body)
}

func (a api) clipFrame(w http.ResponseWriter, r *http.Request) {
	id := r.PathValue("id")
	n, ok := count(r.PathValue("frame"), 1<<30)
	if !ok || !recordID.MatchString(id) {
		fail(w, http.StatusNotFound, "There is no such frame.")
		return
	}
	jpeg, err := a.src.ClipFrame(r.Context(), id, n)
	a.picture(w, r, jpeg, err)
}

func (a api) clipPoster(w http.ResponseWriter, r *http.Request) {
	id := r.PathValue("id")
	if !recordID.MatchString(id) {
		fail(w, http.StatusNotFound, "There is no such clip.")
		return
	}
	jpeg, err := a.src.ClipPoster(r.Context(), id)
	a.picture(w, r, jpeg, err)
}

// picture answers with a picture of a film, which never changes.
func (a api) picture(w http.ResponseWriter, r *http.Request, jpeg []byte, err error) {
	if err != nil {
		a.deny(w, r, err)
		return
	}
	w.Header().Set("Cache-Control", "private, max-age=86400, immutable")
	send(w, r, "image/jpeg", jpeg, nil, tagOf(jpeg))
}
