package figure

import (
	"fmt"
	"math"
	"strings"
)

// Point is a place in metres, x to the right, y up from the floor.
type Point struct{ X, Y float64 }

// Role says what a shape stands for; whoever paints gives it its colour.
type Role string

// The roles, in the order in which they lie over each other.
const (
	Ground   Role = "ground"    // floor and wall
	Thing    Role = "thing"     // mats, boxes, rollers
	FarLimb  Role = "far limb"  // limbs of the far side
	Halo     Role = "halo"      // the paper's colour around what lies in front
	Trunk    Role = "trunk"     // trunk and head
	NearLimb Role = "near limb" // limbs of the near side
	Worked   Role = "worked"    // the part that works
	Tie      Role = "tie"       // bands and straps
	Move     Role = "move"      // arrows
	Measured Role = "measured"  // lever arms
)

// Shape is one mark: a line of some width with round ends, a filled area, a disc
// or a text.
type Shape struct {
	Role   Role
	Points []Point
	Width  float64 // of a line; 0 where filled
	Fill   bool    // an area through the points
	Radius float64 // of a disc around the one point
	Text   string  // beside the one point
	Dashed bool
}

// Drawing is a figure ready to be painted, in metres.
type Drawing struct {
	Shapes []Shape
}

// Widths of the parts, metres.
const (
	trunkW = 0.155
	thighW = 0.115
	shankW = 0.085
	footW  = 0.055
	armW   = 0.062
	haloW  = 0.022
)

// Draw works the figure out. The error names what the description has wrong.
func (p Pose) Draw() (Drawing, error) {
	at, err := p.points()
	if err != nil {
		return Drawing{}, err
	}
	d := &pencil{at: at, pose: &p}
	left, right := d.span()
	for _, prop := range p.Props {
		if prop.Kind == "box" {
			left, right = min(left, prop.X), max(right, prop.X+prop.W)
		}
	}
	if !p.Above {
		d.line(Ground, 0.008, Point{left - 0.12, -0.004}, Point{right + 0.12, -0.004})
	}
	for _, prop := range p.Props {
		if err := d.behind(prop); err != nil {
			return Drawing{}, err
		}
	}
	d.leg("far", FarLimb)
	d.arm("far", FarLimb)
	d.body()
	d.leg("near", NearLimb)
	d.arm("near", NearLimb)
	for _, w := range p.Work {
		if err := d.work(w); err != nil {
			return Drawing{}, err
		}
	}
	for _, prop := range p.Props {
		if err := d.before(prop); err != nil {
			return Drawing{}, err
		}
	}
	for _, a := range p.Arrows {
		if err := d.arrow(a); err != nil {
			return Drawing{}, err
		}
	}
	if p.Lever != nil {
		if err := d.lever(*p.Lever); err != nil {
			return Drawing{}, err
		}
	}
	return d.Drawing, nil
}

// Mirrored returns the drawing for the other side of the body.
func (d Drawing) Mirrored() Drawing {
	out := Drawing{Shapes: make([]Shape, len(d.Shapes))}
	for i, s := range d.Shapes {
		s.Points = append([]Point(nil), s.Points...)
		for k := range s.Points {
			s.Points[k].X = -s.Points[k].X
		}
		out.Shapes[i] = s
	}
	return out
}

// Bounds returns the corners of the smallest upright box around the drawing.
func (d Drawing) Bounds() (low, high Point) {
	low, high = Point{math.Inf(1), math.Inf(1)}, Point{math.Inf(-1), math.Inf(-1)}
	for _, s := range d.Shapes {
		r := max(s.Width/2, s.Radius)
		for _, q := range s.Points {
			low = Point{min(low.X, q.X-r), min(low.Y, q.Y-r)}
			high = Point{max(high.X, q.X+r), max(high.Y, q.Y+r)}
		}
	}
	return low, high
}

type pencil struct {
	Drawing
	at   map[string]Point
	pose *Pose
}

func (d *pencil) add(s Shape) { d.Shapes = append(d.Shapes, s) }

func (d *pencil) line(role Role, width float64, points ...Point) {
	d.add(Shape{Role: role, Width: width, Points: points})
}

// haloed draws a line with the paper's colour around it.
func (d *pencil) haloed(role Role, width float64, points ...Point) {
	d.line(Halo, width+2*haloW, points...)
	d.line(role, width, points...)
}

