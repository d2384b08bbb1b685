package measure

import (
	"fmt"
	"math"

	"gaitwright/gait/body"
	"gaitwright/num/agree"
)

const (
	groupTimes = "Times and rates"
	filmFaster = "Film at 120 or 240 frames a second (slow motion)."
)

// timeDefinitions are the measures that need contacts alone.
func timeDefinitions() []Definition {
	return []Definition{
		{
			Name: "step_rate", Title: "Step rate", Unit: "steps/min", Decimals: 1, Group: groupTimes, Worth: 1,
			Definition: "Steps a minute, both feet counted (cadence). Counted from the first contact to the last, left and right steps weighing alike, and divided by the time between them, so that neither the length of the clip nor a rule that is always a little late nor uneven steps matter.",
			Sign:       "always positive; higher means quicker steps",
			Formula:    "120 / (mean left step time + mean right step time)",
			Source:     "Definition; Burns, Zendler & Zernicke 2019, J Appl Physiol 126:462-468, for its spread among runners (elite 100 km: 182, range 155 to 203).",
			Error:      "Timing n steps over T seconds at f frames a second: about 0.1 step/min in 10 s at 60 Hz. Counting by eye for 10 s resolves 6 steps/min.",
			Caution:    "There is no right step rate. 180 for everyone, 170 tall, 190 short are common practice with no trial behind them; the direction is right (about -12 a minute for each 10 cm of height, +5.6 for each m/s: Burns 2019), but leg length explains only about a quarter of the spread. A higher rate lowers several loads on the knee (Anderson 2022, 37 studies); evidence on injury is insufficient.",
			Instead:    "Film 20 s of steady running with both feet in the picture.",
			Figure: `
   L       R       L       R       L
   |-------|-------|-------|-------|--> time
   first contact ............ last contact      4 steps`,
			compute: stepRate,
		},
		{
			Name: "step_time", fine: true, opposed: true, Title: "Step time", Unit: "s", Decimals: 3, Sided: true, Group: groupTimes, Worth: 0.005, flagHz: 50,
			Definition: "Time from the other foot's contact to this foot's contact. The left step ends with the left contact.",
			Sign:       "always positive", Formula: "contact(k) - contact(k-1) of the other foot",
			Source: "Definition.", Error: "One interval by frames: SD 1/(f√6), 6.8 ms at 60 Hz, at most one frame; shrinks with the number of steps.",
			compute: func(c *reading, s body.Side) sample {
				return sample{values: c.each(s, pass.stepS), floor: c.frameSDS, error: Budget{Event: c.unlikeFeetS()}}
			},
		},
		{
			Name: "stride_time", Title: "Stride time", Unit: "s", Decimals: 3, Sided: true, Group: groupTimes, Worth: 0.005,
			Definition: "Time from one contact of a foot to the next contact of the same foot: two steps.",
			Sign:       "always positive", Formula: "contact(k+2) - contact(k)",
			Source: "Definition.", Error: "As the step time.",
			compute: func(c *reading, s body.Side) sample {
				return sample{values: c.each(s, pass.strideS), floor: c.frameSDS}
			},
		},
		{
			Name: "contact_time", fine: true, Title: "Contact time", Unit: "s", Decimals: 3, Sided: true, Group: groupTimes, Worth: 0.005, minHz: 50, flagHz: 100,
			Definition: "How long the foot is on the ground, from initial contact to toe-off.",
			Sign:       "always positive; shorter at higher speed",
			Formula:    "toe-off - initial contact",
			Source:     "Definition. Typical: about 0.27 s at 2.7 m/s, 0.22 s at 3.5 m/s (Karamanidis & Arampatzis 2005, J Exp Biol 208:3907; open treadmill data of Fukuchi 2017, PeerJ 5:e3298).",
			Error:      "The rule dominates: the same run gives 294, 292, 279 and 260 ms at force thresholds of 10, 20, 50 and 100 N. Motion rules against force: contact +3.1, toe-off +2.1, contact time -1.1 ms with limits of about ±18 ms (Handsaker 2016, J Biomech 49:4128-4133).",
			Caution:    "Compare only what the same rule gave, from visit to visit too, and never a rule for walking: one of those finds toe-off 114 ms late in running (" + openRunner + "). Contact times of watches and pods follow other rules.",
			Instead:    filmFaster,
			compute: func(c *reading, s body.Side) sample {
				return sample{values: c.each(s, pass.contactS), floor: c.frameSDS, error: Budget{Event: c.contactBias()}}
			},
		},
		{
			Name: "flight_time", fine: true, Title: "Flight time", Unit: "s", Decimals: 3, Sided: true, Group: groupTimes, Worth: 0.005, minHz: 50, flagHz: 100,
			Definition: "Time in the air after this foot pushed off, until the other foot lands.",
			Sign:       "positive in running; below zero both feet are on the ground together, which is walking",
			Formula:    "next contact of the other foot - toe-off = step time - contact time",
			Source:     "Definition. Typical 0.06 to 0.14 s at 2.5 to 5 m/s (from memory).",
			Error:      "The same in milliseconds as the contact time's, with the opposite sign.",
			Instead:    filmFaster,
			compute: func(c *reading, s body.Side) sample {
				return sample{values: c.each(s, pass.flightS), floor: c.frameSDS, error: Budget{Event: c.contactBias()}}
			},
		},
		{
			Name: "duty_factor", fine: true, Title: "Duty factor", Unit: "", Decimals: 3, Sided: true, Group: groupTimes, Worth: 0.005, minHz: 50, flagHz: 100,
			Definition: "The part of the stride for which the foot is on the ground. Below one half there is a flight, so it tells running from walking.",
			Sign:       "0 to 1; lower means more time in the air",
			Formula:    "contact time / stride time",
			Source:     "Definition; contact 271 ms and flight 112 ms give 35.4 % (Karamanidis & Arampatzis 2005). Some papers divide by the step time instead, which doubles it.",
			Error:      "As the contact time's, over the stride time.",
			Instead:    filmFaster,
			compute:    func(c *reading, s body.Side) sample { return c.share(s, 1) },
		},
		{
			Name: "stance_share", fine: true, Title: "Stance, share of the stride", Unit: "%", Decimals: 1, Sided: true, Group: groupTimes, Worth: 0.5, minHz: 50, flagHz: 100,
			Definition: "The duty factor as a percentage: contact as a share of the stride.",
			Sign:       "0 to 100", Formula: "100 × contact time / stride time",
			Source:  "Definition. Published curves of one runner: 36, 32-33, 30-31 % at 2.5, 3.5, 4.5 m/s (Fukuchi 2017, PeerJ 5:e3298).",
			Instead: filmFaster,
			compute: func(c *reading, s body.Side) sample { return c.share(s, 100) },
		},
		{
			Name: "swing_share", fine: true, Title: "Swing, share of the stride", Unit: "%", Decimals: 1, Sided: true, Group: groupTimes, Worth: 0.5, minHz: 50, flagHz: 100,
			Definition: "The part of the stride for which the foot is in the air.",
			Sign:       "0 to 100", Formula: "100 - stance share",
			Source:  "Definition.",
			Instead: filmFaster,
			compute: func(c *reading, s body.Side) sample {
				r := c.share(s, 100)
				for i := range r.values {
					r.values[i] = 100 - r.values[i]
				}
				return r
			},
		},
		{
			Name: "step_time_variability", fine: true, Title: "Variability of step time", Unit: "%", Decimals: 1, Group: groupTimes, Worth: 0.5, minHz: 50,
			Definition: "How unlike the steps are in time: the standard deviation of the step times of each foot about that foot's own mean, pooled, as a percentage of the mean step time. A steady limp does not raise it; see the asymmetry for that.",
			Sign:       "positive; 0 would be a machine",
			Formula:    "100 × √((s_left² + s_right²)/2) / mean step time",
			Source:     "Definition (coefficient of variation). One runner over 78 steps at 2.5 m/s: 1.8 % (computed from Fukuchi 2017, PeerJ 5:e3298).",
			Error:      "Timing error adds to it: at 60 Hz one step time has an SD of 6.8 ms, as much as a steady runner's own.",
			Caution:    "Given only where the spread is well above the timing error.",
			Instead:    filmFaster,
			compute:    stepVariability,
		},
		{
			Name: "step_time_asymmetry", fine: true, Title: "Asymmetry of step time", Unit: "%", Decimals: 1, Group: groupTimes, Worth: 1, minHz: 50, flagHz: 100,
			Definition: "Difference between right and left step time as a percentage of their mean (symmetry index).",
			Sign:       "positive where the right step takes longer; 0 for equal steps",
			Formula:    "100 × (right - left) / ((right + left)/2)",
			Source:     "Robinson, Herzog & Nigg 1987, J Manipulative Physiol Ther 10:172-176 (formula from memory). The symmetry angle of Zifchock 2008 (Gait Posture 27:622-627) stands beside every left-right pair.",
			Caution:    "Some asymmetry is usual, and in strength a difference above 10 % is common among healthy runners. In a side view the far foot's contacts are less sure.",
			Instead:    filmFaster,
			compute: func(c *reading, _ body.Side) sample {
				return c.sideIndex(pass.stepS, math.Sqrt2*c.unlikeFeetS())
			},
		},
		{
			Name: "contact_time_asymmetry", fine: true, Title: "Asymmetry of contact time", Unit: "%", Decimals: 1, Group: groupTimes, Worth: 1, minHz: 50, flagHz: 100,
			Definition: "Difference between right and left contact time as a percentage of their mean (symmetry index).",
			Sign:       "positive where the right foot stays longer; 0 for equal times",
			Formula:    "100 × (right - left) / ((right + left)/2)",
			Source:     "Robinson, Herzog & Nigg 1987, J Manipulative Physiol Ther 10:172-176 (formula from memory). A healthy runner: 277.4 ms left, 280.3 right, 1.1 % (Fukuchi 2017 data).",
			Caution:    "One frame at 60 Hz is 7 % of a contact; look at its error before reading anything into it.",
			Instead:    filmFaster,
			compute: func(c *reading, _ body.Side) sample {
				return c.sideIndex(pass.contactS, betweenFeet*c.contactBias())
			},
		},
	}
}

