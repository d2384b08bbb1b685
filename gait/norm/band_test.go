package norm

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
)

// curveAt is an invented curve of one level.
func curveAt(side body.Side, v float64) measure.Curve {
	c := measure.Curve{Name: "knee_flexion", Side: side, Unit: "deg", ToeOff: 35}
	for i := range c.Mean {
		c.Mean[i] = v + float64(i)/10
	}
	return c
}

// Means and standard deviations are those of the persons, each once, worked out by
// hand: 10, 12, 14, 16, 18 have the mean 14 and the standard deviation √10.
func TestComputeBands(t *testing.T) {
	var trials []CurveTrial
	for i, v := range []float64{10, 12, 14, 16, 18} {
		who := fmt.Sprint("p", i)
		trials = append(trials, CurveTrial{who, clip.Spatial, 3.0, []measure.Curve{curveAt(body.Left, v-1), curveAt(body.Right, v+1)}})
		trials = append(trials, CurveTrial{who, clip.Spatial, 3.05, []measure.Curve{curveAt(body.Left, v), curveAt(body.Right, v)}})
		if i > 0 { // four people are too few
			trials = append(trials, CurveTrial{who, clip.Spatial, 4.5, []measure.Curve{curveAt(body.Left, v)}})
		}
	}
	gap := curveAt(body.Left, 900)
	gap.Mean[50] = math.NaN()
	trials = append(trials, CurveTrial{"p0", clip.Spatial, 3.0, []measure.Curve{gap}}, CurveTrial{"p9", clip.Spatial, 0, []measure.Curve{curveAt(body.Left, 900)}})
	bands := ComputeBands(trials, Origin{Source: "invented", Sample: "five", Method: "by hand"})
	if len(bands) != 1 {
		t.Fatalf("%d bands: %+v", len(bands), bands)
	}
	b := bands[0]
	if b.N != 5 || *b.SpeedMPS.Low != 2.9 || *b.SpeedMPS.High != 3.15 || math.Abs(b.Mean[0]-14) > 1e-9 || math.Abs(b.Mean[100]-24) > 1e-9 || math.Abs(b.SD[30]-3.1623) > 1e-9 {
		t.Errorf("%+v", b)
	}
	// t of 4 degrees of freedom at 97.5 % is 2.776 (tables), so the half width is
	// 2.776 · 3.162 · √1.2 = 9.617.
	low, high := b.Ends()
	if math.Abs(high[0]-14-9.617) > 0.003 || math.Abs(14-low[0]-9.617) > 0.003 {
		t.Errorf("the ends are %v and %v", low[0], high[0])
	}
	text, err := MarshalBands(bands)
	if err != nil {
		t.Fatal(err)
	}
	back, err := ParseBands(text)
	if err != nil || len(back) != 1 || back[0].Mean[7] != b.Mean[7] || back[0].N != 5 || back[0].Views[0] != clip.Spatial {
		t.Errorf("%v %+v", err, back)
	}
	for bad, why := range map[string]string{
		"curve: knee_flexion": "no curve", "n: 5": "two people", "source: invented": "source is missing", "mean: [14": "a number", "sd: [3.1623": "below nought", "views: [spatial]": "views are missing",
	} {
		to := map[string]string{"curve: knee_flexion": "curve: elbow", "n: 5": "n: 1", "source: invented": `source: ""`, "mean: [14": "mean: [2000000", "sd: [3.1623": "sd: [-3", "views: [spatial]": "views: []"}[bad]
		broken := strings.Replace(strings.Replace(string(text), `"n": 5`, "n: 5", 1), bad, to, 1)
		if _, err := ParseBands([]byte(broken)); err == nil || !strings.Contains(err.Error(), why) {
			t.Errorf("%s as %s: %v", bad, to, err)
		}
	}
	if _, err := ParseBands([]byte("bands:\n- curve: knee_flexion\n  mine: 1\n")); err == nil {
		t.Error("a name that is not known was taken")
	}
}

func TestBandOf(t *testing.T) {
	band := func(curve string, v clip.View, low, high, mean float64, n int) Band {
		b := Band{Curve: curve, Views: []clip.View{v}, SpeedMPS: Span{&low, &high}, N: n, Unit: "deg", Source: "invented", Mean: make([]float64, 101), SD: make([]float64, 101)}
		for i := range b.Mean {
			b.Mean[i], b.SD[i] = mean, mean/10
		}
		return b
	}
	bands := []Band{band("knee_flexion", clip.Spatial, 2.4, 2.6, 10, 20), band("knee_flexion", clip.Spatial, 3.4, 3.6, 20, 12), band("knee_flexion", clip.LeftSide, 2.4, 2.6, 11, 5), band("hip_adduction", clip.Spatial, 2.4, 2.6, 9, 20)}
	for _, tt := range []struct {
		curve, unit string
		view        clip.View
		speed, mean float64 // 0 where there is none
		n           int
	}{
		{"knee_flexion", "deg", clip.Spatial, 2.5, 10, 20},
		{"knee_flexion", "deg", clip.LeftSide, 2.5, 11, 5},   // measured as the runner was
		{"knee_flexion", "deg", clip.RightSide, 2.5, 10, 20}, // the knee means the same there
		{"knee_flexion", "deg", clip.RightSide, 3.0, 15, 12}, // half way between 2.5 and 3.5
		{"knee_flexion", "deg", clip.RightSide, 2.0, 0, 0},   // beyond both
		{"knee_flexion", "rad", clip.RightSide, 2.5, 0, 0},
		{"knee_flexion", "deg", clip.RightSide, 0, 0, 0},
		{"hip_adduction", "deg", clip.Rear, 2.5, 0, 0}, // a projection is something else
		{"hip_adduction", "deg", clip.Spatial, 2.5, 9, 20},
	} {
		b, ok := BandOf(bands, tt.curve, tt.unit, tt.view, tt.speed)
		if ok != (tt.mean > 0) || ok && (math.Abs(b.Mean[40]-tt.mean) > 1e-9 || math.Abs(b.SD[40]-tt.mean/10) > 1e-9 || b.N != tt.n) {
			t.Errorf("%+v: %v, %v people", tt, ok, b.N)
		}
	}
}

func FuzzParseBands(f *testing.F) {
	text, _ := MarshalBands([]Band{{Curve: "knee_flexion", N: 2}})
	f.Add(text)
	f.Add([]byte("bands: [{curve: knee_flexion, mean: [1], views: [left]}]"))
	f.Fuzz(func(t *testing.T, data []byte) {
		bands, err := ParseBands(data)
		if err != nil {
			return
		}
		for _, b := range bands {
			low, high := b.Ends()
			if math.IsNaN(low[3]) || math.IsNaN(high[3]) {
				t.Errorf("%v to %v", low[3], high[3])
			}
			BandOf(bands, b.Curve, b.Unit, clip.LeftSide, 3)
		}
	})
}
