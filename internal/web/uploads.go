package web

import (
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"strconv"
	"time"

	"gaitwright/internal/app"
)

// Films arrive in parts of a few megabytes, each named by where it begins, so
// that a broken connection costs one part at most. The page asks how much has
// arrived and goes on from there.

const (
	headerOffset = "Upload-Offset"
	headerLength = "Upload-Length"
	partType     = "application/offset+octet-stream"
	// stall is how long nothing may arrive of a part.
	stall = 30 * time.Second
	// telling is how long the look into a film that has arrived may take.
	telling = 15 * time.Minute
)

func (a api) uploadRoutes(mux *http.ServeMux) {
	mux.HandleFunc("POST /api/visits/{id}/uploads", a.uploadBegin)
	mux.HandleFunc("GET /api/uploads/{id}", a.upload) // and HEAD
	mux.HandleFunc("PATCH /api/uploads/{id}", a.uploadPart)
	mux.HandleFunc("DELETE /api/uploads/{id}", a.uploadAbandon)
	mux.HandleFunc("POST /api/uploads/{id}/finish", a.uploadFinish)
}

// uploadID returns the name in the path, or answers that there is none.
func uploadID(w http.ResponseWriter, r *http.Request) (string, bool) {
	id := r.PathValue("id")
	if !isResultID(id) {
		fail(w, http.StatusNotFound, "No file is arriving under this name.")
		return "", false
	}
	return id, true
}

func (a api) uploadBegin(w http.ResponseWriter, r *http.Request) {
	id := r.PathValue("id")
	if !recordID.MatchString(id) {
		fail(w, http.StatusNotFound, "There is no such visit.")
		return
	}
	r.Body = http.MaxBytesReader(w, r.Body, maxBody)
	var ask app.PageUploadAsk
	if err := read(r, &ask); err != nil {
		a.deny(w, r, err)
		return
	}
	up, err := a.src.BeginUpload(r.Context(), who(r), id, ask)
	if err != nil {
		a.deny(w, r, err)
		return
	}
	sayOffset(w, up)
	a.json(w, r, up)
}

func sayOffset(w http.ResponseWriter, up app.PageUpload) {
	w.Header().Set(headerOffset, strconv.FormatInt(up.Offset, 10))
	w.Header().Set(headerLength, strconv.FormatInt(up.Size, 10))
	w.Header().Set("Cache-Control", "no-store")
}

func (a api) upload(w http.ResponseWriter, r *http.Request) {
	id, ok := uploadID(w, r)
	if !ok {
		return
	}
	up, err := a.src.Upload(id)
	if err != nil {
		a.deny(w, r, err)
		return
	}
	sayOffset(w, up)
	answerWith(w, http.StatusOK, up)
}

func (a api) uploadPart(w http.ResponseWriter, r *http.Request) {
	id, ok := uploadID(w, r)
	if !ok {
		return
	}
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != partType {
		fail(w, http.StatusUnsupportedMediaType, "Parts of a film are sent as "+partType+".")
		return
	}
	offset, err := strconv.ParseInt(r.Header.Get(headerOffset), 10, 64)
	if err != nil || offset < 0 {
		fail(w, http.StatusBadRequest, "Say in "+headerOffset+" where the part begins.")
		return
	}
	tooLarge := fmt.Sprintf("A part has at most %d MB.", app.MaxPartBytes>>20)
	if r.ContentLength > app.MaxPartBytes {
		fail(w, http.StatusRequestEntityTooLarge, tooLarge)
		return
	}
	part := &patientReader{from: http.MaxBytesReader(w, r.Body, app.MaxPartBytes), control: http.NewResponseController(w)}
	end, err := a.src.AddToUpload(r.Context(), id, offset, part)
	if k := app.KindOf(err); err == nil || k != app.KindNotFound && k != app.KindBusy {
		w.Header().Set(headerOffset, strconv.FormatInt(end, 10))
	}
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		fail(w, http.StatusRequestEntityTooLarge, tooLarge)
	case err != nil && part.err != nil:
		// The connection broke; what came is kept, and nobody reads the answer.
		fail(w, http.StatusBadRequest, "The part was cut off; go on from where it ends.")
	case err != nil:
		a.deny(w, r, err)
	default:
		w.WriteHeader(http.StatusNoContent)
	}
}

// patientReader reads a part as slowly as it comes, as long as it comes.
type patientReader struct {
	from    io.Reader
	control *http.ResponseController
	err     error // that the connection gave, other than its end
}

func (p *patientReader) Read(b []byte) (int, error) {
	// Where the connection knows no deadlines, as in tests, none are set.
	p.control.SetReadDeadline(time.Now().Add(stall))
	p.control.SetWriteDeadline(time.Now().Add(2 * stall))
	n, err := p.from.Read(b)
	if err != nil && err != io.EOF {
		p.err = err
	}
	return n, err
}

func (a api) uploadAbandon(w http.ResponseWriter, r *http.Request) {
	id, ok := uploadID(w, r)
	if !ok {
		return
	}
	if err := a.src.AbandonUpload(id); err != nil {
		a.deny(w, r, err)
		return
	}
	w.WriteHeader(http.StatusNoContent)
}

func (a api) uploadFinish(w http.ResponseWriter, r *http.Request) {
	id, ok := uploadID(w, r)
	if !ok {
		return
	}
	c := http.NewResponseController(w)
	c.SetReadDeadline(time.Now().Add(telling))
	c.SetWriteDeadline(time.Now().Add(telling))
	clip, err := a.src.FinishUpload(r.Context(), who(r), id)
	if err != nil {
		a.deny(w, r, err)
		return
	}
	a.json(w, r, clip)
}
