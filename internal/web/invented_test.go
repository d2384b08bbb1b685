package web

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"io/fs"
	"math"
	"sync"

	"golang.org/x/image/vector"

	"gaitwright/internal/app"
)

// Everything in this file is invented: runners, studio, films and numbers.

// invented is a Source whose runner is a drawn figure moving by formula. Visits
// is nil where a test asks nothing of them.
type invented struct {
	Visits
	sessions []inventedSession
}

// Runners fails as a store does that cannot be read, where there is none.
func (s *invented) Runners(ctx context.Context, q app.RunnerQuery) (app.PageRunners, error) {
	if s.Visits == nil {
		return app.PageRunners{}, fs.ErrNotExist
	}
	return s.Visits.Runners(ctx, q)
}

type inventedSession struct {
	page  app.PageSession
	films []film
}

// film is one clip of the figure.
type film struct {
	view          string
	width, height int
	rateHz        float64
	frames        int
	strideS       float64
	pxPerM        float64
	// shift is how late the stride begins in this clip, in strides.
	shift float64
}

type point struct{ x, y, z float64 } // forward, up, right; metres

var figureNames = []string{
	"nose", "left_shoulder", "right_shoulder", "left_elbow", "right_elbow", "left_wrist", "right_wrist",
	"left_hip", "right_hip", "left_knee", "right_knee", "left_ankle", "right_ankle",
	"left_heel", "right_heel", "left_toe", "right_toe",
}

var figureBones = [][2]string{
	{"left_shoulder", "right_shoulder"}, {"left_hip", "right_hip"}, {"left_shoulder", "left_hip"}, {"right_shoulder", "right_hip"},
	{"left_shoulder", "left_elbow"}, {"left_elbow", "left_wrist"}, {"right_shoulder", "right_elbow"}, {"right_elbow", "right_wrist"},
	{"left_hip", "left_knee"}, {"left_knee", "left_ankle"}, {"left_ankle", "left_heel"}, {"left_heel", "left_toe"}, {"left_ankle", "left_toe"},
	{"right_hip", "right_knee"}, {"right_knee", "right_ankle"}, {"right_ankle", "right_heel"}, {"right_heel", "right_toe"}, {"right_ankle", "right_toe"},
}

const dutyFactor = 0.34

// strideOf returns the whole strides and the fraction of the left stride at
// frame k.
func (f film) strideOf(k int) (n, phase float64) {
	p := f.timeS(k)/f.strideS + f.shift
	n = math.Floor(p)
	return n, p - n
}

func (f film) timeS(k int) float64 { return float64(k) / f.rateHz }

// figure places the runner at frame k.
func (f film) figure(k int) map[string]point {
	n, left := f.strideOf(k)
	out := map[string]point{}
	hip := point{0, 0.89 - 0.032*math.Cos(4*math.Pi*(left-0.13)), 0}
	const lean = 8 * math.Pi / 180
	shoulder := point{hip.x + 0.50*math.Sin(lean), hip.y + 0.50*math.Cos(lean), 0}
	drop := 0.012*math.Sin(2*math.Pi*(left-0.05)) + 0.004
	twist := 0.05 * math.Cos(2*math.Pi*left)
	out["nose"] = point{shoulder.x + 0.15, shoulder.y + 0.20, 0}
	for i, side := range []string{"left", "right"} {
		sign := float64(2*i - 1)
		phase := math.Mod(left+0.5*float64(i), 1)
		h := point{hip.x + sign*twist*0.4, hip.y - sign*drop, sign * 0.09}
		s := point{shoulder.x - sign*twist, shoulder.y, sign * 0.19}
		reach := 1 + 0.025*math.Sin(1.7*n+float64(i)) + 0.02*float64(i)
		ankle, toeUp := footPath(phase, reach)
		ankle.z = sign * (0.035 + 0.02*math.Abs(math.Sin(math.Pi*phase)))
		knee := kneeBetween(h, ankle, 0.44, 0.43)
		knee.z = sign * (0.062 - 0.012*math.Cos(2*math.Pi*(phase-0.15)))
		c, sn := math.Cos(toeUp), math.Sin(toeUp)
		out[side+"_hip"], out[side+"_knee"], out[side+"_ankle"], out[side+"_shoulder"] = h, knee, ankle, s
		out[side+"_toe"] = point{ankle.x + 0.16*c + 0.065*sn, ankle.y + 0.16*sn - 0.065*c, ankle.z + sign*0.02}
		out[side+"_heel"] = point{ankle.x - 0.055*c + 0.07*sn, ankle.y - 0.055*sn - 0.07*c, ankle.z}
		swing := -0.75 * math.Cos(2*math.Pi*(phase-0.02))
		elbow := point{s.x + 0.29*math.Sin(swing-0.25), s.y - 0.29*math.Cos(swing-0.25), s.z + sign*0.07}
		out[side+"_elbow"] = elbow
		out[side+"_wrist"] = point{elbow.x + 0.25*math.Cos(swing+0.15), elbow.y + 0.25*math.Sin(swing+0.15) + 0.05, elbow.z - sign*0.1}
	}
	return out
}