func (d *pencil) span() (left, right float64) {
	left, right = math.Inf(1), math.Inf(-1)
	for _, q := range d.at {
		left, right = min(left, q.X), max(right, q.X)
	}
	return left, right
}

func (d *pencil) point(name string) (Point, error) {
	if p, ok := d.at[name]; ok {
		return p, nil
	}
	return Point{}, fmt.Errorf("there is no point %q: the names are like hip, neck, near.knee, far.ankle", name)
}

func (d *pencil) leg(side string, role Role) {
	hip, knee, ankle := d.at[side+".hip"], d.at[side+".knee"], d.at[side+".ankle"]
	heel, toe := d.at[side+".heel"], d.at[side+".toe"]
	if role == NearLimb {
		d.line(Halo, thighW+2*haloW, toward(hip, knee, 0.3), knee)
		d.line(Halo, shankW+2*haloW, knee, ankle)
	}
	d.add(taper(role, hip, knee, thighW, thighW*0.78))
	d.add(taper(role, knee, ankle, shankW, shankW*0.62))
	d.add(Shape{Role: role, Fill: true, Points: footOutline(ankle, heel, toe)})
}

// footOutline is a shoe through ankle, heel and toe.
func footOutline(ankle, heel, toe Point) []Point {
	along := func(t float64) Point { return Point{heel.X + (toe.X-heel.X)*t, heel.Y + (toe.Y-heel.Y)*t} }
	up := Point{ankle.X - along(0.24).X, ankle.Y - along(0.24).Y}
	raise := func(q Point, f float64) Point { return Point{q.X + up.X*f, q.Y + up.Y*f} }
	return []Point{heel, raise(along(-0.02), 0.7), raise(along(0.02), 1.25), raise(along(0.42), 1.2), raise(along(0.72), 0.62), raise(along(0.97), 0.38), toe}
}

// taper is a limb: an area with round ends, wider at the first point.
func taper(role Role, a, b Point, wa, wb float64) Shape {
	angle := math.Atan2(b.Y-a.Y, b.X-a.X)
	var pts []Point
	arc := func(c Point, r, from float64) {
		for i := 0; i <= 10; i++ {
			s, cs := math.Sincos(from + float64(i)*math.Pi/10)
			pts = append(pts, Point{c.X + cs*r, c.Y + s*r})
		}
	}
	arc(a, wa/2, angle+math.Pi/2)
	arc(b, wb/2, angle-math.Pi/2)
	return Shape{Role: role, Fill: true, Points: pts}
}

func (d *pencil) arm(side string, role Role) {
	s, e, h := d.at[side+".shoulder"], d.at[side+".elbow"], d.at[side+".hand"]
	if role == NearLimb {
		d.line(Halo, armW+2*haloW, toward(s, e, 0.15), e, h)
	}
	d.add(taper(role, s, e, armW*1.1, armW*0.85))
	d.add(taper(role, e, h, armW*0.85, armW*0.7))
	d.add(Shape{Role: role, Points: []Point{h}, Radius: armW * 0.52})
}

func (d *pencil) body() {
	hip, back, neck := d.at["hip"], d.at["back"], d.at["neck"]
	if d.pose.View == Side {
		d.haloed(Trunk, trunkW, curve(hip, back, neck)...)
	} else {
		d.line(Halo, trunkW+2*haloW, hip, neck)
		nh, fh, ns, fs := d.at["near.hip"], d.at["far.hip"], d.at["near.shoulder"], d.at["far.shoulder"]
		d.add(taper(Trunk, fh, nh, thighW, thighW))
		d.add(taper(Trunk, fs, ns, armW*1.2, armW*1.2))
		d.add(Shape{Role: Trunk, Fill: true, Points: []Point{fh, nh, toward(ns, back, 0.25), ns, fs, toward(fs, back, 0.25)}})
	}
	d.line(Trunk, armW*0.9, neck, toward(neck, d.at["head"], 0.8))
	d.add(Shape{Role: Halo, Points: []Point{d.at["head"]}, Radius: headR + haloW/2})
	d.add(Shape{Role: Trunk, Points: []Point{d.at["head"]}, Radius: headR})
}

func toward(a, b Point, f float64) Point { return Point{a.X + (b.X-a.X)*f, a.Y + (b.Y-a.Y)*f} }

