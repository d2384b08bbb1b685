package app

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
	"gaitwright/gait/norm"
)

// The full report draws the band that is kept for a curve and says whose it is, and
// draws usual ranges of single values where the runner has them.
func TestCurvesBesideWhatIsUsual(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("GAITWRIGHT_NORMS", filepath.Join(dir, "norms.yaml"))
	k := measure.Curve{Name: "knee_flexion", Side: body.Left, Unit: "deg", ToeOff: 36, Strides: 9}
	for i := range k.Mean {
		k.Mean[i] = 30 - 20*math.Cos(4*math.Pi*float64(i)/100) // peaks at 25 and 75 %
		k.SD[i] = 2
	}
	other := k
	other.Name, other.Unit = "pelvis_height", "m"
	f := &reasoned{visitRecords: visitRecords{}, session: &Session{Clips: []*Clip{{Info: clip.Info{View: clip.LeftSide, BeltSpeedMPS: 2.5}, Curves: []measure.Curve{k, other}}}}}
	legend := func() (string, int, int) {
		t.Helper()
		p := f.curvesPart()
		bands, bars := 0, 0
		for _, b := range p.Blocks {
			for _, plot := range b.Plots {
				if plot.Reference != nil {
					bands++
				}
				bars += len(plot.Bars)
			}
		}
		warned := ""
		if last := p.Blocks[len(p.Blocks)-1]; last.Warn != "" {
			warned = " " + last.Warn
		}
		return p.Blocks[0].Small + warned, bands, bars
	}
	text, bands, bars := legend()
	if bands != 0 || bars != 4 || !strings.Contains(text, "No reference band is drawn") || !strings.Contains(text, "upright bar") || !strings.Contains(text, "PeerJ 5:e3298") {
		t.Errorf("without a file: %d bands, %d bars, %s", bands, bars, text)
	}
	low, high := 2.4, 2.6
	b := norm.Band{Curve: "knee_flexion", Views: []clip.View{clip.Spatial}, SpeedMPS: norm.Span{Low: &low, High: &high}, N: 20, Unit: "deg", Source: "Own people 2026 (invented)", Method: "by hand", Mean: k.Mean[:], SD: k.SD[:]}
	file, err := norm.MarshalBands([]norm.Band{b})
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(CurveBandsFile(), file, 0o600); err != nil {
		t.Fatal(err)
	}
	text, bands, _ = legend()
	if bands != 1 || !strings.Contains(text, "Own people 2026 (invented), 20 people at 2.40 to 2.60 m/s; by hand") {
		t.Errorf("with a file: %d bands, %s", bands, text)
	}
	if err := os.WriteFile(CurveBandsFile(), file[:200], 0o600); err != nil {
		t.Fatal(err)
	}
	if text, bands, _ = legend(); bands != 0 || !strings.Contains(text, "Your own bands of curves are not used") {
		t.Errorf("with a damaged file: %d bands, %s", bands, text)
	}
	for what, want := range map[string]float64{"contact": 0, "toe-off": 36, "peak in stance": 25, "peak in swing": 75} {
		if got := placeOf(k, what); got != want {
			t.Errorf("%s is at %v %%, want %v", what, got, want)
		}
	}
	k.ToeOff = math.NaN()
	if !math.IsNaN(placeOf(k, "toe-off")) || !math.IsNaN(placeOf(k, "peak in swing")) {
		t.Error("a place without a toe-off")
	}
}
