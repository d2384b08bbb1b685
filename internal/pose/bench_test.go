package pose

import (
	"context"
	"fmt"
	"io"
	"os/exec"
	"testing"
	"time"
)

func BenchmarkNetwork(b *testing.B) {
	for _, m := range Models {
		for _, threads := range []int{1, 2} {
			b.Run(fmt.Sprintf("%s/threads=%d", m, threads), func(b *testing.B) {
				e := installed(b, Options{Model: m, Threads: threads})
				for b.Loop() {
					if err := e.landmark.run(); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
	b.Run("detector/threads=2", func(b *testing.B) {
		e := installed(b, Options{Model: Lite, Threads: 2})
		for b.Loop() {
			if err := e.detector.run(); err != nil {
				b.Fatal(err)
			}
		}
	})
}

func BenchmarkOpen(b *testing.B) {
	for _, m := range Models {
		b.Run(string(m), func(b *testing.B) {
			installed(b, Options{Model: m})
			for b.Loop() {
				e, err := Open(Options{Model: m, Dir: setupDir})
				if err != nil {
					b.Fatal(err)
				}
				e.Close()
			}
		})
	}
}

func BenchmarkCut(b *testing.B) {
	for _, c := range []struct {
		name          string
		width, height int
		region        Region
	}{
		{"1080p inside", 1920, 1080, Region{X: 960, Y: 540, SidePX: 900, AngleRad: 0.1}},
		{"1080p over the edge", 1920, 1080, Region{X: 960, Y: 540, SidePX: 1100, AngleRad: 0.1}},
		{"2160p over the edge", 3840, 2160, Region{X: 1920, Y: 1080, SidePX: 2200, AngleRad: 0.1}},
		{"2160p inside", 3840, 2160, Region{X: 1920, Y: 1080, SidePX: 1900, AngleRad: 0.1}},
		{"480p inside", 854, 480, Region{X: 400, Y: 240, SidePX: 330, AngleRad: 0.1}},
	} {
		b.Run(c.name, func(b *testing.B) {
			f := Frame{Width: c.width, Height: c.height, RGB: make([]byte, 3*c.width*c.height)}
			dst := make([]float32, 3*cropSize*cropSize)
			for b.Loop() {
				cut(dst, cropSize, f, c.region, unitScaling, false)
			}
		})
	}
}

func BenchmarkDecodeLandmarks(b *testing.B) {
	raw, score := make([]float32, 5*points), []float32{1}
	for i := range raw {
		raw[i] = 100
	}
	heat, world := make([]float32, points*heatSize*heatSize), make([]float32, 3*points)
	for b.Loop() {
		decodeLandmarks(raw, score, heat, world, Region{X: 1, Y: 1, SidePX: 100})
	}
}

// BenchmarkChain follows a runner through frames that lie in memory.
func BenchmarkChain(b *testing.B) {
	for _, m := range Models {
		b.Run(string(m), func(b *testing.B) {
			frames := clipFrames(b, "RBDS001-35-side", 30, clipW, clipH)
			e := installed(b, Options{Model: m})
			tr := NewTracker(e, nil)
			n := 0
			for b.Loop() {
				// Forth and back, so that the motion never jumps.
				i := n % (2 * len(frames))
				if i >= len(frames) {
					i = 2*len(frames) - 1 - i
				}
				f := frames[i]
				f.TimeS = float64(n) / clipRateHz
				p, err := tr.Next(f)
				if err != nil || !p.Found {
					b.Fatal(err, "frame", n, "found", p.Found)
				}
				n++
			}
		})
	}
}

// BenchmarkOverlap decodes a 1080p clip and follows the runner through it, and
// reports the time a frame beside the sum of decoding alone and the network
// alone on two threads, all in one run: the ratio the program promises to keep
// under 1.25.
func BenchmarkOverlap(b *testing.B) {
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		b.Skip("ffmpeg is not installed")
	}
	clip := b.TempDir() + "/clip.mp4"
	const width, height, count = 1080, 1920, 300
	if out, err := exec.Command(ffmpeg, "-v", "error", "-i", shared(b, "clips/RBDS001-35-side.mp4"), "-frames:v", fmt.Sprint(count),
		"-vf", fmt.Sprintf("scale=%d:%d", width, height), "-c:v", "libx264", "-preset", "veryfast", "-b:v", "16M", clip).CombinedOutput(); err != nil {
		b.Fatalf("%v: %s", err, out)
	}
	decode := func(each func(Frame) bool) time.Duration {
		start := time.Now()
		cmd := exec.Command(ffmpeg, "-v", "error", "-i", clip, "-fps_mode", "passthrough", "-f", "rawvideo", "-pix_fmt", "rgb24", "-")
		out, err := cmd.StdoutPipe()
		if err != nil {
			b.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			b.Fatal(err)
		}
		pool := make(chan []byte, 4)
		for range cap(pool) {
			pool <- make([]byte, 3*width*height)
		}
		for i := range count {
			buf := <-pool
			if _, err := io.ReadFull(out, buf); err != nil {
				b.Fatal(err)
			}
			if !each(Frame{Index: i, TimeS: float64(i) / clipRateHz, Width: width, Height: height, RGB: buf, Release: func() { pool <- buf }}) {
				break
			}
		}
		if err := cmd.Wait(); err != nil {
			b.Fatal(err)
		}
		return time.Since(start)
	}
	reference := installed(b, Options{Threads: 2})
	for _, threads := range []int{1, 2} {
		b.Run(fmt.Sprintf("threads=%d", threads), func(b *testing.B) {
			e := installed(b, Options{Threads: threads})
			var alone, network, chain time.Duration
			for b.Loop() {
				alone += decode(func(f Frame) bool { f.Release(); return true })
				start := time.Now()
				for range count {
					if err := reference.landmark.run(); err != nil {
						b.Fatal(err)
					}
				}
				network += time.Since(start)

				start = time.Now()
				tr := NewTracker(e, nil)
				frames := make(chan Frame, 3)
				done := make(chan error)
				go func() { done <- tr.Run(context.Background(), frames, nil) }()
				decode(func(f Frame) bool { frames <- f; return true })
				close(frames)
				if err := <-done; err != nil {
					b.Fatal(err)
				}
				chain += time.Since(start)
				if r, _ := tr.Runner(); r == nil || r.Seen() < count*9/10 {
					b.Fatal("the runner was not followed")
				}
			}
			ms := func(d time.Duration) float64 { return d.Seconds() * 1000 / count / float64(b.N) }
			b.ReportMetric(ms(alone), "decode-ms/frame")
			b.ReportMetric(ms(network), "network-ms/frame")
			b.ReportMetric(ms(chain), "chain-ms/frame")
			b.ReportMetric(float64(chain)/float64(alone+network), "ratio")
		})
	}
}