// curve runs smoothly from a through b to c.
func curve(a, b, c Point) []Point {
	// The control point of the parabola that meets b in its middle.
	k := Point{2*b.X - (a.X+c.X)/2, 2*b.Y - (a.Y+c.Y)/2}
	var out []Point
	for i := 0; i <= 12; i++ {
		t := float64(i) / 12
		u := 1 - t
		out = append(out, Point{u*u*a.X + 2*u*t*k.X + t*t*c.X, u*u*a.Y + 2*u*t*k.Y + t*t*c.Y})
	}
	return out
}

// ends returns the two ends of a named segment and its width.
func (d *pencil) ends(segment string) (a, b Point, width float64, err error) {
	if segment == "trunk" {
		return d.at["hip"], d.at["neck"], trunkW, nil
	}
	side, part, ok := strings.Cut(segment, ".")
	if ok && (side == "near" || side == "far") {
		switch part {
		case "thigh":
			return d.at[side+".hip"], d.at[side+".knee"], thighW, nil
		case "shank":
			return d.at[side+".knee"], d.at[side+".ankle"], shankW, nil
		case "foot":
			return d.at[side+".heel"], d.at[side+".toe"], footW, nil
		case "arm":
			return d.at[side+".shoulder"], d.at[side+".elbow"], armW, nil
		}
	}
	return a, b, 0, fmt.Errorf("there is no segment %q: trunk, near.thigh, near.shank, near.foot, near.arm, or far", segment)
}

func (d *pencil) work(w Work) error {
	a, b, width, err := d.ends(w.Segment)
	if err != nil {
		return err
	}
	// front is to the right of the segment's direction when it hangs or stands in
	// a figure that faces right: for a limb (downward) its left normal.
	angle := math.Atan2(b.Y-a.Y, b.X-a.X)
	nx, ny := -math.Sin(angle), math.Cos(angle)
	if w.Segment == "trunk" {
		nx, ny = -nx, -ny
	}
	off := width * 0.27
	switch w.Edge {
	case "front", "outer":
		// near limbs are at the right of a front view: outer is to the right too
	case "back", "inner":
		off = -off
	case "middle":
		off = 0
	case "hip":
		at := Point{a.X - nx*width*0.35, a.Y - ny*width*0.35}
		d.add(Shape{Role: Worked, Points: []Point{toward(at, b, 0.06)}, Radius: 0.062})
		return nil
	default:
		return fmt.Errorf("edge %q is none of front, back, inner, outer, middle, hip", w.Edge)
	}
	if strings.HasPrefix(w.Segment, "far") && d.pose.View != Side {
		off = -off
	}
	shift := func(q Point) Point { return Point{q.X + nx*off, q.Y + ny*off} }
	d.line(Worked, width*0.36, shift(toward(a, b, 0.16)), shift(toward(a, b, 0.84)))
	return nil
}

// behind draws the things that lie behind the figure.
func (d *pencil) behind(p Prop) error {
	switch p.Kind {
	case "mat":
		left, right := d.span()
		d.add(Shape{Role: Thing, Width: 0.03, Points: []Point{{left - 0.05, 0.006}, {right + 0.05, 0.006}}})
	case "wall":
		d.line(Ground, 0.02, Point{p.X, 0}, Point{p.X, 1.9})
	case "box":
		if !(p.W > 0 && p.H > 0) {
			return fmt.Errorf("a box needs w and h")
		}
		y := p.Y
		d.add(Shape{Role: Thing, Fill: true, Points: []Point{{p.X, y}, {p.X + p.W, y}, {p.X + p.W, y + p.H}, {p.X, y + p.H}}})
	case "couch":
		if !(p.W > 0 && p.H > 0) {
			return fmt.Errorf("a couch needs w and h")
		}
		r := p.X + p.W
		d.line(Thing, 0.022, Point{p.X, p.Y}, Point{r, p.Y}, Point{r, p.Y + p.H}, Point{p.X, p.Y + p.H}, Point{p.X, p.Y})
	case "ball", "roller":
		at, err := d.point(p.At)
		if err != nil {
			return err
		}
		r := 0.07
		if p.H > 0 {
			r = p.H / 2
		}
		at.Y = max(at.Y-thick(p.At)/2-r, r)
		if p.Y != 0 {
			at.Y = p.Y
		}
		at.X += p.X
		d.add(Shape{Role: Thing, Points: []Point{at}, Radius: r})
		d.add(Shape{Role: Halo, Points: []Point{at}, Radius: r * 0.45})
	}
	return nil
}

