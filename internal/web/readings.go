package web

import (
	"errors"
	"fmt"
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
	r.Body = http.MaxBytesReader(w, r.Body, maxReadings)
	var ask app.PageReadings
	if err := read(r, &ask); err != nil {
		var bad *badBody
		if errors.As(err, &bad) && bad.status == http.StatusRequestEntityTooLarge {
			bad.text = fmt.Sprintf("The table is larger than %d MB; leave out what is not to be compared.", app.MaxPageTableBytes>>20)
		}
		a.deny(w, r, err)
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