// footPath gives the ankle and the foot's angle (toe up, radians) through a
// stride that begins at contact.
func footPath(phase, reach float64) (ankle point, toeUp float64) {
	front, back := 0.27*reach, -0.40*reach
	if phase < dutyFactor {
		s := phase / dutyFactor
		lift := math.Max(0, s-0.55) / 0.45
		return point{front + (back-front)*s, 0.075 + 0.10*lift*lift, 0}, 0.2*math.Pow(1-math.Min(1, s/0.2), 2) - 0.75*lift*lift
	}
	s := (phase - dutyFactor) / (1 - dutyFactor)
	ease := s * s * (3 - 2*s)
	x := back + (front-back)*ease - 0.10*math.Sin(math.Pi*s)*(1-s) + 0.14*math.Sin(math.Pi*s)*s
	y := 0.175 + (0.075-0.175)*s + 0.34*math.Pow(math.Sin(math.Pi*math.Pow(s, 0.8)), 1.2)
	return point{x, y, 0}, -0.75 + 0.95*ease - 0.6*math.Sin(math.Pi*s)*(1-s)
}

// kneeBetween bends the leg forward so that thigh and shank have their lengths.
func kneeBetween(hip, ankle point, thigh, shank float64) point {
	dx, dy := ankle.x-hip.x, ankle.y-hip.y
	d := math.Min(math.Hypot(dx, dy), (thigh+shank)*0.999)
	along := (thigh*thigh - shank*shank + d*d) / (2 * d)
	out := math.Sqrt(math.Max(0, thigh*thigh-along*along))
	ux, uy := dx/d, dy/d
	return point{hip.x + ux*along - uy*out, hip.y + uy*along + ux*out, 0}
}

// at projects a point to the picture.
func (f film) at(p point) (x, y float64) {
	floor := float64(f.height) * 0.90
	across := p.z
	switch f.view {
	case "left":
		across = -p.x
	case "right":
		across = p.x
	}
	return float64(f.width)/2 + across*f.pxPerM, floor - p.y*f.pxPerM
}

func bend(a, b, c point) float64 {
	u, v := point{b.x - a.x, b.y - a.y, b.z - a.z}, point{c.x - b.x, c.y - b.y, c.z - b.z}
	cos := (u.x*v.x + u.y*v.y + u.z*v.z) / math.Sqrt((u.x*u.x+u.y*u.y+u.z*u.z)*(v.x*v.x+v.y*v.y+v.z*v.z))
	return math.Acos(math.Max(-1, math.Min(1, cos))) * 180 / math.Pi
}

// angles gives the figure's angles in degrees at frame k.
func (f film) angles(k int) map[string]float64 {
	b := f.figure(k)
	out := map[string]float64{}
	deg := func(y, x float64) float64 { return math.Atan2(y, x) * 180 / math.Pi }
	mid := func(a, c point) point { return point{(a.x + c.x) / 2, (a.y + c.y) / 2, 0} }
	hip, shoulder := mid(b["left_hip"], b["right_hip"]), mid(b["left_shoulder"], b["right_shoulder"])
	lean := deg(shoulder.x-hip.x, shoulder.y-hip.y)
	out["trunk_lean/both"] = lean
	for i, side := range []string{"left", "right"} {
		h, kn, an := b[side+"_hip"], b[side+"_knee"], b[side+"_ankle"]
		heel, toe := b[side+"_heel"], b[side+"_toe"]
		out["knee_flexion/"+side] = bend(h, kn, an)
		out["hip_flexion/"+side] = deg(kn.x-h.x, h.y-kn.y) + lean
		out["foot_angle/"+side] = deg(toe.y-heel.y, toe.x-heel.x)
		out["ankle_dorsiflexion/"+side] = deg(toe.y-heel.y, toe.x-heel.x) - deg(an.x-kn.x, kn.y-an.y)
		other := []string{"right", "left"}[i]
		out["pelvic_drop/"+side] = deg(h.y-b[other+"_hip"].y, 0.18)
		out["hip_adduction/"+side] = deg((h.z-kn.z)*float64(2*i-1), h.y-kn.y)
	}
	return out
}

