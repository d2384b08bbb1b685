package render

import "image/color"

// Palette is the colours of a figure. Left is blue and right amber, far apart in
// hue and lightness for every common kind of colour vision; a line's dash and a
// mark's shape say the same again.
type Palette struct {
	Paper, Ink, Soft  color.NRGBA // ground, text, lesser text
	Rule, Faint       color.NRGBA // hairlines, strong and weak
	Accent            color.NRGBA
	Left, Right, Both color.NRGBA
	Warn              color.NRGBA
	Reference         color.NRGBA // fill of a reference band
}

// Light is for paper and light pages, Dark for dark ones.
var (
	Light = Palette{
		Paper: hex(0xffffff), Ink: hex(0x131c1a), Soft: hex(0x4b5855),
		Rule: hex(0xb9c2bf), Faint: hex(0xe0e5e2), Accent: hex(0x00685a),
		Left: hex(0x1d53bd), Right: hex(0x9c4700), Both: hex(0x131c1a), Warn: hex(0x7a4b00),
		Reference: hex(0xe3ebe8),
	}
	Dark = Palette{
		Paper: hex(0x1b2320), Ink: hex(0xe9efed), Soft: hex(0xa9b8b4),
		Rule: hex(0x4a5854), Faint: hex(0x2d3734), Accent: hex(0x63d8b8),
		Left: hex(0x82b5ff), Right: hex(0xffb35e), Both: hex(0xe9efed), Warn: hex(0xffcf8a),
		Reference: hex(0x2e3b37),
	}
)

func hex(rgb uint32) color.NRGBA {
	return color.NRGBA{uint8(rgb >> 16), uint8(rgb >> 8), uint8(rgb), 255}
}

// faded returns the colour with an opacity from 0 to 1.
func faded(c color.NRGBA, opacity float64) color.NRGBA {
	c.A = uint8(opacity*255 + 0.5)
	return c
}
