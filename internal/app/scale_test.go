package app

import (
	"strings"
	"testing"

	"gaitwright/gait/clip"
	"gaitwright/gait/event"
)

// A scale by the belt that is worse than one by height would be is said, with what
// to give; another, or a good one, is not remarked on.
func TestPoorBeltScaleIsSaid(t *testing.T) {
	for _, k := range []struct {
		source clip.ScaleSource
		sd     float64
		said   bool
	}{{clip.ScaleFromBelt, 0.09, true}, {clip.ScaleFromBelt, 0.03, false}, {clip.ScaleFromHeight, 0.05, false}, {clip.ScaleFromLeg, 0.09, false}} {
		c := &Clip{Contacts: event.Series{Contacts: make([]event.Contact, 6)}}
		c.Info.Scale = clip.Scale{PixelsPerM: 300, Source: k.source, RelativeSD: k.sd}
		c.checkBeltScale()
		if said := len(c.Warnings) == 1; said != k.said {
			t.Errorf("%s ± %g: warnings %q", k.source, k.sd, c.Warnings)
		}
		if k.said {
			for _, want := range []string{"6 contacts", "± 9 %", "--height", "--leg", "--scale", "20 s"} {
				if !strings.Contains(c.Warnings[0], want) {
					t.Errorf("%q does not say %q", c.Warnings[0], want)
				}
			}
			if p := inPlainWords(c.Warnings[0]); strings.Contains(p, "--") || !strings.Contains(p, "known length") {
				t.Errorf("in the report: %q", p)
			}
		}
	}
}

func TestStridesInWords(t *testing.T) {
	for _, k := range []struct {
		have, need []int
		want       string
	}{
		{[]int{24}, []int{0}, "24"}, {[]int{24, 24}, []int{9, 12}, "24"}, {[]int{24, 23}, []int{0, 0}, "24/23"},
		{[]int{8, 7}, []int{31, 12}, "8/7 of 31"}, {[]int{8, 8}, []int{8, 9}, "8 of 9"}, {[]int{40, 8}, []int{35, 8}, "40/8"},
	} {
		if got := stridesInWords(k.have, k.need); got != k.want {
			t.Errorf("%v of %v is %q, want %q", k.have, k.need, got, k.want)
		}
	}
}
