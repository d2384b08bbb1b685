package figure

import "math"

// Letters of a drawing's texts, metres: their height and usual width.
const (
	letterH = 0.068
	letterW = 0.038
)

// Sketch is a drawing under way: a person or bars of time, and over them the
// marks of what is measured. Its points are those of the drawing, in metres.
type Sketch struct {
	Drawing
	At map[string]Point // the pose's named points, such as near.knee
}

// Sketch draws the pose as a base for marks: as a body, or in bare lines from
// joint to joint. Its points are enlarged by zoom.
//
// Of the body only the named parts are drawn, as they follow: far leg, far arm,
// trunk or pelvis, near leg or near shank, near arm; the whole body where none is
// named.
func (p Pose) Sketch(lines bool, zoom float64, parts ...string) (*Sketch, error) {
	at, err := p.points()
	if err != nil {
		return nil, err
	}
	if len(parts) == 0 {
		parts = []string{"far leg", "far arm", "trunk", "near leg", "near arm"}
	}
	d := &pencil{at: at, pose: &p}
	for _, part := range parts {
		switch {
		case lines:
			d.stick(part)
		case part == "far leg":
			d.leg("far", FarLimb)
		case part == "far arm":
			d.arm("far", FarLimb)
		case part == "trunk":
			d.body()
		case part == "near leg":
			d.leg("near", NearLimb)
		case part == "near arm":
			d.arm("near", NearLimb)
		case part == "pelvis":
			d.add(taper(Trunk, at["far.hip"], at["near.hip"], thighW, thighW))
		case part == "near shank":
			d.add(taper(NearLimb, at["near.knee"], at["near.ankle"], shankW, shankW*0.62))
			d.add(Shape{Role: NearLimb, Fill: true, Points: footOutline(at["near.ankle"], at["near.heel"], at["near.toe"])})
		}
	}
	s := &Sketch{Drawing: d.Drawing, At: at}
	for name, q := range at {
		at[name] = Point{q.X * zoom, q.Y * zoom}
	}
	for i, shape := range s.Shapes {
		points := make([]Point, len(shape.Points))
		for k, q := range shape.Points {
			points[k] = Point{q.X * zoom, q.Y * zoom}
		}
		shape.Points, shape.Radius = points, shape.Radius*zoom
		if !lines {
			shape.Width *= zoom
		}
		s.Shapes[i] = shape
	}
	return s, nil
}

// stick draws a part as lines between the joints; the far side's are dashed.
func (d *pencil) stick(part string) {
	line := func(role Role, names ...string) {
		var points []Point
		for _, n := range names {
			points = append(points, d.at[n])
		}
		d.add(Shape{Role: role, Width: 0.02, Points: points, Dashed: role == FarLimb})
	}
	switch part {
	case "far leg":
		line(FarLimb, "far.hip", "far.knee", "far.ankle", "far.toe", "far.heel", "far.ankle")
	case "near leg":
		line(NearLimb, "near.hip", "near.knee", "near.ankle", "near.toe", "near.heel", "near.ankle")
	case "pelvis":
		line(Trunk, "far.hip", "near.hip")
	case "near shank":
		line(NearLimb, "near.knee", "near.ankle", "near.toe", "near.heel", "near.ankle")
	case "far arm":
		line(FarLimb, "far.shoulder", "far.elbow", "far.hand")
	case "near arm":
		line(NearLimb, "near.shoulder", "near.elbow", "near.hand")
	case "trunk":
		if d.pose.View == Side {
			line(Trunk, "hip", "back", "neck")
		} else {
			line(Trunk, "far.hip", "near.hip")
			line(Trunk, "far.shoulder", "near.shoulder")
			line(Trunk, "hip", "neck")
		}
		circle := Shape{Role: Trunk, Width: 0.02}
		for i := range 25 {
			circle.Points = append(circle.Points, Dir{Deg: float64(i) * 15}.from(d.at["head"], headR))
		}
		d.add(circle)
	}
}

