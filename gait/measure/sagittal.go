package measure

import (
	"fmt"
	"math"
	"strings"

	"gaitwright/gait/body"
)

const (
	groupSide    = "Seen from the side"
	filmSide     = "Film from the side, camera level at hip height and square to the belt, the whole runner in the picture."
	dingenen     = "Dingenen et al. 2018, Phys Ther Sport 33:40-47"
	noGoodNumber = "There is no single good value. "
	openRunner   = "open treadmill data, runner 001 (Fukuchi 2017, PeerJ 5:e3298)"
)

// sagittalDefinitions are the angles seen from the side.
func sagittalDefinitions() []Definition {
	leg := []body.Landmark{body.LeftHip, body.LeftKnee, body.LeftAnkle}
	foot := []body.Landmark{body.LeftHeel, body.LeftToe}
	shank := []body.Landmark{body.LeftKnee, body.LeftAnkle}
	thigh := []body.Landmark{body.LeftHip, body.LeftKnee}
	ankle := []body.Landmark{body.LeftKnee, body.LeftAnkle, body.LeftHeel, body.LeftToe}
	deg := func(d Definition) Definition {
		d.Unit, d.Decimals, d.Sided, d.Group, d.plane, d.Instead = "deg", 1, true, groupSide, sagittalPlane, filmSide
		if d.Worth == 0 {
			d.Worth = 1
		}
		return d
	}
	return []Definition{
		deg(Definition{
			Name: "foot_angle_at_contact", Title: "Foot angle at contact", origin: "foot", needs: foot, minHz: 50, flagHz: 100,
			Definition: "Angle of the foot to the ground as it lands, relative to the same foot lying flat from a fifth to a third of stance in the same clip.",
			Sign:       "positive with the toes up (heel first), negative with the toes down",
			Formula:    "angle(heel→toe, level) at contact - the same when flat",
			Source:     "Altman & Davis 2012, Gait Posture 35:298-300, who subtract the standing angle instead (from memory). The flat stretch of stance is that of standing within -0.4 ± 0.8° (36 feet of the open treadmill data, Fukuchi 2017, PeerJ 5:e3298).",
			Error:      "Typical error 2.5° by 240 Hz video: smaller changes are noise. " + dingenen + ": smallest detectable difference 1.3-2.3° in the laboratory.",
			Caution:    "Falls with speed in many runners. The foot turns fast at contact, so that the contact rule and the frame rate matter. A sole that bends or a heel raised all through stance shifts the flat reference.",
			Figure: `
              toe
            .'
          .'   ) positive
   heel o'____________ ground`,
			compute: func(c *reading, s body.Side) sample { return c.footAtContact(s) },
		}),
		{
			Name: "strike_class", Title: "Foot strike", Unit: "class", Decimals: 2, Sided: true, Group: groupSide, plane: sagittalPlane, origin: "", needs: foot, minHz: 50, flagHz: 100,
			Definition: "Which part of the foot lands first in most strides, told from the foot angle at contact: rearfoot, midfoot or forefoot. The value is the share of strides in that class.",
			Sign:       "0 to 1: the share of the strides that fall in the class named",
			Formula:    "foot angle at contact above 8.0° rearfoot, below -1.6° forefoot, between them midfoot",
			Source:     "Altman & Davis 2012, Gait Posture 35:298-300 (cut-offs from memory; they put one known forefoot runner on the border of mid- and forefoot).",
			Error:      "Class by 240 Hz video agrees in 99.4 % (kappa 0.96, 155 clips); several raters at 30 frames a second kappa 0.74 (Vergeer 2020). Against strike indices from the force plate (six runners of the open treadmill data at three speeds, 36 feet): rearfoot told from the rest in 36 of 36, but the 9 labelled forefoot came out midfoot, whose angles they share.",
			Caution:    "A foot strike is never a fault by itself. No strike is safer: changing it moves load (forefoot landing unloads the knee and loads calf and Achilles tendon).",
			Instead:    filmSide,
			compute:    strikeClass,
		},
		deg(Definition{
			Name: "shank_angle_at_contact", Title: "Shank angle at contact", origin: "shank", needs: shank, minHz: 50, flagHz: 100, camera: true,
			Definition: "Lean of the lower leg as the foot lands.",
			Sign:       "positive when the ankle is ahead of the knee (reaching), 0 upright",
			Formula:    "atan2(x_ankle - x_knee, y_knee - y_ankle) at contact",
			Source:     "Souza 2016, Phys Med Rehabil Clin N Am 27:217-236 (from memory).",
			Error:      dingenen + ": smallest detectable difference 2.2-4.8°.",
			Caution:    "No range that could be relied on was found.",
			Figure: `
     knee o
           \
            \   positive: the ankle ahead
             o ankle      running →`,
			compute: func(c *reading, s body.Side) sample { return c.atContact(s, c.shank[s]) },
		}),
		deg(Definition{
			Name: "knee_flexion_at_contact", Title: "Knee flexion at contact", origin: "knee", needs: leg, minHz: 50, flagHz: 100,
			Definition: "Bend of the knee as the foot lands, from hip, knee and ankle seen from the side.",
			Sign:       "0 straight, positive bent",
			Formula:    "180° - angle(hip, knee, ankle) at contact",
			Source:     "Souza 2016. " + capital(openRunner) + ": right/left 13/10° at 2.5, 16/12° at 3.5 m/s.",
			Error:      "Between raters 3-8° within a day, 9-14° between days (Damsted 2015, Int J Sports Phys Ther).",
			Caution:    noGoodNumber + "10 to 20° is usual.",
			compute:    func(c *reading, s body.Side) sample { return c.atContact(s, c.knee[s]) },
		}),
		deg(Definition{
			Name: "knee_flexion_peak_stance", Title: "Knee flexion, peak in stance", origin: "knee in stance", needs: leg,
			Definition: "The deepest bend of the knee while the foot is on the ground. As every peak here, each stride is read at the moment at which the typical curve peaks, so that noise does not raise it.",
			Sign:       "0 straight, positive bent",
			Formula:    "knee flexion at the peak of its median curve between contact and toe-off",
			Source:     "Souza 2016 gives about 45° (from memory). " + capital(openRunner) + ": 42 to 44° at all speeds.",
			Error:      dingenen + ": smallest detectable difference 2.3-3.8°.",
			Caution:    "Falls when the step rate rises, and was the best single predictor of kneecap force (Lenhart 2014, Med Sci Sports Exerc 46:557-564).",
			compute: func(c *reading, s body.Side) sample {
				return sample{values: c.peaks(s, c.knee[s], stance, 0.1, 0.9, 1)}
			},
		}),
		deg(Definition{
			Name: "knee_flexion_excursion", Title: "Knee flexion, excursion in stance", origin: "knee in stance", needs: leg, minHz: 50, flagHz: 100,
			Definition: "How far the knee bends from contact to its deepest in stance. A steady offset of the landmarks cancels.",
			Sign:       "positive",
			Formula:    "peak in stance - at contact",
			Source:     "Definition. Medial shin pain went with less of it in one retrospective study of 28 (Loudon 2012, Int J Sports Phys Ther).",
			Error:      "As knee flexion.",
			compute: func(c *reading, s body.Side) sample {
				r := c.atContact(s, c.knee[s])
				for i, v := range c.peaks(s, c.knee[s], stance, 0.1, 0.9, 1) {
					r.values[i] = v - r.values[i]
				}
				return r
			},
		}),
		deg(Definition{
			Name: "knee_flexion_peak_swing", Title: "Knee flexion, peak in swing", origin: "knee", needs: leg, Worth: 2,
			Definition: "The deepest bend of the knee while the leg swings through.",
			Sign:       "0 straight, positive bent",
			Formula:    "knee flexion at the peak of its median curve between toe-off and the next contact",
			Source:     capital(openRunner) + ": 85-90, 100-106, 116-117° at 2.5, 3.5, 4.5 m/s.",
			Error:      "As knee flexion; the leg moves fast, so that blur adds.",
			Caution:    "Rises strongly with speed: compare like with like.",
			compute: func(c *reading, s body.Side) sample {
				return sample{values: c.peaks(s, c.knee[s], swing, 0.05, 0.9, 1)}
			},
		}),
		deg(Definition{
			Name: "hip_flexion_at_contact", Title: "Hip flexion at contact", origin: "hip", needs: thigh, minHz: 50,
			Definition: "Bend of the hip as the foot lands: the thigh relative to the pelvis where its spines carry markers, else to the trunk, else to the vertical. The flag says which.",
			Sign:       "positive with the knee forward",
			Formula:    "thigh angle + pelvic tilt (or trunk lean) at contact",
			Source:     capital(openRunner) + ", relative to the pelvis: 33-35, 39, 43° at 2.5, 3.5, 4.5 m/s.",
			Error:      "Between raters 3-7° within a day, 9-11° between days (Damsted 2015).",
			compute: func(c *reading, s body.Side) sample {
				return c.hipSample(c.atContact(s, c.hip[s]))
			},
		}),
		deg(Definition{
			Name: "hip_extension_at_toe_off", Title: "Hip extension at toe-off", origin: "hip", needs: thigh, minHz: 50,
			Definition: "How far the thigh is behind as the foot leaves the ground: relative to the pelvis where its spines carry markers, else to the trunk, else to the vertical. The flag says which.",
			Sign:       "negative when extended (thigh behind), positive when still flexed",
			Formula:    "thigh angle + pelvic tilt (or trunk lean) at toe-off",
			Source:     capital(openRunner) + ", relative to the pelvis: about -1, -6, -10° at 2.5, 3.5, 4.5 m/s.",
			Error:      "As hip flexion.",
			Caution:    "The three references differ by the tilt between them: never compare one with another. A passive Thomas test did not predict it (Schache 2000, Br J Sports Med 34:279-283, from memory).",
			compute: func(c *reading, s body.Side) sample {
				return c.hipSample(c.atToeOff(s, c.hip[s]))
			},
		}),
		deg(Definition{
			Name: "thigh_angle_at_toe_off", Title: "Thigh angle at toe-off", origin: "thigh", needs: thigh, minHz: 50, camera: true,
			Definition: "Lean of the thigh from the vertical as the foot leaves the ground.",
			Sign:       "negative when the knee is behind the hip",
			Formula:    "atan2(x_knee - x_hip, y_hip - y_knee) at toe-off",
			Source:     "Definition; typically 15 to 25° behind the hip (from memory).",
			Error:      "As the shank angle.",
			Caution:    "Not hip extension: the tilt of the pelvis lies between them.",
			compute:    func(c *reading, s body.Side) sample { return c.atToeOff(s, c.thigh[s]) },
		}),
		deg(Definition{
			Name: "ankle_dorsiflexion_at_contact", Title: "Ankle angle at contact", origin: "ankle", needs: ankle, minHz: 50, flagHz: 100,
			Definition: "Angle between foot and shank as the foot lands; 0 with the sole flat under an upright shank.",
			Sign:       "dorsiflexion positive",
			Formula:    "foot angle (relative to flat) - shank angle at contact",
			Source:     capital(openRunner) + " (forefoot): about -8°; rearfoot strikers about 0 to +10° (from memory).",
			Error:      dingenen + ": smallest detectable difference 2.2-4.8°.",
			compute: func(c *reading, s body.Side) sample {
				return c.flatFoot(s, func() sample { return c.atContact(s, c.ankle[s]) })
			},
		}),
		deg(Definition{
			Name: "ankle_dorsiflexion_peak", Title: "Ankle dorsiflexion, peak in stance", origin: "ankle", needs: ankle,
			Definition: "How far the shank leans over the foot at its most while the foot is on the ground.",
			Sign:       "dorsiflexion positive",
			Formula:    "(foot angle relative to flat - shank angle) at the peak of its median curve in stance",
			Source:     capital(openRunner) + ": 22 to 24°.",
			Error:      dingenen + ": smallest detectable difference 2.2-4.8°.",
			compute: func(c *reading, s body.Side) sample {
				return c.flatFoot(s, func() sample { return sample{values: c.peaks(s, c.ankle[s], stance, 0.2, 0.95, 1)} })
			},
		}),
		deg(Definition{
			Name: "knee_flexion_at_toe_off", Title: "Knee flexion at toe-off", origin: "knee", needs: leg, minHz: 50,
			Definition: "Bend left in the knee as the foot leaves the ground.",
			Sign:       "0 straight, positive bent",
			Formula:    "180° - angle(hip, knee, ankle) at toe-off",
			Source:     "Definition.",
			Error:      "As knee flexion.",
			compute:    func(c *reading, s body.Side) sample { return c.atToeOff(s, c.knee[s]) },
		}),
		deg(Definition{
			Name: "ankle_dorsiflexion_at_toe_off", Title: "Ankle angle at toe-off", origin: "ankle pushing", needs: ankle, minHz: 50,
			Definition: "Angle between foot and shank as the foot leaves the ground.",
			Sign:       "dorsiflexion positive; pointed toes negative",
			Formula:    "foot angle (relative to flat) - shank angle at toe-off",
			Source:     "Definition.",
			Error:      "As ankle dorsiflexion.",
			compute: func(c *reading, s body.Side) sample {
				return c.flatFoot(s, func() sample { return c.atToeOff(s, c.ankle[s]) })
			},
		}),
		deg(Definition{
			Name: "triple_extension", Title: "Triple extension at toe-off", origin: "ankle pushing", needs: []body.Landmark{body.LeftHip, body.LeftKnee, body.LeftAnkle, body.LeftHeel, body.LeftToe}, minHz: 50, Worth: 2,
			Definition: "How far hip, knee and ankle together are stretched out at push-off: the hip's extension, less the bend left in the knee, plus the ankle's plantarflexion. The three are listed singly as well.",
			Sign:       "larger means more stretched",
			Formula:    "-(hip flexion + knee flexion + ankle dorsiflexion) at toe-off",
			Source:     "Common practice; no reference range found.",
			Error:      "The three errors joined, about 1.7 times one.",
			Caution:    "A coaching picture, not a validated measure. Runners do not straighten the knee fully at these speeds.",
			compute:    tripleExtension,
		}),
		{
			Name: "trunk_lean", Title: "Trunk lean", Unit: "deg", Decimals: 1, Group: groupSide, Worth: 1, plane: sagittalPlane, origin: "trunk",
			needs: []body.Landmark{body.LeftShoulder, body.LeftHip}, camera: true, Instead: filmSide,
			Definition: "Forward lean of the trunk, middle of the hips to middle of the shoulders, averaged over stance.",
			Sign:       "positive forward",
			Formula:    "mean of atan2(x_shoulder - x_hip, y_shoulder - y_hip) over stance",
			Source:     "Teng & Powers 2014, J Orthop Sports Phys Ther 44:785-792: self-chosen 7.3 ± 3.6° at 3.4 m/s.",
			Error:      "One degree of camera roll is one degree of lean.",
			Caution:    noGoodNumber + "More lean lowers stress on the kneecap (Teng & Powers 2014), yet injured runners leaned more than others (Bramah 2018).",
			compute: func(c *reading, s body.Side) sample {
				return sample{values: c.each(s, func(p pass) float64 { return c.mean(c.trunk, p.ic, p.to) })}
			},
		},
		{
			Name: "pelvic_tilt", Title: "Pelvic tilt", Unit: "deg", Decimals: 1, Group: groupSide, Worth: 1, plane: sagittalPlane, origin: "pelvis tilt", camera: true,
			Definition: "Tilt of the line from the posterior to the anterior spine of the pelvis, averaged over the stride. Only with stickers or markers on the spines: a camera cannot see them through the clothes.",
			Sign:       "anterior tilt positive (front lower)",
			Formula:    "mean of atan2(y_PSIS - y_ASIS, x_ASIS - x_PSIS) over the stride",
			Source:     "Schache 1999, Gait Posture 10:30-47 (from memory); its figures are too unsure to judge by.",
			Error:      "5 mm of sticker over 0.12 m is 2.4°.",
			Caution:    "Do not pool men and women: the offset differs (Schache 2003).",
			Instead:    "Put stickers on the anterior and posterior superior iliac spine of the side toward the camera, and film from the side.",
			compute: func(c *reading, s body.Side) sample {
				if c.pelvicTilt == nil {
					return sample{reason: "No stickers on the front and back bony points (spines) of the pelvis were seen. Put stickers on the anterior and posterior superior iliac spine of the side toward the camera, and film from the side."}
				}
				return sample{values: c.each(s, func(p pass) float64 { return c.mean(c.pelvicTilt, p.ic, p.stride) }), used: c.spinesUsed()}
			},
		},
		{
			Name: "lumbar_curve", Title: "Lumbar curve", Unit: "deg", Decimals: 1, Group: groupSide, Worth: 2, plane: sagittalPlane, origin: "lumbar",
			needs:      []body.Landmark{body.Thoracolumbar, body.Lumbosacral},
			Definition: "How far the lower back is arched over the pelvis: the tilt of the pelvis less the forward lean of the line from the lumbosacral to the thoracolumbar sticker, averaged over the stride.",
			Sign:       "larger means more hollow",
			Formula:    "mean over the stride of pelvic tilt - atan2(x_T12 - x_S1, y_T12 - y_S1)",
			Source:     "Own definition for three stickers. Standing is the most hollow, walking the least, running between (Levine 2007, J Athl Train 42:29-34, 20 women).",
			Error:      "Sticker placement about 3° (own estimate); compare with the same stickers in one visit.",
			Caution:    "The curve of the skin, not of the spine; a film without stickers cannot show it.",
			Instead:    "Put stickers on T12/L1, L5/S1 and the front and back spine of the pelvis, and film from the side.",
			compute: func(c *reading, s body.Side) sample {
				if c.pelvicTilt == nil {
					return sample{reason: "No stickers on the front and back bony points (spines) of the pelvis were seen. Put stickers on T12/L1, L5/S1 and the front and back spine of the pelvis, and film from the side."}
				}
				chord := direction(c.x(body.Lumbosacral), c.y(body.Lumbosacral), c.x(body.Thoracolumbar), c.y(body.Thoracolumbar), standing)
				v := combine(difference, c.pelvicTilt, chord)
				return sample{values: c.each(s, func(p pass) float64 { return c.mean(v, p.ic, p.stride) })}
			},
		},
	}
}

