package measure

import (
	"fmt"
	"math"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/track"
	"gaitwright/num/agree"
)

const (
	groupRear    = "Seen from behind"
	filmRear     = "Film from behind, camera level at hip height in the line of the belt, the whole runner in the picture."
	pelvisSticks = "Put two stickers on the posterior superior iliac spines and film from behind."
	rarely       = "Gait faults rarely predict injury: 30 prospective studies of 3,404 runners were nearly all null (Sports Med Open 2022, 8:38)."
)

// Mid-stance: the middle fifth of stance.
const (
	midStanceFrom = 0.4
	midStanceTo   = 0.6
)

// frontalDefinitions are the measures seen from behind or in front.
func frontalDefinitions() []Definition {
	leg := []body.Landmark{body.LeftHip, body.LeftKnee, body.LeftAnkle}
	rear := func(d Definition) Definition {
		d.Group, d.plane = groupRear, frontalPlane
		if d.Unit == "" {
			d.Unit, d.Decimals, d.Sided = "deg", 1, true
		}
		if d.Worth == 0 {
			d.Worth = 1
		}
		if d.Instead == "" {
			d.Instead = filmRear
		}
		return d
	}
	return []Definition{
		rear(Definition{
			Name: "pelvic_drop", Title: "Pelvic drop", origin: "drop", camera: true, UselessSEM: 4, Instead: pelvisSticks,
			Definition: "How far the pelvis sinks on the swinging side while this foot stands, at the lowest moment of the typical curve. From stickers on the spines of the pelvis where there are any, else from the hip points of the pose model.",
			Sign:       "positive when the swing side is lower",
			Formula:    "atan2(y_stance side - y_swing side, |z_left - z_right|) at the peak of its median curve in stance",
			Source:     "Usual 3 to 6° (from memory). Bramah 2018, Am J Sports Med 46:3023-3031 (72 injured, 36 controls).",
			Error:      dingenen + ": smallest detectable difference 2.7-2.8°, as large as most effects. From the hip points of a pose model single frames scatter by 20 to 35° before cleaning: only the mean over many strides means anything.",
			Caution:    "The '80 % higher odds per degree' (Bramah 2018) is retrospective, and one degree is below what two-dimensional video detects. " + rarely,
			Figure: `
        L o--____
                 ----o R       left foot standing: right side lower, positive
        |
        |`,
			compute: pelvicDrop,
		}),
		rear(Definition{
			Name: "hip_adduction", Title: "Hip adduction, peak in stance", origin: "adduction", needs: leg[:2], UselessSEM: 5, Instead: pelvisSticks,
			Definition: "How far the thigh leans inward relative to the pelvis while this foot stands, at its most on the typical curve.",
			Sign:       "positive inward (adduction)",
			Formula:    "thigh lean inward + pelvic drop, at the peak of the median curve in stance",
			Source:     "Dingenen 2018; three-dimensional peaks 8 to 13° in men, 10 to 17° in women (from memory).",
			Error:      dingenen + ": smallest detectable difference 2.3-3.8°. Agrees only moderately with three dimensions (from memory).",
			Caution:    "Before some injuries larger (prospective, few runners), after them smaller (Foch 2020, Gait Posture 77:64). " + rarely,
			compute: func(c *reading, s body.Side) sample {
				if c.hipIn[s] == nil {
					return sample{reason: "The pelvis was not seen. " + pelvisSticks}
				}
				return c.robust(sample{
					values: c.peaks(s, c.hipIn[s], stance, 0.1, 0.9, 1),
					used:   append([]body.Landmark{body.LeftHip.On(s), body.LeftKnee.On(s)}, c.dropFrom...),
				})
			},
		}),
		rear(Definition{
			Name: "thigh_adduction", Title: "Thigh lean inward, peak in stance", origin: "thigh in", needs: leg[:2], camera: true,
			Definition: "Lean of the thigh toward the midline from the vertical while this foot stands, at its most on the typical curve. It needs no pelvis line, so it is surer than hip adduction.",
			Sign:       "positive when the knee is nearer the midline than the hip",
			Formula:    "atan2(inward distance knee - hip, y_hip - y_knee)",
			Source:     "Dingenen 2018 (femoral adduction).",
			Error:      dingenen + ": smallest detectable difference 1.3-2.3°.",
			compute: func(c *reading, s body.Side) sample {
				return sample{values: c.peaks(s, c.thighIn[s], stance, 0.1, 0.9, 1)}
			},
		}),
		rear(Definition{
			Name: "knee_frontal_angle", Title: "Knee angle from behind (frontal-plane projection angle)", origin: "valgus", needs: leg,
			Definition: "Bend of the line hip, knee, ankle as seen from behind in mid-stance (the middle fifth of it).",
			Sign:       "positive with the knee inward (valgus)",
			Formula:    "inward lean of the thigh - inward lean of the shank, mean over 40 to 60 % of stance",
			Source:     "Willson & Davis 2008, J Orthop Sports Phys Ther 38:606-615; Munro 2012, Phys Ther Sport 13:7-11 (both on squats and landings).",
			Error:      "SEM 2-4° between sessions (Gwynne & Curran 2014); smallest detectable difference about 8° (from memory).",
			Caution:    "A projection: it tells hip adduction and shank rotation only weakly (r 0.3 to 0.55) and predicts frontal knee moments with R² 15 to 45 % (Straub & Powers 2022). A bent knee magnifies it.",
			compute: func(c *reading, s body.Side) sample {
				return sample{values: c.midStance(s, c.valgus[s])}
			},
		}),
		rear(Definition{
			Name: "knee_separation", Title: "Distance between the knees", origin: "knee gap", Unit: "hip widths", Decimals: 2, Sided: true, Worth: 0.05,
			needs:      []body.Landmark{body.LeftHip, body.RightHip, body.LeftKnee, body.RightKnee},
			Definition: "Sideways distance between the knees' centres in mid-stance, as a share of the distance between the hip points.",
			Sign:       "positive while the right knee is right of the left one; negative where they have crossed",
			Formula:    "(z_right knee - z_left knee) / median |z_right hip - z_left hip|, mean over 40 to 60 % of stance",
			Source:     "Idea of the knee window: Souza 2016, Phys Med Rehabil Clin N Am 27:217-236 (from memory). No published cut-off.",
			Error:      "None published.",
			Caution:    "Between centres, not between the skin of the knees: they touch at about a quarter of it.",
			compute: func(c *reading, s body.Side) sample {
				if !(c.hipWidth > 0) {
					return sample{reason: "The hips were not seen. " + filmRear}
				}
				v := combine(func(r, l float64) float64 { return (r - l) / c.hipWidth }, c.z(body.RightKnee), c.z(body.LeftKnee))
				return sample{values: c.midStance(s, v)}
			},
		}),
		rear(Definition{
			Name: "step_width", Title: "Step width", origin: "width", Unit: "m", Decimals: 3, Worth: 0.01, metres: true,
			needs:      []body.Landmark{body.LeftHeel},
			Definition: "Sideways distance between the heels of consecutive steps, each in its mid-stance.",
			Sign:       "positive with the feet apart; negative where they cross over the line of the other",
			Formula:    "z_right heel - z_left heel of consecutive contacts at half stance",
			Source:     "Definition; Brindle 2014, Gait Posture 39:124-128 (seen second-hand: its usual width is too unsure to give). " + capital(openRunner) + ": 8 ± 16 mm.",
			Error:      "No published error by video found.",
			Caution:    "Runners land close to a line; a crossover was seen in 13 of 44 (Front Bioeng 2023). Narrow steps strain the outer thigh more in a model (Meardon 2012, Sports Biomech 11:464-472).",
			Instead:    "Film from behind with a stick of known length across the belt.",
			compute: func(c *reading, _ body.Side) sample {
				v := c.widths()
				r := sample{values: v, error: c.lengthError(median(v))}
				return r
			},
		}),
		rear(Definition{
			Name: "crossover_share", Title: "Crossover steps", Unit: "%", Decimals: 0, Worth: 5,
			needs:      []body.Landmark{body.LeftHeel},
			Definition: "Share of steps in which the heels land across each other's line.",
			Sign:       "0 to 100",
			Formula:    "100 × steps with a step width below 0 / steps",
			Source:     "Brindle 2014; 13 of 44 runners crossed over (Front Bioeng 2023).",
			Error:      "Counting error of a share: ±14 % points for half of 50 steps. Heels misplaced by a centimetre or two move steps across the line.",
			Caution:    "As step width.",
			compute: func(c *reading, _ body.Side) sample {
				width, _ := dropWild(c.widths())
				n, k := 0.0, 0.0
				r := sample{values: make([]float64, len(width)), spread: math.NaN(), has: hasSpread | hasSE}
				for i, w := range width {
					switch {
					case math.IsNaN(w):
						r.values[i] = math.NaN()
						continue
					case w < 0:
						r.values[i] = 100
						k++
					}
					n++
				}
				p := (k + 2) / (n + 4) // Agresti & Coull 1998
				r.se = 100 * math.Sqrt(p*(1-p)/(n+4))
				return r
			},
		}),
		rear(Definition{
			Name: "heel_whip", Title: "Heel whip", origin: "whip", needs: []body.Landmark{body.LeftHeel, body.LeftToe}, Worth: 2, UselessSEM: 7,
			Definition: "How far the foot turns about its long axis after toe-off, seen from behind: the largest change of the heel-toe line from its direction at toe-off while the sole still faces the camera.",
			Sign:       "positive when the heel whips inward (medial)",
			Formula:    "largest change, in the first third of swing, of atan2(outward distance toe - heel, y_heel - y_toe)",
			Source:     "Souza et al. 2015, PM&R 7:823-830 (256 runners): mean 0.4° medial, SD 9.2; 5° or more in 54 % of feet.",
			Error:      "None published for landmarks; the heel point of a pose model is too poor from behind.",
			Caution:    "No link with injury has been shown.",
			Instead:    "Put stickers on heel and forefoot of the sole's back edge, and film from behind at 120 frames a second or more.",
			minHz:      60, compute: heelWhip,
		}),
		rear(Definition{
			Name: "rearfoot_eversion", Title: "Rearfoot to shank, peak in stance", origin: "rearfoot", minHz: 60,
			needs:      []body.Landmark{body.LeftHeelTop, body.LeftHeelBottom, body.LeftShankTop, body.LeftShankBottom},
			Definition: "Angle between the line of the heel counter and the line along the back of the shank, at its most on the typical curve in stance. Only with four stickers a side.",
			Sign:       "eversion (heel rolled outward under the leg) positive",
			Formula:    "inward lean of heel bottom→top - inward lean of shank bottom→top",
			Source:     "Three-dimensional peaks 8 to 15° (from memory).",
			Error:      "Agreement between raters is weak (ICC 0.384 at 30 frames a second: Vergeer 2020).",
			Caution:    "It shows the shoe, not the foot within.",
			Instead:    "Put two stickers on the heel counter and two along the middle of the back of the shank, and film from behind at 60 frames a second or more.",
			compute: func(c *reading, s body.Side) sample {
				inward := func(across, up float64) float64 { return math.Atan2(-s.Sign()*across, up) }
				line := func(bottom, top body.Landmark) []float64 {
					bottom, top = bottom.On(s), top.On(s)
					return direction(c.z(bottom), c.y(bottom), c.z(top), c.y(top), inward)
				}
				v := combine(difference, line(body.LeftHeelBottom, body.LeftHeelTop), line(body.LeftShankBottom, body.LeftShankTop))
				return sample{values: c.peaks(s, v, stance, 0.1, 0.8, 1)}
			},
		}),
	}
}

