package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"mime"
	"net/http"

	"gaitwright/internal/app"
)

// maxReadings bounds what is sent to be compared: a table twice its size, for
// what JSON adds to it, and the rest of the request.
const maxReadings = 2*app.MaxPageTableBytes + 1<<16

func (a api) reliability(w http.ResponseWriter, r *http.Request) {
	answer(a, w, r, a.src.Reliability)
}

func (a api) adopt(w http.ResponseWriter, r *http.Request) {
	answer(a, w, r, a.src.Adopt)
}

// answer reads what is to be compared and writes what work makes of it.
func answer[T any](a api, w http.ResponseWriter, r *http.Request, work func(app.PageReadings) (T, error)) {
	// Another site's page cannot send this type without being asked first.
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != "application/json" {
		fail(w, http.StatusUnsupportedMediaType, "Readings are sent as application/json.")
		return
	}
	d := json.NewDecoder(http.MaxBytesReader(w, r.Body, maxReadings))
	d.DisallowUnknownFields()
	var ask app.PageReadings
	var large *http.MaxBytesError
	switch err := d.Decode(&ask); {
	case errors.As(err, &large):
		fail(w, http.StatusRequestEntityTooLarge, fmt.Sprintf("The table is larger than %d MB; leave out what is not to be compared.", app.MaxPageTableBytes>>20))
		return
	case err != nil:
		fail(w, http.StatusBadRequest, "The readings cannot be understood: "+err.Error())
		return
	}
	out, err := work(ask)
	if err != nil {
		if app.KindOf(err) == app.KindUsage {
			fail(w, http.StatusUnprocessableEntity, err.Error())
			return
		}
		a.refuse(w, r, err)
		return
	}
	a.json(w, r, out)
}
