package measure

import (
	"math"

	fig "gaitwright/gait/figure"
)

// Picture draws what a measure measures: a runner from the side or from behind,
// or the contacts of both feet in time, with the angle or length marked. With
// lines the body is drawn in bare lines from joint to joint, for a terminal. It
// tells whether the measure is known.
//
// In the pictures from the side the runner runs to the right: x is to the right,
// y up. From behind, the right leg is at the right: z is to the right, y up.
func Picture(name string, lines bool) (fig.Drawing, bool) {
	draw, ok := pictures[name]
	if !ok {
		return fig.Drawing{}, false
	}
	return draw(lines).Drawing, true
}

func limbs(thigh, shank, foot, arm, forearm float64) fig.Limbs {
	return fig.Limbs{Thigh: fig.Dir{Deg: thigh}, Shank: fig.Dir{Deg: shank}, Foot: fig.Dir{Deg: foot}, Arm: fig.Dir{Deg: arm}, Forearm: fig.Dir{Deg: forearm}}
}

// The poses of a running stride, invented to be clear rather than typical; the
// near leg is the measured one.
var (
	landing = fig.Pose{View: fig.Side, Trunk: fig.Dir{Deg: 84}, Near: limbs(-62, -80, 14, -130, -45), Far: limbs(-102, -190, -110, -62, 25)}
	loaded  = fig.Pose{View: fig.Side, Trunk: fig.Dir{Deg: 83}, Near: limbs(-66, -110, 0, -105, -18), Far: limbs(-78, -187, -105, -88, -2)}
	pushing = fig.Pose{View: fig.Side, Trunk: fig.Dir{Deg: 82}, Near: limbs(-113, -132, -62, -62, 25), Far: limbs(-38, -122, -28, -135, -48)}
	folding = fig.Pose{View: fig.Side, Trunk: fig.Dir{Deg: 83}, Near: limbs(-70, -178, -100, -88, -2), Far: limbs(-68, -108, 0, -105, -18)}
	flying  = fig.Pose{View: fig.Side, Trunk: fig.Dir{Deg: 83}, Lift: 0.07, Near: limbs(-116, -150, -82, -62, 25), Far: limbs(-40, -100, -12, -135, -48)}
	behind  = fig.Pose{View: fig.Back, Trunk: fig.Dir{Deg: 90}, Drop: 9,
		Near: fig.Limbs{Thigh: fig.Dir{Deg: -100}, Shank: fig.Dir{Deg: -89}, Foot: fig.Dir{Deg: -20, Factor: 0.35}, Arm: fig.Dir{Deg: -62, Factor: 0.9}, Forearm: fig.Dir{Deg: -115, Factor: 0.35}},
		Far:  fig.Limbs{Thigh: fig.Dir{Deg: -88, Factor: 0.92}, Shank: fig.Dir{Deg: -95, Factor: 0.3}, Foot: fig.Dir{Deg: -90, Factor: 0.75}, Arm: fig.Dir{Deg: -115, Factor: 0.9}, Forearm: fig.Dir{Deg: -60, Factor: 0.35}}}
)

// posed is a sketch of a pose with marks.
func posed(p fig.Pose, zoom float64, mark func(s *fig.Sketch), parts ...string) func(bool) *fig.Sketch {
	return func(lines bool) *fig.Sketch {
		s, err := p.Sketch(lines, zoom, parts...)
		if err != nil {
			panic("measure: " + err.Error()) // the poses are this file's own
		}
		mark(s)
		return s
	}
}

// toward gives the direction from one named point to another, degrees.
func toward(s *fig.Sketch, from, to string) float64 {
	a, b := s.At[from], s.At[to]
	return math.Atan2(b.Y-a.Y, b.X-a.X) * 180 / math.Pi
}

// away is a point at a distance in a direction.
func away(p fig.Point, deg, distance float64) fig.Point {
	sin, cos := math.Sincos(deg * math.Pi / 180)
	return fig.Point{X: p.X + cos*distance, Y: p.Y + sin*distance}
}

// bent marks the bend of a joint: the upper segment's line carried on, and the
// arc from it to the lower segment.
func bent(s *fig.Sketch, upper, joint, lower, text string) {
	at, on := s.At[joint], toward(s, upper, joint)
	s.Line(false, s.At[upper], at)
	s.Line(true, at, away(at, on, 0.5))
	s.Line(false, at, s.At[lower])
	s.Angle(at, on, toward(s, joint, lower), 0.42, "")
	s.Beside(away(at, on, 0.54), on, text)
}

