package video

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"
)

func TestRotation(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		deg    int
		filter string // undoes the turn in the stored picture
	}{{90, "transpose=cclock"}, {180, "hflip,vflip"}, {270, "transpose=clock"}} {
		t.Run(fmt.Sprint(c.deg), func(t *testing.T) {
			args := source(192, 320, "60", 30)
			args[3] += "," + c.filter
			f := probeClip(t, setMatrix(t, makeClip(t, "stored.mp4", append(args, x264...)...), c.deg))
			if f.RotationDeg != c.deg || f.WidthPX != 192 || f.HeightPX != 320 {
				t.Errorf("turn %d, %d × %d; want %d, 192 × 320", f.RotationDeg, f.WidthPX, f.HeightPX, c.deg)
			}
			if c.deg%180 != 0 && (f.CodedWidthPX != 320 || f.CodedHeightPX != 192) {
				t.Errorf("stored %d × %d, want 320 × 192", f.CodedWidthPX, f.CodedHeightPX)
			}
			if n := len(decodeAll(t, f, Options{From: 3})); n != 27 {
				t.Errorf("%d frames", n)
			}
		})
	}
}

// everyday are the kinds of file that short runs try too.
var everyday = map[string]bool{"plain.mov": true, "hevc.mov": true, "old.avi": true}

// TestContainers takes the same numbered frames through the containers and
// codecs a phone, a camera or a converter writes.
func TestContainers(t *testing.T) {
	t.Parallel()
	frames := source(320, 180, "30", 60)
	h264 := append([]string{}, x264...)
	for _, c := range []struct {
		name, encoder string
		args          []string
		clock         Clock
	}{
		{"plain.mov", "libx264", h264, ClockPackets},
		{"faststart.mp4", "libx264", append(h264, "-movflags", "+faststart"), ClockPackets},
		{"fragmented.mp4", "libx264", append(h264, "-movflags", "+frag_keyframe+empty_moov"), ClockPackets},
		{"matroska.mkv", "libx264", h264, ClockPackets},
		{"transport.ts", "libx264", h264, ClockPackets},
		{"old.avi", "libx264", h264, ClockNominal},
		{"elementary.h264", "libx264", append(h264, "-f", "h264"), ClockNominal},
		{"late.mp4", "libx264", append(h264, "-output_ts_offset", "1.5"), ClockPackets},
		{"late.mkv", "libx264", append(h264, "-output_ts_offset", "1.5"), ClockPackets},
		{"hevc.mov", "libx265", []string{"-c:v", "libx265", "-preset", "ultrafast", "-x265-params", "log-level=error:keyint=20:open-gop=1", "-tag:v", "hvc1"}, ClockPackets},
		{"ten-bit.mp4", "libx264", append(h264, "-pix_fmt", "yuv420p10le"), ClockPackets},
		{"mpeg4.mp4", "mpeg4", []string{"-c:v", "mpeg4", "-q:v", "3"}, ClockPackets},
		{"mjpeg.avi", "mjpeg", []string{"-c:v", "mjpeg", "-pix_fmt", "yuvj420p", "-q:v", "3"}, ClockPackets},
		{"prores.mov", "prores", []string{"-c:v", "prores"}, ClockPackets},
		{"vp9.webm", "libvpx-vp9", []string{"-c:v", "libvpx-vp9", "-deadline", "realtime", "-cpu-used", "8"}, ClockPackets},
		{"program.mpg", "mpeg2video", []string{"-c:v", "mpeg2video", "-q:v", "3", "-bf", "2"}, ClockNominal},
		{"film.flv", "libx264", h264, ClockPackets},
	} {
		if testing.Short() && !everyday[c.name] {
			continue
		}
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			if !hasEncoder(c.encoder) {
				t.Skipf("this ffmpeg has no %s", c.encoder)
			}
			f := probeClip(t, makeClip(t, c.name, append(append([]string{}, frames...), c.args...)...))
			if f.Clock != c.clock {
				t.Errorf("clock: %s, want %s", f.Clock, c.clock)
			}
			if math.Abs(f.MedianHz-30) > 0.05 || f.Variable {
				t.Errorf("%.3f frames a second, varying %v", f.MedianHz, f.Variable)
			}
			if f.WidthPX != 320 || f.HeightPX != 180 {
				t.Errorf("%d × %d", f.WidthPX, f.HeightPX)
			}
			if strings.HasPrefix(c.name, "ten") && f.BitDepth != 10 {
				t.Errorf("%d bits", f.BitDepth)
			}
			if n := len(decodeAll(t, f, Options{})); n != 60 {
				t.Errorf("%d frames, want 60", n)
			}
			if got := decodeAll(t, f, Options{From: 33, To: 41}); len(got) != 8 || got[0] != 33 {
				t.Errorf("frames 33 to 40: got %v", got)
			}
		})
	}
}

