package body

import "testing"

func TestEveryLandmarkHasANameAndAMirror(t *testing.T) {
	seen := map[string]bool{}
	for l := range NumLandmarks {
		n := l.String()
		if n == "" || seen[n] {
			t.Fatalf("landmark %d has the name %q, which is empty or taken", l, n)
		}
		seen[n] = true
		if got, err := ParseLandmark(n); err != nil || got != l {
			t.Errorf("ParseLandmark(%q) = %v, %v", n, got, err)
		}
		if l.Mirror().Mirror() != l {
			t.Errorf("%v mirrored twice is %v", l, l.Mirror().Mirror())
		}
		if l.Side() != NoSide && l.Mirror().Side() != l.Side().Other() {
			t.Errorf("%v and its mirror %v are on one side", l, l.Mirror())
		}
		for _, s := range Sides {
			if l.Side() != NoSide && l.On(s).Side() != s {
				t.Errorf("%v on the %v is %v", l, s, l.On(s))
			}
		}
	}
	if NumPose != 33 {
		t.Errorf("the pose model gives 33 landmarks, the list has %d", NumPose)
	}
	if _, err := ParseLandmark("left_horn"); err == nil {
		t.Error("an unknown landmark was accepted")
	}
}

func TestSidesReadBack(t *testing.T) {
	for _, s := range []Side{NoSide, Left, Right} {
		b, _ := s.MarshalText()
		var got Side
		if err := got.UnmarshalText(b); err != nil || got != s {
			t.Errorf("%v read back as %v, %v", s, got, err)
		}
	}
	if _, err := ParseSide("up"); err == nil {
		t.Error("an unknown side was accepted")
	}
}