// leant marks the angle of a segment to the vertical through a point: up or down.
func leant(s *fig.Sketch, at fig.Point, upright, deg, length, radius float64, text string) {
	s.Line(true, at, away(at, upright, length))
	s.Line(false, at, away(at, deg, length))
	s.Angle(at, upright, deg, radius, text)
}

func ground(s *fig.Sketch) {
	low, high := s.Bounds()
	s.Floor(low.X-0.1, high.X+0.1, -0.006)
}

func knee(p fig.Pose, text string) func(bool) *fig.Sketch {
	return posed(p, 1.7, func(s *fig.Sketch) {
		bent(s, "near.hip", "near.knee", "near.ankle", text)
		ground(s)
	}, "far leg", "near leg")
}

// hip marks the thigh against the trunk's line carried down.
func hip(p fig.Pose, text string) func(bool) *fig.Sketch {
	return posed(p, 1, func(s *fig.Sketch) {
		at := s.At["near.hip"]
		s.Line(false, s.At["neck"], at)
		leant(s, at, toward(s, "neck", "hip"), toward(s, "near.hip", "near.knee"), 0.5, 0.42, "")
		s.Beside(away(at, toward(s, "neck", "hip"), 0.5), -60, text)
		ground(s)
	}, "far leg", "trunk", "near leg")
}

func ankle(p fig.Pose, text string) func(bool) *fig.Sketch {
	return posed(p, 2.2, func(s *fig.Sketch) {
		at, down := s.At["near.ankle"], toward(s, "near.knee", "near.ankle")
		sole := toward(s, "near.heel", "near.toe")
		s.Line(false, s.At["near.knee"], at)
		s.Line(true, at, away(at, down+90, 0.62))
		s.Line(false, at, away(at, sole, 0.62))
		s.Angle(at, down+90, sole, 0.5, "")
		s.Beside(away(at, down+90, 0.62), down+90, text)
		ground(s)
	}, "near shank")
}

// contacts lays out the contacts of left and right in time. Each has a beginning
// and an end in parts of a second, the left ones first in time.
type contacts struct{ left, right [][2]float64 }

const perSecond = 1.35 // metres of the picture a second of time

var evenly = contacts{left: [][2]float64{{0, 0.25}, {0.72, 0.97}}, right: [][2]float64{{0.36, 0.61}, {1.08, 1.33}}}

const (
	rowLeft  = 0.56
	rowRight = 0.34
)

func timed(c contacts, mark func(s *fig.Sketch)) func(bool) *fig.Sketch {
	return func(bool) *fig.Sketch {
		s := &fig.Sketch{}
		end := 0.0
		row := func(name string, y float64, spans [][2]float64, role fig.Role) {
			s.Write(fig.Point{X: -0.14, Y: y}, name)
			for _, b := range spans {
				s.Bar(role, b[0]*perSecond, b[1]*perSecond, y)
				end = max(end, b[1]*perSecond)
			}
		}
		row("left", rowLeft, c.left, fig.Trunk)
		row("right", rowRight, c.right, fig.NearLimb)
		s.Floor(-0.05, end+0.05, 0.2)
		s.Write(fig.Point{X: end + 0.15, Y: 0.2}, "time")
		mark(s)
		return s
	}
}

// lasts marks a time between two moments at a height, with lines down to the bars.
func lasts(s *fig.Sketch, from, to, y float64, text string) {
	a, b := fig.Point{X: from * perSecond, Y: y}, fig.Point{X: to * perSecond, Y: y}
	deg := 90.0
	if y < rowRight {
		deg = -90
	}
	s.Span(a, b, deg, text)
}

func drop(s *fig.Sketch, at, from, to float64) {
	s.Line(true, fig.Point{X: at * perSecond, Y: from}, fig.Point{X: at * perSecond, Y: to})
}

// wave draws the rise and fall of a point through the body.
func wave(s *fig.Sketch, at fig.Point, rise float64, text string) {
	var path []fig.Point
	for i := range 49 {
		t := float64(i)/48*2 - 1
		path = append(path, fig.Point{X: at.X + t*0.85, Y: at.Y + rise/2*(1-math.Cos(2*math.Pi*t*0.85/0.75))})
	}
	s.Line(false, path...)
	s.Dot(at)
	x := at.X + 0.95
	s.Line(true, at, fig.Point{X: x, Y: at.Y})
	s.Line(true, fig.Point{X: at.X + 0.35, Y: at.Y + rise}, fig.Point{X: x, Y: at.Y + rise})
	s.Span(fig.Point{X: x, Y: at.Y}, fig.Point{X: x, Y: at.Y + rise}, 0, text)
}