// TestSoundBesideThePicture: sound that starts with, before and after the picture
// shifts the file's start, from which seeking counts.
func TestSoundBesideThePicture(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"with.mp4", "before.mp4", "before.mkv", "before.ts", "after.mp4", "after.ts"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			picture, sound := []string{}, []string{}
			switch {
			case strings.HasPrefix(name, "before"):
				picture = []string{"-itsoffset", "0.437"}
			case strings.HasPrefix(name, "after"):
				sound = []string{"-itsoffset", "0.437"}
			}
			args := append(append(append(picture, source(320, 180, "60", 90)...), sound...), "-f", "lavfi", "-i", "sine=440:r=44100:d=2")
			args = append(append(args, x264...), passthroughArgs(t)...)
			f := probeClip(t, makeClip(t, name, append(args, "-c:a", "aac")...))
			if !f.HasAudio || f.Frames() != 90 || f.TimeS[0] != 0 {
				t.Errorf("sound %v, %d frames, first at %g", f.HasAudio, f.Frames(), f.TimeS[0])
			}
			if strings.HasPrefix(name, "before") && math.Abs(f.FirstS-f.startS-0.437) > 0.05 {
				t.Errorf("first frame at %g s, the file starts at %g", f.FirstS, f.startS)
			}
			if got := decodeAll(t, f, Options{From: 51}); len(got) != 39 || got[0] != 51 {
				t.Errorf("from frame 51: got %v", got)
			}
		})
	}
}

// TestCutWithoutRecoding has an edit list: packets before the cut are decoded
// and not shown.
func TestCutWithoutRecoding(t *testing.T) {
	t.Parallel()
	base := numberedClip(t, "base.mp4", 320, 180, "60", 120)
	f := probeClip(t, makeClip(t, "cut.mp4", "-ss", "0.65", "-i", base, "-c", "copy"))
	for _, from := range []int{0, 20, 41} {
		r, err := Decode(context.Background(), f, Options{From: from})
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for fr, err := r.Next(); err == nil; fr, err = r.Next() {
			if shown := readNumber(fr.RGB, fr.WidthPX, fr.HeightPX); shown-39 != fr.Index {
				t.Fatalf("frame %d of the cut shows number %d, want %d", fr.Index, shown, fr.Index+39)
			}
			n++
			fr.Release()
		}
		r.Close()
		if n != 120-39-from {
			t.Errorf("from %d: %d frames, want %d", from, n, 120-39-from)
		}
	}
}

