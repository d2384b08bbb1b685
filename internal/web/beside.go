package web

import (
	"context"
	"encoding/json"
	"io"
	"mime"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"time"

	"gaitwright/internal/app"
)

// Beside is what sets two strides side by side, keeps what is drawn on frames, and
// makes pictures and short films of them, where a Source can do so; app.Studio can.
type Beside interface {
	BesideVisit(ctx context.Context, visit string) (app.PageBeside, error)
	BesideResult(ctx context.Context, result string) (app.PageBeside, error)
	Pairing(a, b app.PageShown, foot string) (app.PagePairing, error)
	Drawings(ctx context.Context, id string, clip int) (app.PageDrawings, error)
	ChangeDrawings(ctx context.Context, who, id string, clip int, ask app.PageDrawingsChange) (app.PageDrawings, error)
	UndoDrawings(ctx context.Context, who, id string, clip int, again bool) (app.PageDrawings, error)
	Picture(ctx context.Context, show app.PageShow) (data []byte, name string, err error)
	ExportFilm(ctx context.Context, show app.PageShow) (app.PageJob, error)
	Exported(ctx context.Context, job string) (path, name string, err error)
}

var _ Beside = (*app.Studio)(nil)

// besideRoutes adds the answers of the page that sets strides side by side, where
// the source has them.
func (a api) besideRoutes(mux *http.ServeMux) {
	b, ok := a.src.(Beside)
	if !ok {
		return
	}
	answer := func(w http.ResponseWriter, r *http.Request, v any, err error) {
		if err != nil {
			a.deny(w, r, err)
			return
		}
		a.json(w, r, v)
	}
	mux.HandleFunc("GET /api/visits/{id}/beside", func(w http.ResponseWriter, r *http.Request) {
		id := r.PathValue("id")
		if !recordID.MatchString(id) {
			fail(w, http.StatusNotFound, "There is no such visit; start again from the list of runners.")
			return
		}
		v, err := b.BesideVisit(r.Context(), id)
		answer(w, r, v, err)
	})
	mux.HandleFunc("GET /api/results/{id}/beside", func(w http.ResponseWriter, r *http.Request) {
		id := r.PathValue("id")
		if !isResultID(id) {
			fail(w, http.StatusNotFound, "There is no result of that name.")
			return
		}
		v, err := b.BesideResult(r.Context(), id)
		answer(w, r, v, err)
	})
	mux.HandleFunc("GET /api/pairing", func(w http.ResponseWriter, r *http.Request) {
		q := r.URL.Query()
		err := chosen(q, "foot")
		var first, second app.PageShown
		if err == nil {
			first, err = shownIn(q.Get("a"))
		}
		if err == nil {
			second, err = shownIn(q.Get("b"))
		}
		if err != nil {
			a.deny(w, r, err)
			return
		}
		v, err := b.Pairing(first, second, q.Get("foot"))
		answer(w, r, v, err)
	})

	const at = "/api/results/{id}/clips/{clip}/drawings"
	mux.HandleFunc("GET "+at, func(w http.ResponseWriter, r *http.Request) {
		atClip(a, w, r, func(id string, n int) (app.PageDrawings, error) { return b.Drawings(r.Context(), id, n) })
	})
	mux.HandleFunc("PUT "+at, func(w http.ResponseWriter, r *http.Request) {
		var ask app.PageDrawingsChange
		r.Body = http.MaxBytesReader(w, r.Body, maxBody)
		if err := read(r, &ask); err != nil {
			a.deny(w, r, err)
			return
		}
		atClip(a, w, r, func(id string, n int) (app.PageDrawings, error) {
			return b.ChangeDrawings(r.Context(), who(r), id, n, ask)
		})
	})
	for word, again := range map[string]bool{"undo": false, "redo": true} {
		mux.HandleFunc("POST "+at+"/"+word, func(w http.ResponseWriter, r *http.Request) {
			atClip(a, w, r, func(id string, n int) (app.PageDrawings, error) {
				return b.UndoDrawings(r.Context(), who(r), id, n, again)
			})
		})
	}

	mux.HandleFunc("GET /api/picture.png", func(w http.ResponseWriter, r *http.Request) {
		show, err := showIn(strings.NewReader(r.URL.Query().Get("show")))
		if err != nil {
			a.deny(w, r, err)
			return
		}
		data, name, err := b.Picture(r.Context(), show)
		if err != nil {
			a.deny(w, r, err)
			return
		}
		w.Header().Set("Cache-Control", "no-store")
		w.Header().Set("Content-Disposition", attachment(name))
		send(w, r, "image/png", data, nil, tagOf(data))
	})
	mux.HandleFunc("POST /api/exports", func(w http.ResponseWriter, r *http.Request) {
		r.Body = http.MaxBytesReader(w, r.Body, maxBody)
		var show app.PageShow
		err := read(r, &show)
		if err == nil {
			err = oneOfOurs(show)
		}
		if err != nil {
			a.deny(w, r, err)
			return
		}
		job, err := b.ExportFilm(r.Context(), show)
		answer(w, r, job, err)
	})
	mux.HandleFunc("GET /api/exports/{job}", func(w http.ResponseWriter, r *http.Request) {
		id := r.PathValue("job")
		if !recordID.MatchString(id) {
			fail(w, http.StatusNotFound, "There is no such film.")
			return
		}
		path, name, err := b.Exported(r.Context(), id)
		if err != nil {
			a.deny(w, r, err)
			return
		}
		f, err := os.Open(path)
		if err != nil {
			a.deny(w, r, err)
			return
		}
		defer f.Close()
		w.Header().Set("Cache-Control", "no-store")
		w.Header().Set("Content-Type", filmKinds[filepath.Ext(name)])
		w.Header().Set("Content-Disposition", attachment(name))
		http.ServeContent(w, r, "", time.Time{}, f)
	})
}

var filmKinds = map[string]string{".mp4": "video/mp4", ".gif": "image/gif"}

// attachment is the header by which a file is saved under a name.
func attachment(name string) string {
	return mime.FormatMediaType("attachment", map[string]string{"filename": name})
}

// shownIn reads "result/clip/stride".
func shownIn(text string) (app.PageShown, error) {
	parts := strings.Split(text, "/")
	if len(parts) == 3 && isResultID(parts[0]) {
		clip, ok := count(parts[1], mostClips)
		stride, also := count(parts[2], mostStrides)
		if ok && also {
			return app.PageShown{Result: parts[0], Clip: clip, Stride: stride}, nil
		}
	}
	return app.PageShown{}, asked("A stride is named as result/clip/stride, counted from 0, as a= and b= in the address.")
}

// mostStrides is more than a clip has.
const mostStrides = 100_000

// showIn reads what is to be drawn from a query.
func showIn(in io.Reader) (app.PageShow, error) {
	var show app.PageShow
	d := json.NewDecoder(in)
	d.DisallowUnknownFields()
	if err := d.Decode(&show); err != nil {
		return show, &badBody{http.StatusBadRequest, "What is to be drawn cannot be understood: " + err.Error()}
	}
	return show, oneOfOurs(show)
}

// oneOfOurs checks the names of the results.
func oneOfOurs(show app.PageShow) error {
	if !isResultID(show.A.Result) || show.B != nil && !isResultID(show.B.Result) {
		return asked("There is no result of that name.")
	}
	return nil
}
