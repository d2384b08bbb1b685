package video

import (
	"bytes"
	"context"
	"errors"
	"io"
	"os/exec"
	"strconv"
	"testing"
)

// benchClip is ten seconds of moving pattern at 1080p60 and about 17 Mb/s, as a
// phone writes it.
func benchClip(b *testing.B) *Facts {
	path := makeClip(b, "hd60.mp4", "-f", "lavfi", "-i", "testsrc2=s=1920x1080:r=60:d=10,format=yuv420p",
		"-c:v", "libx264", "-preset", "ultrafast", "-b:v", "17M")
	f, err := Probe(context.Background(), path)
	if err != nil {
		b.Fatal(err)
	}
	return f
}

func BenchmarkDecode1080p60(b *testing.B) {
	f := benchClip(b)
	b.SetBytes(int64(3 * f.WidthPX * f.HeightPX * f.Frames()))
	for b.Loop() {
		r, err := Decode(context.Background(), f, Options{})
		if err != nil {
			b.Fatal(err)
		}
		n := 0
		for {
			fr, err := r.Next()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				b.Fatal(err)
			}
			n++
			fr.Release()
		}
		r.Close()
		if n != f.Frames() {
			b.Fatalf("%d of %d frames", n, f.Frames())
		}
	}
	b.ReportMetric(float64(b.N*f.Frames())/b.Elapsed().Seconds(), "frames/s")
}

// BenchmarkBareDecode1080p60 is what Decode is measured against: ffmpeg writing
// the same raw pictures to a pipe that is read and forgotten.
func BenchmarkBareDecode1080p60(b *testing.B) {
	f := benchClip(b)
	tools, version := needFFmpeg(b), Version{Major: 5, Minor: 1}
	if v, err := tools.Version(context.Background()); err == nil {
		version = v
	}
	for _, format := range []string{"rgb24", "yuv420p"} {
		b.Run(format, func(b *testing.B) {
			for b.Loop() {
				args := append([]string{"-v", "error", "-nostdin", "-threads", "2", "-i", f.Path}, version.passthrough()...)
				cmd := exec.Command(tools.FFmpeg, append(args, "-f", "rawvideo", "-pix_fmt", format, "pipe:1")...)
				out, err := cmd.StdoutPipe()
				if err == nil {
					err = cmd.Start()
				}
				if err != nil {
					b.Fatal(err)
				}
				buf := make([]byte, 1<<20)
				for {
					if _, err := out.Read(buf); err != nil {
						break
					}
				}
				if err := cmd.Wait(); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.N*f.Frames())/b.Elapsed().Seconds(), "frames/s")
		})
	}
}

func BenchmarkProbe(b *testing.B) {
	path := benchClip(b).Path
	for b.Loop() {
		if _, err := Probe(context.Background(), path); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkParseStamps(b *testing.B) {
	var rows []byte
	for i := range 7200 {
		rows = append(rows, "pts="+strconv.Itoa(i*100)+"|flags=__\n"...)
	}
	b.SetBytes(int64(len(rows)))
	for b.Loop() {
		if s, err := parseStamps(bytes.NewReader(rows), "pts", maxFrames); err != nil || len(s) != 7200 {
			b.Fatal(err)
		}
	}
}