func (f film) curveNames() []string {
	switch f.view {
	case "rear":
		return []string{"pelvic_drop", "hip_adduction"}
	case "spatial":
		return []string{"knee_flexion", "hip_flexion", "ankle_dorsiflexion", "trunk_lean", "foot_angle", "pelvic_drop", "hip_adduction"}
	}
	return []string{"knee_flexion", "hip_flexion", "ankle_dorsiflexion", "trunk_lean", "foot_angle"}
}

var curveTitles = map[string]string{
	"knee_flexion": "Knee flexion", "hip_flexion": "Hip flexion", "ankle_dorsiflexion": "Ankle dorsiflexion", "trunk_lean": "Forward lean of the trunk",
	"foot_angle": "Foot angle to the ground", "pelvic_drop": "Pelvic drop", "hip_adduction": "Hip adduction",
}

func (f film) contacts(lateS float64) []app.PageContact {
	var out []app.PageContact
	end := f.timeS(f.frames - 1)
	for step := range int(2*end/f.strideS) + 3 {
		at := (float64(step)/2 - f.shift) * f.strideS
		if at < 0 || at+dutyFactor*f.strideS > end {
			continue
		}
		c := app.PageContact{Side: []string{"left", "right"}[step%2], InitialContactS: at + lateS, ToeOffS: at + dutyFactor*f.strideS + lateS/2}
		if len(out) == 5 && lateS == 0 {
			c.Doubt = "landmark missing near toe-off"
		}
		if len(out) == 2 && lateS == 0 {
			c.Edited = true
		}
		out = append(out, c)
	}
	return out
}

func ref(v float64) *float64 { return &v }

func (f film) track() app.PageTrack {
	t := app.PageTrack{Space: "picture", Unit: "px", Landmarks: figureNames, Bones: figureBones, Series: map[string]app.PageAngle{}}
	n := len(figureNames)
	t.X, t.Y, t.Conf = make([][]*float64, n), make([][]*float64, n), make([][]*float64, n)
	if f.view == "spatial" {
		t.Space, t.Unit, t.Z = "runner", "m", make([][]*float64, n)
	} else {
		t.RawX, t.RawY = make([][]*float64, n), make([][]*float64, n)
	}
	for k := range f.frames {
		t.TimeS = append(t.TimeS, f.timeS(k))
		for i, name := range figureNames {
			p := f.figure(k)[name]
			conf := 0.95
			if f.view == "left" && name[0] == 'r' {
				conf = 0.62 + 0.3*math.Cos(float64(k)*0.11+float64(i))
			}
			x, y := f.at(p)
			px, py := ref(x), ref(y)
			if f.view == "spatial" {
				px, py = ref(p.x), ref(p.y)
				t.Z[i] = append(t.Z[i], ref(p.z))
			} else {
				t.RawX[i] = append(t.RawX[i], ref(x+4*math.Sin(float64(7*k+3*i))))
				t.RawY[i] = append(t.RawY[i], ref(y+4*math.Cos(float64(5*k+i))))
			}
			if name == "right_wrist" && k%90 > 70 {
				px, py = nil, nil
			}
			t.X[i], t.Y[i], t.Conf[i] = append(t.X[i], px), append(t.Y[i], py), append(t.Conf[i], ref(conf))
		}
	}
	for _, name := range f.curveNames() {
		for _, side := range []string{"left", "right", "both"} {
			key := name + "/" + side
			if _, ok := f.angles(0)[key]; !ok {
				continue
			}
			s := app.PageAngle{Name: name, Title: curveTitles[name], Side: side, Unit: "deg"}
			for k := range f.frames {
				v := ref(f.angles(k)[key])
				if key == "knee_flexion/right" && k >= 200 && k < 206 {
					v = nil
				}
				s.Values = append(s.Values, v)
			}
			t.Series[key] = s
		}
	}
	return t
}

