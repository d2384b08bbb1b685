package app

import (
	"context"
	"image"
)

func (st *Studio) logo(ctx context.Context) (image.Image, error) { return nil, nil }
