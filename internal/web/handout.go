package web

import (
	"context"
	"io"
	"net/http"
	"strconv"

	"gaitwright/internal/app"
)

// Handouts are the step-rate part of the station Plan and the station Handout.
type Handouts interface {
	StepRate(ctx context.Context, visit string) (app.PageStepRate, error)
	ChangeStepRate(ctx context.Context, who, visit string, c app.PageStepRateChange) (app.PageStepRate, error)
	Handout(ctx context.Context, visit string) (app.PageHandout, error)
	AddLog(ctx context.Context, who, visit string, ask app.PageLogAsk) (app.PageHandout, error)
	ReadCode(picture []byte) (string, error)
	Homework(ctx context.Context, visit, language, units string) (data []byte, name string, err error)
	ClickTrack(ctx context.Context, visit string, week, pace int) (write func(io.Writer) error, name string, size int64, err error)
}

func (a api) handoutRoutes(mux *http.ServeMux, handle func(pattern string, work func(*http.Request, string) (any, error))) {
	src := a.src
	handle("GET /api/visits/{id}/steprate", func(r *http.Request, id string) (any, error) { return src.StepRate(r.Context(), id) })
	handle("PUT /api/visits/{id}/steprate", func(r *http.Request, id string) (any, error) {
		var c app.PageStepRateChange
		if err := read(r, &c); err != nil {
			return nil, err
		}
		return src.ChangeStepRate(r.Context(), who(r), id, c)
	})
	handle("GET /api/visits/{id}/handout", func(r *http.Request, id string) (any, error) { return src.Handout(r.Context(), id) })
	handle("POST /api/visits/{id}/log", func(r *http.Request, id string) (any, error) {
		var ask app.PageLogAsk
		if err := read(r, &ask); err != nil {
			return nil, err
		}
		return src.AddLog(r.Context(), who(r), id, ask)
	})
	mux.HandleFunc("POST /api/codes", a.readCode)
	mux.HandleFunc("GET /api/visits/{id}/homework.html", a.homework)
	mux.HandleFunc("GET /api/visits/{id}/click.wav", a.clickTrack)
}

// homework sends the file for the runner's phone. It is a page of its own with its
// own policy, so it is only ever saved, not opened beside the studio's.
func (a api) homework(w http.ResponseWriter, r *http.Request) {
	id, language := r.PathValue("id"), r.URL.Query().Get("lang")
	if !recordID.MatchString(id) {
		fail(w, http.StatusNotFound, "There is no such visit.")
		return
	}
	if err := chosen(r.URL.Query(), "lang", "units"); err != nil {
		a.deny(w, r, err)
		return
	}
	if language == "" {
		language = "en"
	}
	data, name, err := a.src.Homework(r.Context(), id, language, r.URL.Query().Get("units"))
	if err != nil {
		a.deny(w, r, err)
		return
	}
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	send(w, r, "text/html; charset=utf-8", data, nil, tagOf(data))
}

// readCode reads a QR code out of a picture; "text" is empty where none is seen.
func (a api) readCode(w http.ResponseWriter, r *http.Request) {
	data, ok := picture(w, r)
	if !ok {
		return
	}
	text, err := a.src.ReadCode(data)
	if err != nil {
		a.deny(w, r, err)
		return
	}
	answerWith(w, http.StatusOK, map[string]string{"text": text})
}

func (a api) clickTrack(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	week, ok := count(q.Get("week"), 1000)
	pace, also := count(q.Get("pace"), 10)
	switch {
	case !recordID.MatchString(r.PathValue("id")):
		fail(w, http.StatusNotFound, "There is no such visit.")
		return
	case !ok || !also:
		fail(w, http.StatusBadRequest, "Name a week and a pace of the ramp in the address, as week= and pace=, each counted from 0.")
		return
	}
	write, name, size, err := a.src.ClickTrack(r.Context(), r.PathValue("id"), week, pace)
	if err != nil {
		a.deny(w, r, err)
		return
	}
	w.Header().Set("Cache-Control", "no-store")
	w.Header().Set("Content-Type", "audio/wav")
	w.Header().Set("Content-Length", strconv.FormatInt(size, 10))
	w.Header().Set("Content-Disposition", `attachment; filename="`+name+`"`)
	if err := write(w); err != nil && r.Context().Err() == nil {
		a.log.Warn("the click track broke off", "error", err)
	}
}
