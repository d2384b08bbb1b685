package figure

import (
	"math"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"pgregory.net/rapid"
)

func limbs(t *rapid.T, name string) Limbs {
	dir := func(part string) Dir {
		return Dir{Deg: rapid.Float64Range(-180, 180).Draw(t, name+part), Factor: rapid.Float64Range(0.2, 1).Draw(t, name+part+" factor")}
	}
	return Limbs{Thigh: dir("thigh"), Shank: dir("shank"), Foot: dir("foot"), Arm: dir("arm"), Forearm: dir("forearm")}
}

// Whatever the pose, the body rests on the floor and not in it, and every
// segment is no longer than its length.
func TestEveryPoseStandsOnTheFloor(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Pose{
			View:  rapid.SampledFrom([]View{Side, Front, Back}).Draw(t, "view"),
			Trunk: Dir{Deg: rapid.Float64Range(-180, 180).Draw(t, "trunk"), Factor: 1},
			Near:  limbs(t, "near "), Far: limbs(t, "far "),
		}
		at, err := p.points()
		if err != nil {
			t.Fatal(err)
		}
		low := math.Inf(1)
		for name, q := range at {
			low = min(low, q.Y-thick(name)/2)
		}
		if math.Abs(low) > 1e-9 {
			t.Fatalf("the lowest part is at %g m", low)
		}
		for _, l := range []struct {
			a, b string
			len  float64
		}{{"near.hip", "near.knee", thighM}, {"far.knee", "far.ankle", shankM}, {"near.shoulder", "near.elbow", armM}} {
			a, b := at[l.a], at[l.b]
			if d := math.Hypot(a.X-b.X, a.Y-b.Y); d > l.len+1e-9 || d < 0.2*l.len-1e-9 {
				t.Fatalf("%s to %s is %g m of %g", l.a, l.b, d, l.len)
			}
		}
		d, err := p.Draw()
		if err != nil {
			t.Fatal(err)
		}
		a, b := d.Bounds()
		c, e := d.Mirrored().Bounds()
		if math.Abs(a.X+e.X) > 1e-9 || math.Abs(b.X+c.X) > 1e-9 || a.Y != c.Y || b.Y != e.Y {
			t.Fatalf("mirrored bounds %v %v of %v %v", c, e, a, b)
		}
	})
}

func TestStandingIsAsTallAsAPerson(t *testing.T) {
	down := Limbs{Thigh: Dir{-90, 1}, Shank: Dir{-90, 1}, Foot: Dir{0, 1}, Arm: Dir{-90, 1}, Forearm: Dir{-90, 1}}
	at, err := (&Pose{View: Side, Trunk: Dir{90, 1}, Near: down, Far: down}).points()
	if err != nil {
		t.Fatal(err)
	}
	// Thigh, shank and foot height are 0.530 of stature (Drillis & Contini, from
	// memory); the whole figure is within 3 % of it.
	if h := at["near.hip"].Y / stature; math.Abs(h-0.530) > 0.01 {
		t.Errorf("the hip is at %.3f of stature", h)
	}
	if h := at["crown"].Y; math.Abs(h/stature-1) > 0.03 {
		t.Errorf("the figure is %.2f m tall", h)
	}
}

func TestWrongDescriptionsAreNamed(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"view: above", "view"},
		{"view: side\nprops: [{kind: sofa}]", "sofa"},
		{"view: side\nprops: [{kind: band, at: near.knee, to: nose}]", "nose"},
		{"view: side\nwork: [{segment: tail, edge: back}]", "tail"},
		{"view: side\nwork: [{segment: near.thigh, edge: top}]", "top"},
		{"view: side\narrows: [{from: near.wing, deg: 0}]", "near.wing"},
		{"view: side\nlever: {from: hip, to: nowhere, text: x}", "nowhere"},
		{"view: side\nprops: [{kind: box}]", "box"},
		{"view: side\ntrunk: up", "up"},
		{"view: side\ntrunk: 90@3", "factor"},
	} {
		var p Pose
		err := yaml.UnmarshalWithOptions([]byte(c.text), &p, yaml.Strict())
		if err == nil {
			_, err = p.Draw()
		}
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: %v", c.text, err)
		}
	}
}

func TestDirectionsReadBack(t *testing.T) {
	for _, text := range []string{"-90", "12.5@0.7", "0"} {
		var d Dir
		if err := d.UnmarshalText([]byte(text)); err != nil {
			t.Fatal(err)
		}
		if b, _ := d.MarshalText(); string(b) != text {
			t.Errorf("%s reads back as %s", text, b)
		}
	}
}
