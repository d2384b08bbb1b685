package sticker

import "testing"

func TestTwoPathsOnOneStickerAreBothWithheld(t *testing.T) {
	line := func(clicked int, x ...float64) Path {
		p := Path{DiameterPX: 12}
		for i, v := range x {
			s := Sample{XPX: v, State: Followed}
			if i == clicked {
				s.State = Clicked
			}
			p.Samples = append(p.Samples, s)
		}
		return p
	}
	seen := func(p Path) (out string) {
		for _, s := range p.Samples {
			out += map[bool]string{true: "x", false: "-"}[s.Seen()]
		}
		return out
	}
	for name, c := range map[string]struct {
		a, b Path
		want string
	}{
		"apart":               {line(0, 0, 0, 0), line(0, 30, 30, 7), "xxx"},
		"one takes the other": {line(0, 0, 0, 0), line(0, 30, 5, 0), "x--"},
		"one mark, two names": {line(0, 0, 0, 0), line(1, 1, 1, 1), "xxx"},
	} {
		paths := []Path{c.a, c.b}
		keepApart(paths)
		if seen(paths[0]) != c.want || seen(paths[1]) != c.want {
			t.Errorf("%s: %s and %s, want %s", name, seen(paths[0]), seen(paths[1]), c.want)
		}
	}
}
