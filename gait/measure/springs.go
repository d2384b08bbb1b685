package measure

import (
	"math"

	"gaitwright/gait/body"
	"gaitwright/num/agree"
)

const (
	groupSpring = "Spring-mass estimates"
	morin       = "Morin et al. 2005, J Appl Biomech 21:167-180"
)

// Morin's validation against a force plate found 0.67 to 6.93 % low; the rest
// after that mean is taken as one standard deviation of the method.
const sineWaveSD = 0.04

// springDefinitions are the estimates from times alone.
func springDefinitions() []Definition {
	estimate := func(d Definition) Definition {
		d.Sided, d.Group, d.minHz, d.flagHz, d.level = true, groupSpring, 100, 200, true
		d.Source = morin + "; within 7 % below a force plate at 3.3 m/s and faster."
		d.Caution = "An estimate from times, not a measured force. Not valid on a slope (Meyer 2023, Int J Sports Med 44:673-679). Methods give different figures: compare only with itself. Stiffness has shown no link with injury (prospective, 49 runners)."
		d.Instead = "Film at 240 frames a second on the level, and give speed, mass and leg length or height."
		return d
	}
	return []Definition{
		estimate(Definition{
			Name: "peak_vertical_force", fine: true, Title: "Peak vertical force (estimate)", Unit: "body weights", Decimals: 2, Worth: 0.05,
			Definition: "Largest vertical force in stance if the force followed half a sine wave with the measured contact and flight times.",
			Sign:       "always positive",
			Formula:    "(π/2) × (flight time / contact time + 1)",
			Error:      "One frame at 120 Hz moves it by 3.5 %. Runner with a force plate: 2.15 estimated, 2.23 measured at 2.5 m/s (" + openRunner + ").",
			compute: func(c *reading, s body.Side) sample {
				return c.springs(s, func(in springInput) float64 {
					m, err := SineWave(0, 0, in.contactS, in.flightS, 0)
					return orNaN(m.PeakForceBW, err)
				}, springInput{})
			},
		}),
		estimate(Definition{
			Name: "vertical_stiffness", fine: true, Title: "Vertical stiffness (estimate)", Unit: "kN/m", Decimals: 1, Worth: 0.5,
			Definition: "Peak vertical force over the fall of the centre of mass in stance, both from times.",
			Sign:       "higher is stiffer",
			Formula:    "Fmax / Δy, Δy = Fmax·tc²/(m·π²) - g·tc²/8",
			Error:      "One frame at 120 Hz moves it by about 8 %. Typical 18 to 40 kN/m, rising with speed (from memory).",
			compute: func(c *reading, s body.Side) sample {
				if c.Runner.MassKG <= 0 {
					return sample{reason: "The runner's mass is not known. Give it (--mass 70kg)."}
				}
				return c.springs(s, func(in springInput) float64 {
					m, err := SineWave(in.massKG, 0, in.contactS, in.flightS, 0)
					return orNaN(m.VerticalNPM/1000, err)
				}, springInput{massKG: c.Runner.MassKG})
			},
		}),
		estimate(Definition{
			Name: "leg_stiffness", fine: true, Title: "Leg stiffness (estimate)", Unit: "kN/m", Decimals: 1, Worth: 0.3, forward: true,
			Definition: "Peak vertical force over the shortening of the leg in stance, taken as a spring from hip to ground; from times, speed, mass and leg length.",
			Sign:       "higher is stiffer",
			Formula:    "Fmax / ΔL, ΔL = L - √(L² - (v·tc/2)²) + Δy",
			Error:      "One frame at 120 Hz moves it by about 8 %. Typical 8 to 14 kN/m, little effect of speed (from memory).",
			compute: func(c *reading, s body.Side) sample {
				leg, legSD, how := c.Runner.legLength()
				switch {
				case c.Runner.MassKG <= 0:
					return sample{reason: "The runner's mass is not known. Give it (--mass 70kg)."}
				case leg <= 0:
					return sample{reason: "The leg length is not known. Give it or the height (--height 178cm)."}
				case c.Info.BeltSpeedMPS <= 0:
					return sample{reason: "The running speed is not known. Give it (--speed 3.5m/s)."}
				}
				r := c.springs(s, func(in springInput) float64 {
					m, err := SineWave(in.massKG, in.speedMPS, in.contactS, in.flightS, in.legM)
					return orNaN(m.LegNPM/1000, err)
				}, springInput{massKG: c.Runner.MassKG, speedMPS: c.Info.BeltSpeedMPS, legM: leg, legSD: legSD})
				r.flags = append(r.flags, how)
				return r
			},
		}),
	}
}

// springInput is what an estimate is made from; legSD is relative.
type springInput struct {
	massKG, speedMPS, legM, legSD float64
	contactS, flightS             float64
}

// springs puts mean times through an estimate and carries their errors with it.
func (c *reading) springs(s body.Side, of func(springInput) float64, in springInput) sample {
	contact, _ := dropWild(c.each(s, pass.contactS))
	flight, _ := dropWild(c.each(s, pass.flightS))
	tc, tf := agree.MeanOf(contact), agree.MeanOf(flight)
	in.contactS, in.flightS = tc.Value, tf.Value
	value := of(in)
	if math.IsNaN(value) {
		return sample{reason: "Contact and flight times are not those of running; check the contacts."}
	}
	r := sample{exact: value, has: hasExact | hasSE, flags: []string{"estimate"}}
	r.values = c.each(s, func(p pass) float64 {
		one := in
		one.contactS, one.flightS = p.contactS(), p.flightS()
		return of(one)
	})
	// Change by one standard deviation of each input; a longer contact is a
	// shorter flight, the step time standing.
	times := func(d float64) float64 {
		one := in
		one.contactS += d
		one.flightS -= d
		return math.Abs(of(one) - value)
	}
	floor := c.frameSDS / math.Sqrt(float64(max(1, tc.N)))
	r.se = times(max(tc.SE, floor))
	if math.IsNaN(r.se) {
		r.se = 0
	}
	if bias := c.contactBias(); bias > 0 {
		r.error.Event = times(bias)
	}
	r.error.Method = sineWaveSD * value
	if in.legM > 0 {
		one := in
		one.legM *= 1 + in.legSD
		r.error.Scale = math.Abs(of(one) - value)
		one = in
		one.speedMPS *= 1 + c.speedSD()
		r.error.Speed = math.Abs(of(one) - value)
	}
	return r
}

func orNaN(v float64, err error) float64 {
	if err != nil {
		return math.NaN()
	}
	return v
}