// ahead marks the distance along the ground from below a point to the heel.
func ahead(s *fig.Sketch, from fig.Point, text string) {
	heel := s.At["near.heel"]
	y := -0.1
	s.Dot(from)
	s.Line(true, from, fig.Point{X: from.X, Y: y})
	s.Line(true, heel, fig.Point{X: heel.X, Y: y})
	s.Span(fig.Point{X: from.X, Y: y}, fig.Point{X: heel.X, Y: y}, -90, text)
	ground(s)
}

// halfSine draws the vertical force of one contact as the spring estimates take it.
func halfSine(mark func(s *fig.Sketch)) func(bool) *fig.Sketch {
	return func(bool) *fig.Sketch {
		s := &fig.Sketch{}
		const long, peak, weight = 1.1, 1.0, 0.4
		var path []fig.Point
		for i := range 33 {
			t := float64(i) / 32
			path = append(path, fig.Point{X: t * long, Y: peak * math.Sin(math.Pi*t)})
		}
		s.Floor(-0.2, long+0.35, 0)
		s.Shapes = append(s.Shapes, fig.Shape{Role: fig.Ground, Width: 0.012, Points: []fig.Point{{X: -0.2}, {X: -0.2, Y: peak + 0.15}}},
			fig.Shape{Role: fig.NearLimb, Width: 0.03, Points: path})
		s.Write(fig.Point{X: -0.2, Y: peak + 0.24}, "force")
		s.Write(fig.Point{X: long + 0.5, Y: 0}, "time")
		s.Line(true, fig.Point{X: -0.2, Y: weight}, fig.Point{X: long + 0.35, Y: weight})
		s.Write(fig.Point{X: long + 0.56, Y: weight}, "weight")
		s.Span(fig.Point{X: 0, Y: -0.1}, fig.Point{X: long, Y: -0.1}, -90, "contact time")
		mark(s)
		return s
	}
}

// fromBehind is a sketch of the runner seen from behind.
func fromBehind(mark func(s *fig.Sketch), parts ...string) func(bool) *fig.Sketch {
	return posed(behind, 1, func(s *fig.Sketch) { mark(s); ground(s) }, parts...)
}