// curves averages the track over the strides.
func (f film) curves(t app.PageTrack, contacts []app.PageContact) []app.PageCurve {
	var out []app.PageCurve
	for _, name := range f.curveNames() {
		for _, side := range []string{"left", "right"} {
			s, ok := t.Series[name+"/"+side]
			if !ok {
				s = t.Series[name+"/both"]
			}
			var starts []float64
			for _, c := range contacts {
				if c.Side == side {
					starts = append(starts, c.InitialContactS)
				}
			}
			c := app.PageCurve{Name: name, Title: curveTitles[name], Side: side, Unit: "deg", ToeOff: ref(100 * dutyFactor), Strides: len(starts) - 1}
			for p := range 101 {
				var sum, sum2, n float64
				for i := range len(starts) - 1 {
					at := (starts[i] + (starts[i+1]-starts[i])*float64(p)/100) * f.rateHz
					k := int(at)
					if k+1 >= f.frames || s.Values[k] == nil || s.Values[k+1] == nil {
						continue
					}
					v := *s.Values[k] + (*s.Values[k+1]-*s.Values[k])*(at-float64(k))
					sum, sum2, n = sum+v, sum2+v*v, n+1
				}
				mean := sum / n
				c.Mean = append(c.Mean, ref(mean))
				c.SD = append(c.SD, ref(math.Sqrt(math.Max(0, sum2/n-mean*mean))))
			}
			out = append(out, c)
		}
	}
	return out
}

// jpegFrame draws the figure on its belt, with the frame's number as twelve
// blocks along the top, yellow for one and blue for nought, lowest bit first.
func (f film) jpegFrame(k int) []byte {
	img := image.NewRGBA(image.Rect(0, 0, f.width, f.height))
	draw.Draw(img, img.Bounds(), image.NewUniform(color.RGBA{196, 200, 198, 255}), image.Point{}, draw.Src)
	floor := int(float64(f.height) * 0.90)
	draw.Draw(img, image.Rect(0, floor, f.width, f.height), image.NewUniform(color.RGBA{52, 54, 57, 255}), image.Point{}, draw.Src)
	draw.Draw(img, image.Rect(0, floor, f.width, floor+f.height/90), image.NewUniform(color.RGBA{92, 95, 99, 255}), image.Point{}, draw.Src)
	b := f.figure(k)
	limb := func(a, c string, widthM float64, col color.Color) {
		x0, y0 := f.at(b[a])
		x1, y1 := f.at(b[c])
		capsule(img, x0, y0, x1, y1, widthM*f.pxPerM/2, col)
	}
	skin, shirt, shorts, shoe := color.RGBA{176, 130, 104, 255}, color.RGBA{70, 98, 116, 255}, color.RGBA{44, 48, 60, 255}, color.RGBA{226, 226, 220, 255}
	for _, side := range []string{"right", "left"} {
		limb(side+"_knee", side+"_ankle", 0.10, skin)
		limb(side+"_hip", side+"_knee", 0.15, skin)
		limb(side+"_heel", side+"_toe", 0.08, shoe)
		limb(side+"_shoulder", side+"_elbow", 0.09, skin)
		limb(side+"_elbow", side+"_wrist", 0.07, skin)
		limb(side+"_shoulder", side+"_hip", 0.22, shirt)
		limb(side+"_hip", side+"_hip", 0.21, shorts)
	}
	x, y := f.at(point{b["nose"].x - 0.06, b["nose"].y + 0.03, 0})
	capsule(img, x, y, x, y-0.06*f.pxPerM, 0.095*f.pxPerM, skin)
	for bit := range 12 {
		col := color.RGBA{20, 40, 200, 255}
		if k>>bit&1 == 1 {
			col = color.RGBA{250, 220, 20, 255}
		}
		draw.Draw(img, image.Rect(16+bit*32, 16, 48+bit*32, 48), image.NewUniform(col), image.Point{}, draw.Src)
	}
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, img, &jpeg.Options{Quality: 85}); err != nil {
		panic(err)
	}
	return buf.Bytes()
}

