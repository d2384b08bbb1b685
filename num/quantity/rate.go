package quantity

// StepRate is a step rate (cadence) in steps a minute, both feet counted.
type StepRate float64

// PerMinute returns the steps a minute, both feet.
func (r StepRate) PerMinute() float64 { return float64(r) }

// String returns the rate to one decimal at most, such as "165 steps/min".
func (r StepRate) String() string { return trim(float64(r), 1) + " steps/min" }

var stepRates = kind{
	what: "step rate",
	hint: `165 steps/min or 165spm (both feet), or 82.5 strides/min (one foot)`,
	units: map[string]float64{
		"steps/min": 1, "step/min": 1, "spm": 1, "stepsaminute": 1, "stepsperminute": 1,
		"strides/min": 2, "stride/min": 2, "stridesaminute": 2, "stridesperminute": 2,
	},
}

// ParseStepRate reads a step rate: "165 steps/min", "165spm", or one foot's
// "82.5 strides/min", which is doubled. A bare number is refused, because 85
// may count one foot or both.
func ParseStepRate(text string) (StepRate, error) {
	v, err := stepRates.parse(text)
	return StepRate(v), err
}

// Frequency is a frequency, such as a frame rate, in hertz.
type Frequency float64

// Hz returns the frequency in hertz.
func (f Frequency) Hz() float64 { return float64(f) }

// String returns the frequency to two decimals at most, such as "240 Hz".
func (f Frequency) String() string { return trim(float64(f), 2) + " Hz" }

var frequencies = kind{
	what:  "rate",
	hint:  `240fps, 240Hz or 240/s`,
	units: map[string]float64{"hz": 1, "khz": 1000, "fps": 1, "/s": 1, "frames/s": 1, "/min": 1.0 / 60},
}

// ParseFrequency reads a frame rate or other frequency: "240fps", "59.94 Hz".
func ParseFrequency(text string) (Frequency, error) {
	v, err := frequencies.parse(text)
	return Frequency(v), err
}