var pictures = map[string]func(bool) *fig.Sketch{
	"step_rate": timed(evenly, func(s *fig.Sketch) {
		for i, at := range []float64{0, 0.36, 0.72, 1.08} {
			drop(s, at, 0.2, 0.74)
			if i > 0 {
				s.Write(fig.Point{X: (at - 0.18) * perSecond, Y: 0.8}, []string{"", "step 1", "step 2", "step 3"}[i])
			}
		}
		lasts(s, 0, 1.08, 0.1, "first to last contact")
	}),
	"step_time": timed(evenly, func(s *fig.Sketch) {
		drop(s, 0, rowLeft, 0.74)
		drop(s, 0.36, rowRight, 0.74)
		drop(s, 0.72, rowLeft, 0.74)
		lasts(s, 0, 0.36, 0.74, "right step")
		lasts(s, 0.36, 0.72, 0.74, "left step")
	}),
	"stride_time": timed(evenly, func(s *fig.Sketch) {
		drop(s, 0, rowLeft, 0.74)
		drop(s, 0.72, rowLeft, 0.74)
		drop(s, 0.36, rowRight, 0.1)
		drop(s, 1.08, rowRight, 0.1)
		lasts(s, 0, 0.72, 0.74, "left stride")
		lasts(s, 0.36, 1.08, 0.1, "right stride")
	}),
	"contact_time": timed(evenly, func(s *fig.Sketch) {
		drop(s, 0, rowLeft, 0.74)
		drop(s, 0.25, rowLeft, 0.74)
		drop(s, 0.36, rowRight, 0.1)
		drop(s, 0.61, rowRight, 0.1)
		lasts(s, 0, 0.25, 0.74, "left contact")
		lasts(s, 0.36, 0.61, 0.1, "right contact")
	}),
	"flight_time": timed(evenly, func(s *fig.Sketch) {
		drop(s, 0.25, rowLeft, 0.74)
		drop(s, 0.36, rowRight, 0.74)
		drop(s, 0.61, rowRight, 0.1)
		drop(s, 0.72, rowLeft, 0.1)
		lasts(s, 0.25, 0.36, 0.74, "after left")
		lasts(s, 0.61, 0.72, 0.1, "after right")
	}),
	"duty_factor":  shares("contact", ""),
	"stance_share": shares("stance", ""),
	"swing_share":  shares("", "swing"),
	"step_time_variability": timed(contacts{left: [][2]float64{{0, 0.2}, {0.58, 0.78}, {1.3, 1.5}}, right: [][2]float64{{0.32, 0.52}, {0.98, 1.18}}}, func(s *fig.Sketch) {
		at := []float64{0, 0.32, 0.58, 0.98, 1.3}
		for i := 1; i < len(at); i++ {
			y := rowLeft
			if i%2 == 1 {
				y = rowRight
			}
			drop(s, at[i], y, 0.74)
			lasts(s, at[i-1], at[i], 0.74, []string{"", ".32", ".26", ".40", ".32"}[i])
		}
		drop(s, 0, rowLeft, 0.74)
	}),
	"step_time_asymmetry": timed(contacts{left: [][2]float64{{0, 0.22}, {0.72, 0.94}}, right: [][2]float64{{0.44, 0.66}, {1.16, 1.38}}}, func(s *fig.Sketch) {
		drop(s, 0, rowLeft, 0.74)
		drop(s, 0.44, rowRight, 0.74)
		drop(s, 0.72, rowLeft, 0.74)
		lasts(s, 0, 0.44, 0.74, "right step")
		lasts(s, 0.44, 0.72, 0.74, "left step")
	}),
	"contact_time_asymmetry": timed(contacts{left: [][2]float64{{0, 0.2}, {0.72, 0.92}}, right: [][2]float64{{0.36, 0.66}, {1.08, 1.38}}}, func(s *fig.Sketch) {
		drop(s, 0, rowLeft, 0.74)
		drop(s, 0.2, rowLeft, 0.74)
		drop(s, 0.36, rowRight, 0.1)
		drop(s, 0.66, rowRight, 0.1)
		lasts(s, 0, 0.2, 0.74, "left")
		lasts(s, 0.36, 0.66, 0.1, "right")
	}),

	"step_length": posed(landing, 1, func(s *fig.Sketch) {
		heel := s.At["near.heel"]
		other := fig.Point{X: heel.X - 1.15, Y: 0}
		s.Shapes = append(s.Shapes, fig.Shape{Role: fig.FarLimb, Fill: true, Points: []fig.Point{{X: other.X, Y: 0}, {X: other.X - 0.01, Y: 0.06}, {X: other.X + 0.05, Y: 0.07}, {X: other.X + 0.2, Y: 0.035}, {X: other.X + 0.26, Y: 0}}})
		s.Line(true, other, fig.Point{X: other.X, Y: -0.1})
		s.Line(true, heel, fig.Point{X: heel.X, Y: -0.1})
		s.Span(fig.Point{X: other.X, Y: -0.1}, fig.Point{X: heel.X, Y: -0.1}, -90, "step length")
		ground(s)
	}),
	"overstride": posed(landing, 1, func(s *fig.Sketch) { ahead(s, s.At["hip"], "overstride") }, "far leg", "trunk", "near leg"),
	"heel_to_com_at_contact": posed(landing, 1, func(s *fig.Sketch) {
		h := s.At["hip"]
		ahead(s, fig.Point{X: h.X + 0.03, Y: h.Y + 0.1}, "heel ahead")
	}, "far leg", "trunk", "near leg"),
	"vertical_oscillation": posed(loaded, 1, func(s *fig.Sketch) { wave(s, s.At["hip"], 0.17, "rise"); ground(s) }, "far leg", "trunk", "near leg"),
	"com_vertical_excursion": posed(loaded, 1, func(s *fig.Sketch) {
		h := s.At["hip"]
		wave(s, fig.Point{X: h.X + 0.03, Y: h.Y + 0.1}, 0.17, "rise")
		ground(s)
	}),

	"foot_angle_at_contact": posed(landing, 2.2, func(s *fig.Sketch) {
		heel := s.At["near.heel"]
		s.Line(false, heel, away(heel, toward(s, "near.heel", "near.toe"), 0.75))
		s.Line(true, heel, away(heel, 0, 0.75))
		s.Angle(heel, 0, toward(s, "near.heel", "near.toe"), 0.66, "toes up +")
		ground(s)
	}, "near shank"),
	"strike_class": func(lines bool) *fig.Sketch {
		s := &fig.Sketch{}
		for i, c := range []struct {
			deg, shank float64
			text       string
		}{{16, -80, "rearfoot"}, {2, -88, "midfoot"}, {-14, -92, "forefoot"}} {
			p := landing
			p.Near.Foot, p.Near.Shank = fig.Dir{Deg: c.deg}, fig.Dir{Deg: c.shank}
			p.Shift = 0.48 * float64(i)
			one := posed(p, 1.5, func(s *fig.Sketch) {
				touch := s.At["near.heel"]
				if c.deg < 0 {
					touch = s.At["near.toe"]
				} else if c.deg < 8 {
					touch = fig.Point{X: (touch.X + s.At["near.toe"].X) / 2, Y: touch.Y}
				}
				s.Dot(fig.Point{X: touch.X, Y: 0})
				s.Write(fig.Point{X: s.At["near.heel"].X + 0.2, Y: -0.12}, c.text)
			}, "near shank")(lines)
			s.Shapes = append(s.Shapes, one.Shapes...)
		}
		ground(s)
		return s
	},
	"shank_angle_at_contact": posed(landing, 1.7, func(s *fig.Sketch) {
		leant(s, s.At["near.knee"], -90, toward(s, "near.knee", "near.ankle"), 0.68, 0.6, "")
		s.Beside(away(s.At["near.knee"], -60, 0.45), 0, "ankle ahead +")
		ground(s)
	}, "far leg", "near leg"),
	"knee_flexion_at_contact":  knee(landing, "knee bend"),
	"knee_flexion_peak_stance": knee(loaded, "knee bend"),
	"knee_flexion_peak_swing":  knee(folding, "knee bend"),
	"knee_flexion_at_toe_off":  knee(pushing, "knee bend"),
	"knee_flexion_excursion": posed(loaded, 1.7, func(s *fig.Sketch) {
		at, on := s.At["near.knee"], toward(s, "near.hip", "near.knee")
		end := toward(s, "near.knee", "near.ankle")
		s.Line(false, s.At["near.hip"], at)
		s.Line(true, at, away(at, on, 0.42))
		s.Line(true, at, away(at, on-18, 0.42))
		s.Line(false, at, s.At["near.ankle"])
		s.Angle(at, on-18, end, 0.34, "")
		s.Beside(away(at, on, 0.42), 0, "straight")
		s.Beside(away(at, on-18, 0.46), -30, "at contact")
		ground(s)
	}, "far leg", "near leg"),
	"hip_flexion_at_contact":   hip(landing, "hip bend +"),
	"hip_extension_at_toe_off": hip(pushing, "behind -"),
	"thigh_angle_at_toe_off": posed(pushing, 1.7, func(s *fig.Sketch) {
		leant(s, s.At["near.hip"], -90, toward(s, "near.hip", "near.knee"), 0.6, 0.5, "")
		s.Beside(away(s.At["near.hip"], -90, 0.6), -75, "behind -")
		ground(s)
	}, "far leg", "near leg"),
	"ankle_dorsiflexion_at_contact": ankle(landing, "90° to the shank"),
	"ankle_dorsiflexion_peak":       ankle(loaded, "90° to the shank"),
	"ankle_dorsiflexion_at_toe_off": ankle(pushing, "90° to the shank"),
	"triple_extension": posed(pushing, 1, func(s *fig.Sketch) {
		s.Line(false, s.At["neck"], s.At["near.hip"], s.At["near.knee"], s.At["near.ankle"], s.At["near.toe"])
		for _, name := range []string{"near.hip", "near.knee", "near.ankle"} {
			s.Dot(s.At[name])
		}
		s.Beside(away(s.At["near.hip"], 180, 0.06), 180, "hip")
		s.Beside(away(s.At["near.knee"], 180, 0.05), 180, "knee")
		s.Beside(away(s.At["near.ankle"], 180, 0.05), 180, "ankle")
		ground(s)
	}, "far leg", "trunk", "near leg"),
	"trunk_lean": posed(loaded, 1, func(s *fig.Sketch) {
		leant(s, s.At["hip"], 90, toward(s, "hip", "neck"), 0.95, 0.72, "")
		s.Beside(away(s.At["hip"], 78, 0.72), 0, "forward +")
		ground(s)
	}, "far leg", "trunk", "near leg"),
	"pelvic_tilt": posed(loaded, 1.5, func(s *fig.Sketch) {
		h := s.At["hip"]
		back, front := fig.Point{X: h.X - 0.17, Y: h.Y + 0.2}, fig.Point{X: h.X + 0.19, Y: h.Y + 0.12}
		s.Line(true, back, away(back, 0, 0.62))
		s.Line(false, back, away(front, heading(back, front), 0.2))
		s.Dot(back)
		s.Dot(front)
		s.Angle(back, 0, heading(back, front), 0.56, "")
		s.Beside(away(back, -8, 0.66), 0, "front lower +")
	}, "trunk"),
	"lumbar_curve": posed(arched(loaded), 1.5, func(s *fig.Sketch) {
		h := s.At["hip"]
		back, front := fig.Point{X: h.X - 0.17, Y: h.Y + 0.1}, fig.Point{X: h.X + 0.19, Y: h.Y - 0.02}
		s.Line(false, back, away(front, heading(back, front), 0.15))
		s.Dot(back)
		s.Dot(front)
		low, high := fig.Point{X: h.X - 0.12, Y: h.Y + 0.16}, fig.Point{X: h.X - 0.02, Y: h.Y + 0.45}
		s.Line(false, low, away(high, heading(low, high), 0.14))
		s.Dot(low)
		s.Dot(high)
		s.Beside(front, 0, "    pelvis")
		s.Beside(high, 180, "back")
	}, "trunk"),

	"pelvic_drop": fromBehind(func(s *fig.Sketch) {
		a := s.At["near.hip"]
		d := toward(s, "near.hip", "far.hip")
		s.Line(true, a, away(a, 180, 0.58))
		s.Line(false, a, away(a, d, 0.58))
		s.Angle(a, 180, d, 0.52, "drop +")
	}, "far leg", "trunk", "near leg"),
	"hip_adduction": legsBehind(func(s *fig.Sketch) {
		a := s.At["near.hip"]
		across := toward(s, "near.hip", "far.hip")
		s.Line(false, a, away(a, across, 0.4))
		leant(s, a, across+90, toward(s, "near.hip", "near.knee"), 0.62, 0.5, "")
		s.Beside(away(a, -76, 0.5), 0, "inward +")
	}),
	"thigh_adduction": legsBehind(func(s *fig.Sketch) {
		leant(s, s.At["near.hip"], -90, toward(s, "near.hip", "near.knee"), 0.62, 0.5, "")
		s.Beside(away(s.At["near.hip"], -82, 0.5), 0, "inward +")
	}),
	"knee_frontal_angle": legsBehind(func(s *fig.Sketch) {
		at, on := s.At["near.knee"], toward(s, "near.hip", "near.knee")
		s.Line(false, s.At["near.hip"], at, s.At["near.ankle"])
		s.Line(true, at, away(at, on, 0.42))
		s.Angle(at, on, toward(s, "near.knee", "near.ankle"), 0.34, "")
		s.Beside(away(at, 0, 0.16), 0, "knee inward +")
	}),
	"knee_separation": legsBehind(func(s *fig.Sketch) {
		a, b := s.At["far.knee"], s.At["near.knee"]
		s.Dot(a)
		s.Dot(b)
		y := min(a.Y, b.Y) - 0.16
		s.Line(true, a, fig.Point{X: a.X, Y: y})
		s.Line(true, b, fig.Point{X: b.X, Y: y})
		s.Span(fig.Point{X: a.X, Y: y}, fig.Point{X: b.X, Y: y}, 0, "")
		s.Beside(away(b, 0, 0.16), 0, "knees")
	}),
	"step_width":      footsteps([]float64{-0.11, 0.11, -0.11, 0.11}, "step width", false),
	"crossover_share": footsteps([]float64{-0.09, 0.09, 0.06, -0.06}, "crossed", true),
	"heel_whip": posed(fig.Pose{View: fig.Back, Trunk: fig.Dir{Deg: 90},
		Near: fig.Limbs{Thigh: fig.Dir{Deg: -92, Factor: 0.95}, Shank: fig.Dir{Deg: -85, Factor: 0.35}, Foot: fig.Dir{Deg: -68, Factor: 0.9}, Arm: fig.Dir{Deg: -62, Factor: 0.9}, Forearm: fig.Dir{Deg: -115, Factor: 0.35}},
		Far:  fig.Limbs{Thigh: fig.Dir{Deg: -83}, Shank: fig.Dir{Deg: -92}, Foot: fig.Dir{Deg: 200, Factor: 0.35}, Arm: fig.Dir{Deg: -115, Factor: 0.9}, Forearm: fig.Dir{Deg: -60, Factor: 0.35}}}, 1.7, func(s *fig.Sketch) {
		heel, d := s.At["near.heel"], toward(s, "near.heel", "near.toe")
		s.Line(true, heel, away(heel, -90, 0.42))
		s.Line(false, heel, away(heel, d, 0.42))
		s.Angle(heel, -90, d, 0.36, "")
		s.Beside(away(heel, 0, 0.24), 0, "heel inward +")
		ground(s)
	}, "far leg", "pelvis", "near leg"),
	"rearfoot_eversion": func(lines bool) *fig.Sketch {
		s := &fig.Sketch{}
		role, foot := fig.NearLimb, fig.Trunk
		mid, low := fig.Point{X: 0, Y: 0.36}, fig.Point{X: 0.07, Y: 0.03}
		top := fig.Point{X: 0.06, Y: 1.15}
		if lines {
			s.Shapes = append(s.Shapes, fig.Shape{Role: role, Width: 0.02, Points: []fig.Point{{X: -0.06, Y: 1.15}, {X: -0.07, Y: 0.36}, {X: -0.03, Y: 0}, {X: 0.2, Y: 0}, {X: 0.09, Y: 0.36}, {X: 0.18, Y: 1.15}}})
		} else {
			s.Shapes = append(s.Shapes,
				fig.Shape{Role: role, Fill: true, Points: []fig.Point{{X: -0.12, Y: 1.15}, {X: -0.14, Y: 0.85}, {X: -0.075, Y: 0.42}, {X: 0.085, Y: 0.42}, {X: 0.2, Y: 0.85}, {X: 0.22, Y: 1.15}}},
				fig.Shape{Role: foot, Fill: true, Points: []fig.Point{{X: -0.09, Y: 0.44}, {X: -0.06, Y: 0.1}, {X: -0.07, Y: 0}, {X: 0.22, Y: 0}, {X: 0.2, Y: 0.1}, {X: 0.1, Y: 0.44}}})
		}
		s.Line(false, top, mid)
		s.Line(false, mid, low)
		d := heading(top, mid)
		s.Line(true, mid, away(mid, d, 0.36))
		for _, q := range []fig.Point{top, {X: mid.X + 0.02, Y: mid.Y + 0.22}, {X: mid.X + 0.015, Y: mid.Y - 0.08}, low} {
			s.Dot(q)
		}
		s.Beside(fig.Point{X: 0.2, Y: 0.22}, 0, "heel rolled out +")
		s.Beside(fig.Point{X: 0.22, Y: 0.95}, 0, "shank")
		s.Floor(-0.4, 0.6, -0.006)
		return s
	},
	"lateral_trunk_lean": posed(leaning(behind), 1, func(s *fig.Sketch) {
		leant(s, s.At["hip"], 90, toward(s, "hip", "neck"), 0.78, 0.7, "")
		s.Beside(away(s.At["hip"], 72, 0.8), 0, "standing side +")
		ground(s)
	}, "far leg", "trunk", "near leg"),
	"elbow_angle": posed(landing, 1, func(s *fig.Sketch) { bent(s, "near.shoulder", "near.elbow", "near.hand", "elbow bend"); ground(s) }, "trunk", "near arm", "far leg", "near leg"),
	"arm_cross": posed(crossing(), 1, func(s *fig.Sketch) {
		n := s.At["neck"]
		hand := s.At["near.hand"]
		s.Line(true, n, fig.Point{X: n.X, Y: hand.Y - 0.2})
		s.Dot(hand)
		y := hand.Y - 0.12
		s.Span(fig.Point{X: n.X, Y: y}, fig.Point{X: hand.X, Y: y}, -90, "")
		s.Beside(fig.Point{X: n.X - 0.28, Y: y}, 180, "across +")
		ground(s)
	}),

	"peak_vertical_force": halfSine(func(s *fig.Sketch) {
		s.Span(fig.Point{X: 0.55, Y: 0}, fig.Point{X: 0.55, Y: 1}, 0, "")
		s.Beside(fig.Point{X: 0.55, Y: 0.68}, 0, "peak")
	}),
	"vertical_stiffness": spring(func(s *fig.Sketch) {
		h := s.At["hip"]
		s.Dot(h)
		s.Line(true, fig.Point{X: h.X, Y: h.Y + 0.16}, fig.Point{X: h.X + 0.55, Y: h.Y + 0.16})
		s.Line(true, h, fig.Point{X: h.X + 0.55, Y: h.Y})
		s.Span(fig.Point{X: h.X + 0.5, Y: h.Y}, fig.Point{X: h.X + 0.5, Y: h.Y + 0.16}, 0, "fall of the body")
	}),
	"leg_stiffness": spring(func(s *fig.Sketch) {
		h, a := s.At["hip"], s.At["near.ankle"]
		foot := fig.Point{X: a.X + 0.04, Y: 0}
		d := heading(foot, h)
		coil := []fig.Point{foot}
		long := math.Hypot(h.X-foot.X, h.Y-foot.Y)
		for i := 1; i < 12; i++ {
			q := away(foot, d, long*float64(i)/12)
			coil = append(coil, away(q, d+90, 0.07*float64(1-2*(i%2))))
		}
		s.Line(false, append(coil, h)...)
		s.Dot(h)
		s.Dot(foot)
		s.Beside(fig.Point{X: h.X + 0.3, Y: (h.Y + foot.Y) / 2}, 0, "leg as a spring")
	}),
}

