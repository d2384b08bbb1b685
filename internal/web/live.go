package web

import (
	"context"
	"errors"
	"io"
	"net/http"
	"strconv"

	"gaitwright/internal/app"
)

// Lives are the live views through a camera while the runner runs. Nothing of them
// is kept.
type Lives interface {
	BeginLive(ctx context.Context, visit string) (app.PageLive, error)
	LiveFrame(ctx context.Context, id string, timeS float64, picture []byte) (app.PageLiveReading, error)
	EndLive(id string)
}

func (a api) liveRoutes(mux *http.ServeMux, handle func(pattern string, work func(*http.Request, string) (any, error))) {
	src := a.src
	handle("POST /api/visits/{id}/live", func(r *http.Request, id string) (any, error) { return src.BeginLive(r.Context(), id) })
	mux.HandleFunc("POST /api/live/{view}/frames", a.liveFrame)
	mux.HandleFunc("DELETE /api/live/{view}", func(w http.ResponseWriter, r *http.Request) {
		src.EndLive(r.PathValue("view"))
		w.WriteHeader(http.StatusNoContent)
	})
}

// picture reads a JPEG from a request's body.
func picture(w http.ResponseWriter, r *http.Request) ([]byte, bool) {
	data, err := io.ReadAll(http.MaxBytesReader(w, r.Body, app.MaxLiveBytes))
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		fail(w, http.StatusRequestEntityTooLarge, "The picture is larger than is taken in.")
	case err != nil:
		fail(w, http.StatusBadRequest, "The picture did not arrive whole.")
	}
	return data, err == nil
}

func (a api) liveFrame(w http.ResponseWriter, r *http.Request) {
	ms, err := strconv.ParseFloat(r.URL.Query().Get("ms"), 64)
	if err != nil {
		fail(w, http.StatusBadRequest, "Say in ms when the picture was taken.")
		return
	}
	data, ok := picture(w, r)
	if !ok {
		return
	}
	reading, err := a.src.LiveFrame(r.Context(), r.PathValue("view"), ms/1000, data)
	if err != nil {
		a.deny(w, r, err)
		return
	}
	answerWith(w, http.StatusOK, reading)
}
