package click

import (
	"bytes"
	"encoding/binary"
	"io"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// readWAV reads the samples of a track by the format's own layout, apart from the
// code that wrote it.
func readWAV(t testing.TB, b []byte) (samples []float64, fs float64) {
	t.Helper()
	if string(b[:4]) != "RIFF" || string(b[8:12]) != "WAVE" || int(binary.LittleEndian.Uint32(b[4:]))+8 != len(b) {
		t.Fatal("this is no WAV of its own length")
	}
	for at := 12; at+8 <= len(b); {
		n := int(binary.LittleEndian.Uint32(b[at+4:]))
		body := b[at+8 : at+8+n]
		switch string(b[at : at+4]) {
		case "fmt ":
			if f, c, bits := binary.LittleEndian.Uint16(body), binary.LittleEndian.Uint16(body[2:]), binary.LittleEndian.Uint16(body[14:]); f != 1 || c != 1 || bits != 16 {
				t.Fatalf("format %d, %d channels, %d bit", f, c, bits)
			}
			fs = float64(binary.LittleEndian.Uint32(body[4:]))
		case "data":
			for i := 0; i+1 < n; i += 2 {
				samples = append(samples, float64(int16(binary.LittleEndian.Uint16(body[i:])))/32768)
			}
		}
		at += 8 + n + n%2
	}
	return samples, fs
}

// onsets finds where sound begins by energy alone: a sample well above the
// loudest of the quiet before it.
func onsets(x []float64, fs float64) []int {
	var out []int
	quiet := int(0.03 * fs)
	last := -quiet
	for i, v := range x {
		if math.Abs(v) < 0.05 || i-last < quiet {
			continue
		}
		loud := 0.0
		for k := max(0, i-quiet/2); k < i; k++ {
			loud = max(loud, math.Abs(x[k]))
		}
		if math.Abs(v) > 4*loud {
			out = append(out, i)
			last = i
		}
	}
	return out
}

func track(t testing.TB, p Pattern) ([]float64, float64) {
	t.Helper()
	var b bytes.Buffer
	if err := Write(&b, p); err != nil {
		t.Fatal(err)
	}
	return readWAV(t, b.Bytes())
}

// The sound itself, found by an onset detector that knows nothing of the pattern,
// keeps the rate and does not drift.
func TestSoundKeepsTheRate(t *testing.T) {
	for _, rate := range []float64{150, 161, 166.5, 187} {
		x, fs := track(t, Pattern{PerMin: rate, Minutes: 3, Accent: "both"})
		at := onsets(x, fs)
		if want := int(rate * 3); len(at) != want && len(at) != want+1 {
			t.Errorf("%.1f a minute: %d onsets in 3 minutes, want %d", rate, len(at), want)
			continue
		}
		for n, i := range at {
			if d := float64(i-at[0]) - float64(n)*60*fs/rate; math.Abs(d) > 6 {
				t.Fatalf("%.1f a minute: click %d is %.1f samples off", rate, n, d)
			}
		}
	}
}

// ear notes where sound follows on silence in a track that is written to it, so
// that an hour need not lie in memory.
type ear struct {
	quiet, silent int // samples of silence that are wanted, and that were heard
	byte          int // of the file
	low           byte
	at            []int
}

func (e *ear) Write(b []byte) (int, error) {
	const head = 44 // bytes before the samples of a plain WAV; readWAV looks them over
	for _, v := range b {
		if e.byte >= head {
			if e.byte%2 == 0 {
				e.low = v
			} else if s := int16(uint16(v)<<8 | uint16(e.low)); s > 328 || s < -328 {
				if e.silent >= e.quiet {
					e.at = append(e.at, (e.byte-head)/2)
				}
				e.silent = 0
			} else {
				e.silent++
			}
		} else {
			e.silent = e.quiet // before the first sample is silence
		}
		e.byte++
	}
	return len(b), nil
}

// An hour of sound, found again by where it follows on silence: every click lies within a
// sample of its place, and the line through them all is off by less than one sample
// at the end.
func TestAnHourOfSoundDoesNotDrift(t *testing.T) {
	for _, p := range []Pattern{{PerMin: 161, Minutes: 60}, {PerMin: 166.5, Minutes: 60, CountIn: 8, SampleRateHz: 22050}} {
		fs := float64(p.rate())
		heard := ear{quiet: int(0.015 * fs)}
		if err := Write(&heard, p); err != nil {
			t.Fatal(err)
		}
		at := heard.at[p.CountIn:] // the count-in has another voice
		want := int(math.Ceil(60 * p.PerMin))
		if len(at) != want {
			t.Fatalf("%.1f a minute: %d onsets in an hour, want %d", p.PerMin, len(at), want)
		}
		worst, up, down, mid := 0.0, 0.0, 0.0, float64(len(at)-1)/2
		for n, i := range at {
			off := float64(i-at[0]) - float64(n)*60*fs/p.PerMin
			worst = max(worst, math.Abs(off))
			up, down = up+off*(float64(n)-mid), down+(float64(n)-mid)*(float64(n)-mid)
		}
		drift := up / down * float64(len(at)-1)
		t.Logf("%.1f a minute at %.0f Hz: worst click %.2f samples off, drift %.4f samples an hour", p.PerMin, fs, worst, drift)
		// The first click and each later one are rounded to half a sample each.
		if worst > 1 || math.Abs(drift) >= 1 {
			t.Errorf("%.1f a minute: worst click %.2f samples off, drift %.3f samples an hour", p.PerMin, worst, drift)
		}
	}
}

// An hour drifts by less than one sample at any rate.
func TestAnHourDoesNotDrift(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rate := math.Round(rapid.Float64Range(LeastRate, MostRate).Draw(t, "rate")*100) / 100
		fs := rapid.SampledFrom([]int{22050, 44100, 48000}).Draw(t, "fs")
		steps, err := Pattern{PerMin: rate, Minutes: 60, SampleRateHz: fs}.Steps()
		if err != nil {
			t.Fatal(err)
		}
		if n := len(steps); math.Abs(float64(n)-60*rate) > 1 {
			t.Fatalf("%d clicks in an hour of %.2f", n, rate)
		}
		for n, s := range steps {
			if d := float64(s.Sample) - float64(n)*60*float64(fs)/rate; math.Abs(d) > 0.51 {
				t.Fatalf("click %d is %.3f samples off", n, d)
			}
			if s.Left != (n%2 == 0) {
				t.Fatal("left and right do not alternate")
			}
		}
	})
}

