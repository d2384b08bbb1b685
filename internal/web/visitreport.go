package web

import (
	"context"
	"io"
	"net/http"
	"strconv"

	"gaitwright/internal/app"
)

// Reports are the reports of visits and the logo on them.
type Reports interface {
	VisitReport(ctx context.Context, visit string, ask app.ReportAsk, format string, page int) (app.ReportFile, error)
	LogoPNG(ctx context.Context) ([]byte, error)
	SetLogo(ctx context.Context, who string, data []byte) error
}

func (a api) reportRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /api/visits/{id}/report/{format}", a.visitReport)
	mux.HandleFunc("GET /api/logo", a.logo)
	mux.HandleFunc("PUT /api/logo", a.putLogo)
	mux.HandleFunc("DELETE /api/logo", func(w http.ResponseWriter, r *http.Request) { a.keepLogo(w, r, nil) })
}

// visitReport sends a report of a visit; its pages are told in a header.
func (a api) visitReport(w http.ResponseWriter, r *http.Request) {
	id, q := r.PathValue("id"), r.URL.Query()
	if !recordID.MatchString(id) {
		fail(w, http.StatusNotFound, "There is no such visit.")
		return
	}
	if err := chosen(q, "for", "paper", "lang", "units"); err != nil {
		a.deny(w, r, err)
		return
	}
	page := 1
	if s := q.Get("page"); s != "" {
		n, err := strconv.Atoi(s)
		if err != nil || n < 1 || n > 1000 {
			fail(w, http.StatusBadRequest, "The address says page="+short(s)+", which is no page. Pages are counted from 1.")
			return
		}
		page = n
	}
	f, err := a.src.VisitReport(r.Context(), id, app.ReportAsk{For: q.Get("for"), Paper: q.Get("paper"), Language: q.Get("lang"), Units: q.Get("units")}, r.PathValue("format"), page)
	if err != nil {
		a.deny(w, r, err)
		return
	}
	how := "inline"
	if q.Get("save") != "" {
		how = "attachment"
	}
	w.Header().Set("Content-Security-Policy", reportPolicy)
	w.Header().Set("Cache-Control", "no-cache")
	w.Header().Set("Report-Pages", strconv.Itoa(f.Pages))
	w.Header().Set("Content-Disposition", how+`; filename="`+f.Name+`"`)
	send(w, r, f.Kind, f.Data, nil, tagOf(f.Data))
}

func (a api) logo(w http.ResponseWriter, r *http.Request) {
	data, err := a.src.LogoPNG(r.Context())
	if err != nil {
		a.deny(w, r, err)
		return
	}
	if data == nil {
		w.WriteHeader(http.StatusNoContent)
		return
	}
	w.Header().Set("Cache-Control", "no-cache")
	send(w, r, "image/png", data, nil, tagOf(data))
}

func (a api) putLogo(w http.ResponseWriter, r *http.Request) {
	switch r.Header.Get("Content-Type") {
	case "image/png", "image/jpeg":
	default:
		fail(w, http.StatusUnsupportedMediaType, "A logo is a PNG or JPEG picture.")
		return
	}
	data, err := io.ReadAll(http.MaxBytesReader(w, r.Body, app.MaxLogoBytes+1))
	if err != nil || len(data) == 0 {
		fail(w, http.StatusRequestEntityTooLarge, "A logo has at most 2 MB.")
		return
	}
	a.keepLogo(w, r, data)
}

func (a api) keepLogo(w http.ResponseWriter, r *http.Request, data []byte) {
	if err := a.src.SetLogo(r.Context(), who(r), data); err != nil {
		a.deny(w, r, err)
		return
	}
	w.WriteHeader(http.StatusNoContent)
}
