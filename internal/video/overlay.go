package video

import (
	"fmt"
	"image"
	"image/color"
	"math"

	"gaitwright/gait/body"
)

// Point is a landmark in the picture.
type Point struct {
	XPX, YPX   float64 // pixels from the top left corner of the picture; NaN where not seen
	Confidence float64 // 0 to 1
}

// Seen tells whether the point has a place.
func (p Point) Seen() bool { return !math.IsNaN(p.XPX) && !math.IsNaN(p.YPX) }

// farAway is how far outside the picture, in pixels, a point may lie and still be
// an end of a line that crosses it.
const farAway = 20_000

func (p Point) near(r image.Rectangle) bool {
	return math.Abs(p.XPX) <= float64(r.Dx())+farAway && math.Abs(p.YPX) <= float64(r.Dy())+farAway
}

// Unseen is a landmark that has no place in this frame.
var Unseen = Point{XPX: math.NaN(), YPX: math.NaN()}

// SureFrom is the confidence from which a landmark is drawn solid; below it is
// drawn faint and hollow.
const SureFrom = 0.5

// Overlay is what Annotate draws over one frame.
type Overlay struct {
	Points [body.NumLandmarks]Point
	// Near is the side toward the camera, drawn on top; NoSide from the rear or
	// front.
	Near body.Side
	// OnGround tells which feet are on the ground, by body.Side; it is drawn
	// where ContactsKnown.
	OnGround      [3]bool
	ContactsKnown bool
	Angles        []Angle
	Marks         []Mark // drawn by hand
	// Caption is a line at the head of the panel: runner, view, speed.
	Caption string
	Frame   int
	TimeS   float64 // on the clip's own clock
	Legend  bool    // explain lines and joints
	Panel   bool    // show caption, time, frame, contacts and legend at all
	// Weight makes lines, joints and numbers that many times as large, for a
	// picture that is shown small; 0 is 1.
	Weight float64
}

// Angle is a joint or segment angle to be drawn as an arc with its number.
type Angle struct {
	Vertex    Point
	From, To  float64 // directions of the arms, radians clockwise from rightward in the picture
	LengthPX  float64 // of the dashed arm at From, from which the angle counts
	ValueDeg  float64 // the number shown; NaN draws nothing
	Side      body.Side
	Name      string // before the number; may be empty
	LabelLeft bool   // the number stands to the left of the vertex
}

// The colours: left blue, right amber, the midline near white, on a dark edge
// that shows on any picture.
var (
	inkLeft   = color.NRGBA{0x82, 0xb5, 0xff, 0xff}
	inkRight  = color.NRGBA{0xff, 0xb3, 0x5e, 0xff}
	inkMiddle = color.NRGBA{0xf2, 0xf5, 0xf4, 0xff}
	inkSoft   = color.NRGBA{0xa9, 0xb8, 0xb4, 0xff}
	inkEdge   = color.NRGBA{0x06, 0x0a, 0x09, 0xc8}
	inkPanel  = color.NRGBA{0x0b, 0x10, 0x0f, 0xc4}
)

const faintAlpha = 0.45

func inkOf(s body.Side) color.NRGBA {
	switch s {
	case body.Left:
		return inkLeft
	case body.Right:
		return inkRight
	}
	return inkMiddle
}

func fade(c color.NRGBA, by float64) color.NRGBA {
	c.A = uint8(math.Round(float64(c.A) * by))
	return c
}

// KneeFlexion prepares the arc of knee flexion on one side: between the thigh
// carried on beyond the knee and the shank. Where valueDeg is NaN the angle in
// the picture is shown. It is false where hip, knee or ankle is not seen.
func KneeFlexion(points *[body.NumLandmarks]Point, side body.Side, valueDeg float64) (Angle, bool) {
	hip, knee, ankle := points[body.LeftHip.On(side)], points[body.LeftKnee.On(side)], points[body.LeftAnkle.On(side)]
	if !hip.Seen() || !knee.Seen() || !ankle.Seen() {
		return Angle{}, false
	}
	a := Angle{Vertex: knee, Side: side, Name: "knee", ValueDeg: valueDeg,
		From: direction(hip, knee), To: direction(knee, ankle), LengthPX: 0.55 * distance(knee, ankle)}
	a.straighten()
	if math.IsNaN(valueDeg) {
		a.ValueDeg = math.Abs(a.To-a.From) * 180 / math.Pi
	}
	// The number stands in front of the knee, on the side the shank turns
	// away from.
	a.LabelLeft = math.Cos(a.To) > math.Cos(a.From)
	return a, true
}

