package render

import (
	"image"
	"image/color"
	"math"
	"time"

	"git.sr.ht/~sbinet/gg"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
)

// Everything here is invented.

var inventedDay = time.Date(2026, 3, 14, 10, 30, 0, 0, time.UTC)

// inventedPicture is a belt, a wall and a figure of lines.
func inventedPicture(w, h int, hip float64) image.Image {
	dc := gg.NewContext(w, h)
	for y := range h {
		v := 0.86 - 0.28*float64(y)/float64(h)
		dc.SetRGB(v, v, v*0.98)
		dc.DrawRectangle(0, float64(y), float64(w), 1)
		dc.Fill()
	}
	s := float64(h)
	cx := float64(w) / 2
	dc.SetRGB(0.25, 0.27, 0.27)
	dc.DrawRectangle(0, 0.9*s, float64(w), 0.1*s)
	dc.Fill()
	joint := func(x, y, length, deg float64) (float64, float64) {
		sin, cos := math.Sincos(deg * math.Pi / 180)
		return x + length*sin, y + length*cos
	}
	limb := func(c color.Color, hipDeg, kneeDeg float64) {
		kx, ky := joint(cx, 0.47*s, 0.22*s, hipDeg)
		ax, ay := joint(kx, ky, 0.2*s, hipDeg-kneeDeg)
		tx, ty := joint(ax, ay, 0.07*s, hipDeg-kneeDeg+80)
		dc.SetColor(c)
		dc.SetLineWidth(0.012 * s)
		dc.DrawLine(cx, 0.47*s, kx, ky)
		dc.DrawLine(kx, ky, ax, ay)
		dc.DrawLine(ax, ay, tx, ty)
		dc.Stroke()
		for _, q := range [][2]float64{{kx, ky}, {ax, ay}, {tx, ty}} {
			dc.DrawCircle(q[0], q[1], 0.012*s)
			dc.Fill()
		}
	}
	limb(Light.Right, -hip, 70)
	limb(Light.Left, hip, 16)
	dc.SetRGB(0.1, 0.12, 0.12)
	dc.SetLineWidth(0.014 * s)
	sx, sy := joint(cx, 0.47*s, 0.27*s, 174)
	dc.DrawLine(cx, 0.47*s, sx, sy)
	dc.Stroke()
	dc.DrawCircle(sx+0.01*s, sy-0.07*s, 0.05*s)
	dc.Fill()
	return dc.Image()
}

func inventedCurve(name string, side body.Side, base, swing, phase float64) measure.Curve {
	c := measure.Curve{Name: name, Side: side, Unit: "deg", ToeOff: 34 + 1.4*side.Sign(), Strides: 28}
	for i := range c.Mean {
		t := 2 * math.Pi * float64(i) / 100
		c.Mean[i] = base + swing*(-0.6*math.Cos(t+phase)+0.25*math.Sin(2*t)+0.12*math.Cos(3*t)) + 1.6*side.Sign()*math.Sin(t)
		c.SD[i] = 1.4 + 0.7*math.Sin(t)
	}
	return c
}

func inventedCurves(names ...string) []measure.Curve {
	var out []measure.Curve
	for i, n := range names {
		for _, s := range body.Sides {
			out = append(out, inventedCurve(n, s, 8*float64(i%4), 32-5*float64(i%5), 0.5*float64(i)))
		}
	}
	return out
}

// inventedValues are left, right and error.
var inventedValues = map[string][3]float64{
	"step_rate": {172.4, 0, 0.6}, "step_time": {0.349, 0.347, 0.004}, "stride_time": {0.696, 0.696, 0.003},
	"contact_time": {0.243, 0.251, 0.006}, "flight_time": {0.106, 0.096, 0.006}, "duty_factor": {0.349, 0.361, 0.008},
	"step_length": {1.221, 1.214, 0.012}, "overstride": {0.218, 0.241, 0.011}, "vertical_oscillation": {0.083, 0, 0.003},
	"foot_angle_at_contact": {14.2, 17.8, 2.5}, "shank_angle_at_contact": {6.8, 8.9, 1.7},
	"knee_flexion_at_contact": {14.1, 11.3, 1.4}, "knee_flexion_peak_stance": {42.6, 40.9, 1.5},
	"hip_extension_at_toe_off": {-11.4, -8.2, 1.9}, "trunk_lean": {6.3, 0, 0.9},
	"pelvic_drop": {5.1, 7.4, 1.0}, "hip_adduction": {11.9, 14.6, 1.4}, "knee_frontal_angle": {-1.2, 3.6, 1.4},
	"step_width": {0.038, 0, 0.006},
}

