package app

import (
	"testing"

	"gaitwright/internal/store"
)

func TestNothingHurtsIsAnAnswer(t *testing.T) {
	lacking := func(p *PageIntake) bool {
		f := &visitRecords{intake: p}
		for _, l := range lacks {
			if l.code == "pain" {
				return l.holds(f)
			}
		}
		t.Fatal("there is no rule for pain")
		return false
	}
	knee := []PagePain{{Region: "knee_front", Side: "left", Face: "front", Score: 4}}
	for _, tt := range []struct {
		name          string
		given         PageIntake
		lacks, nopain bool
	}{
		{"not asked", PageIntake{}, true, false},
		{"asked, nothing hurts", PageIntake{NoPain: true}, false, true},
		{"a knee", PageIntake{Pain: knee}, false, false},
		{"a knee beside the tick", PageIntake{Pain: knee, NoPain: true}, false, false},
	} {
		var e entries
		p := tt.given
		p.check(&e, nil)
		if p.NoPain != tt.nopain || lacking(&p) != tt.lacks {
			t.Errorf("%s: nothing hurts %t, lacking %t", tt.name, p.NoPain, lacking(&p))
		}
	}
}

func TestClipOfWhichNothingIsKnown(t *testing.T) {
	c, err := parseClip(store.Clip{Facts: []byte(`{"view":"left"}`)})
	if err != nil || c.facts.View != "left" || c.probe.Frames != 0 {
		t.Errorf("got %+v, %v", c.probe, err)
	}
	if _, err := parseClip(store.Clip{Facts: []byte(`{}`), Probe: []byte(`{`)}); err == nil {
		t.Error("a damaged record was read")
	}
}