// spinesUsed lists the pelvic spines that have paths.
func (f *figure) spinesUsed() []body.Landmark {
	var out []body.Landmark
	for _, l := range []body.Landmark{body.LeftPSIS, body.RightPSIS, body.LeftASIS, body.RightASIS} {
		if f.t.Paths[l] != nil {
			out = append(out, l)
		}
	}
	return out
}

// hipSample adds what the hip angle is relative to.
func (c *reading) hipSample(r sample) sample {
	r.flags = append(r.flags, c.hipFrom)
	return r
}

// flatFoot withholds what is relative to the flat foot where that was not found.
func (c *reading) flatFoot(s body.Side, of func() sample) sample {
	if math.IsNaN(c.flat[s]) {
		return sample{reason: fmt.Sprintf("The %s foot was not seen flat on the ground in mid-stance. %s", s, filmSide)}
	}
	return of()
}

func (c *reading) footAtContact(s body.Side) sample {
	return c.flatFoot(s, func() sample { return c.atContact(s, c.foot[s]) })
}

// Cut-offs of the foot angle at contact (Altman & Davis 2012, Gait Posture
// 35:298-300; from memory).
const (
	rearfootAboveDeg = 8.0
	forefootBelowDeg = -1.6
)

// Strike names the strike of a foot angle at contact, relative to flat.
func Strike(footAngleDeg float64) string {
	switch {
	case footAngleDeg > rearfootAboveDeg:
		return "rearfoot"
	case footAngleDeg < forefootBelowDeg:
		return "forefoot"
	}
	return "midfoot"
}

