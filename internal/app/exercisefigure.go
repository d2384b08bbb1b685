package app

import (
	"bytes"
	"image/color"

	"gaitwright/gait/body"
	"gaitwright/gait/figure"
	"gaitwright/internal/render"
)

// figureScale is points a metre in the pictures of exercises.
const figureScale = 150

// ExerciseSVG draws an exercise's start or end, for a side, on light or dark. Both
// poses stand in one frame of one scale, so that they can be laid side by side.
func (st *Studio) ExerciseSVG(name, pose, side, look string) ([]byte, error) {
	lib, _ := exercisesInUse()
	e := lib.Lookup(name)
	if e == nil || pose != "start" && pose != "end" {
		return nil, &Problem{Kind: KindNotFound, What: "There is no such exercise, or it has no such position.", Mend: "The positions are start and end."}
	}
	want, err := body.ParseSide(side)
	if err != nil {
		return nil, &Problem{Kind: KindUsage, What: err.Error(), Err: err}
	}
	drawn := func(p figure.Pose) (figure.Drawing, error) {
		d, err := p.Draw()
		if err == nil && e.Each && want != body.NoSide && want != p.NearSide() {
			d = d.Mirrored()
		}
		return d, err
	}
	start, err := drawn(e.Start)
	if err != nil {
		return nil, err
	}
	end, err := drawn(e.End)
	if err != nil {
		return nil, err
	}
	w, h := 0.0, 0.0
	for _, d := range []figure.Drawing{start, end} {
		low, high := d.Bounds()
		w, h = max(w, high.X-low.X), max(h, high.Y-low.Y)
	}
	const edge = 8
	size := render.Size{W: max(w*figureScale, 90) + 2*edge, H: max(h*figureScale, 60) + 2*edge}
	page := render.NewPage(size, e.Title+", "+pose)
	page.Paper = color.NRGBA{}
	colours := render.Light
	if look == "dark" {
		colours = render.Dark
	}
	d := start
	if pose == "end" {
		d = end
	}
	page.LineFigure(render.Box{X: edge, Y: edge, W: size.W - 2*edge, H: size.H - 2*edge}, d, figureScale, colours)
	var out bytes.Buffer
	if err := page.WriteSVG(&out); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}