// before draws the things that lie in front of the figure.
func (d *pencil) before(p Prop) error {
	switch p.Kind {
	case "mat", "wall", "box", "couch", "ball", "roller":
		return nil
	case "band":
		a, err := d.point(p.At)
		if err != nil {
			return err
		}
		b, err := d.point(p.To)
		if err != nil {
			return err
		}
		d.line(Halo, 0.05, a, b)
		d.line(Tie, 0.026, a, b)
	case "strap":
		a, err := d.point(p.At)
		if err != nil {
			return err
		}
		end := Point{p.X, p.Y}
		d.line(Halo, 0.045, a, end)
		d.line(Tie, 0.02, a, end)
		m := toward(a, end, 0.55)
		d.add(Shape{Role: Halo, Points: []Point{m}, Radius: 0.062})
		d.add(Shape{Role: Tie, Points: []Point{m}, Radius: 0.048})
		d.add(Shape{Role: Halo, Points: []Point{m}, Radius: 0.022})
	case "weight":
		a, err := d.point(p.At)
		if err != nil {
			return err
		}
		d.line(Tie, 0.03, Point{a.X - 0.09, a.Y}, Point{a.X + 0.09, a.Y})
		for _, x := range []float64{-0.09, 0.09} {
			d.line(Tie, 0.045, Point{a.X + x, a.Y - 0.05}, Point{a.X + x, a.Y + 0.05})
		}
	case "stick":
		a, err := d.point(p.At)
		if err != nil {
			return err
		}
		b, err := d.point(p.To)
		if err != nil {
			return err
		}
		d.line(Thing, 0.022, a, b)
	default:
		return fmt.Errorf("there is no thing %q: mat, wall, box, couch, roller, ball, band, strap, weight, stick", p.Kind)
	}
	return nil
}

func (d *pencil) arrow(a Arrow) error {
	from, err := d.point(a.From)
	if err != nil {
		return err
	}
	length, away := a.Length, a.Away
	if length == 0 {
		length = 0.22
	}
	if away == 0 {
		away = 0.08
	}
	dir := Dir{Deg: a.Deg}
	start, end := dir.from(from, away), dir.from(from, away+length)
	neck := dir.from(from, away+length-0.05)
	d.line(Halo, 0.05, start, end)
	d.line(Move, 0.02, start, neck)
	l, r := Dir{Deg: a.Deg + 90}.from(neck, 0.036), Dir{Deg: a.Deg - 90}.from(neck, 0.036)
	d.add(Shape{Role: Move, Fill: true, Points: []Point{end, l, r}})
	return nil
}

func (d *pencil) lever(l Lever) error {
	a, err := d.point(l.From)
	if err != nil {
		return err
	}
	b, err := d.point(l.To)
	if err != nil {
		return err
	}
	angle := math.Atan2(b.Y-a.Y, b.X-a.X)
	nx, ny := -math.Sin(angle)*0.15, math.Cos(angle)*0.15
	if ny < 0 || ny == 0 && nx < 0 {
		nx, ny = -nx, -ny
	}
	p, q := Point{a.X + nx, a.Y + ny}, Point{b.X + nx, b.Y + ny}
	d.add(Shape{Role: Measured, Width: 0.008, Points: []Point{a, p}, Dashed: true})
	d.add(Shape{Role: Measured, Width: 0.008, Points: []Point{b, q}, Dashed: true})
	d.line(Measured, 0.014, p, q)
	for _, e := range []Point{p, q} {
		d.line(Measured, 0.014, Point{e.X - nx*0.2, e.Y - ny*0.2}, Point{e.X + nx*0.2, e.Y + ny*0.2})
	}
	if l.Text != "" {
		// Beside the line, clear of it: further out the steeper the line is.
		m := mid(p, q)
		out := 0.06 + 0.028*float64(len([]rune(l.Text)))*math.Abs(nx)/0.15
		n := math.Hypot(nx, ny)
		d.add(Shape{Role: Measured, Points: []Point{{m.X + nx/n*out, m.Y + ny/n*out - 0.02}}, Text: l.Text})
	}
	return nil
}