// midStance is the mean of a series over the middle fifth of stance.
func (c *reading) midStance(s body.Side, v []float64) []float64 {
	return c.each(s, func(p pass) float64 { return c.mean(v, p.during(midStanceFrom), p.during(midStanceTo)) })
}

// widths are the step widths of consecutive contacts.
func (c *reading) widths() []float64 {
	var out []float64
	for i, p := range c.passes {
		if i+1 == len(c.passes) || c.passes[i+1].ic != p.next {
			continue
		}
		q := c.passes[i+1]
		z := func(p pass) float64 { return c.at(c.z(body.LeftHeel.On(p.side)), p.during(0.5)) }
		if p.side == body.Left {
			p, q = q, p
		}
		out = append(out, z(p)-z(q))
	}
	return out
}

func pelvicDrop(c *reading, s body.Side) sample {
	if c.drop[s] == nil {
		return sample{reason: "The pelvis was not seen. " + pelvisSticks}
	}
	return c.robust(sample{values: c.peaks(s, c.drop[s], stance, 0.1, 0.9, 1), used: c.dropFrom})
}

// robust replaces the mean by the median where the pose model saw the pelvis:
// its hip points scatter with long tails. The standard error of a median of
// normal values is 1.2533 that of their mean.
func (c *reading) robust(r sample) sample {
	if origin, _ := c.originOf(r.used); origin != track.PoseModel {
		return r
	}
	kept, _ := dropWild(r.values)
	r.exact, r.se, r.has = median(kept), 1.2533*agree.MeanOf(kept).SE, hasExact|hasSE
	r.flags = append(r.flags, "hip points of the pose model: median over the strides, coarse")
	return r
}

