package app

import (
	"bytes"
	"context"
	"encoding/base64"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"

	"golang.org/x/image/draw"

	"gaitwright/internal/store"
)

const settingLogo = "studio_logo"

// Bounds of a logo as it is sent, and of the one that is kept.
const (
	MaxLogoBytes = 2 << 20
	maxLogoSide  = 4000 // pixels, either way
	minLogoSide  = 16
	keptLogoSide = 720 // enough for paper
)

// SetLogo keeps the studio's logo for reports: a PNG or JPEG picture, drawn anew so
// that nothing but its pixels is kept. No data takes the logo away.
func (st *Studio) SetLogo(ctx context.Context, who string, data []byte) error {
	kept, deed := "", "Took the studio's logo away"
	if len(data) > 0 {
		small, err := readLogo(data)
		if err != nil {
			return err
		}
		kept, deed = base64.StdEncoding.EncodeToString(small), "Gave the studio a logo"
	}
	return st.change(ctx, who, deed, "", func(w store.Writer) error { return w.PutSetting(settingLogo, kept) })
}

// readLogo checks a picture and makes a PNG of it.
func readLogo(data []byte) ([]byte, error) {
	const mend = "Send a PNG or JPEG picture of 16 to 4000 pixels a side, at most 2 MB."
	refused := func(what string, args ...any) error {
		return &Problem{Kind: KindUsage, Field: "logo", What: fmt.Sprintf(what, args...), Mend: mend}
	}
	if len(data) > MaxLogoBytes {
		return nil, refused("The logo has %.1f MB.", float64(len(data))/(1<<20))
	}
	config, decode := png.DecodeConfig, png.Decode
	if bytes.HasPrefix(data, []byte{0xff, 0xd8}) {
		config, decode = jpeg.DecodeConfig, jpeg.Decode
	} else if !bytes.HasPrefix(data, []byte("\x89PNG\r\n\x1a\n")) {
		return nil, refused("This is no PNG or JPEG picture.")
	}
	c, err := config(bytes.NewReader(data))
	if err != nil {
		return nil, refused("The picture is broken: %v.", err)
	}
	if c.Width < minLogoSide || c.Height < minLogoSide || c.Width > maxLogoSide || c.Height > maxLogoSide {
		return nil, refused("The logo has %d × %d pixels.", c.Width, c.Height)
	}
	if c.Width > 12*c.Height || c.Height > 4*c.Width {
		return nil, refused("A logo of %d × %d pixels is too narrow for the head of a page.", c.Width, c.Height)
	}
	m, err := decode(bytes.NewReader(data))
	if err != nil {
		return nil, refused("The picture is broken: %v.", err)
	}
	b := m.Bounds()
	w, h := b.Dx(), b.Dy()
	if long := max(w, h); long > keptLogoSide {
		w, h = max(1, w*keptLogoSide/long), max(1, h*keptLogoSide/long)
	}
	dst := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(dst, dst.Rect, image.NewUniform(color.White), image.Point{}, draw.Src) // paper
	draw.CatmullRom.Scale(dst, dst.Rect, m, b, draw.Over, nil)
	var out bytes.Buffer
	if err := png.Encode(&out, dst); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// LogoPNG is the studio's logo as it is kept; nil for none.
func (st *Studio) LogoPNG(ctx context.Context) ([]byte, error) {
	var kept string
	err := st.readRecords(ctx, func(r store.Reader) (err error) { kept, err = r.Setting(settingLogo); return err })
	if err != nil || kept == "" {
		return nil, err
	}
	data, err := base64.StdEncoding.DecodeString(kept)
	if err != nil {
		return nil, fmt.Errorf("the studio's logo cannot be read: %w", err)
	}
	return data, nil
}

// logo is the studio's logo as a picture; nil for none.
func (st *Studio) logo(ctx context.Context) (image.Image, error) {
	data, err := st.LogoPNG(ctx)
	if err != nil || data == nil {
		return nil, err
	}
	m, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("the studio's logo cannot be read: %w", err)
	}
	return m, nil
}
