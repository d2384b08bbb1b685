package sticker

import (
	"bytes"
	"flag"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"os"
	"os/exec"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write docs/stickers.md from what is measured")

func compressed(t *testing.T, r reel) reel {
	out := make(reel, len(r))
	for i, g := range r {
		var b bytes.Buffer
		if err := jpeg.Encode(&b, g, &jpeg.Options{Quality: 60}); err != nil {
			t.Fatal(err)
		}
		m, err := jpeg.Decode(&b)
		if err != nil {
			t.Fatal(err)
		}
		out[i] = m.(*image.Gray)
	}
	return out
}

// filmed takes a reel through an H.264 encoder and back; nil without ffmpeg.
func filmed(t *testing.T, r reel) reel {
	path, err := exec.LookPath("ffmpeg")
	if err != nil {
		return nil
	}
	w, h := r[0].Rect.Dx(), r[0].Rect.Dy()
	var raw bytes.Buffer
	for _, g := range r {
		raw.Write(g.Pix)
	}
	file := t.TempDir() + "/reel.mp4"
	size := fmt.Sprintf("%dx%d", w, h)
	run := func(in []byte, args ...string) []byte {
		c := exec.Command(path, append([]string{"-v", "error", "-threads", "1"}, args...)...)
		c.Stdin = bytes.NewReader(in)
		var out, bad bytes.Buffer
		c.Stdout, c.Stderr = &out, &bad
		if err := c.Run(); err != nil {
			t.Skipf("ffmpeg cannot encode H.264 here: %v %s", err, bad.String())
		}
		return out.Bytes()
	}
	run(raw.Bytes(), "-f", "rawvideo", "-pix_fmt", "gray", "-s", size, "-r", "120", "-i", "-", "-c:v", "libx264", "-crf", "23", "-pix_fmt", "yuv420p", file)
	back := run(nil, "-i", file, "-f", "rawvideo", "-pix_fmt", "gray", "-")
	if len(back) != w*h*len(r) {
		t.Fatalf("%d bytes came back for %d frames", len(back), len(r))
	}
	out := make(reel, len(r))
	for i := range out {
		out[i] = &image.Gray{Pix: back[i*w*h : (i+1)*w*h], Stride: w, Rect: r[0].Rect}
	}
	return out
}

// bars are what a condition must keep: bias and SD on the worse axis, the
// farthest single sample, and how much of what is in sight is found.
type bars struct{ bias, sd, worst, seen float64 }

func TestStatedFigures(t *testing.T) {
	blur := func(s *scene) { s.shutter = 0.5 }
	noise := func(s *scene) { s.noise = 8 }
	gone := func(s *scene) {
		s.hidden = func(i int) float64 {
			if i%50 >= 35 {
				return 1
			}
			return 0
		}
	}
	part := func(s *scene) {
		s.hidden = func(i int) float64 {
			if i%30 >= 15 {
				return 0.3
			}
			return 0
		}
	}
	clean := func(*scene) {}
	white, dark, rings, print := common(disc(225), 70), common(disc(25), 150), common(bullseye, 80), common(blotch, 120)
	var table strings.Builder
	drawn := map[string]reel{}
	for _, c := range []struct {
		mark, condition string
		s               scene
		change          func(*scene)
		film            func(*testing.T, reel) reel
		bars            bars
	}{
		{"white disc", "clean", white, clean, nil, bars{0.05, 0.1, 0.2, 1}},
		{"dark disc", "clean", dark, clean, nil, bars{0.05, 0.1, 0.2, 1}},
		{"bullseye", "clean", rings, clean, nil, bars{0.05, 0.1, 0.2, 1}},
		{"print", "clean", print, clean, nil, bars{0.05, 0.1, 0.2, 1}},
		{"white disc", "shutter open half of the time", white, blur, nil, bars{0.05, 0.1, 0.3, 1}},
		{"print", "shutter open half of the time", print, blur, nil, bars{0.3, 0.5, 1.5, 0.7}},
		{"white disc", "sensor noise of 8 grey", white, noise, nil, bars{0.05, 0.1, 0.3, 1}},
		{"print", "sensor noise of 8 grey", print, noise, nil, bars{0.05, 0.1, 0.3, 1}},
		{"white disc", "JPEG at quality 60", white, clean, compressed, bars{0.05, 0.1, 0.3, 1}},
		{"white disc", "H.264 at CRF 23", white, clean, filmed, bars{0.05, 0.12, 0.5, 1}},
		{"print", "H.264 at CRF 23", print, clean, filmed, bars{0.2, 0.2, 0.6, 0.95}},
		{"white disc", "wholly hidden in 30 % of frames", white, gone, nil, bars{0.05, 0.1, 0.3, 0.9}},
		{"print", "wholly hidden in 30 % of frames", print, gone, nil, bars{0.05, 0.1, 0.3, 0.7}},
		{"white disc", "30 % of it hidden half of the time", white, part, nil, bars{0.2, 0.4, 1.2, 0.75}},
		{"dark disc", "30 % of it hidden half of the time", dark, part, nil, bars{0.2, 0.4, 1.2, 0.5}},
		{"print", "30 % of it hidden half of the time", print, part, nil, bars{0.3, 0.4, 1.2, 0.6}},
	} {
		if testing.Short() && c.condition != "clean" {
			continue
		}
		c.change(&c.s)
		// What is filmed is the clean clip, drawn once.
		var r reel
		if c.film != nil || c.condition == "clean" {
			if drawn[c.mark] == nil {
				drawn[c.mark] = c.s.reel()
			}
			r = drawn[c.mark]
		} else {
			r = c.s.reel()
		}
		if c.film != nil {
			if r = c.film(t, r); r == nil {
				t.Logf("%s, %s: not measured, ffmpeg is missing", c.mark, c.condition)
				continue
			}
		}
		pt := Point{Clicks: []Click{c.s.clickOn(10, 1.1, -0.8)}}
		if c.mark == "print" {
			pt.Clicks[0] = c.s.clickOn(10, 0, 0)
			pt.Shape = Textured
		}
		p := follow(t, r, pt)[0]
		if strings.HasPrefix(c.condition, "H.264") {
			for i := range p.Samples {
				p.Samples[i] = p.Samples[i].InFilm()
			}
		}
		got := c.s.score(p)
		bias, sd := max(math.Abs(got.biasX), math.Abs(got.biasY)), max(got.sdX, got.sdY)
		t.Logf("%-10s %-36s %.1f px, bias %.3f SD %.3f worst %.2f seen %.2f invented %d, error/stated %.2f, within %.2f, quality %.2f",
			c.mark, c.condition, p.DiameterPX, bias, sd, got.worst, got.seen, got.invented, got.stated, got.within, got.quality)
		fmt.Fprintf(&table, "| %s | %s | %.3f | %.3f | %.2f | %.0f %% | %.0f %% | %.2f |\n", c.mark, c.condition, bias, sd, got.worst, 100*got.seen, 100*got.within, got.quality)
		if bias > c.bars.bias || sd > c.bars.sd || got.worst > c.bars.worst || got.seen < c.bars.seen || got.invented > 0 {
			t.Errorf("%s, %s: the bars are %+v, nothing invented", c.mark, c.condition, c.bars)
		}
		if !(got.within >= 0.9) {
			t.Errorf("%s, %s: %.0f %% of the errors are within 1.96 of what is stated", c.mark, c.condition, 100*got.within)
		}
	}
	if *update && !t.Failed() && !testing.Short() {
		const file = "../../docs/stickers.md"
		if err := os.WriteFile(file, []byte(strings.Replace(document, "TABLE", strings.TrimSpace(table.String()), 1)), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