func TestVariableFrameRate(t *testing.T) {
	t.Parallel()
	args := source(320, 180, "60", 100)
	args[3] += `,settb=1/90000,setpts=(N+0.3*sin(N))/60/TB`
	args = append(append(args, x264...), passthroughArgs(t)...)
	f := probeClip(t, makeClip(t, "varying.mp4", append(args, "-video_track_timescale", "90000")...))
	if !f.Variable || f.Frames() != 100 {
		t.Fatalf("varying %v, %d frames", f.Variable, f.Frames())
	}
	for i, got := range f.TimeS {
		if want := (float64(i) + 0.3*math.Sin(float64(i))) / 60; math.Abs(got-want) > 2.0/90000 {
			t.Fatalf("frame %d at %.6f s, want %.6f", i, got, want)
		}
	}
	decodeAll(t, f, Options{})
	if got := decodeAll(t, f, Options{From: 37, To: 44}); len(got) != 7 {
		t.Errorf("got %v", got)
	}
}

func passthroughArgs(t testing.TB) []string {
	t.Helper()
	v, err := needFFmpeg(t).Version(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return v.passthrough()
}

// TestFramesLeftOut: a camera that could not keep up. Every seventh frame is
// gone, and the times say so.
func TestFramesLeftOut(t *testing.T) {
	t.Parallel()
	args := source(320, 180, "60", 140)
	args[3] += `,select=mod(n\,7)`
	args = append(append(args, x264...), passthroughArgs(t)...)
	f := probeClip(t, makeClip(t, "gaps.mp4", args...))
	if f.Frames() != 120 || f.LongGaps != 19 {
		t.Fatalf("%d frames, %d gaps; want 120, 19", f.Frames(), f.LongGaps)
	}
	if want := []string{"The camera left out frames in 19 places."}; !slices.Equal(f.Warnings, want) {
		t.Errorf("it says %q, want %q", f.Warnings, want)
	}
	r, err := Decode(context.Background(), f, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	for fr, err := r.Next(); err == nil; fr, err = r.Next() {
		n := readNumber(fr.RGB, fr.WidthPX, fr.HeightPX)
		if want := float64(n-1) / 60; math.Abs(fr.TimeS-want) > 1e-4 {
			t.Fatalf("number %d at %.5f s, want %.5f", n, fr.TimeS, want)
		}
		fr.Release()
	}
}

// What is said of one is said of one.
func TestOneFrameOnePlace(t *testing.T) {
	f := &Facts{LongGaps: 1}
	f.warn(1, 120, 119)
	want := []string{"One frame has the same time as another and is left out.", "The camera left out frames in one place.", "The file announces 120 frames but holds 119: its end is missing."}
	if !slices.Equal(f.Warnings, want) {
		t.Errorf("it says %q, want %q", f.Warnings, want)
	}
}

func TestSlowMotion(t *testing.T) {
	t.Parallel()
	args := source(320, 180, "240", 80)
	args[3] += `,setpts=8*PTS`
	args = append(append(args, x264...), passthroughArgs(t)...)
	f := probeClip(t, makeClip(t, "slow.mp4", append(args, "-metadata", "com.android.capture.fps=240.000000", "-movflags", "use_metadata_tags")...))
	if f.CaptureRateHz != 240 || f.CaptureRateFrom == "" || math.Abs(f.MedianHz-30) > 0.01 || math.Abs(f.Slowdown()-8) > 0.01 {
		t.Errorf("filmed at %g, plays at %g, slowed %g times; want 240, 30, 8", f.CaptureRateHz, f.MedianHz, f.Slowdown())
	}
	if !strings.Contains(strings.Join(f.Warnings, " "), "8 times slow") {
		t.Errorf("warnings: %q", f.Warnings)
	}
}

func TestPixelAspect(t *testing.T) {
	t.Parallel()
	f := probeClip(t, makeClip(t, "anamorphic.mp4", append(append(source(240, 180, "30", 10), x264...), "-aspect", "16:9")...))
	if f.WidthPX != 320 || f.HeightPX != 180 {
		t.Errorf("%d × %d with a pixel aspect of %.3f, want 320 × 180", f.WidthPX, f.HeightPX, f.PixelAspect)
	}
	decodeAll(t, f, Options{})
}

func TestOddSizeAndScaling(t *testing.T) {
	t.Parallel()
	f := probeClip(t, makeClip(t, "odd.mp4", append(append(source(333, 187, "30", 12), x264...), "-pix_fmt", "yuv444p")...))
	if f.WidthPX != 333 || f.HeightPX != 187 {
		t.Fatalf("%d × %d", f.WidthPX, f.HeightPX)
	}
	decodeAll(t, f, Options{})
	decodeAll(t, f, Options{MaxHeightPX: 101, From: 5})
	r, err := Decode(context.Background(), f, Options{MaxHeightPX: 101})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if r.HeightPX != 101 || r.WidthPX != 180 || math.Abs(r.Scale-101.0/187) > 1e-12 {
		t.Errorf("%d × %d, scale %g", r.WidthPX, r.HeightPX, r.Scale)
	}
}

// TestBadFiles: each file that cannot be used gives its own kind of error, with
// a sentence on what to do.
func TestBadFiles(t *testing.T) {
	t.Parallel()
	clip := numberedClip(t, "clip.mp4", 320, 180, "30", 60)
	whole, err := os.ReadFile(clip)
	if err != nil {
		t.Fatal(err)
	}
	secret := write(t, "secret.mp4", whole)
	one := func(name string, args ...string) string { return makeClip(t, name, args...) }
	for _, c := range []struct {
		name string
		path string
		kind error
		says string
	}{
		{"missing", filepath.Join(t.TempDir(), "no.mp4"), ErrMissing, "no such file"},
		{"no name", "", ErrMissing, "no file name"},
		{"zero byte in the name", "a\x00b", ErrMissing, "no file name"},
		{"folder", t.TempDir(), ErrNotVideo, "folder"},
		{"empty", write(t, "empty.mp4", nil), ErrEmpty, "0 bytes"},
		{"zeros", write(t, "zeros.mp4", make([]byte, 100_000)), ErrTruncated, "zeros"},
		{"text", write(t, "text.mp4", []byte("left foot, right foot\nleft foot, right foot\n")), ErrNotVideo, "text"},
		{"noise", write(t, "noise.mp4", bytes.Repeat([]byte{0x93, 0x01, 0x7f, 0xe2}, 5000)), ErrNotVideo, "no moving pictures"},
		{"no index", write(t, "cut.mp4", whole[:len(whole)*6/10]), ErrTruncated, "end of the file is missing"},
		{"a few bytes", write(t, "few.mp4", whole[:40]), ErrTruncated, ""},
		{"sound", one("sound.m4a", "-f", "lavfi", "-i", "sine=440:d=1", "-c:a", "aac"), ErrAudioOnly, "no picture"},
		{"sound as mp4", one("sound.mp4", "-f", "lavfi", "-i", "sine=440:d=1", "-c:a", "aac"), ErrAudioOnly, "no picture"},
		{"wave", one("sound.wav", "-f", "lavfi", "-i", "sine=440:d=1"), ErrAudioOnly, "no picture"},
		{"png", one("still.png", "-f", "lavfi", "-i", "testsrc=s=64x64:d=0.04", "-frames:v", "1"), ErrStill, "still picture"},
		{"jpeg", one("still.jpg", "-f", "lavfi", "-i", "testsrc=s=64x64:d=0.04", "-frames:v", "1"), ErrStill, ""},
		{"png as mp4", rename(t, one("s.png", "-f", "lavfi", "-i", "testsrc=s=64x64:d=0.04", "-frames:v", "1"), "still.mp4"), ErrStill, "still picture"},
		{"single frame", numberedClip(t, "one.mp4", 320, 180, "30", 1), ErrStill, "single picture"},
		{"too wide", one("wide.mp4", "-f", "lavfi", "-i", "color=black:s=8400x64:r=10:d=0.3", "-c:v", "libx264", "-preset", "ultrafast"), ErrTooLarge, "8400 × 64"},
		{"unknown codec", write(t, "codec.mp4", bytes.ReplaceAll(whole, []byte("avc1"), []byte("zzq9"))), ErrCodec, "not one that this ffmpeg knows"},
		{"list of files", write(t, "list.mp4", []byte("ffconcat version 1.0\nfile '"+secret+"'\n")), ErrNotVideo, "list that points"},
		{"playlist", write(t, "playlist.mp4", []byte("#EXTM3U\n#EXT-X-TARGETDURATION:2\n#EXTINF:2,\n"+secret+"\n#EXT-X-ENDLIST\n")), ErrNotVideo, "list that points"},
		{"address", "https://localhost:1/clip.mp4", ErrMissing, "addresses"},
		{"protocol", "concat:" + clip, ErrMissing, "no such file"},
		{"pipe", "pipe:0", ErrMissing, "no such file"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			_, err := Probe(context.Background(), c.path)
			var e *Error
			if !errors.As(err, &e) {
				t.Fatalf("got %v, want an *Error", err)
			}
			t.Log(err)
			if !errors.Is(err, c.kind) || !strings.Contains(e.What, c.says) {
				t.Errorf("got %q (%v), want %v with %q", e.What, e.Kind, c.kind, c.says)
			}
			if e.Mend == "" {
				t.Error("the error does not say what to do")
			}
		})
	}
}

func rename(t *testing.T, path, name string) string {
	t.Helper()
	to := filepath.Join(filepath.Dir(path), name)
	if err := os.Rename(path, to); err != nil {
		t.Fatal(err)
	}
	return to
}

// TestNothingElseIsOpened hides the first bytes of a playlist behind what the
// sniffer lets pass, so that ffprobe itself must refuse it.
func TestNothingElseIsOpened(t *testing.T) {
	t.Parallel()
	secret := numberedClip(t, "secret.mp4", 320, 180, "30", 30)
	dir := filepath.Dir(secret)
	for name, content := range map[string]string{
		"list.mp4": "\x01\nffconcat version 1.0\nfile 'secret.mp4'\n",
		"hls.mp4":  "\xef\xbb\xbf\x01#EXTM3U\n#EXT-X-TARGETDURATION:2\n#EXTINF:2,\nsecret.mp4\n#EXT-X-ENDLIST\n",
		"dash.mp4": "\x01<?xml version=\"1.0\"?><MPD xmlns=\"urn:mpeg:dash:schema:mpd:2011\" profiles=\"urn:mpeg:dash:profile:isoff-on-demand:2011\"><Period><BaseURL>secret.mp4</BaseURL></Period></MPD>",
	} {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := Probe(context.Background(), path); !errors.Is(err, ErrNotVideo) {
			t.Errorf("%s: %v", name, err)
		}
		// The same without the sniffer in front, and without the byte that
		// keeps it from being recognised.
		clean := filepath.Join(dir, "clean-"+name)
		if err := os.WriteFile(clean, []byte(content[strings.IndexAny(content, "f#<"):]), 0o600); err != nil {
			t.Fatal(err)
		}
		if f, err := needFFmpeg(t).probe(context.Background(), clean); !errors.Is(err, ErrNotVideo) {
			t.Errorf("%s, past the sniffer: %v, %+v", name, err, f)
		}
	}
}

func TestTruncatedButReadable(t *testing.T) {
	t.Parallel()
	path := numberedClip(t, "fast.mp4", 320, 180, "30", 120, "-movflags", "+faststart")
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	f := probeClip(t, write(t, "part.mp4", whole[:len(whole)*6/10]))
	if f.Frames() < 30 || f.Frames() >= 120 {
		t.Fatalf("%d frames", f.Frames())
	}
	if !strings.Contains(strings.Join(f.Warnings, " "), "end is missing") {
		t.Errorf("warnings: %q", f.Warnings)
	}
	r, err := Decode(context.Background(), f, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	n := 0
	for fr, err := r.Next(); err == nil; fr, err = r.Next() {
		if fr.Index < f.Frames()-5 {
			if shown := readNumber(fr.RGB, fr.WidthPX, fr.HeightPX); shown != fr.Index {
				t.Fatalf("frame %d shows %d", fr.Index, shown)
			}
		}
		n++
		fr.Release()
	}
	if tally := r.Tally(); n < f.Frames()-5 || tally.Delivered != n || tally.Missing() != f.Frames()-n {
		t.Errorf("%d of %d frames, tally %+v", n, f.Frames(), tally)
	}
}

func TestOddNames(t *testing.T) {
	clip := numberedClip(t, "clip.mp4", 320, 180, "30", 5)
	content, err := os.ReadFile(clip)
	if err != nil {
		t.Fatal(err)
	}
	names := []string{"-i.mp4", "läufer 日本 a b.mov", "100%.mp4", "img%03d.mp4", "it's [a] {b};c,d&e.mp4"}
	if runtime.GOOS != "windows" {
		names = append(names, "file:x.mp4", "two\nlines.mp4", `http:"q"|\*.mp4`)
	}
	t.Chdir(t.TempDir())
	for _, name := range names {
		if err := os.WriteFile(name, content, 0o600); err != nil {
			t.Logf("%q cannot be a file name here: %v", name, err)
			continue
		}
		f, err := Probe(context.Background(), name)
		if err != nil {
			t.Errorf("%q: %v", name, err)
			continue
		}
		if f.Frames() != 5 {
			t.Errorf("%q: %d frames", name, f.Frames())
		}
		if _, err := Still(context.Background(), f, 1, 0); err != nil {
			t.Errorf("%q: %v", name, err)
		}
	}
}

func TestWithoutFFmpeg(t *testing.T) {
	clip := numberedClip(t, "clip.mp4", 320, 180, "30", 5)
	f := probeClip(t, clip)
	t.Setenv("PATH", t.TempDir())
	if _, err := Locate(context.Background()); err == nil {
		t.Skip("ffmpeg stands where it is found without the search path")
	}
	for name, do := range map[string]func() error{
		"probe":  func() error { _, err := Probe(context.Background(), clip); return err },
		"decode": func() error { _, err := Decode(context.Background(), f, Options{}); return err },
		"encode": func() error {
			_, err := NewEncoder(context.Background(), filepath.Join(t.TempDir(), "a.mp4"), EncodeOptions{WidthPX: 2, HeightPX: 2, RateHz: 30})
			return err
		},
	} {
		if err := do(); !errors.Is(err, ErrNoFFmpeg) || !strings.Contains(err.Error(), "install") {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, goos := range []string{"linux", "darwin", "windows"} {
		if !strings.Contains(InstallHint(goos), "install") {
			t.Errorf("%s: %q", goos, InstallHint(goos))
		}
	}
}

// TestToolsThatDoNotStart: an ffmpeg and an ffprobe that are there and fail before they
// look at any film. The film is not blamed; the file, its words and the way out are told.
func TestToolsThatDoNotStart(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("needs shell scripts")
	}
	clip := numberedClip(t, "clip.mp4", 320, 180, "30", 5)
	f := probeClip(t, clip)
	real := needFFmpeg(t)
	missing := "#!/bin/sh\necho 'starting' >&2\necho 'error while loading shared libraries: libavdevice.so.59: cannot open shared object file: No such file or directory' >&2\nexit 127\n"
	for _, c := range []struct {
		name, content string
		mode          os.FileMode
		why           string // %s: the file
	}{
		{"a missing library", missing, 0o755, "(%s says: error while loading shared libraries: libavdevice.so.59: cannot open shared object file: No such file or directory)"},
		{"without a word", "#!/bin/sh\nexit 1\n", 0o755, "(%s: it ended with exit status 1 and said nothing)"},
		{"crashed", "#!/bin/sh\nkill -SEGV $$\n", 0o755, "and said nothing)"},
		{"not to be run", missing, 0o644, "(%s: this user may not run the file, which `chmod a+x` allows)"},
		{"cut off", "\x7fELF", 0o755, "(%s: the file is not a program for this computer, or it is damaged)"},
		{"an absent interpreter", "#!/nowhere/at/all\n", 0o755, "(%s: a part that it needs to start is missing)"},
	} {
		dir := t.TempDir()
		for _, name := range []string{"ffmpeg", "ffprobe"} {
			if err := os.WriteFile(filepath.Join(dir, name), []byte(c.content), c.mode); err != nil {
				t.Fatal(err)
			}
		}
		t.Setenv("PATH", dir)
		if tools, err := Locate(context.Background()); err == nil && filepath.Dir(tools.FFmpeg) != dir {
			t.Skip("ffmpeg stands where it is found without the search path")
		}
		ask := func(exe string, do func() error) {
			t.Helper()
			err := do()
			var fault *Error
			if !errors.As(err, &fault) || !errors.Is(err, ErrNoFFmpeg) || fault.File != "" {
				t.Errorf("%s: %v", c.name, err)
				return
			}
			if want := "the program " + exe + " is there but does not start ("; !strings.HasPrefix(fault.What, want) ||
				!strings.HasSuffix(fault.What, strings.ReplaceAll(c.why, "%s", filepath.Join(dir, exe))) {
				t.Errorf("%s: %q", c.name, fault.What)
			}
			if !strings.Contains(fault.Mend, "install ffmpeg again") || !strings.Contains(fault.Mend, "PATH") {
				t.Errorf("%s: %q", c.name, fault.Mend)
			}
		}
		ctx := context.Background()
		probe := "ffprobe"
		if c.mode&0o111 == 0 {
			probe = "ffmpeg" // both are missed on the search path, and the first is told
		}
		ask(probe, func() error { _, err := Probe(ctx, clip); return err })
		ask("ffmpeg", func() error { _, err := Decode(ctx, f, Options{}); return err })
		ask("ffmpeg", func() error { _, err := Still(ctx, f, 1, 0); return err })
		for _, name := range []string{"a.mp4", "a.gif"} {
			ask("ffmpeg", func() error {
				e, err := NewEncoder(ctx, filepath.Join(t.TempDir(), name), EncodeOptions{WidthPX: 2, HeightPX: 2, RateHz: 30})
				if err != nil {
					return err
				}
				if err := e.Write(image.NewRGBA(image.Rect(0, 0, 2, 2)), 0); err != nil {
					return err
				}
				return e.Finish()
			})
		}
		// One that broke after it had told its release.
		path := filepath.Join(dir, "ffmpeg")
		versions.Store(path, Version{Text: "5.1", Major: 5, Minor: 1})
		if c.mode&0o111 != 0 {
			ask("ffmpeg", func() error {
				r, err := Decode(ctx, f, Options{})
				if err != nil {
					return err
				}
				defer r.Close()
				_, err = r.Next()
				return err
			})
		}
	}
	// One that somebody ended is not faulty: a machine short of memory does that.
	killed := filepath.Join(t.TempDir(), "ffmpeg")
	if err := os.WriteFile(killed, []byte("#!/bin/sh\nkill -KILL $$\n"), 0o755); err != nil {
		t.Fatal(err)
	}
	for _, exe := range []string{real.FFmpeg, real.FFprobe, killed} {
		if err := Starts(context.Background(), exe); err != nil {
			t.Error(err)
		}
	}
}

// TestPassesOverWhatIsOfNoUse: a program that does not start, may not be run or is too
// old hides no good one behind it on the search path, and is told with what is wrong.
func TestPassesOverWhatIsOfNoUse(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("needs shell scripts")
	}
	clip := numberedClip(t, "clip.mp4", 320, 180, "30", 5)
	good := needFFmpeg(t)
	var path, want []string
	for _, c := range []struct {
		name, content string
		mode          os.FileMode
		why           string
	}{
		{"ffmpeg", "#!/bin/sh\necho 'libavdevice.so.59: cannot open' >&2\nexit 127\n", 0o755, "does not start: libavdevice.so.59: cannot open"},
		{"ffmpeg", "#!/bin/sh\n", 0o644, "does not start: this user may not run the file, which `chmod a+x` allows"},
		{"ffmpeg", "#!/bin/sh\necho 'ffmpeg version 3.2.1 Copyright'\n", 0o755, "the ffmpeg found (3.2.1) is older than 4.4 and lacks what is needed"},
		{"ffprobe", "#!/bin/sh\nexit 1\n", 0o755, "does not start: it ended with exit status 1 and said nothing"},
	} {
		file := filepath.Join(t.TempDir(), c.name)
		if err := os.WriteFile(file, []byte(c.content), c.mode); err != nil {
			t.Fatal(err)
		}
		path, want = append(path, filepath.Dir(file)), append(want, file+": "+c.why)
	}
	path = append(path, filepath.Dir(good.FFmpeg), filepath.Dir(good.FFprobe))
	t.Setenv("PATH", strings.Join(path, string(filepath.ListSeparator)))
	tools, err := Locate(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, p := range tools.PassedOver {
		got = append(got, p.Path+": "+p.Why)
	}
	if tools.FFmpeg != good.FFmpeg || tools.FFprobe != good.FFprobe || !slices.Equal(got, want) {
		t.Errorf("%q and %q, passed over\n%s\nwant\n%s", tools.FFmpeg, tools.FFprobe, strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	f, err := Probe(context.Background(), clip)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Still(context.Background(), f, 1, 0); err != nil {
		t.Error(err)
	}
	if alone, err := LocateFFmpeg(context.Background()); alone != good.FFmpeg || err != nil {
		t.Errorf("alone %q, %v", alone, err)
	}
	// One that started once and breaks is passed over the next time.
	broken := filepath.Join(path[0], "ffmpeg")
	tried.Store(broken, true)
	if tools, err := Locate(context.Background()); err != nil || tools.FFmpeg != broken {
		t.Errorf("one known to start is not taken: %q, %v", tools.FFmpeg, err)
	}
	if Starts(context.Background(), broken) == nil {
		t.Error("a broken one starts")
	}
	if tools, err := Locate(context.Background()); err != nil || tools.FFmpeg != good.FFmpeg {
		t.Errorf("one that broke is taken: %q, %v", tools.FFmpeg, err)
	}
	// One that somebody ended while it was asked is not passed over.
	killed := filepath.Join(t.TempDir(), "ffmpeg")
	if err := os.WriteFile(killed, []byte("#!/bin/sh\nkill -KILL $$\n"), 0o755); err != nil {
		t.Fatal(err)
	}
	t.Setenv("PATH", strings.Join(append([]string{filepath.Dir(killed)}, path...), string(filepath.ListSeparator)))
	if alone, err := LocateFFmpeg(context.Background()); alone != killed || err != nil {
		t.Errorf("before a killed one %q, %v", alone, err)
	}
	if _, err := (Tools{FFmpeg: killed}).Version(context.Background()); !errors.Is(err, ErrDecode) || errors.Is(err, ErrNoFFmpeg) {
		t.Errorf("the release of a killed one: %v", err)
	}
}

func TestProbeStops(t *testing.T) {
	t.Parallel()
	clip := numberedClip(t, "clip.mp4", 320, 180, "30", 5)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Probe(ctx, clip); !errors.Is(err, context.Canceled) {
		t.Errorf("stopped before the start: %v", err)
	}
	ctx, cancel = context.WithTimeout(context.Background(), time.Nanosecond)
	defer cancel()
	if _, err := Probe(ctx, clip); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("out of time: %v", err)
	}
}
