package measure

import (
	"math"
	"slices"
	"strings"
	"testing"

	fig "gaitwright/gait/figure"
)

// Every measure has a picture in which something is marked, whole within its
// frame, and that fits a terminal of 60 columns.
func TestEveryMeasureHasAPicture(t *testing.T) {
	for _, d := range Catalogue() {
		for _, lines := range []bool{false, true} {
			p, ok := Picture(d.Name, lines)
			if !ok {
				t.Errorf("%s has no picture", d.Name)
				break
			}
			if !slices.ContainsFunc(p.Shapes, func(s fig.Shape) bool { return s.Role == fig.Measured && s.Text == "" }) {
				t.Errorf("%s: nothing is marked", d.Name)
			}
			if !slices.ContainsFunc(p.Shapes, func(s fig.Shape) bool { return s.Text != "" }) {
				t.Errorf("%s: nothing is named", d.Name)
			}
			for _, s := range p.Shapes {
				for _, q := range s.Points {
					if math.IsNaN(q.X) || math.IsNaN(q.Y) {
						t.Fatalf("%s: a point of %s is not a number", d.Name, s.Role)
					}
				}
			}
		}
		p, _ := Picture(d.Name, true)
		text := p.Text(60, 20)
		rows := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
		if len(rows) > 20 || len(rows) < 6 {
			t.Errorf("%s is %d rows high", d.Name, len(rows))
		}
		for _, r := range rows {
			if n := len([]rune(r)); n > 60 {
				t.Errorf("%s has a row of %d columns", d.Name, n)
			}
		}
		for _, s := range p.Shapes {
			if s.Text != "" && !strings.Contains(text, strings.TrimSpace(s.Text)) {
				t.Errorf("%s: %q is cut in the terminal:\n%s", d.Name, s.Text, text)
			}
		}
	}
	for name := range pictures {
		if _, ok := Lookup(name); !ok {
			t.Errorf("a picture of %q, which is no measure", name)
		}
	}
}

// The poses stand for what the pictures' signs say: the angles drawn have the
// sign that the formula gives them.
func TestPicturesShowTheSign(t *testing.T) {
	at := func(p fig.Pose) func(string) fig.Point {
		s, err := p.Sketch(true, 1)
		if err != nil {
			t.Fatal(err)
		}
		return func(n string) fig.Point { return s.At[n] }
	}
	land, push, rear := at(landing), at(pushing), at(behind)
	for _, c := range []struct {
		what string
		size float64 // positive as drawn
	}{
		{"overstride: heel ahead of the hip", land("near.heel").X - land("hip").X},
		{"shank angle: ankle ahead of the knee", land("near.ankle").X - land("near.knee").X},
		{"foot angle: toes up", land("near.toe").Y - land("near.heel").Y},
		{"thigh angle at toe-off: knee behind the hip", push("near.hip").X - push("near.knee").X},
		{"pelvic drop: the swing side is lower", rear("near.hip").Y - rear("far.hip").Y},
		{"thigh inward: knee nearer the midline", rear("near.hip").X - rear("near.knee").X},
		// The standing leg seen from behind is the right one.
		{"knee inward: left of the line from hip to ankle", (rear("near.hip").X+rear("near.ankle").X)/2 - rear("near.knee").X},
	} {
		if !(c.size > 0.01) {
			t.Errorf("%s: %.3f m", c.what, c.size)
		}
	}
}