// Floor draws the ground from one side to the other, at the height y.
func (s *Sketch) Floor(left, right, y float64) {
	s.Shapes = append([]Shape{{Role: Ground, Width: 0.012, Points: []Point{{left, y}, {right, y}}}}, s.Shapes...)
}

// Line draws a measured line, or a dashed line of reference, on a ground of the
// paper's colour so that it is seen over the body.
func (s *Sketch) Line(dashed bool, points ...Point) {
	w := 0.018
	if dashed {
		w = 0.012
	}
	s.Shapes = append(s.Shapes, Shape{Role: Halo, Width: w + 0.016, Points: points}, Shape{Role: Measured, Width: w, Points: points, Dashed: dashed})
}

// Dot marks a place, such as a joint or a sticker.
func (s *Sketch) Dot(p Point) {
	s.Shapes = append(s.Shapes, Shape{Role: Halo, Points: []Point{p}, Radius: 0.034}, Shape{Role: Measured, Points: []Point{p}, Radius: 0.024})
}

// Angle draws the arc of a radius about a point from one direction to another,
// degrees, the short way, with an arrowhead at its end and a text beside its
// middle.
func (s *Sketch) Angle(at Point, from, to, radius float64, text string) {
	turn := math.Remainder(to-from, 360)
	arc := make([]Point, 0, 25)
	for i := range 25 {
		arc = append(arc, Dir{Deg: from + turn*float64(i)/24}.from(at, radius))
	}
	s.Line(false, arc...)
	if math.Abs(turn)*math.Pi/180*radius > 0.1 {
		end, way := arc[24], from+turn+math.Copysign(90, turn)
		back := Dir{Deg: way + 180 + math.Copysign(12, turn)}.from(end, 0.06)
		s.Shapes = append(s.Shapes, Shape{Role: Measured, Fill: true, Points: []Point{end, Dir{Deg: way + 90}.from(back, 0.026), Dir{Deg: way - 90}.from(back, 0.026)}})
	}
	if text != "" {
		s.Beside(arc[12], from+turn/2, text)
	}
}

// Beside writes a text next to a point, on the side of a direction in degrees.
func (s *Sketch) Beside(at Point, deg float64, text string) {
	sin, cos := math.Sincos(deg * math.Pi / 180)
	wide := letterW * float64(len([]rune(text))) / 2
	s.Write(Point{at.X + cos*(wide+0.07), at.Y + sin*(letterH/2+0.04)}, text)
}

// Write writes a text about a point.
func (s *Sketch) Write(at Point, text string) {
	s.Shapes = append(s.Shapes, Shape{Role: Measured, Text: text, Points: []Point{{at.X, at.Y - letterH*0.33}}})
}

// Span draws a length from one point to another, with an end stroke at each, and
// its text on the side of a direction in degrees.
func (s *Sketch) Span(a, b Point, deg float64, text string) {
	angle := math.Atan2(b.Y-a.Y, b.X-a.X)
	nx, ny := -math.Sin(angle)*0.03, math.Cos(angle)*0.03
	s.Line(false, a, b)
	for _, e := range []Point{a, b} {
		s.Line(false, Point{e.X - nx, e.Y - ny}, Point{e.X + nx, e.Y + ny})
	}
	if text != "" {
		s.Beside(mid(a, b), deg, text)
	}
}

// Bar draws a stretch of time.
func (s *Sketch) Bar(role Role, from, to, y float64) {
	const half = 0.045
	s.Shapes = append(s.Shapes, Shape{Role: role, Fill: true, Points: []Point{{from, y - half}, {to, y - half}, {to, y + half}, {from, y + half}}})
}

// Frame returns the corners of the box around the drawing with its texts.
func (d Drawing) Frame() (low, high Point) {
	low, high = d.Bounds()
	for _, s := range d.Shapes {
		if s.Text == "" {
			continue
		}
		wide := letterW * float64(len([]rune(s.Text))) / 2
		q := s.Points[0]
		low = Point{min(low.X, q.X-wide), min(low.Y, q.Y-0.02)}
		high = Point{max(high.X, q.X+wide), max(high.Y, q.Y+letterH)}
	}
	return low, high
}