// heading gives the direction from one point to another, degrees.
func heading(a, b fig.Point) float64 { return math.Atan2(b.Y-a.Y, b.X-a.X) * 180 / math.Pi }

func shares(stance, swing string) func(bool) *fig.Sketch {
	return timed(evenly, func(s *fig.Sketch) {
		for _, at := range []float64{0, 0.25, 0.72} {
			drop(s, at, rowLeft, 0.74)
		}
		drop(s, 0, rowLeft, 0.1)
		drop(s, 0.72, rowLeft, 0.1)
		if stance != "" {
			lasts(s, 0, 0.25, 0.74, stance)
		}
		if swing != "" {
			lasts(s, 0.25, 0.72, 0.74, swing)
		}
		lasts(s, 0, 0.72, 0.1, "stride")
	})
}

func arched(p fig.Pose) fig.Pose { p.Arch = 0.05; return p }

func legsBehind(mark func(s *fig.Sketch)) func(bool) *fig.Sketch {
	return posed(behind, 1.7, func(s *fig.Sketch) { mark(s); ground(s) }, "far leg", "pelvis", "near leg")
}

func leaning(p fig.Pose) fig.Pose { p.Trunk.Deg = 81; return p }

func crossing() fig.Pose {
	p := behind
	p.Drop, p.View = 0, fig.Front
	p.Near.Forearm = fig.Dir{Deg: 165, Factor: 0.95}
	p.Near.Arm = fig.Dir{Deg: -80, Factor: 0.9}
	return p
}