func TestRampRises(t *testing.T) {
	p := Pattern{PerMin: 160, EndPerMin: 170, Minutes: 10}
	steps, err := p.Steps()
	if err != nil {
		t.Fatal(err)
	}
	if n := len(steps); n != 1650 && n != 1651 {
		t.Errorf("%d steps in ten minutes from 160 to 170", n)
	}
	rate := func(k int) float64 { return 60 * 44100 / float64(steps[k+1].Sample-steps[k].Sample) }
	if a, b := rate(0), rate(len(steps)-2); math.Abs(a-160) > 0.1 || math.Abs(b-170) > 0.1 {
		t.Errorf("from %.2f to %.2f", a, b)
	}
	down, err := Pattern{PerMin: 170, EndPerMin: 160, Minutes: 10}.Steps()
	if err != nil || math.Abs(float64(len(down)-len(steps))) > 1 {
		t.Errorf("%d steps down, %d up, %v", len(down), len(steps), err)
	}
}

// On and off alternate and the rhythm goes on unheard.
func TestFading(t *testing.T) {
	p := Pattern{PerMin: 160, Minutes: 4, OnMin: 1, OffMin: 0.5, CountIn: 8, Accent: "left"}
	steps, err := p.Steps()
	if err != nil {
		t.Fatal(err)
	}
	heard := 0
	for n, s := range steps[8:] {
		minute := float64(n) / 160
		if want := math.Mod(minute, 1.5) < 1-1e-9; s.Heard != want {
			t.Fatalf("step %d at minute %.3f: heard %v", n, minute, s.Heard)
		}
		if s.Heard {
			heard++
		}
	}
	x, fs := track(t, p)
	if at := onsets(x, fs); len(at) != heard+8 {
		t.Errorf("%d onsets, %d clicks are to be heard", len(at), heard+8)
	}
	if !steps[8].Left || steps[7].Left || !steps[7].Count || steps[8].Count {
		t.Errorf("the track does not begin with a left step after the count-in: %+v", steps[6:10])
	}
}

