package app

import (
	_ "embed"
	"fmt"
	"slices"
	"strings"
	"sync"

	"gaitwright/gait/body"
	"gaitwright/gait/finding"

	"github.com/goccy/go-yaml"
)

//go:embed intake.yaml
var intakeYAML []byte

// intakeForm is the embedded form with what is said when a sign is met.
type intakeForm struct {
	Signs   []PageSign `yaml:"signs"`
	Regions []PageRegion
	Refer   struct {
		Emergency, Refer, After string
	}
	PainScale PagePainScale `yaml:"pain_scale"`
}

// theForm reads the embedded form once. It panics where the form is damaged,
// which a test rules out.
var theForm = sync.OnceValue(func() intakeForm {
	var f intakeForm
	if err := yaml.UnmarshalWithOptions(intakeYAML, &f, yaml.Strict()); err != nil {
		panic("app: intake.yaml: " + err.Error())
	}
	for i := range f.Signs {
		f.Signs[i].Regions = emptyNotNil(f.Signs[i].Regions)
	}
	return f
})

// IntakeForm is what the intake asks.
func (st *Studio) IntakeForm() PageIntakeForm {
	f := theForm()
	return PageIntakeForm{Signs: f.Signs, Regions: f.Regions, PainScale: f.PainScale}
}

func (f intakeForm) sign(id string) (PageSign, bool) {
	for _, s := range f.Signs {
		if s.ID == id {
			return s, true
		}
	}
	return PageSign{}, false
}

func (f intakeForm) region(id string) (PageRegion, bool) {
	for _, r := range f.Regions {
		if r.ID == id {
			return r, true
		}
	}
	return PageRegion{}, false
}

// step is the part of the pain scale that a score falls in.
func (s PagePainScale) step(score int) PagePainStep {
	for _, p := range s.Steps {
		if score >= p.From && score <= p.To {
			return p
		}
	}
	return PagePainStep{}
}

// refer tells whether the answers stop the visit, and in which words; nil where
// no sign is answered with yes.
func (p *PageIntake) refer() *PageRefer {
	if p == nil {
		return nil
	}
	f := theForm()
	out := &PageRefer{}
	cleared := p.Cleared != nil
	emergency := false
	for _, s := range f.Signs {
		if p.Signs[s.ID] != "yes" {
			continue
		}
		out.Signs = append(out.Signs, s)
		if !p.Cleared.covers(s.ID) {
			cleared = false
			emergency = emergency || s.Act == "emergency"
		}
	}
	if len(out.Signs) == 0 {
		return nil
	}
	switch {
	case cleared:
		out.Cleared = p.Cleared
		out.Text = fmt.Sprintf("%s cleared the runner on %s.", p.Cleared.By, p.Cleared.Date)
	case emergency:
		out.Text = f.Refer.Emergency + " " + f.Refer.After
	default:
		out.Text = f.Refer.Refer + " " + f.Refer.After
	}
	return out
}

// covers tells whether the clearance speaks of a sign.
func (c *PageClearance) covers(sign string) bool { return c != nil && slices.Contains(c.Signs, sign) }

// clearedTests are the tests that hurt too much and that a clinician cleared.
func (p *PageIntake) clearedTests() []string {
	if p == nil || p.Cleared == nil {
		return nil
	}
	return p.Cleared.Tests
}

// clearedPains are the pains too much that were told and that a clinician cleared.
func (p *PageIntake) clearedPains() []finding.Pain {
	if p == nil || p.Cleared == nil {
		return nil
	}
	var out []finding.Pain
	for _, c := range p.Cleared.Pains {
		out = append(out, PagePain{Region: c.Region, Side: c.Side, Score: c.Score}.told())
	}
	return out
}

// told is what the reasoning takes of an intake.
func (p *PageIntake) told() finding.Input {
	return finding.Input{Pains: p.findingPains(), Stops: p.findingStops(), ClearedTests: p.clearedTests(), ClearedPains: p.clearedPains()}
}

// findingStops are the warning signs answered with yes, each for its regions.
func (p *PageIntake) findingStops() []finding.Stop {
	if p == nil {
		return nil
	}
	var out []finding.Stop
	for _, s := range theForm().Signs {
		if p.Signs[s.ID] != "yes" {
			continue
		}
		one := finding.Stop{Why: strings.TrimSuffix(s.Question, "?"), Cleared: p.Cleared.covers(s.ID)}
		regions := s.Regions
		if at, ok := p.Places[s.ID]; s.Ask && ok && at.Region != "" {
			regions = []string{at.Region}
			one.Side, _ = body.ParseSide(at.Side)
		}
		if len(regions) == 0 {
			regions = []string{""}
		}
		for _, one.Region = range regions {
			out = append(out, one)
		}
	}
	return out
}

// stops tells whether a sign stops the visit now.
func (r *PageRefer) stops() bool { return r != nil && r.Cleared == nil }

// cautions are what the pain that was told means for running.
func (p *PageIntake) cautions() []PageCaution {
	out := []PageCaution{}
	if p == nil {
		return out
	}
	f := theForm()
	worst, most := "", -1
	for _, a := range p.Pain {
		if a.Score > most {
			r, _ := f.region(a.Region)
			most, worst = a.Score, a.inWords(r)
		}
	}
	if most < 0 {
		return out
	}
	step := f.PainScale.step(most)
	if step.From < 3 {
		return out
	}
	code := "pain_some"
	if step.To == 10 {
		code = "pain_high"
	}
	return append(out, PageCaution{Code: code, Text: fmt.Sprintf("Pain of %d of 10 (%s) is %s. %s", most, worst, step.Name, step.Text), Source: f.PainScale.Source})
}

// inWords names a place such as "left knee, front".
func (a PagePain) inWords(r PageRegion) string {
	if a.Side == "middle" || r.Title == "" {
		return small(r.Title)
	}
	return a.Side + " " + small(r.Title)
}