func spring(mark func(s *fig.Sketch)) func(bool) *fig.Sketch {
	return posed(loaded, 1, func(s *fig.Sketch) { mark(s); ground(s) }, "far leg", "trunk", "near leg")
}

// footsteps draws prints from above, running up the page, left and right in turn,
// at their distance from the middle line.
func footsteps(z []float64, text string, crossed bool) func(bool) *fig.Sketch {
	return func(lines bool) *fig.Sketch {
		s := &fig.Sketch{}
		s.Shapes = append(s.Shapes, fig.Shape{Role: fig.Ground, Width: 0.012, Dashed: true, Points: []fig.Point{{Y: -0.1}, {Y: 1.5}}})
		for i, at := range z {
			y, role := 0.4*float64(i), fig.Trunk
			side := -1.0
			if i%2 == 1 {
				role, side = fig.NearLimb, 1
			}
			var sole []fig.Point
			for k := range 25 {
				a := float64(k) / 24 * 2 * math.Pi
				w := 0.036 + 0.012*math.Sin(a)
				sole = append(sole, fig.Point{X: at + w*math.Cos(a) + side*0.015*math.Sin(a), Y: y + 0.13 + 0.14*math.Sin(a)})
			}
			s.Shapes = append(s.Shapes, fig.Shape{Role: role, Fill: true, Points: sole})
			s.Dot(fig.Point{X: at - side*0.01, Y: y + 0.04})
			name := "left"
			if side > 0 {
				name = "right"
			}
			deg := 90 - 90*side
			s.Beside(away(fig.Point{X: at, Y: y + 0.13}, deg, 0.05), deg, name)
		}
		i := 1
		if crossed {
			i = 3
		}
		a, b := z[i-1], z[i]
		y := 0.4*float64(i) - 0.06
		s.Line(true, fig.Point{X: a, Y: 0.4*float64(i-1) + 0.04}, fig.Point{X: a, Y: y})
		s.Line(true, fig.Point{X: b, Y: 0.4*float64(i) + 0.04}, fig.Point{X: b, Y: y})
		s.Span(fig.Point{X: a, Y: y}, fig.Point{X: b, Y: y}, 0, "")
		s.Beside(fig.Point{X: max(a, b) + 0.04, Y: y}, 0, text)
		return s
	}
}