// inventedMeasures gives each measure of the catalogue that keep accepts a value;
// the others are withheld.
func inventedMeasures(keep func(measure.Definition) bool) ([]measure.Measure, []measure.Asymmetry) {
	var ms []measure.Measure
	var as []measure.Asymmetry
	for i, d := range measure.Catalogue() {
		sides := []body.Side{body.NoSide}
		if d.Sided {
			sides = body.Sides[:]
		}
		step := math.Pow(10, -float64(d.Decimals))
		var pair [2]float64
		sem := 0.0
		for k, s := range sides {
			m := measure.Measure{Name: d.Name, Side: s, Unit: d.Unit, Strides: 28 - k, Origin: "pose model"}
			if !keep(d) {
				m.Value, m.SD, m.SEM, m.MDC95 = math.NaN(), math.NaN(), math.NaN(), math.NaN()
				m.OtherView = len(d.Views()) < 5
				m.Reason = "the clip is a side view; film from behind"
				if !m.OtherView {
					m.Reason = "30 frames/s are too few; film at 120 or more"
				}
				ms = append(ms, m)
				continue
			}
			m.Value = step * float64(10+(i*37)%200+7*k)
			m.SEM = step * float64(2+i%7)
			if v, ok := inventedValues[d.Name]; ok {
				m.Value, m.SEM = v[k], v[2]
			}
			m.MDC95 = 2.7719 * m.SEM
			m.SD = 2 * m.SEM
			if i%9 == 4 && s != body.Left {
				m.Flag = "far leg, less sure"
			}
			if i%13 == 5 {
				m.Flag = "estimate"
			}
			if d.Name == "strike_class" {
				m.Text = [2]string{"rearfoot", "midfoot"}[k]
			}
			pair[k], sem = m.Value, m.SEM
			ms = append(ms, m)
		}
		if d.Sided && keep(d) && d.Name != "strike_class" {
			as = append(as, measure.Asymmetry{Name: d.Name, Left: pair[0], Right: pair[1], Difference: pair[1] - pair[0], Beyond: math.Abs(pair[1]-pair[0]) > 2*sem})
		}
	}
	return ms, as
}

func inventedReport() *Report {
	first := map[string]bool{
		"step_rate": true, "contact_time": true, "flight_time": true, "duty_factor": true, "step_length": true,
		"overstride": true, "vertical_oscillation": true, "foot_angle_at_contact": true, "strike_class": true,
		"shank_angle_at_contact": true, "knee_flexion_at_contact": true, "knee_flexion_peak_stance": true,
		"hip_extension_at_toe_off": true, "trunk_lean": true, "pelvic_drop": true, "knee_frontal_angle": true, "hip_adduction": true,
		"step_width": true,
	}
	ms, as := inventedMeasures(func(d measure.Definition) bool { return first[d.Name] })
	var kept []measure.Measure
	for _, m := range ms {
		if first[m.Name] || m.Name == "rearfoot_eversion" || m.Name == "pelvic_tilt" || m.Name == "lumbar_curve" {
			kept = append(kept, m)
		}
	}
	side, rear := inventedPicture(960, 540, 24), inventedPicture(540, 960, 4)
	behind := image.Rect(60, 60, 470, 950)
	return &Report{
		Studio: Studio{"Fjellgata Running Studio", "Fjellgata 14, 7013 Trondheim · +47 00 00 00 00 · fjellgata.example"},
		Runner: "Åse Øygard-Đorđević",
		About:  "1.72 m, 61 kg. Half-marathon in May; own road shoes.",
		Made:   inventedDay,
		Clips: []Clip{
			{Info: clip.Info{View: clip.LeftSide, FrameRateHz: 240, BeltSpeedMPS: 3.5}, Steps: 57},
			{Info: clip.Info{View: clip.Rear, FrameRateHz: 119.9, BeltSpeedMPS: 3.5}, Steps: 55},
		},
		KeyFrames: []KeyFrame{
			{Title: "Contact", Image: side, Focus: image.Rect(330, 60, 640, 530), View: clip.LeftSide, Side: body.Left, Label: "knee 14°, shank 7° ahead", TimeS: 4.213},
			{Title: "Mid-stance", Image: inventedPicture(960, 540, 2), Focus: image.Rect(330, 60, 640, 530), View: clip.LeftSide, Side: body.Left, Label: "knee 42°", TimeS: 4.321},
			{Title: "Toe-off", Image: inventedPicture(960, 540, -26), Focus: image.Rect(330, 60, 640, 530), View: clip.LeftSide, Side: body.Left, Label: "hip −11°, trunk 6°", TimeS: 4.456},
			{Title: "Mid-stance", Image: rear, Focus: behind, View: clip.Rear, Side: body.Left, Label: "pelvic drop 5.1°", TimeS: 3.875},
			{Title: "Mid-stance", Image: rear, Focus: behind, View: clip.Rear, Side: body.Right, Label: "pelvic drop 7.4°", TimeS: 4.233},
		},
		Curves:      inventedCurves("knee_flexion", "hip_flexion", "ankle_dorsiflexion", "trunk_lean", "pelvic_obliquity", "hip_adduction"),
		Measures:    kept,
		Asymmetries: as,
		Warnings:    []string{"The camera of the side clip stood 6° off the perpendicular; angles are corrected for it.", "The belt ran at 3.46 m/s by its seam, 1.1 % slower than its display; the measured speed was used."},
		Notes:       []string{"Second visit after the calf strain of November. No pain during the run. Step rate 6 % up on the first visit."},
		Method: []string{
			"33 landmarks a frame by the pose model, full, low-passed without delay at 8 to 14 Hz, chosen for each by residual analysis.",
			"Initial contact and toe-off from the motion of heel, toe and pelvis.",
			"Scale from a stick of 1.000 m in the runner's plane, ± 0.6 %.",
		},
		Remarks: []string{"Right: the leg away from the camera, less sure."},
		Foot:    "gaitwright 0.1",
	}
}