// TrunkLean prepares the arc between the vertical through the middle of the hips
// and the line from there to the middle of the shoulders.
func TrunkLean(points *[body.NumLandmarks]Point, valueDeg float64) (Angle, bool) {
	hips, ok1 := middle(points[body.LeftHip], points[body.RightHip])
	shoulders, ok2 := middle(points[body.LeftShoulder], points[body.RightShoulder])
	if !ok1 || !ok2 {
		return Angle{}, false
	}
	a := Angle{Vertex: hips, Name: "lean", ValueDeg: valueDeg, From: -math.Pi / 2, To: direction(hips, shoulders), LengthPX: 0.8 * distance(hips, shoulders)}
	a.straighten()
	if math.IsNaN(valueDeg) {
		a.ValueDeg = math.Abs(a.To-a.From) * 180 / math.Pi
	}
	a.LabelLeft = a.To > a.From
	return a, true
}

// straighten brings To within half a turn of From.
func (a *Angle) straighten() {
	a.To = a.From + math.Remainder(a.To-a.From, 2*math.Pi)
}

func direction(from, to Point) float64 { return math.Atan2(to.YPX-from.YPX, to.XPX-from.XPX) }
func distance(a, b Point) float64      { return math.Hypot(b.XPX-a.XPX, b.YPX-a.YPX) }

func middle(a, b Point) (Point, bool) {
	return Point{XPX: (a.XPX + b.XPX) / 2, YPX: (a.YPX + b.YPX) / 2, Confidence: math.Min(a.Confidence, b.Confidence)}, a.Seen() && b.Seen()
}

// Annotate draws an overlay onto a frame. Left is blue, solid, with round joints;
// right is amber, dashed, with diamonds; what is unsure is faint and hollow. It
// is safe for use by several goroutines on different frames.
func Annotate(frame *image.RGBA, o Overlay) {
	letters := spareFaces.Get().(faces)
	defer spareFaces.Put(letters)
	// One unit is a pixel in a picture of 720 × 1280 or so.
	w, h := float64(frame.Rect.Dx()), float64(frame.Rect.Dy())
	d := drawing{ink: ink{img: frame}, faces: letters, u: math.Max(0.5, math.Sqrt(w*h)/900), w: w, h: h, o: &o}
	if o.Weight > 0 && o.Weight < 10 {
		d.u *= o.Weight
	}
	for l, p := range o.Points {
		if !p.near(frame.Rect) {
			o.Points[l] = Unseen
		}
	}
	d.ground()
	for _, side := range d.order() {
		d.bones(side)
		d.joints(side)
	}
	for _, a := range o.Angles {
		d.angle(a)
	}
	for _, m := range o.Marks {
		d.mark(m)
	}
	if o.Panel {
		d.panel()
	}
}

type drawing struct {
	ink
	faces faces
	u     float64 // the unit of all widths, pixels
	w, h  float64
	o     *Overlay
}

// order lists the midline and the sides from the back to the front.
func (d *drawing) order() [3]body.Side {
	near := d.o.Near
	if near == body.NoSide {
		near = body.Left
	}
	return [3]body.Side{body.NoSide, near.Other(), near}
}

func boneSide(b body.Bone) body.Side {
	if b.From.Side() == b.To.Side() {
		return b.From.Side()
	}
	return body.NoSide
}

// alpha is how strongly something is drawn: less where it is unsure, a little
// less on the far side.
func (d *drawing) alpha(side body.Side, confidence float64) float64 {
	a := 1.0
	if confidence < SureFrom || math.IsNaN(confidence) {
		a = faintAlpha
	}
	if d.o.Near != body.NoSide && side == d.o.Near.Other() {
		a *= 0.85
	}
	return a
}

func (p Point) spot() spot { return spot{p.XPX, p.YPX} }

// bones draws the lines of one side, all edges first so that no edge lies over a
// neighbour's line.
func (d *drawing) bones(side body.Side) {
	for _, edge := range []bool{true, false} {
		for _, b := range body.Skeleton {
			from, to := d.o.Points[b.From], d.o.Points[b.To]
			if boneSide(b) != side || !from.Seen() || !to.Seen() {
				continue
			}
			alpha := d.alpha(side, math.Min(from.Confidence, to.Confidence))
			width := 3.4
			if side == body.NoSide {
				width = 1.8
			}
			switch {
			case edge:
				d.line(from.spot(), to.spot(), (width+2.6)*d.u, fade(inkEdge, alpha))
			case side == body.Right:
				d.dashes(from.spot(), to.spot(), width*d.u, 5*d.u, 8*d.u, fade(inkRight, alpha))
			default:
				d.line(from.spot(), to.spot(), width*d.u, fade(inkOf(side), alpha))
			}
		}
	}
}

