package app

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"gaitwright/gait/exam"
	"gaitwright/gait/finding"
	"gaitwright/gait/measure"
	"gaitwright/gait/programme"
	"gaitwright/gait/steprate"
)

// Every point that the literature disputes is said at each of the places that it
// touches.
func TestDisputedPointsAreSaidWhereTheyAreUsed(t *testing.T) {
	rules, lib := finding.Default(), programme.Default()
	ofPattern := func(name string) []int {
		for _, p := range rules.Patterns {
			if p.Name == name {
				return p.Touches
			}
		}
		t.Fatalf("there is no pattern %s", name)
		return nil
	}
	ofTest := func(name string) []int {
		x, ok := exam.Lookup(name)
		if !ok {
			t.Fatalf("there is no test %s", name)
		}
		return []int{x.Contested}
	}
	ofArea := func(area string) []int {
		for i := range lib.Exercises {
			if lib.Exercises[i].Area == area {
				return programme.DisputedOf(lib.Exercises[i])
			}
		}
		t.Fatalf("no exercise is for %s", area)
		return nil
	}
	ofBlock := func(block string) []int {
		for i := range lib.Exercises {
			if lib.Exercises[i].Block == block {
				return programme.DisputedOf(lib.Exercises[i])
			}
		}
		t.Fatalf("no exercise is in the block %s", block)
		return nil
	}
	target := steprate.TargetFor(steprate.Rate{PerMin: 160, SpeedMPS: 3}, 1.75, steprate.Landing{}).Contested
	for _, tt := range []struct {
		point int
		place string
		has   []int
	}{
		{1, "target of the step rate", target}, {2, "target of the step rate", target}, {5, "target of the step rate", target},
		{1, "finding low step rate", ofPattern("low_step_rate")}, {2, "finding low step rate", ofPattern("low_step_rate")},
		{1, "drill of quicker steps", ofArea("quicker_steps")},
		{2, "finding overstride", ofPattern("overstride")}, {5, "finding overstride", ofPattern("overstride")},
		{2, "block of running form", ofBlock("integrate")}, {5, "block of running form", ofBlock("integrate")},
		{3, "finding inward knee", ofPattern("inward_knee")}, {3, "finding pelvic drop", ofPattern("pelvic_drop")},
		{4, "finding inward knee", ofPattern("inward_knee")}, {4, "finding pelvic drop", ofPattern("pelvic_drop")},
		{4, "block of strength", ofBlock("strengthen")}, {4, "squat", ofTest("single_leg_squat")}, {4, "step-down", ofTest("step_down")},
		{6, "finding forward lean", ofPattern("trunk_forward")}, {6, "finding backward lean", ofPattern("trunk_back")}, {6, "drill of leaning", ofArea("lean_from_ankles")},
		{7, "finding asymmetry", ofPattern("asymmetry")}, {7, "strength of hip abduction", ofTest("hip_abduction_strength")}, {7, "drill of even steps", ofArea("even_steps")},
		{8, "Thomas, hip", ofTest("thomas_hip")}, {8, "Thomas, knee", ofTest("thomas_knee")}, {8, "Thomas, abduction", ofTest("thomas_abduction")},
		{9, "rules of going on", programme.Progression()}, {14, "rules of going on", programme.Progression()},
		{10, "finding bounce", ofPattern("bounce")},
		{11, "finding asymmetry", ofPattern("asymmetry")},
		{12, "finding eversion", ofPattern("rearfoot_eversion")}, {12, "finding hollow back", ofPattern("arched_back")},
		{13, "finding forward lean", ofPattern("trunk_forward")},
		{14, "finding inward knee", ofPattern("inward_knee")}, {14, "block of strength", ofBlock("strengthen")}, {14, "block of waking muscles", ofBlock("activate")},
	} {
		if !slices.Contains(tt.has, tt.point) {
			t.Errorf("point %d is not said at the %s, which says %v", tt.point, tt.place, tt.has)
		}
	}
	// None is said nowhere.
	said := map[int]bool{}
	for _, p := range rules.Patterns {
		for _, k := range p.Touches {
			said[k] = true
		}
	}
	for _, e := range lib.Exercises {
		for _, k := range programme.DisputedOf(e) {
			said[k] = true
		}
	}
	for _, k := range programme.Progression() {
		said[k] = true
	}
	for k := 1; k <= 14; k++ {
		if !said[k] {
			t.Errorf("point %d is beside no finding and no block", k)
		}
		if c := rules.Contested[k]; c.Text == "" || c.Source == "" {
			t.Errorf("point %d has no text or no source", k)
		}
	}
	// The incline that stands for the wind, where an incline is entered.
	for _, x := range []struct{ language, speed string }{{"en", "3.75 m/s"}, {"de", "3,75 m/s"}} {
		b, err := os.ReadFile(filepath.Join("..", "..", "ui", "src", "text", "film."+x.language+".ts"))
		if err != nil {
			t.Log("the page's sources are absent: ", err)
			break
		}
		hint := regexp.MustCompile(`(?m)^\s*inclineHint: (.*)$`).FindStringSubmatch(string(b))
		if hint == nil || !strings.Contains(hint[1], x.speed) || !strings.Contains(hint[1], "Jones & Doust 1996") {
			t.Errorf("the incline of a film does not say in %s what is disputed: %q", x.language, hint)
		}
	}
	// Every strength test.
	for _, x := range exam.Catalogue() {
		if x.Kind == exam.Strength && x.Contested != 7 {
			t.Errorf("%s does not say that side differences above 10 %% are common", x.Name)
		}
	}
	// In the explanation of a measure, in the page and in the terminal.
	for _, tt := range []struct {
		point   int
		measure string
		says    []string
	}{
		{1, "step_rate", []string{"no trial behind them", "quarter"}},
		{2, "step_rate", []string{"evidence on injury is insufficient"}},
		{3, "pelvic_drop", []string{"rarely predict injury", "retrospective"}},
		{6, "trunk_lean", []string{"lowers stress on the kneecap", "injured runners leaned more"}},
		{7, "step_time_asymmetry", []string{"above 10 %"}},
		{10, "leg_stiffness", []string{"Not valid on a slope", "120 Hz", "8 %"}},
		{10, "vertical_stiffness", []string{"Not valid on a slope", "120 Hz", "8 %"}},
		{10, "peak_vertical_force", []string{"Not valid on a slope"}},
		{11, "contact_time", []string{"same rule", "never a rule for walking", "force thresholds"}},
		{12, "rearfoot_eversion", []string{"ICC 0.384"}},
		{12, "pelvic_tilt", []string{"a camera cannot see them"}},
		{12, "lumbar_curve", []string{"without stickers cannot show it"}},
	} {
		i := slices.IndexFunc((*Studio)(nil).Definitions(), func(d PageDefinition) bool { return d.Name == tt.measure })
		if i < 0 {
			t.Errorf("there is no measure %s", tt.measure)
			continue
		}
		d := (*Studio)(nil).Definitions()[i]
		page := d.Definition + " " + d.Error + " " + d.Caution
		text, err := measure.Explain(tt.measure)
		if err != nil {
			t.Fatal(err)
		}
		terminal := strings.Join(strings.Fields(text), " ")
		for _, s := range tt.says {
			if !strings.Contains(page, s) || !strings.Contains(terminal, s) {
				t.Errorf("point %d: the explanation of %s does not say %q: %s", tt.point, tt.measure, s, page)
			}
		}
	}
}
