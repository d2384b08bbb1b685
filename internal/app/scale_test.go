package app

import (
	"fmt"
	"strings"
	"testing"

	"gaitwright/gait/clip"
	"gaitwright/gait/event"
	"gaitwright/internal/synth"
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

// A known length and the belt that give different scales are told with the numbers;
// where they agree, or one is not known, nothing is said.
func TestAStickThatTheBeltContradicts(t *testing.T) {
	p := synth.Demo()
	p.DurationS = 8
	r, err := synth.New(p)
	if err != nil {
		t.Fatal(err)
	}
	cam := synth.NewCamera(clip.RightSide, 720, 1280, 4) // the runner goes to the right, as after turning
	seen := r.Track(synth.Clock(120, 7), cam)
	for _, k := range []struct {
		off, speed float64
		said       bool
	}{{1, p.SpeedMPS, false}, {1.2, p.SpeedMPS, true}, {0.8, p.SpeedMPS, true}, {1, 1.15 * p.SpeedMPS, true}, {1.2, 0, false}} {
		c := &Clip{Path: "side.mp4", Raw: seen, Contacts: r.Contacts(0, 7)}
		c.Info = clip.Info{View: clip.RightSide, Surface: clip.Treadmill, FrameRateHz: 120, BeltSpeedMPS: k.speed, WidthPX: 720, HeightPX: 1280}
		c.settleScale(shapeOf(seen, 0, seen.Frames(), c.Info.View), &Request{}, k.off*cam.PixelsPerM(), nil)
		if said := len(c.Warnings) > 0; said != k.said {
			t.Errorf("a length %g times as long, %g m/s: %q", k.off, k.speed, c.Warnings)
		}
		for _, w := range c.Warnings {
			if !strings.Contains(w, fmt.Sprintf("%.0f pixels a metre", k.off*cam.PixelsPerM())) || strings.Contains(inPlainWords(w), "--") {
				t.Errorf("it reads %q", w)
			}
		}
	}
}