// capsule fills a thick line with round ends.
func capsule(img draw.Image, x0, y0, x1, y1, r float64, col color.Color) {
	box := image.Rect(int(min(x0, x1)-r)-1, int(min(y0, y1)-r)-1, int(max(x0, x1)+r)+2, int(max(y0, y1)+r)+2)
	z := vector.NewRasterizer(box.Dx(), box.Dy())
	turn := math.Atan2(y1-y0, x1-x0)
	for i := range 33 {
		at, x, y := turn+math.Pi/2+float64(i)*math.Pi/16, x0, y0
		if i > 16 {
			at, x, y = turn-math.Pi/2+float64(i-17)*math.Pi/15, x1, y1
		}
		px, py := float32(x+r*math.Cos(at))-float32(box.Min.X), float32(y+r*math.Sin(at))-float32(box.Min.Y)
		if i == 0 {
			z.MoveTo(px, py)
		} else {
			z.LineTo(px, py)
		}
	}
	z.ClosePath()
	z.Draw(img, box, image.NewUniform(col), image.Point{})
}

func (s inventedSession) measures(view string) []app.PageMeasure {
	m := func(name, title, side string, value, sd, sem float64, unit string, decimals int, flag string) app.PageMeasure {
		return app.PageMeasure{Name: name, Title: title, Side: side, Value: ref(value), SD: ref(sd), SEM: ref(sem), MDC95: ref(1.96 * math.Sqrt2 * sem),
			Unit: unit, Strides: 8, Origin: "pose model", Decimals: decimals, Flag: flag}
	}
	withheld := func(name, title, side, unit, reason string) app.PageMeasure {
		return app.PageMeasure{Name: name, Title: title, Side: side, Unit: unit, Reason: reason, Origin: "pose model"}
	}
	// ranged lays an invented range beside a measure; its ends are those of 30
	// invented runners.
	ranged := func(m app.PageMeasure, low, high *float64, speed string) app.PageMeasure {
		r := &app.PageRange{Low: low, High: high, MarginBelow: ref(1.96 * *m.SEM), MarginAbove: ref(1.96 * *m.SEM), Speed: speed, People: 30, Sample: "30 invented runners",
			Method: "invented", Source: "invented for this test, n = 30", Note: "Invented."}
		least, most := *m.Value-*r.MarginBelow, *m.Value+*r.MarginAbove
		switch {
		case high != nil && least > *high:
			r.Verdict = "above"
		case low != nil && most < *low:
			r.Verdict = "below"
		case (low == nil || least >= *low) && (high == nil || most <= *high):
			r.Verdict = "inside"
		default:
			r.Verdict = "at the border"
		}
		m.Range = r
		return m
	}
	if view == "rear" {
		return []app.PageMeasure{
			m("step_rate", "Step rate", "both", 171.6, 1.4, 0.6, "steps/min", 1, ""),
			ranged(m("pelvic_drop", "Pelvic drop", "left", 4.1, 0.9, 1.3, "deg", 1, ""), nil, ref(5.2), ""),
			ranged(m("pelvic_drop", "Pelvic drop", "right", 7.8, 1.1, 1.3, "deg", 1, ""), nil, ref(5.2), ""),
			m("hip_adduction_peak", "Peak hip adduction", "left", 9.2, 1.0, 2.1, "deg", 1, ""),
			m("hip_adduction_peak", "Peak hip adduction", "right", 11.0, 1.2, 2.1, "deg", 1, "few strides"),
			m("step_width", "Step width", "both", 0.031, 0.012, 0.009, "m", 3, ""),
			withheld("rearfoot_eversion_peak", "Peak rearfoot eversion", "left", "deg", "no stickers on heel and shank: stick two on the heel counter and two along the back of the shank, and film again from behind"),
			withheld("rearfoot_eversion_peak", "Peak rearfoot eversion", "right", "deg", "no stickers on heel and shank: stick two on the heel counter and two along the back of the shank, and film again from behind"),
		}
	}
	out := []app.PageMeasure{
		ranged(m("step_rate", "Step rate", "both", 171.4, 1.2, 0.3, "steps/min", 1, ""), ref(156), ref(184), "3.3-3.7"),
		ranged(m("contact_time", "Contact time", "left", 0.238, 0.006, 0.007, "s", 3, "60 frames a second: ±7 ms"), ref(0.21), ref(0.26), "3.3-3.7"),
		ranged(m("contact_time", "Contact time", "right", 0.241, 0.007, 0.007, "s", 3, "60 frames a second: ±7 ms"), ref(0.21), ref(0.26), "3.3-3.7"),
		m("flight_time", "Flight time", "left", 0.112, 0.006, 0.007, "s", 3, ""),
		m("flight_time", "Flight time", "right", 0.108, 0.006, 0.007, "s", 3, ""),
		m("duty_factor", "Duty factor", "left", 34.0, 0.8, 1.0, "%", 1, ""),
		m("duty_factor", "Duty factor", "right", 34.5, 0.9, 1.0, "%", 1, ""),
		m("vertical_oscillation", "Vertical oscillation", "both", 0.064, 0.004, 0.003, "m", 3, ""),
		m("foot_angle_at_contact", "Foot angle at contact", "left", 11.4, 1.8, 2.2, "deg", 1, ""),
		m("foot_angle_at_contact", "Foot angle at contact", "right", 9.9, 2.0, 3.4, "deg", 1, "far leg"),
		{Name: "strike", Title: "Foot strike", Side: "left", Text: "rearfoot", Strides: 8, Origin: "pose model"},
		{Name: "strike", Title: "Foot strike", Side: "right", Text: "rearfoot", Strides: 8, Origin: "pose model", Flag: "far leg"},
		ranged(m("knee_flexion_at_contact", "Knee flexion at contact", "left", 17.2, 2.0, 2.6, "deg", 1, ""), ref(8), ref(18.5), "3.3-3.7"),
		ranged(m("knee_flexion_at_contact", "Knee flexion at contact", "right", 24.9, 1.9, 2.9, "deg", 1, "far leg"), ref(8), ref(18.5), "3.3-3.7"),
		m("trunk_lean", "Forward lean of the trunk", "both", 8.0, 0.7, 1.5, "deg", 1, ""),
		m("overstride", "Overstride", "left", 0.272, 0.012, 0.018, "m", 3, ""),
		m("overstride", "Overstride", "right", 0.278, 0.011, 0.021, "m", 3, ""),
	}
	if s.page.SpeedMPS == nil {
		why := "the belt speed was not given: measure again with --speed, as read from the treadmill"
		return append(out, withheld("step_length", "Step length", "left", "m", why), withheld("step_length", "Step length", "right", "m", why))
	}
	return append(out,
		m("step_length", "Step length", "left", 1.22, 0.02, 0.02, "m", 2, ""), m("step_length", "Step length", "right", 1.21, 0.02, 0.02, "m", 2, ""))
}

