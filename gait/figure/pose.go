package figure

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"gaitwright/gait/body"
)

// View is whence the figure is seen.
type View string

// The views. Somebody who lies on the back and is seen from above is drawn from
// the front, with Above.
const (
	Side  View = "side"
	Front View = "front"
	Back  View = "back"
)

// Dir is a segment's direction in degrees with its foreshortening; in YAML a
// number, or "degrees@factor".
type Dir struct {
	Deg    float64
	Factor float64 // 0 means 1
}

// UnmarshalText reads "-60" or "-60@0.7".
func (d *Dir) UnmarshalText(b []byte) error {
	deg, factor, cut := strings.Cut(string(b), "@")
	v, err := strconv.ParseFloat(deg, 64)
	if err != nil || math.Abs(v) > 720 {
		return fmt.Errorf("direction %q is not degrees, such as -90 or -60@0.7", b)
	}
	*d = Dir{Deg: v, Factor: 1}
	if cut {
		if d.Factor, err = strconv.ParseFloat(factor, 64); err != nil || !(d.Factor >= 0.05 && d.Factor <= 1) {
			return fmt.Errorf("direction %q: the factor after @ must be 0.05 to 1", b)
		}
	}
	return nil
}

// UnmarshalYAML reads it from YAML without going through text, which for long
// files is much slower.
func (d *Dir) UnmarshalYAML(decode func(any) error) error {
	var v any
	if err := decode(&v); err != nil {
		return err
	}
	return d.UnmarshalText([]byte(fmt.Sprint(v)))
}

// MarshalText writes it back.
func (d Dir) MarshalText() ([]byte, error) {
	if d.Factor == 0 || d.Factor == 1 {
		return []byte(strconv.FormatFloat(d.Deg, 'g', -1, 64)), nil
	}
	return fmt.Appendf(nil, "%g@%g", d.Deg, d.Factor), nil
}

func (d Dir) from(p Point, length float64) Point {
	f := d.Factor
	if f == 0 {
		f = 1
	}
	s, c := math.Sincos(d.Deg * math.Pi / 180)
	return Point{p.X + c*length*f, p.Y + s*length*f}
}

// Limbs are the directions of one side's segments.
type Limbs struct {
	Thigh Dir `yaml:"thigh"`
	Shank Dir `yaml:"shank"`
	// Foot is from heel to toe; a foot seen from the front points outward, much
	// shortened: "0@0.4" near, "180@0.4" far.
	Foot    Dir `yaml:"foot"`
	Arm     Dir `yaml:"arm"`
	Forearm Dir `yaml:"forearm"`
}

// Pose describes the figure and what is around it. Lengths are metres for a
// person of 1.75 m.
type Pose struct {
	View View `yaml:"view"`
	// Above says that the figure lies and is seen from above, so that there is no
	// floor beneath it.
	Above bool `yaml:"above,omitempty"`
	Trunk Dir  `yaml:"trunk"`
	// Head is the direction from neck to crown; that of the trunk where absent.
	Head *Dir `yaml:"head,omitempty"`
	// Arch bends the low back: the middle of the trunk moves toward the belly by
	// so many metres (over-arched), or away from it where negative.
	Arch float64 `yaml:"arch,omitempty"`
	// Drop lets the hip of the far side sink below the near one, degrees, seen
	// from the front or behind.
	Drop float64 `yaml:"drop,omitempty"`
	Near Limbs   `yaml:"near"`
	Far  Limbs   `yaml:"far"`
	// Lift is the height of the lowest point above the floor.
	Lift float64 `yaml:"lift,omitempty"`
	// Shift moves the figure to the right, for a wall or a box at a fixed place.
	Shift  float64 `yaml:"shift,omitempty"`
	Props  []Prop  `yaml:"props,omitempty"`
	Arrows []Arrow `yaml:"arrows,omitempty"`
	Work   []Work  `yaml:"work,omitempty"`
	Lever  *Lever  `yaml:"lever,omitempty"`
}

// Prop is a thing: exactly one of its fields is set beside those that place it.
type Prop struct {
	// Kind is mat, wall, box, couch (its outline, from above), roller, ball, band,
	// strap, weight or stick.
	Kind string `yaml:"kind"`
	// At and To are named points (see Points); a roller, ball or weight needs At,
	// a band At and To, a strap At and a fixed end X, Y.
	At string `yaml:"at,omitempty"`
	To string `yaml:"to,omitempty"`
	// X and Y place a wall (X), a box or couch (X is its left edge) or a strap's fixed end;
	// W and H are the size of a box, W of a mat, H the diameter of a ball.
	X float64 `yaml:"x,omitempty"`
	Y float64 `yaml:"y,omitempty"`
	W float64 `yaml:"w,omitempty"`
	H float64 `yaml:"h,omitempty"`
}

// Arrow shows a movement or a push from a named point.
type Arrow struct {
	From   string  `yaml:"from"`
	Deg    float64 `yaml:"deg"`
	Length float64 `yaml:"length,omitempty"` // metres; 0.22 where absent
	Away   float64 `yaml:"away,omitempty"`   // how far from the point it begins; 0.08 where absent
}

// Work marks the part that works or is lengthened.
type Work struct {
	Segment string `yaml:"segment"` // trunk, near.thigh, near.shank, far.thigh, near.arm …
	// Edge is front, back or middle of a segment seen from the side, inner, outer
	// or middle of one seen from the front; hip marks the buttock's place at the
	// upper end.
	Edge string `yaml:"edge"`
}