// joints draws the landmarks of one side that are ends of bones.
func (d *drawing) joints(side body.Side) {
	var done [body.NumLandmarks]bool
	for _, b := range body.Skeleton {
		for _, l := range []body.Landmark{b.From, b.To} {
			if p := d.o.Points[l]; !done[l] && l.Side() == side && p.Seen() {
				d.joint(p.spot(), side, p.Confidence, d.alpha(side, 1))
			}
			done[l] = true
		}
	}
}

func (d *drawing) joint(at spot, side body.Side, confidence, alpha float64) {
	c, edge := fade(inkOf(side), alpha), fade(inkEdge, alpha)
	unsure := confidence < SureFrom || math.IsNaN(confidence)
	switch {
	case unsure && side == body.Right:
		d.hollowDiamond(at, 4.6*d.u, 3.4*d.u, fade(edge, 0.7))
		d.hollowDiamond(at, 4.6*d.u, 1.5*d.u, c)
	case unsure:
		d.ring(at, 3.9*d.u, 3.4*d.u, fade(edge, 0.7))
		d.ring(at, 3.9*d.u, 1.5*d.u, c)
	case side == body.Right:
		d.diamond(at, 7.4*d.u, edge)
		d.diamond(at, 5.4*d.u, c)
	default:
		d.disc(at, 6*d.u, edge)
		d.disc(at, 4.4*d.u, c)
	}
}

// ground underlines each foot that is on the ground.
func (d *drawing) ground() {
	if !d.o.ContactsKnown {
		return
	}
	for _, side := range body.Sides {
		heel, toe := d.o.Points[body.LeftHeel.On(side)], d.o.Points[body.LeftToe.On(side)]
		if !d.o.OnGround[side] || !heel.Seen() || !toe.Seen() {
			continue
		}
		y := math.Max(heel.YPX, toe.YPX) + 11*d.u
		x0, x1 := math.Min(heel.XPX, toe.XPX)-8*d.u, math.Max(heel.XPX, toe.XPX)+8*d.u
		if least := 34 * d.u; x1-x0 < least {
			x0, x1 = (x0+x1-least)/2, (x0+x1+least)/2
		}
		d.line(spot{x0, y}, spot{x1, y}, 7*d.u, inkEdge)
		if side == body.Right {
			d.dashes(spot{x0, y}, spot{x1, y}, 4*d.u, 5*d.u, 8*d.u, inkRight)
		} else {
			d.line(spot{x0, y}, spot{x1, y}, 4*d.u, inkLeft)
		}
	}
}

// angle draws the arm from which the angle counts, the arc and the number.
func (d *drawing) angle(a Angle) {
	if !a.Vertex.near(d.img.Rect) || !(math.Abs(a.ValueDeg) <= 360 && math.Abs(a.From) < 100 && math.Abs(a.To-a.From) <= 2*math.Pi && a.LengthPX >= 0 && a.LengthPX <= farAway) {
		return
	}
	at, c := a.Vertex.spot(), inkOf(a.Side)
	end := at.to(a.LengthPX, a.From)
	d.dashes(at, end, 3.4*d.u, 3*d.u, 5*d.u, fade(inkEdge, 0.8))
	d.dashes(at, end, 1.4*d.u, 3*d.u, 5*d.u, inkMiddle)
	r := math.Min(30*d.u, math.Max(16*d.u, 0.8*a.LengthPX))
	if math.Abs(a.To-a.From) > 0.02 {
		d.wedge(at, r, a.From, a.To, fade(c, 0.28))
		d.arc(at, r, a.From, a.To, 4.4*d.u, inkEdge)
		d.arc(at, r, a.From, a.To, 2*d.u, inkMiddle)
	}
	label := fmt.Sprintf("%.0f°", a.ValueDeg)
	if label == "-0°" {
		label = "0°"
	}
	if a.Name != "" {
		label = a.Name + " " + label
	}
	size := 17 * d.u
	width := d.faces.width(label, bold, size)
	x := at.x + 20*d.u
	if a.LabelLeft {
		x = at.x - 20*d.u - width
	}
	x = math.Max(6*d.u, math.Min(x, d.w-width-6*d.u))
	y := at.y + size*0.35
	d.ink.panel(x-5*d.u, y-size*0.92, width+10*d.u, size*1.28, 5*d.u, inkPanel)
	d.text(d.faces, spot{x, y}, label, bold, size, c)
}