func heelWhip(c *reading, s body.Side) sample {
	if c.Info.View == clip.Front {
		return sample{reason: "The sole is not seen from in front. " + filmRear}
	}
	heel := body.LeftHeel.On(s)
	outward := func(across, up float64) float64 { return math.Atan2(s.Sign()*across, -up) }
	turn := direction(c.z(heel), c.y(heel), c.toeZ[s], c.toeY[s], outward)
	hang := combine(func(a, b float64) float64 { return a - b }, c.y(heel), c.toeY[s])
	// Early swing: to a third of it, and only while the foot hangs at least half
	// as steeply as at toe-off, so that the line seen from behind is long enough.
	const until = 0.35
	typical, steep := c.phaseCurve(s, turn, swing, 0, until), c.phaseCurve(s, hang, swing, 0, until)
	best, at := -1.0, math.NaN()
	for k := range typical {
		if !(steep[k] > 0.5*steep[0]) {
			break
		}
		if d := math.Abs(difference(typical[k], typical[0])); d > best {
			best, at = d, until*float64(k)/float64(len(typical)-1)
		}
	}
	if math.IsNaN(at) {
		return sample{reason: fmt.Sprintf("The %s foot did not hang far enough after toe-off to read its turn. %s", s, filmRear)}
	}
	r := c.atToeOff(s, turn)
	for i, v := range c.atPhase(s, turn, swing, at) {
		r.values[i] = difference(v, r.values[i])
	}
	return r
}