func strikeClass(c *reading, s body.Side) sample {
	angle := c.footAtContact(s)
	if angle.reason != "" {
		return angle
	}
	kept, _ := dropWild(angle.values)
	count := map[string]int{}
	n := 0
	for _, v := range kept {
		if !math.IsNaN(v) {
			count[Strike(v)]++
			n++
		}
	}
	centre := median(kept)
	class := Strike(centre)
	for _, k := range []string{"rearfoot", "midfoot", "forefoot"} {
		if count[k] > count[class] {
			class = k
		}
	}
	r := sample{text: class, values: make([]float64, len(kept))}
	for i, v := range kept {
		switch {
		case math.IsNaN(v):
			r.values[i] = math.NaN()
		case Strike(v) == class:
			r.values[i] = 1
		}
	}
	// Agresti & Coull 1998, Am Stat 52:119-126: two successes and two failures
	// more, so that a share of 1 in few strides is not certain.
	k, m := float64(count[class]), float64(n)
	p := (k + 2) / (m + 4)
	r.se, r.spread, r.exact, r.has = math.Sqrt(p*(1-p)/(m+4)), math.NaN(), k/m, hasSE|hasSpread|hasExact
	origin, _ := c.originOf([]body.Landmark{body.LeftHeel.On(s), body.LeftToe.On(s)})
	doubt := 1.96 * math.Hypot(originErrors["foot"].of(origin, c.far(s)), angle.error.Event)
	if class != "rearfoot" {
		r.flags = append(r.flags, "mid- and forefoot are poorly told apart by the angle")
	}
	var borders []string
	if math.Abs(centre-rearfootAboveDeg) < doubt {
		borders = append(borders, "rearfoot/midfoot")
	}
	if math.Abs(centre-forefootBelowDeg) < doubt {
		borders = append(borders, "midfoot/forefoot")
	}
	if len(borders) > 0 {
		r.flags = append(r.flags, "within error of the "+strings.Join(borders, " and ")+" border")
	}
	return r
}

func tripleExtension(c *reading, s body.Side) sample {
	return c.flatFoot(s, func() sample {
		v := combine(sum, c.hip[s], combine(sum, c.knee[s], c.ankle[s]))
		r := c.atToeOff(s, v)
		for i := range r.values {
			r.values[i] = -r.values[i]
		}
		origin, _ := c.originOf([]body.Landmark{body.LeftHip.On(s), body.LeftKnee.On(s), body.LeftAnkle.On(s), body.LeftHeel.On(s), body.LeftToe.On(s)})
		for _, joint := range []string{"hip", "knee", "ankle pushing"} {
			r.error.Origin = math.Hypot(r.error.Origin, originErrors[joint].of(origin, c.far(s)))
		}
		return c.hipSample(r)
	})
}

// capital raises the first letter, for a sentence that begins with a phrase.
func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
