package video

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// decodeAll reads a range and checks that every frame shows the number it is
// said to have.
func decodeAll(t *testing.T, f *Facts, o Options) []int {
	t.Helper()
	r, err := Decode(context.Background(), f, o)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	var got []int
	for {
		fr, err := r.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if n := readNumber(fr.RGB, fr.WidthPX, fr.HeightPX); n != fr.Index {
			t.Fatalf("frame %d shows number %d", fr.Index, n)
		}
		if !upright(fr.RGB, fr.WidthPX, fr.HeightPX) {
			t.Fatalf("frame %d is not upright", fr.Index)
		}
		if fr.TimeS != f.TimeS[fr.Index] {
			t.Fatalf("frame %d has time %v, want %v", fr.Index, fr.TimeS, f.TimeS[fr.Index])
		}
		got = append(got, fr.Index)
		fr.Release()
	}
	if m := r.Tally(); m.Missing() != 0 || m.Strays != 0 || m.Delivered != len(got) {
		t.Errorf("tally %+v after %d frames", m, len(got))
	}
	return got
}

func probeClip(t testing.TB, path string) *Facts {
	t.Helper()
	f, err := Probe(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func TestDecodeIsFrameExact(t *testing.T) {
	t.Parallel()
	f := probeClip(t, numberedClip(t, "plain.mp4", 320, 180, "60", 130))
	if f.Frames() != 130 || f.Clock != ClockPackets || f.Variable {
		t.Fatalf("%d frames, clock %q, variable %v", f.Frames(), f.Clock, f.Variable)
	}
	for _, c := range []struct{ from, to int }{{0, 0}, {0, 1}, {1, 2}, {24, 27}, {25, 50}, {26, 130}, {77, 78}, {129, 0}} {
		got := decodeAll(t, f, Options{From: c.from, To: c.to})
		to := c.to
		if to == 0 {
			to = 130
		}
		if len(got) != to-c.from || got[0] != c.from {
			t.Errorf("frames %d to %d: got %d from %d", c.from, c.to, len(got), got[0])
		}
	}
}

// TestOlderOptions decodes with the options that releases before 5.1 understand,
// as long as the ffmpeg at hand still does.
func TestOlderOptions(t *testing.T) {
	tools := needFFmpeg(t)
	ctx := context.Background()
	now, err := tools.Version(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if now.Major == 0 || now.Major > 6 {
		t.Skip("this ffmpeg no longer knows -vsync")
	}
	versions.Store(tools.FFmpeg, Version{Text: "4.4", Major: 4, Minor: 4})
	defer versions.Store(tools.FFmpeg, now)
	args := source(320, 180, "60", 100)
	args[3] += `,settb=1/90000,setpts=(N+0.3*sin(N))/60/TB`
	args = append(append(args, x264...), "-vsync", "passthrough", "-video_track_timescale", "90000")
	f := probeClip(t, makeClip(t, "varying.mp4", args...))
	if n := len(decodeAll(t, f, Options{From: 12})); n != 88 {
		t.Errorf("%d frames", n)
	}
}

// TestToolOfAnotherKind: a program that only has ffmpeg's name, and one that is
// too old.
func TestToolOfAnotherKind(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("needs a shell script")
	}
	for name, script := range map[string]string{
		"another program": "echo hello",
		"too old":         "echo 'ffmpeg version 3.4.8 Copyright'; echo 'libavfilter     6.107.100 /  6.107.100'",
		"broken":          "echo 'cannot open shared object file' >&2; exit 127",
	} {
		path := filepath.Join(t.TempDir(), "ffmpeg")
		if err := os.WriteFile(path, []byte("#!/bin/sh\n"+script+"\n"), 0o755); err != nil {
			t.Fatal(err)
		}
		_, err := Tools{FFmpeg: path}.Version(context.Background())
		if !errors.Is(err, ErrNoFFmpeg) || !strings.Contains(err.Error(), "install") {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestSeekLands: in the usual containers seeking itself is exact, so that a late
// start does not cost decoding everything before it.
func TestSeekLands(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"clip.mp4", "clip.mkv", "clip.mov"} {
		f := probeClip(t, numberedClip(t, name, 320, 180, "60", 130))
		for _, from := range []int{1, 24, 25, 26, 99} {
			p, err := newPass(context.Background(), f, from, from+2, 0)
			if err != nil {
				t.Fatal(err)
			}
			p.raw("rgb24")
			if _, ok := f.seekPoint(from); !ok {
				t.Fatalf("%s: no seeking to frame %d", name, from)
			}
			var got []int
			_, err = p.once(context.Background(), true, func(out io.Reader) (payload, error) {
				buf := make([]byte, 3*p.width*p.height)
				_, err := io.ReadFull(out, buf)
				return payload{data: buf}, err
			}, func(i int, _ []byte) error { got = append(got, i); return nil })
			if err != nil || len(got) != 2 || got[0] != from {
				t.Errorf("%s, frame %d: %v, %v", name, from, got, err)
			}
		}
	}
}
