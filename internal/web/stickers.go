package web

import (
	"context"
	"net/http"

	"gaitwright/internal/app"
)

// Stickers are the points that a person clicks in a film and the program follows.
type Stickers interface {
	Stickers(ctx context.Context, clip string) (app.PageStickers, error)
	ChangeStickers(ctx context.Context, who, clip string, p app.PageStickerChange) (app.PageStickers, error)
	FollowStickers(ctx context.Context, who, clip string) (app.PageJob, error)
}

func (a api) stickerRoutes(handle func(pattern string, work func(*http.Request, string) (any, error))) {
	src := a.src
	handle("GET /api/clips/{id}/stickers", func(r *http.Request, id string) (any, error) { return src.Stickers(r.Context(), id) })
	handle("PUT /api/clips/{id}/stickers", func(r *http.Request, id string) (any, error) {
		var p app.PageStickerChange
		if err := read(r, &p); err != nil {
			return nil, err
		}
		return src.ChangeStickers(r.Context(), who(r), id, p)
	})
	handle("POST /api/clips/{id}/stickers/follow", func(r *http.Request, id string) (any, error) { return src.FollowStickers(r.Context(), who(r), id) })
}
