package app

import (
	"context"
	"math"
	"strings"
	"testing"

	"gaitwright/gait/clip"
	"gaitwright/gait/track"

	"pgregory.net/rapid"
)

// By hand: 3.22 m in 1.07 s is 3.0093 m/s. With times exact to the frame interval
// of 60 Hz (4.81 ms) over three passes, Σ(k-k̄)² = 2, the period is good to
// 3.40 ms, 0.318 %, the length to 5 mm of 3.22 m, 0.155 %: together 0.354 %.
func TestBeltSpeedByHand(t *testing.T) {
	s, err := BeltSeam{LengthM: 3.22, TimesS: []float64{1.20, 2.27, 3.34}, FrameRateHz: 60}.Speed()
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(s.SpeedMPS-3.009346) > 1e-6 || math.Abs(s.RelativeSD-0.003537) > 2e-6 || s.Turns != 2 || s.Skipped != 0 {
		t.Errorf("%+v", s)
	}
	if text := s.Against(3.0); !strings.Contains(text, "within the error") {
		t.Error(text)
	}
	if text := s.Against(2.9); !strings.Contains(text, "3.6 % too low") {
		t.Error(text)
	}
	if text := s.Against(1.5); !strings.Contains(text, "passes that were missed") {
		t.Error(text)
	}
}

func TestBeltSpeedRefuses(t *testing.T) {
	nan := math.NaN()
	for _, tt := range []struct {
		length float64
		times  []float64
		want   string
	}{
		{0, []float64{1, 2}, "belt length"}, {nan, []float64{1, 2}, "belt length"}, {3, nil, "two passes"}, {3, []float64{1}, "two passes"},
		{3, []float64{1, 1}, "must rise"}, {3, []float64{2, 1}, "must rise"}, {3, []float64{1, nan}, "must rise"}, {3, []float64{1, math.Inf(1)}, "must rise"},
		{3, []float64{1, 2, 3.5, 4.5}, "no whole number"}, {3, []float64{1, 2, 3, 3.2}, "no whole number"}, {3, []float64{0, 0.01}, "no treadmill"}, {3, []float64{0, 100}, "no treadmill"},
	} {
		_, err := BeltSeam{LengthM: tt.length, TimesS: tt.times}.Speed()
		if err == nil || !strings.Contains(err.Error(), tt.want) || KindOf(err) != KindUsage {
			t.Errorf("%v m at %v: %v, want %q", tt.length, tt.times, err, tt.want)
		}
	}
	if _, err := CheckBelt(context.Background(), BeltRequest{BeltSeam: BeltSeam{LengthM: 3, TimesS: []float64{1, 2}}, CaptureRateHz: 240}); err == nil {
		t.Error("a capture rate without a film was accepted")
	}
}

// The error claimed is the error made, passes that were not noted do not matter,
// and neither does where the clock starts.
func TestBeltSpeedProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		length := rapid.Float64Range(2, 5).Draw(t, "length")
		speed := rapid.Float64Range(1.5, 6).Draw(t, "speed")
		start := rapid.Float64Range(0, 100).Draw(t, "start")
		turn := length / speed
		times := []float64{start}
		for k, last := 1, 0; k <= 12; k++ {
			// Never two thirds of the passes left out in a row, so that one turn stays the usual gap.
			if k%4 == 3 && k-last == 1 && rapid.Bool().Draw(t, "skip") {
				continue
			}
			last = k
			times = append(times, start+float64(k)*turn)
		}
		s, err := BeltSeam{LengthM: length, TimesS: times, FrameRateHz: 120}.Speed()
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(s.SpeedMPS/speed-1) > 1e-9 || s.Turns != 12 || s.Skipped != 13-len(times) {
			t.Fatalf("%+v of %v m/s", s, speed)
		}
	})
}

func TestBeltSpeedErrorIsHonest(t *testing.T) {
	// Frames at 30 Hz: each time is that of the frame in which the seam was first
	// past the mark. Over many phases the speeds scatter as the error says.
	const speed, length = 3.0, 3.22
	var ss, claimed float64
	n := 0
	for phase := range 400 {
		var times []float64
		for k := range 6 {
			at := 0.5 + float64(phase)*0.0137 + float64(k)*length/speed
			times = append(times, math.Ceil(at*30)/30)
		}
		s, err := BeltSeam{LengthM: length, LengthSDM: 1e-9, TimesS: times, FrameRateHz: 30}.Speed()
		if err != nil {
			t.Fatal(err)
		}
		ss += (s.SpeedMPS - speed) * (s.SpeedMPS - speed)
		claimed += s.RelativeSD * s.SpeedMPS
		n++
	}
	made, said := math.Sqrt(ss/float64(n)), claimed/float64(n)
	if said < 0.8*made || said > 2*made {
		t.Errorf("the error is %.5f m/s and is said to be %.5f", made, said)
	}
}

func TestBeltTakesTheDisplaysPlace(t *testing.T) {
	r := Request{SpeedMPS: 3.0, BeltLengthM: 3.22, SeamTimesS: []float64{1, 2, 3, 4}}
	note, err := r.settleBelt()
	if err != nil || r.SpeedMPS != 3.22 || !strings.Contains(note, "6.8 % too low") {
		t.Fatalf("%q %v, speed %v", note, err, r.SpeedMPS)
	}
	c := &Clip{Info: clip.Info{View: clip.LeftSide, FrameRateHz: 240}, Model: "full"}
	c.settleSpeed(track.New(track.Runner, track.Pixel, nil), &r)
	if c.Info.BeltSpeedMPS != 3.22 || !strings.HasPrefix(c.Info.BeltSpeedSource, "belt seam: 3 turns") || !(c.Info.BeltSpeedRelativeSD > 0 && c.Info.BeltSpeedRelativeSD < 0.003) {
		t.Errorf("%+v", c.Info)
	}
	for _, bad := range []Request{{BeltLengthM: 3}, {SeamTimesS: []float64{1, 2}}, {Overground: true, BeltLengthM: 3, SeamTimesS: []float64{1, 2}}} {
		if _, err := bad.settleBelt(); KindOf(err) != KindUsage || err == nil {
			t.Errorf("%+v was accepted", bad)
		}
	}
	none := Request{SpeedMPS: 3}
	if note, err := none.settleBelt(); note != "" || err != nil || none.SpeedMPS != 3 {
		t.Error("a request without a belt was changed")
	}
}
