package web

import (
	"context"
	"net/http"

	"gaitwright/internal/app"
)

// Returns is the station Return of a visit.
type Returns interface {
	Return(ctx context.Context, visit, against string) (app.PageReturn, error)
	ChangeReturn(ctx context.Context, who, visit string, c app.PageReturnChoice) (app.PageReturn, error)
}

func (a api) returnRoutes(handle func(pattern string, work func(*http.Request, string) (any, error))) {
	src := a.src
	handle("GET /api/visits/{id}/return", func(r *http.Request, id string) (any, error) {
		return src.Return(r.Context(), id, r.URL.Query().Get("against"))
	})
	handle("PUT /api/visits/{id}/return", func(r *http.Request, id string) (any, error) {
		var c app.PageReturnChoice
		if err := read(r, &c); err != nil {
			return nil, err
		}
		return src.ChangeReturn(r.Context(), who(r), id, c)
	})
}