func TestAccentsDiffer(t *testing.T) {
	pitch := func(x []float64, at int) int { // zero crossings in 5 ms
		n := 0
		for i := at + 1; i < at+220; i++ {
			if x[i-1]*x[i] < 0 {
				n++
			}
		}
		return n
	}
	for accent, same := range map[string]bool{"": true, "left": false, "right": false, "both": false} {
		x, fs := track(t, Pattern{PerMin: 160, Minutes: 0.1, Accent: accent})
		at := onsets(x, fs)
		if got := pitch(x, at[0]) == pitch(x, at[1]); got != same {
			t.Errorf("accent %q: left and right sound the same: %v", accent, got)
		}
	}
}

func TestEverySoundIsClean(t *testing.T) {
	for _, s := range []Sound{Plain, Wood, Rhythm} {
		x, _ := track(t, Pattern{PerMin: 170, Minutes: 0.5, Sound: s, Accent: "both", CountIn: 4})
		peak, sum := 0.0, 0.0
		for _, v := range x {
			peak, sum = max(peak, math.Abs(v)), sum+v
		}
		if peak > 0.97 || peak < 0.3 {
			t.Errorf("%s: peak %.2f", s, peak)
		}
		if mean := sum / float64(len(x)); math.Abs(mean) > 0.01 {
			t.Errorf("%s: mean %.4f", s, mean)
		}
	}
}

func TestSameBytes(t *testing.T) {
	var a, b bytes.Buffer
	p := Pattern{PerMin: 171, Minutes: 0.3, Sound: Rhythm}
	if Write(&a, p) != nil || Write(&b, p) != nil || !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("the same track is not the same bytes")
	}
}

func TestWrongPatternsAreNamed(t *testing.T) {
	good := Pattern{PerMin: 165, Minutes: 10}
	for _, c := range []struct {
		change func(*Pattern)
		want   string
	}{
		{func(p *Pattern) { p.PerMin = 16.5 }, "both feet"},
		{func(p *Pattern) { p.PerMin = math.NaN() }, "steps a minute"},
		{func(p *Pattern) { p.PerMin = 0 }, "needed"},
		{func(p *Pattern) { p.EndPerMin = 900 }, "900"},
		{func(p *Pattern) { p.Minutes = 0 }, "minutes"},
		{func(p *Pattern) { p.Minutes = math.Inf(1) }, "minutes"},
		{func(p *Pattern) { p.OffMin = 1 }, "with the click"},
		{func(p *Pattern) { p.CountIn = -1 }, "count-in"},
		{func(p *Pattern) { p.Accent = "middle" }, "middle"},
		{func(p *Pattern) { p.Sound = "drum" }, "drum"},
		{func(p *Pattern) { p.SampleRateHz = 1 }, "samples"},
	} {
		p := good
		c.change(&p)
		if err := Write(io.Discard, p); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v", p, err)
		}
	}
}

func BenchmarkAnHour(b *testing.B) {
	for b.Loop() {
		if err := Write(io.Discard, Pattern{PerMin: 165, Minutes: 60, Accent: "both"}); err != nil {
			b.Fatal(err)
		}
	}
}