// contactBias is the systematic error of a contact or flight time.
func (c *reading) contactBias() float64 {
	return math.Hypot(c.Contacts.InitialContactBiasSDS, c.Contacts.ToeOffBiasSDS)
}

// unlikeFeetS is how much longer a rule for initial contact may make the steps of
// one foot and shorter those of the other, one standard deviation.
func (c *reading) unlikeFeetS() float64 {
	return math.Sqrt2 * betweenFeet * c.Contacts.InitialContactBiasSDS
}

// share is contact over stride time times a factor.
func (c *reading) share(s body.Side, factor float64) sample {
	r := sample{values: c.each(s, func(p pass) float64 { return factor * p.contactS() / p.strideS() })}
	if stride := median(c.each(s, pass.strideS)); stride > 0 {
		r.floor = factor * c.frameSDS / stride
		r.error.Event = factor * c.contactBias() / stride
	}
	return r
}

func stepRate(c *reading, _ body.Side) sample {
	// No step is wild here: a contact that is off makes one step too long and the
	// other foot's too short, and one without the other would shift the mean.
	steps := c.each(body.NoSide, pass.stepS)
	rates := make([]float64, len(steps))
	total := 0.0
	var own [3][]float64
	for i, t := range steps {
		rates[i] = 60 / t
		if !math.IsNaN(t) {
			s := c.passes[i].side
			total += t
			own[s] = append(own[s], t)
		}
	}
	// The mean of both feet's mean steps: where left and right are unlike, a step
	// more of one foot at an end must not count.
	rate := 60 / agree.MeanOf([]float64{agree.MeanOf(own[body.Left]).Value, agree.MeanOf(own[body.Right]).Value}).Value
	// The ends of the count carry the only timing error: those between cancel.
	r := sample{values: rates, exact: rate, has: hasExact}
	r.error.Frame = rate * c.frameSDS / total
	// A lasting difference between left and right steps is no doubt about their
	// mean, so its error is that of the strides, which hold one of each.
	var se [3]float64
	for _, s := range body.Sides {
		strides, _ := dropWild(c.each(s, func(p pass) float64 { return 120 / p.strideS() }))
		se[s] = agree.MeanOf(strides).SE
	}
	if both := (se[body.Left] + se[body.Right]) / 2; !math.IsNaN(both) {
		r.se, r.has = both, hasExact|hasSE
	}
	return r
}

