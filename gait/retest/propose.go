package retest

import (
	"fmt"
	"math"
)

// Proposal is what to do with a block of the programme.
type Proposal struct {
	Do string // "progress", "hold" or "step back"
	// Code names the reason, and Number the figure in it: pain of 10, or the share
	// done in percent.
	Code   string
	Number int
	// Better, Worse and Told count what it was meant to change: really better,
	// really worse, and told at all.
	Better, Worse, Told int
	Why                 string
}

// Done is how a block went between the visits.
type Done struct {
	Share     float64 // of the planned sessions done, 0 to 1; NaN where not known
	PainWorst int     // 0 to 10 in it
	BonePain  bool
}

// Outcome is a change with the way it should go: Toward is +1 where a larger value
// is wanted and −1 where a smaller one.
type Outcome struct {
	Change Change
	Toward float64
}

// Better tells whether it really changed as wanted, Worse whether the other way.
func (o Outcome) Better() bool {
	return o.Change.Verdict == Changed && o.Change.Difference*o.Toward > 0
}

// Worse tells whether it really changed against what is wanted.
func (o Outcome) Worse() bool {
	return o.Change.Verdict == Changed && o.Change.Difference*o.Toward < 0
}

// Propose says what follows for a block with what it was meant to change. The
// coach decides. Pain goes first (cut-offs of the pain-monitoring model, Thomeé
// 1997, Phys Ther 77:1690, from memory), then whether it was done, then what
// changed.
func Propose(outcomes []Outcome, d Done) Proposal {
	var p Proposal
	for _, o := range outcomes {
		if o.Better() {
			p.Better++
		}
		if o.Worse() {
			p.Worse++
		}
		if o.Change.Verdict != CannotTell {
			p.Told++
		}
	}
	better, worse := p.Better > 0, p.Worse > 0
	say := func(do, code string, number int, why string) Proposal {
		p.Do, p.Code, p.Number, p.Why = do, code, number, why
		return p
	}
	share := 0
	if !math.IsNaN(d.Share) {
		share = int(math.Round(100 * d.Share))
	}
	little := d.Share < 0.5
	switch {
	case d.BonePain:
		return say("step back", "bone", 0, "Pin-point bone pain: stop this block and running, and refer.")
	case d.PainWorst > 5:
		return say("step back", "pain_high", d.PainWorst, fmt.Sprintf("Pain %d of 10 in it.", d.PainWorst))
	case worse && !little:
		return say("step back", "worse", share, fmt.Sprintf("Of what it was meant to better %d of %d are really worse: look again for the cause.", p.Worse, p.Told))
	case little:
		return say("hold", "little", share, fmt.Sprintf("Only %d %% of it was done: too little to judge it.", share))
	case d.PainWorst > 2:
		return say("hold", "pain", d.PainWorst, fmt.Sprintf("Pain %d of 10 in it: the same dose until it is gone.", d.PainWorst))
	case better:
		return say("progress", "better", share, fmt.Sprintf("Of what it was meant to better %d of %d are really better.", p.Better, p.Told))
	case p.Told == 0:
		return say("hold", "cannot_tell", share, "It cannot be told whether what it was meant to better changed.")
	case math.IsNaN(d.Share):
		return say("hold", "not_known", 0, "Nothing really changed, and it is not known how much of it was done.")
	}
	return say("progress", "no_change", share, "It was done without pain; nothing has really changed yet, so ask more of it or of the finding.")
}
