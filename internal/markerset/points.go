package markerset

import (
	"fmt"
	"math"
	"strings"

	"gaitwright/gait/track"
)

// Marker is the path of one marker in the laboratory's axes, metres, one value a
// frame; NaN in all three where it was not seen.
type Marker struct {
	Label   string
	X, Y, Z []float64
}

// Points is what a motion-capture file holds: named markers on one clock.
type Points struct {
	TimeS   []float64 // strictly increasing, seconds
	Markers []Marker
}

// Labels returns the names of the markers, in order.
func (p Points) Labels() []string {
	out := make([]string, len(p.Markers))
	for i, m := range p.Markers {
		out[i] = m.Label
	}
	return out
}

// Check tells whether the clock increases and every marker is as long as it.
func (p Points) Check() error {
	if err := track.New(track.Runner, track.Metre, p.TimeS).Validate(); err != nil {
		return err
	}
	for _, m := range p.Markers {
		if len(m.X) != len(p.TimeS) || len(m.Y) != len(p.TimeS) || len(m.Z) != len(p.TimeS) {
			return fmt.Errorf("marker %s has %d, %d and %d values for %d frames", m.Label, len(m.X), len(m.Y), len(m.Z), len(p.TimeS))
		}
	}
	return nil
}

func (m Marker) at(k int) vec { return vec{m.X[k], m.Y[k], m.Z[k]} }

// plain reduces a marker's name to what laboratories agree on: lower case, without
// a subject's prefix ("JA1:LHEEL") and without dots, blanks, dashes and
// underscores.
func plain(label string) string {
	if i := strings.LastIndexByte(label, ':'); i >= 0 {
		label = label[i+1:]
	}
	return strings.ToLower(strings.Map(func(r rune) rune {
		if strings.ContainsRune(". _-", r) {
			return -1
		}
		return r
	}, label))
}

// vec is a point or direction in three axes.
type vec [3]float64

var missing = vec{math.NaN(), math.NaN(), math.NaN()}

func (a vec) add(b vec) vec     { return vec{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }
func (a vec) sub(b vec) vec     { return vec{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func (a vec) mul(k float64) vec { return vec{a[0] * k, a[1] * k, a[2] * k} }
func (a vec) dot(b vec) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
func (a vec) length() float64   { return math.Sqrt(a.dot(a)) }
func (a vec) unit() vec         { return a.mul(1 / a.length()) }
func (a vec) seen() bool        { return !math.IsNaN(a[0] + a[1] + a[2]) }
func (a vec) cross(b vec) vec {
	return vec{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}