func stepVariability(c *reading, _ body.Side) sample {
	var squares, n, mean float64
	for _, s := range body.Sides {
		v, _ := dropWild(c.each(s, pass.stepS))
		m := agree.MeanOf(v)
		if m.N < fewest {
			return sample{reason: fmt.Sprintf("Only %s of the %s foot in sequence; at least %d are needed. Film longer.", plural(m.N, "step", "steps"), s, fewest)}
		}
		squares += m.SD * m.SD / 2
		mean += m.Value / 2
		n += float64(m.N)
	}
	spread := math.Sqrt(squares)
	noise := c.frameSDS
	if spread*spread < 2*noise*noise {
		return sample{reason: fmt.Sprintf("The steps differ by %.1f ms, timing alone by %.1f ms: what is left cannot be told. %s", 1000*spread, 1000*noise, filmFaster)}
	}
	v := 100 * spread / mean
	return sample{
		values: c.each(body.NoSide, pass.stepS), exact: v, spread: math.NaN(),
		// Standard error of a standard deviation, s/√(2(n-2)) for two groups.
		se: v / math.Sqrt(2*(n-2)), has: hasExact | hasSpread | hasSE,
		error: Budget{Method: v * (1 - math.Sqrt(1-noise*noise/(spread*spread)))},
		flags: []string{"includes timing error"},
	}
}

// sideIndex is the symmetry index of the sides' means; bias is how much longer
// the contact rule may make one side, in seconds.
func (c *reading) sideIndex(of func(pass) float64, biasS float64) sample {
	var mean [3]agree.Mean
	for _, s := range body.Sides {
		v, _ := dropWild(c.each(s, of))
		mean[s] = agree.MeanOf(v)
		if mean[s].N < fewest {
			return sample{reason: fmt.Sprintf("Only %s of the %s foot; at least %d of each are needed. Film longer, with both feet in the picture.", plural(mean[s].N, "stride", "strides"), s, fewest)}
		}
	}
	l, r := mean[body.Left], mean[body.Right]
	toPercent := 100 / ((l.Value + r.Value) / 2)
	floor := c.frameSDS / math.Sqrt(float64(min(l.N, r.N)))
	return sample{
		values: c.each(body.NoSide, of), exact: agree.SymmetryIndex(l.Value, r.Value), spread: math.NaN(),
		se: toPercent * math.Hypot(max(l.SE, floor), max(r.SE, floor)), has: hasExact | hasSpread | hasSE,
		error: Budget{Event: toPercent * math.Sqrt2 * biasS},
	}
}
