package event

// Step rates that runners have, steps a minute, both feet: from the slow jog of
// a tall runner to a sprint. Elite races show 155 to 203 (Burns, Zendler &
// Zernicke 2019, J Appl Physiol 126:462); the open treadmill data 145 to 224.
const (
	leastStepRate = 130.0
	usualLeast    = 145.0
	usualMost     = 205.0
	slowedAtMost  = 110.0 // nobody runs below this
	slowedAtLeast = 15.0  // below this it is not a slowed run either
	mostStepRate  = 240.0
)

// slowdowns are the factors by which clips are slowed when a phone exports them:
// recording over play-back rate, the common ones first.
var slowdowns = [...]float64{4, 8, 2, 5, 3, 6}

// PlausibleSlowdowns returns by what factors the clock of a clip may have been
// slowed, likeliest first, when the runner on it seems to take stepRate steps a
// minute (both feet). It returns nothing for a step rate that a runner can have.
func PlausibleSlowdowns(stepRate float64) []float64 {
	if !(stepRate >= slowedAtLeast && stepRate <= slowedAtMost) {
		return nil
	}
	var usual, odd []float64
	for _, f := range slowdowns {
		switch r := stepRate * f; {
		case r >= usualLeast && r <= usualMost:
			usual = append(usual, f)
		case r >= leastStepRate && r <= mostStepRate:
			odd = append(odd, f)
		}
	}
	return append(usual, odd...)
}
