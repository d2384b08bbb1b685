package web

import (
	"context"
	"errors"
	"io"
	"mime"
	"net/http"
	"time"

	"gaitwright/internal/app"
)

// Runs are the run files of a runner's watch.
type Runs interface {
	Runs(ctx context.Context, visit string) (app.PageRuns, error)
	TakeInRun(ctx context.Context, who, runner, visit, name string, file io.Reader) (app.PageRunTaken, error)
	ChangeRun(ctx context.Context, who, id string, c app.PageRunChange) error
	RemoveRun(ctx context.Context, who, id, visit string, version int64) error
	RunFolder(ctx context.Context) (app.PageRunFolder, error)
	SetRunFolder(ctx context.Context, who, dir string) (app.PageRunFolder, error)
	TakeFound(ctx context.Context, who, runner, visit, name, hash string) (app.PageRunTaken, error)
}

// runType is the type of a run file's body. Another site's page cannot send it
// without being asked first.
const runType = "application/octet-stream"

func (a api) runRoutes(mux *http.ServeMux, handle func(pattern string, work func(*http.Request, string) (any, error))) {
	src := a.src
	handle("GET /api/visits/{id}/runs", func(r *http.Request, id string) (any, error) { return src.Runs(r.Context(), id) })
	handle("PUT /api/runs/{id}", func(r *http.Request, id string) (any, error) {
		var c app.PageRunChange
		if err := read(r, &c); err != nil {
			return nil, err
		}
		if err := aVisit(c.Visit); err != nil {
			return nil, err
		}
		return struct{}{}, src.ChangeRun(r.Context(), who(r), id, c)
	})
	handle("DELETE /api/runs/{id}", func(r *http.Request, id string) (any, error) {
		v, err := version(r)
		if err != nil {
			return nil, err
		}
		visit := r.URL.Query().Get("visit")
		if err := aVisit(visit); err != nil {
			return nil, err
		}
		return struct{}{}, src.RemoveRun(r.Context(), who(r), id, visit, v)
	})
	handle("GET /api/runfolder", func(r *http.Request, _ string) (any, error) { return src.RunFolder(r.Context()) })
	handle("PUT /api/runfolder", func(r *http.Request, _ string) (any, error) {
		var ask struct {
			Dir string `json:"dir"`
		}
		if err := read(r, &ask); err != nil {
			return nil, err
		}
		return src.SetRunFolder(r.Context(), who(r), ask.Dir)
	})
	handle("POST /api/runners/{id}/runs/found", func(r *http.Request, id string) (any, error) {
		var ask struct {
			Visit string `json:"visit"`
			Hash  string `json:"hash"`
			Name  string `json:"name"`
		}
		if err := read(r, &ask); err != nil {
			return nil, err
		}
		if err := aVisit(ask.Visit); err != nil {
			return nil, err
		}
		return src.TakeFound(r.Context(), who(r), id, ask.Visit, ask.Name, ask.Hash)
	})
	mux.HandleFunc("POST /api/runners/{id}/runs", a.runFile)
}

// runFile takes a run file in as it comes.
func (a api) runFile(w http.ResponseWriter, r *http.Request) {
	id := r.PathValue("id")
	if !recordID.MatchString(id) {
		fail(w, http.StatusNotFound, "There is no such runner; start again from the list of runners.")
		return
	}
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != runType {
		fail(w, http.StatusUnsupportedMediaType, "Run files are sent as "+runType+".")
		return
	}
	visit := r.URL.Query().Get("visit")
	if err := aVisit(visit); err != nil {
		a.deny(w, r, err)
		return
	}
	if r.ContentLength > app.MaxRunBytes {
		fail(w, http.StatusRequestEntityTooLarge, "A run file this large is none; is it the right file?")
		return
	}
	file := &patientReader{from: http.MaxBytesReader(w, r.Body, app.MaxRunBytes), control: http.NewResponseController(w)}
	out, err := a.src.TakeInRun(r.Context(), who(r), id, visit, r.URL.Query().Get("name"), file)
	// Reading may have taken its time; the answer has its own.
	file.control.SetWriteDeadline(time.Now().Add(2 * stall))
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		fail(w, http.StatusRequestEntityTooLarge, "A run file this large is none; is it the right file?")
	case err != nil:
		a.deny(w, r, err)
	default:
		a.json(w, r, out)
	}
}

// aVisit refuses what cannot name a visit; empty is none.
func aVisit(id string) error {
	if id != "" && !recordID.MatchString(id) {
		return asked("There is no visit %q.", short(id))
	}
	return nil
}
