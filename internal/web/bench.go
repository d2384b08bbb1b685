package web

import (
	"context"
	"net/http"

	"gaitwright/internal/app"
)

// Bench is what corrects a result by hand, where a Source can do so; app.Studio
// can.
type Bench interface {
	Edits(ctx context.Context, id string, clip int) (app.PageEdits, error)
	Correct(ctx context.Context, id string, clip int, ask app.PageCorrection) (app.PageCorrected, error)
	UndoEdits(ctx context.Context, id string, clip int, who string, again bool) (app.PageCorrected, error)
	Check(ctx context.Context, id string, clip int) ([]app.PageDoubt, error)
}

var _ Bench = (*app.Studio)(nil)

// maxCorrection bounds what is sent as the corrections of one clip.
const maxCorrection = 8 << 20

// benchRoutes adds the bench's answers, where the source has one.
func (a api) benchRoutes(mux *http.ServeMux) {
	b, ok := a.src.(Bench)
	if !ok {
		return
	}
	const at = "/api/results/{id}/clips/{clip}/"
	mux.HandleFunc("GET "+at+"edits", func(w http.ResponseWriter, r *http.Request) {
		atClip(a, w, r, func(id string, n int) (app.PageEdits, error) { return b.Edits(r.Context(), id, n) })
	})
	mux.HandleFunc("GET "+at+"check", func(w http.ResponseWriter, r *http.Request) {
		atClip(a, w, r, func(id string, n int) ([]app.PageDoubt, error) { return b.Check(r.Context(), id, n) })
	})
	mux.HandleFunc("POST "+at+"edits", func(w http.ResponseWriter, r *http.Request) {
		r.Body = http.MaxBytesReader(w, r.Body, maxCorrection)
		var ask app.PageCorrection
		if err := read(r, &ask); err != nil {
			a.deny(w, r, err)
			return
		}
		ask.Who = who(r)
		atClip(a, w, r, func(id string, n int) (app.PageCorrected, error) { return b.Correct(r.Context(), id, n, ask) })
	})
	for word, again := range map[string]bool{"undo": false, "redo": true} {
		mux.HandleFunc("POST "+at+word, func(w http.ResponseWriter, r *http.Request) {
			atClip(a, w, r, func(id string, n int) (app.PageCorrected, error) {
				return b.UndoEdits(r.Context(), id, n, who(r), again)
			})
		})
	}
}

// atClip answers with what work makes of the clip that the path names.
func atClip[T any](a api, w http.ResponseWriter, r *http.Request, work func(id string, clip int) (T, error)) {
	id := r.PathValue("id")
	n, ok := count(r.PathValue("clip"), mostClips)
	if !isResultID(id) || !ok {
		fail(w, http.StatusNotFound, "There is no result or clip of that name.")
		return
	}
	out, err := work(id, n)
	switch {
	case err == nil:
		a.json(w, r, out)
	case r.Method == http.MethodGet && app.KindOf(err) == app.KindUsage:
		a.refuse(w, r, err) // what is asked to be seen is not there
	default:
		a.deny(w, r, err)
	}
}

// mostClips is more than a result has.
const mostClips = 1000