var inventedDefinitions = []app.PageDefinition{
	{Name: "step_rate", Title: "Step rate", Group: "Times and rates", Unit: "steps/min", Definition: "Steps of both feet in a minute, from the time between initial contacts.", Sign: "always positive", Formula: "60 / mean step time", Source: "invented for this test", Caution: "It rises with speed; compare at the same speed only."},
	{Name: "knee_flexion_at_contact", Title: "Knee flexion at contact", Group: "Seen from the side", Unit: "deg", Definition: "The angle between the lines of thigh and shank when the foot first touches the belt; a straight leg is 0.", Sign: "flexion positive", Formula: "angle(hip→knee, knee→ankle)", Source: "invented for this test", Caution: "A camera off square to the belt makes it look smaller."},
	{Name: "pelvic_drop", Title: "Pelvic drop", Group: "Seen from behind", Unit: "deg", Definition: "How far the pelvis tilts down toward the swinging leg in the middle of stance.", Sign: "drop of the swing side positive", Formula: "atan2(stance hip − swing hip, width)", Source: "invented for this test", Caution: "Loose clothing hides the pelvis."},
}

// someResults are the four results of newInvented, made once; tests only read
// them.
var someResults = sync.OnceValue(newInvented)

// newInvented makes four results: two views, one view without belt speed, a
// marker file, and an older one with two views.
func newInvented() *invented {
	src := &invented{}
	add := func(id, created, runner string, speed *float64, films ...film) {
		s := inventedSession{page: app.PageSession{HeightM: ref(1.78), Notes: []string{}}, films: films}
		s.page.PageSummary = app.PageSummary{ID: id, Created: created, Runner: runner, Studio: "Hollow Lane Studio", SpeedMPS: speed, StepRate: ref(171.4)}
		if speed == nil {
			s.page.Notes = append(s.page.Notes, "The belt speed was not given, so no lengths along the belt are.")
		}
		for i, f := range films {
			t := f.track()
			c := app.PageClip{Index: i, Name: f.view + ".mp4", View: f.view, Video: f.view != "spatial", WidthPX: f.width, HeightPX: f.height, FrameRateHz: f.rateHz, Slowdown: 1,
				Frames: f.frames, FirstFrame: 30, BeltSpeedMPS: speed, Scale: "1.00 m stick in the runner's plane, ±1.5 %", Origin: "pose model", ContactMethod: "motion: heel and toe speed against the belt",
				Contacts: f.contacts(0), OtherContacts: []app.PageContact{}, Warnings: []string{}}
			if f.view == "spatial" {
				c.Name, c.Origin, c.Scale, c.ContactMethod = "walkway.c3d", "marker file", "file", "force above 50 N"
				c.OtherContacts = f.contacts(0.006)
			}
			if f.view == "left" && i == 0 {
				c.Warnings = append(c.Warnings, "The camera is about 4° off square to the belt; angles across the picture are given a wider error.")
			}
			c.Curves, c.Measures = f.curves(t, c.Contacts), s.measures(f.view)
			s.page.Clips = append(s.page.Clips, c)
			s.page.Views = append(s.page.Views, f.view)
		}
		src.sessions = append(src.sessions, s)
	}
	side := film{view: "left", width: 1280, height: 720, rateHz: 60, frames: 420, strideS: 0.7, pxPerM: 330, shift: 0.83}
	rear := film{view: "rear", width: 720, height: 1280, rateHz: 60, frames: 390, strideS: 0.7, pxPerM: 520, shift: 0.31}
	add("2026-11-20-ada", "2026-11-20T09:30:00Z", "Ada Merriweather", ref(3.5), side, rear)
	add("2026-11-24-tom", "2026-11-24T17:05:00Z", "Tom Okonjo", nil, side)
	add("2026-11-22-markers", "2026-11-22T11:00:00Z", "Ida Fenn", ref(3.5), film{view: "spatial", rateHz: 200, frames: 900, strideS: 0.7, shift: 0.5})
	add("2026-11-25-ada", "2026-11-25T10:15:00Z", "Ada Merriweather", ref(3.5), side, rear)
	return src
}