// contactWords says which feet are on the ground.
func (o *Overlay) contactWords() (string, body.Side) {
	switch l, r := o.OnGround[body.Left], o.OnGround[body.Right]; {
	case l && r:
		return "both feet on the ground", body.NoSide
	case l:
		return "left foot on the ground", body.Left
	case r:
		return "right foot on the ground", body.Right
	}
	return "both feet in the air", body.NoSide
}

// panel writes time, frame, contact and legend into the top left corner.
func (d *drawing) panel() {
	u, o := d.u, d.o
	clock := fmt.Sprintf("%.3f s", o.TimeS)
	frame := fmt.Sprintf("frame %d", o.Frame)
	pad, step := 13*u, 23*u
	inner := d.faces.width(clock, bold, 24*u) + 12*u + d.faces.width(frame, regular, 15*u)
	height := 2*pad + 20*u
	contact, contactSide := "", body.NoSide
	if o.ContactsKnown {
		contact, contactSide = o.contactWords()
		// The widest wording holds the panel's width still.
		inner = math.Max(inner, 22*u+d.faces.width("right foot on the ground", regular, 15*u))
		height += step + 3*u
	}
	caption := o.Caption
	if caption != "" {
		caption = d.fit(caption, regular, 15*u, d.w-4*pad)
		inner = math.Max(inner, d.faces.width(caption, regular, 15*u))
		height += step
	}
	if o.Legend {
		inner = math.Max(inner, d.legend(0, 0, false))
		height += step + 3*u
	}
	margin := 12 * u
	d.ink.panel(margin, margin, inner+2*pad, height, 6*u, inkPanel)
	x, y := margin+pad, margin+pad
	if caption != "" {
		d.text(d.faces, spot{x, y + 14*u}, caption, regular, 15*u, inkSoft)
		y += step
	}
	y += 20 * u
	d.text(d.faces, spot{x, y}, clock, bold, 24*u, inkMiddle)
	d.text(d.faces, spot{x + d.faces.width("0"+clock, bold, 24*u), y}, frame, regular, 15*u, inkSoft)
	if contact != "" {
		y += step + 3*u
		mark := spot{x + 6*u, y - 5*u}
		switch {
		case contactSide != body.NoSide:
			d.joint(mark, contactSide, 1, 1)
		case o.OnGround[body.Left]:
			d.disc(mark, 4.4*u, inkMiddle)
		default:
			d.ring(mark, 4.2*u, 1.5*u, inkSoft)
		}
		d.text(d.faces, spot{x + 22*u, y}, contact, regular, 15*u, inkOf(contactSide))
	}
	if o.Legend {
		d.legend(x, y+step+3*u, true)
	}
}

// legend draws samples of the lines with their names and returns the width it
// takes; it only measures where draw is false.
func (d *drawing) legend(x, y float64, draw bool) float64 {
	u, start := d.u, x
	mid := y - 5*u
	entry := func(name string, c color.NRGBA, sample float64, paint func(x float64)) {
		if draw {
			paint(x)
			d.text(d.faces, spot{x + sample + 6*u, y}, name, regular, 15*u, c)
		}
		x += sample + 6*u + d.faces.width(name, regular, 15*u) + 16*u
	}
	entry("left", inkLeft, 38*u, func(x float64) {
		d.line(spot{x, mid}, spot{x + 38*u, mid}, 3.4*u, inkLeft)
		d.joint(spot{x + 19*u, mid}, body.Left, 1, 1)
	})
	entry("right", inkRight, 38*u, func(x float64) {
		d.dashes(spot{x + 2*u, mid}, spot{x + 36*u, mid}, 3.4*u, 5*u, 8*u, inkRight)
		d.joint(spot{x + 19*u, mid}, body.Right, 1, 1)
	})
	entry("hollow: unsure", inkSoft, 12*u, func(x float64) {
		d.ring(spot{x + 6*u, mid}, 3.9*u, 1.5*u, inkMiddle)
	})
	return x - start - 16*u
}

// fit shortens a line of text to a width.
func (d *drawing) fit(text string, weight int, size, width float64) string {
	if d.faces.width(text, weight, size) <= width {
		return text
	}
	r := []rune(text)
	for len(r) > 1 && d.faces.width(string(r)+"…", weight, size) > width {
		r = r[:len(r)-1]
	}
	return string(r) + "…"
}
