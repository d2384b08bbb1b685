package video

import (
	"context"
	"fmt"
	"image"
	"io"
	"slices"
)

// Still decodes one frame, no higher than maxHeightPX (0: as filmed).
func Still(ctx context.Context, f *Facts, frame, maxHeightPX int) (*image.RGBA, error) {
	all, err := Stills(ctx, f, []int{frame}, maxHeightPX)
	if err != nil {
		return nil, err
	}
	return all[0], nil
}

// Stills decodes the given frames in one pass and returns their pictures in the
// order in which they were asked for. A frame asked for twice is returned twice,
// as the same picture.
func Stills(ctx context.Context, f *Facts, frames []int, maxHeightPX int) ([]*image.RGBA, error) {
	if len(frames) == 0 {
		return nil, nil
	}
	pick := slices.Clone(frames)
	slices.Sort(pick)
	pick = slices.Compact(pick)
	if pick[0] < 0 || pick[len(pick)-1] >= f.Frames() {
		return nil, rangeFault(f, pick[0], pick[len(pick)-1]+1)
	}
	found := make(map[int]*image.RGBA, len(pick))
	for group := range slices.Chunk(pick, maxPick) {
		if err := stillGroup(ctx, f, group, maxHeightPX, found); err != nil {
			return nil, err
		}
	}
	out := make([]*image.RGBA, len(frames))
	for k, i := range frames {
		if out[k] = found[i]; out[k] == nil {
			return nil, &Error{File: f.Path, What: fmt.Sprintf("frame %d (%.3f s) cannot be decoded", i, f.TimeS[i]),
				Mend: "choose a neighbouring frame; the file is damaged there", Kind: ErrDecode}
		}
	}
	return out, nil
}

// maxPick bounds the length of the filter expression that picks frames.
const maxPick = 100

func stillGroup(ctx context.Context, f *Facts, pick []int, maxHeightPX int, found map[int]*image.RGBA) error {
	p, err := newPass(ctx, f, pick[0], pick[len(pick)-1]+1, maxHeightPX)
	if err != nil {
		return err
	}
	p.pick = pick
	p.raw("rgba")
	_, err = p.run(ctx, func(out io.Reader) (payload, error) {
		buf := make([]byte, 4*p.width*p.height)
		_, err := io.ReadFull(out, buf)
		return payload{data: buf}, err
	}, func(i int, pix []byte) error {
		found[i] = &image.RGBA{Pix: pix, Stride: 4 * p.width, Rect: image.Rect(0, 0, p.width, p.height)}
		return nil
	})
	return err
}