func (v *invented) find(id string) (inventedSession, error) {
	for _, s := range v.sessions {
		if s.page.ID == id {
			return s, nil
		}
	}
	return inventedSession{}, fmt.Errorf("there is no result %q: %w", id, fs.ErrNotExist)
}

func (v *invented) Results() ([]app.PageSummary, error) {
	var out []app.PageSummary
	for _, s := range v.sessions {
		out = append(out, s.page.PageSummary)
	}
	return out, nil
}

func (v *invented) Result(id string) (app.PageSession, error) {
	s, err := v.find(id)
	return s.page, err
}

func (v *invented) Track(id string, clip int) (app.PageTrack, error) {
	s, err := v.find(id)
	if err != nil {
		return app.PageTrack{}, err
	}
	return s.films[clip].track(), nil
}

func (v *invented) FrameJPEG(ctx context.Context, id string, clip, frame int) ([]byte, error) {
	s, err := v.find(id)
	if err != nil {
		return nil, err
	}
	return s.films[clip].jpegFrame(frame), ctx.Err()
}

func (v *invented) Report(ctx context.Context, id, format, units string) ([]byte, string, error) {
	if format != "pdf" {
		return nil, "", fmt.Errorf("a report as %q is not made; ask for pdf: %w", format, fs.ErrNotExist)
	}
	return []byte("%PDF-1.4\n%%EOF\n"), "application/pdf", nil
}

func (v *invented) Definitions() []app.PageDefinition { return inventedDefinitions }

func (v *invented) MeasureFigure(name string) (app.PageFigure, bool) {
	return app.PageFigure{Width: 100, Height: 100, Side: "none", Shapes: []app.PageShape{}}, name != ""
}

// Reliability compares tables as the program does; none of the invented results
// can be compared.
func (v *invented) Reliability(ask app.PageReadings) (app.PageReliability, error) {
	if len(ask.Results) > 0 {
		return app.PageReliability{}, fmt.Errorf("invented results cannot be compared: %w", fs.ErrNotExist)
	}
	return new(app.Studio).Reliability(ask)
}

func (v *invented) Rest() {}

func (v *invented) Adopt(app.PageReadings) ([]app.PageOwnError, error) {
	return nil, fmt.Errorf("the errors of invented results are not kept: %w", fs.ErrNotExist)
}
