package video

import (
	"context"
	"errors"
	"image"
	"io"
)

// RedrawOptions say what Redraw writes.
type RedrawOptions struct {
	From, To    int     // frames of Facts.TimeS, as in Options
	MaxHeightPX int     // larger pictures are scaled down to this height; 0: as filmed
	SlowBy      float64 // the film plays this many times slower; 0 means 1
	Quality     int     // as in EncodeOptions
}

// Redraw writes a copy of a clip to path with draw's marks on each frame. The
// frames are drawn one after the other; scale is how many pixels of img make one
// pixel of the clip. Nothing is left at path where an error is returned.
func Redraw(ctx context.Context, f *Facts, path string, o RedrawOptions, draw func(i int, timeS, scale float64, img *image.RGBA) error) error {
	r, err := Decode(ctx, f, Options{From: o.From, To: o.To, MaxHeightPX: o.MaxHeightPX})
	if err != nil {
		return err
	}
	defer r.Close()
	e, err := NewEncoder(ctx, path, EncodeOptions{WidthPX: r.WidthPX, HeightPX: r.HeightPX, RateHz: f.MedianHz, SlowBy: o.SlowBy, Quality: o.Quality})
	if err != nil {
		return err
	}
	defer e.Abort()
	var img *image.RGBA
	for {
		frame, err := r.Next()
		if errors.Is(err, io.EOF) {
			return e.Finish()
		}
		if err != nil {
			return err
		}
		img = frame.RGBA(img)
		i, timeS := frame.Index, frame.TimeS
		frame.Release()
		if err := draw(i, timeS, r.Scale, img); err != nil {
			return err
		}
		if err := e.Write(img, timeS); err != nil {
			return err
		}
	}
}
