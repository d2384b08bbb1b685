package web

import (
	"net/http"

	"gaitwright/internal/app"
)

// handbookRoutes hand out the handbook that the program holds.
func (a api) handbookRoutes(mux *http.ServeMux) {
	mux.HandleFunc("GET /api/handbook", func(w http.ResponseWriter, r *http.Request) {
		list, err := app.Handbook()
		if err != nil {
			a.refuse(w, r, err)
			return
		}
		a.json(w, r, list)
	})
	page := func(w http.ResponseWriter, r *http.Request) {
		p, err := app.HandbookPage(r.PathValue("name"))
		if err != nil {
			a.refuse(w, r, err)
			return
		}
		a.json(w, r, p)
	}
	mux.HandleFunc("GET /api/handbook/{name}", page)
	mux.HandleFunc("GET /api/handbook/{$}", page)
}