// Lever is the lever arm of a strength test, drawn with a dimension line.
type Lever struct {
	From string `yaml:"from"`
	To   string `yaml:"to"`
	Text string `yaml:"text"`
}

// stature is the height of the drawn person, metres.
const stature = 1.75

// Lengths of the segments, metres; sources in the package's essay.
const (
	thighM     = 0.245 * stature
	shankM     = 0.246 * stature
	footM      = 0.152 * stature
	heelM      = 0.24 * footM // of the foot's length, behind the ankle
	ankleM     = 0.039 * stature
	armM       = 0.186 * stature
	forearmM   = 0.220 * stature // the hand half closed
	trunkM     = 0.288 * stature
	neckM      = 0.060 * stature
	headR      = 0.058 * stature
	hipHalf    = 0.062 * stature
	shouldHalf = 0.105 * stature
)

// points works out every named point.
func (p *Pose) points() (map[string]Point, error) {
	switch p.View {
	case Side, Front, Back:
	default:
		return nil, fmt.Errorf("view %q is none of side, front, back", p.View)
	}
	at := map[string]Point{"hip": {}}
	neck := p.Trunk.from(Point{}, trunkM)
	at["neck"] = neck
	head := p.Trunk
	if p.Head != nil {
		head = *p.Head
	}
	at["head"] = Dir{Deg: head.Deg, Factor: head.Factor}.from(neck, neckM+headR)
	at["crown"] = Dir{Deg: head.Deg, Factor: head.Factor}.from(neck, neckM+2*headR)
	// The middle of the trunk, with its arch: toward the belly, which is to the
	// right of the trunk's upward direction when the figure faces right.
	s, c := math.Sincos((p.Trunk.Deg - 90) * math.Pi / 180)
	at["back"] = Point{neck.X*0.45 + c*p.Arch, neck.Y*0.45 + s*p.Arch}
	across := func(half, sign, drop float64) Point {
		if p.View == Side {
			return Point{}
		}
		s, c := math.Sincos((p.Trunk.Deg - 90 + drop) * math.Pi / 180)
		return Point{sign * c * half, sign * s * half}
	}
	for _, limb := range []struct {
		name string
		sign float64
		l    Limbs
	}{{"near", 1, p.Near}, {"far", -1, p.Far}} {
		n := limb.name + "."
		o := across(hipHalf, limb.sign, p.Drop)
		at[n+"hip"] = o
		at[n+"knee"] = limb.l.Thigh.from(at[n+"hip"], thighM)
		at[n+"ankle"] = limb.l.Shank.from(at[n+"knee"], shankM)
		at[n+"heel"], at[n+"toe"] = p.foot(at[n+"ankle"], limb.l)
		sh := across(shouldHalf, limb.sign, 0)
		at[n+"shoulder"] = Point{neck.X*0.93 + sh.X, neck.Y*0.93 + sh.Y}
		at[n+"elbow"] = limb.l.Arm.from(at[n+"shoulder"], armM)
		at[n+"hand"] = limb.l.Forearm.from(at[n+"elbow"], forearmM)
		at[n+"thigh"] = mid(at[n+"hip"], at[n+"knee"])
		at[n+"shank"] = mid(at[n+"knee"], at[n+"ankle"])
	}
	at["trunk"] = at["back"]
	p.settle(at)
	return at, nil
}

// foot returns heel and toe of a foot: the sole lies ankleM below the ankle,
// square to the foot's direction, on the side away from the shank.
func (p *Pose) foot(ankle Point, l Limbs) (heel, toe Point) {
	f := l.Foot.Factor
	if f == 0 {
		f = 1
	}
	s, c := math.Sincos(l.Foot.Deg * math.Pi / 180)
	// Of the two normals take the one that goes on along the shank.
	ss, sc := math.Sincos(l.Shank.Deg * math.Pi / 180)
	nx, ny := s, -c
	if nx*sc+ny*ss < 0 {
		nx, ny = -nx, -ny
	}
	base := Point{ankle.X + nx*ankleM, ankle.Y + ny*ankleM}
	return Point{base.X - c*heelM*f, base.Y - s*heelM*f}, Point{base.X + c*(footM-heelM)*f, base.Y + s*(footM-heelM)*f}
}

func mid(a, b Point) Point { return Point{(a.X + b.X) / 2, (a.Y + b.Y) / 2} }

// settle moves the figure so that its lowest part stands Lift above the floor.
func (p *Pose) settle(at map[string]Point) {
	low := math.Inf(1)
	for name, q := range at {
		low = math.Min(low, q.Y-thick(name)/2)
	}
	for name, q := range at {
		at[name] = Point{q.X + p.Shift, q.Y - low + p.Lift}
	}
}

// thick is how thick the body is at a named point, metres.
func thick(name string) float64 {
	_, part, limb := strings.Cut(name, ".")
	if !limb {
		part = name
	}
	switch part {
	case "hip", "neck", "back", "trunk":
		if limb {
			return thighW
		}
		return trunkW
	case "head":
		return 2 * headR
	case "crown":
		return 0
	case "knee":
		return thighW * 0.8
	case "thigh":
		return thighW
	case "shank":
		return shankW
	case "ankle", "heel", "toe":
		return 0.02
	case "shoulder", "elbow", "hand":
		return armW
	}
	return 0
}

// NearSide is the side of the body that the near limbs are of, as the pose is
// drawn: a figure that faces right shows its right side, as does one seen from
// behind; of one seen from the front the limbs at the right are the left ones.
func (p *Pose) NearSide() body.Side {
	if p.View == Front {
		return body.Left
	}
	return body.Right
}
