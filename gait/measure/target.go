package measure

import (
	"fmt"
	"math"

	fig "gaitwright/gait/figure"
)

// Target draws a runner in whom a measure has the value aimAt (in its unit, degrees
// for angles): what to aim at, to lay beside a picture of the film. As in Picture
// the runner runs to the right, and from behind the measured leg is at the right.
// It tells whether there is a drawing of the measure; lengths and times are drawn
// without their value.
func Target(name string, aimAt float64) (fig.Drawing, bool) {
	if d, ok := Lookup(name); !ok || d.Unit == "deg" && !(math.Abs(aimAt) <= 90) {
		return fig.Drawing{}, false
	}
	number := fmt.Sprintf("%.0f°", math.Abs(aimAt))
	// The number stands beyond the upright line, on the side away from the limb.
	marked := func(s *fig.Sketch, at fig.Point, upright, deg, length, radius float64) {
		leant(s, at, upright, deg, length, radius, "")
		out := upright - math.Copysign(52, math.Remainder(deg-upright, 360))
		s.Beside(away(at, out, 0.24), out, number)
	}
	standing := behind
	standing.Drop = 0
	standing.Near.Thigh.Deg, standing.Near.Shank.Deg = -93, -90
	var pose fig.Pose
	var mark func(s *fig.Sketch)
	switch name {
	case "knee_frontal_angle":
		pose = standing
		pose.Near.Thigh.Deg, pose.Near.Shank.Deg = -90-aimAt, -90
		mark = func(s *fig.Sketch) { bent(s, "near.hip", "near.knee", "near.ankle", number) }
	case "thigh_adduction", "hip_adduction":
		pose = standing
		pose.Near.Thigh.Deg = -90 - aimAt
		mark = func(s *fig.Sketch) {
			marked(s, s.At["near.hip"], -90, toward(s, "near.hip", "near.knee"), 0.42, 0.36)
		}
	case "pelvic_drop":
		pose = standing
		pose.Drop = aimAt
		mark = func(s *fig.Sketch) {
			at, to := s.At["near.hip"], toward(s, "near.hip", "far.hip")
			leant(s, at, 180, to, 0.5, 0.44, "")
			s.Beside(away(at, 180, 0.5), 150, number)
		}
	case "lateral_trunk_lean":
		pose = standing
		pose.Trunk.Deg = 90 - aimAt
		mark = func(s *fig.Sketch) { marked(s, s.At["hip"], 90, pose.Trunk.Deg, 0.62, 0.5) }
	case "step_width", "crossover_share", "knee_separation":
		pose = standing
		pose.Near.Thigh.Deg, pose.Near.Shank.Deg = -91, -90
		mark = func(s *fig.Sketch) {
			hip := s.At["hip"]
			s.Line(true, fig.Point{X: hip.X, Y: hip.Y - 0.06}, fig.Point{X: hip.X, Y: 0})
		}
	case "overstride", "heel_to_com_at_contact", "shank_angle_at_contact", "step_rate", "step_length", "vertical_oscillation":
		pose = landing
		pose.Near = limbs(-68, -84, 8, -130, -45)
		if name == "shank_angle_at_contact" {
			pose.Near.Shank.Deg = -90 + aimAt
		}
		mark = func(s *fig.Sketch) {
			if name == "shank_angle_at_contact" {
				marked(s, s.At["near.ankle"], 90, toward(s, "near.ankle", "near.knee"), 0.5, 0.4)
				return
			}
			hip, heel := s.At["hip"], s.At["near.heel"]
			s.Line(true, hip, fig.Point{X: hip.X, Y: 0})
			s.Span(fig.Point{X: hip.X, Y: -0.05}, fig.Point{X: heel.X, Y: -0.05}, -90, "")
		}
	case "knee_flexion_at_contact":
		pose = landing
		pose.Near.Shank.Deg = pose.Near.Thigh.Deg - aimAt
		mark = func(s *fig.Sketch) { bent(s, "near.hip", "near.knee", "near.ankle", number) }
	case "knee_flexion_peak_stance":
		pose = loaded
		pose.Near.Shank.Deg = pose.Near.Thigh.Deg - aimAt
		mark = func(s *fig.Sketch) { bent(s, "near.hip", "near.knee", "near.ankle", number) }
	case "foot_angle_at_contact":
		pose = landing
		pose.Near = limbs(-66, -84, aimAt, -130, -45)
		mark = func(s *fig.Sketch) { marked(s, s.At["near.heel"], 0, aimAt, 0.5, 0.42) }
	case "thigh_angle_at_toe_off":
		pose = pushing
		pose.Near.Thigh.Deg = -90 + aimAt
		mark = func(s *fig.Sketch) {
			marked(s, s.At["near.hip"], -90, toward(s, "near.hip", "near.knee"), 0.5, 0.42)
		}
	case "hip_extension_at_toe_off":
		pose = pushing
		pose.Near.Thigh.Deg = pose.Trunk.Deg - 180 + aimAt
		mark = func(s *fig.Sketch) {
			at := s.At["near.hip"]
			s.Line(false, s.At["neck"], at)
			marked(s, at, toward(s, "neck", "hip"), toward(s, "near.hip", "near.knee"), 0.5, 0.42)
		}
	case "trunk_lean":
		pose = loaded
		pose.Trunk.Deg = 90 - aimAt
		mark = func(s *fig.Sketch) { marked(s, s.At["hip"], 90, pose.Trunk.Deg, 0.68, 0.56) }
	case "ankle_dorsiflexion_peak":
		pose = loaded
		pose.Near.Shank.Deg, pose.Near.Foot.Deg = -90-aimAt, 0
		mark = func(s *fig.Sketch) {
			marked(s, s.At["near.ankle"], 90, toward(s, "near.ankle", "near.knee"), 0.5, 0.4)
		}
	default:
		return fig.Drawing{}, false
	}
	return posed(pose, 1, func(s *fig.Sketch) {
		mark(s)
		ground(s)
	})(false).Drawing, true
}
