package video

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

func TestStills(t *testing.T) {
	t.Parallel()
	f := probeClip(t, numberedClip(t, "clip.mp4", 320, 180, "60", 120))
	want := []int{77, 3, 118, 77, 52}
	got, err := Stills(context.Background(), f, want, 90)
	if err != nil {
		t.Fatal(err)
	}
	for k, img := range got {
		if img.Rect != image.Rect(0, 0, 160, 90) {
			t.Fatalf("size %v", img.Rect)
		}
		if n := readNumber(rgbOf(img), 160, 90); n != want[k] {
			t.Errorf("still %d shows %d, want %d", k, n, want[k])
		}
	}
	one, err := Still(context.Background(), f, 101, 0)
	if err != nil {
		t.Fatal(err)
	}
	if n := readNumber(rgbOf(one), 320, 180); n != 101 {
		t.Errorf("frame 101 shows %d", n)
	}
	for _, bad := range [][]int{{-1}, {120}, {5, 300}} {
		if _, err := Stills(context.Background(), f, bad, 0); !errors.Is(err, ErrRange) {
			t.Errorf("%v: %v", bad, err)
		}
	}
}

func rgbOf(img image.Image) []byte {
	b := img.Bounds()
	var out []byte
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			c := color.NRGBAModel.Convert(img.At(x, y)).(color.NRGBA)
			out = append(out, c.R, c.G, c.B)
		}
	}
	return out
}

func TestExtractJPEG(t *testing.T) {
	t.Parallel()
	f := probeClip(t, numberedClip(t, "clip.mp4", 320, 180, "60", 60))
	var got []int
	tally, err := ExtractJPEG(context.Background(), f, 7, 58, 90, 80, func(i int, jpg []byte) error {
		img, err := jpeg.Decode(bytes.NewReader(jpg))
		if err != nil {
			return err
		}
		if img.Bounds().Dx() != 160 || img.Bounds().Dy() != 90 {
			t.Fatalf("size %v", img.Bounds())
		}
		if n := readNumber(rgbOf(img), 160, 90); n != i {
			t.Errorf("picture %d shows %d", i, n)
		}
		got = append(got, i)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(got) != 51 || got[0] != 7 || tally.Missing() != 0 {
		t.Errorf("got %v, tally %+v", got, tally)
	}
	stop := errors.New("enough")
	n := 0
	_, err = ExtractJPEG(context.Background(), f, 0, 60, 0, 50, func(int, []byte) error {
		if n++; n == 3 {
			return stop
		}
		return nil
	})
	if !errors.Is(err, stop) || n != 3 {
		t.Errorf("stopped after %d with %v", n, err)
	}
}

func TestEncoder(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "out.mp4")
	e, err := NewEncoder(context.Background(), path, EncodeOptions{WidthPX: 161, HeightPX: 91, RateHz: 60, SlowBy: 4})
	if err != nil {
		t.Fatal(err)
	}
	img := image.NewRGBA(image.Rect(0, 0, 161, 91))
	for i := range 24 {
		if i == 9 || i == 10 {
			continue // frames the camera left out
		}
		for p := 0; p < len(img.Pix); p += 4 {
			img.Pix[p], img.Pix[p+1], img.Pix[p+2], img.Pix[p+3] = uint8(10*i), uint8(10*i), uint8(10*i), 255
		}
		if err := e.Write(img, 2+float64(i)/60); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := os.Stat(path); err == nil {
		t.Error("the film stands under its name before it is complete")
	}
	if err := e.Finish(); err != nil {
		t.Fatal(err)
	}
	f := probeClip(t, path)
	if f.Frames() != 24 || math.Abs(f.MedianHz-15) > 0.01 || f.WidthPX != 162 || f.HeightPX != 92 {
		t.Errorf("%s", f.Summary())
	}
	r, err := Decode(context.Background(), f, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	for fr, err := r.Next(); err == nil; fr, err = r.Next() {
		want := 10 * fr.Index
		if fr.Index == 9 || fr.Index == 10 {
			want = 80 // the picture before is held
		}
		if got := int(fr.RGB[3*(40*fr.WidthPX+80)]); math.Abs(float64(got-want)) > 6 {
			t.Errorf("frame %d: grey %d, want %d", fr.Index, got, want)
		}
		fr.Release()
	}
	if left := entries(t, filepath.Dir(path)); !slices.Equal(left, []string{"out.mp4"}) {
		t.Errorf("left in the folder: %v", left)
	}
}

func entries(t *testing.T, dir string) (names []string) {
	t.Helper()
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range list {
		names = append(names, e.Name())
	}
	return names
}

// TestEncoderLeavesNothingBehind: whatever goes wrong, a film that was there
// stays as it was and no temporary file remains.
func TestEncoderLeavesNothingBehind(t *testing.T) {
	t.Parallel()
	img := image.NewRGBA(image.Rect(0, 0, 64, 64))
	o := EncodeOptions{WidthPX: 64, HeightPX: 64, RateHz: 30}
	for name, do := range map[string]func(e *Encoder, cancel func()) error{
		"nothing written": func(e *Encoder, _ func()) error { return e.Finish() },
		"aborted":         func(e *Encoder, _ func()) error { e.Write(img, 0); e.Abort(); return errors.New("aborted") },
		"wrong size": func(e *Encoder, _ func()) error {
			defer e.Abort()
			return e.Write(image.NewRGBA(image.Rect(0, 0, 32, 64)), 0)
		},
		"a gap of hours": func(e *Encoder, _ func()) error {
			defer e.Abort()
			e.Write(img, 0)
			return e.Write(img, 1e5)
		},
		"stopped": func(e *Encoder, cancel func()) error {
			e.Write(img, 0)
			cancel()
			return e.Finish()
		},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			path := filepath.Join(dir, "a.mp4")
			if err := os.WriteFile(path, []byte("before"), 0o600); err != nil {
				t.Fatal(err)
			}
			ctx, cancel := context.WithCancel(context.Background())
			defer cancel()
			e, err := NewEncoder(ctx, path, o)
			if err != nil {
				t.Fatal(err)
			}
			if err := do(e, cancel); err == nil {
				t.Error("no error")
			}
			if content, _ := os.ReadFile(path); string(content) != "before" || len(entries(t, dir)) != 1 {
				t.Errorf("%v, content %q", entries(t, dir), content)
			}
		})
	}
	for name, o := range map[string]EncodeOptions{
		"no size": {RateHz: 30}, "no rate": {WidthPX: 64, HeightPX: 64}, "NaN rate": {WidthPX: 64, HeightPX: 64, RateHz: math.NaN()},
		"huge": {WidthPX: 20_000, HeightPX: 64, RateHz: 30}, "backwards": {WidthPX: 64, HeightPX: 64, RateHz: 30, SlowBy: -1},
	} {
		if _, err := NewEncoder(context.Background(), filepath.Join(t.TempDir(), "a.mp4"), o); !errors.Is(err, ErrEncode) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := NewEncoder(context.Background(), filepath.Join(t.TempDir(), "no", "such", "a.mp4"), o); !errors.Is(err, ErrEncode) {
		t.Errorf("no folder: %v", err)
	}
}

func TestRedraw(t *testing.T) {
	t.Parallel()
	f := probeClip(t, numberedClip(t, "clip.mp4", 320, 180, "60", 40))
	path := filepath.Join(t.TempDir(), "drawn.mp4")
	err := Redraw(context.Background(), f, path, RedrawOptions{From: 10, To: 30, MaxHeightPX: 90, SlowBy: 2, Quality: 12},
		func(i int, timeS, scale float64, img *image.RGBA) error {
			if scale != 0.5 || timeS != f.TimeS[i] {
				t.Errorf("frame %d: scale %g, time %g", i, scale, timeS)
			}
			for y := range 10 {
				for x := range 160 {
					img.SetRGBA(x, 80+y, color.RGBA{0, 255, 0, 255})
				}
			}
			return nil
		})
	if err != nil {
		t.Fatal(err)
	}
	g := probeClip(t, path)
	if g.Frames() != 20 || math.Abs(g.MedianHz-30) > 0.01 {
		t.Errorf("%s", g.Summary())
	}
	img, err := Still(context.Background(), g, 7, 0)
	if err != nil {
		t.Fatal(err)
	}
	rgb := rgbOf(img)
	if n := readNumber(rgb, 160, 90); n != 17 {
		t.Errorf("frame 7 shows %d, want 17", n)
	}
	if p := 3 * (85*160 + 20); rgb[p] > 60 || rgb[p+1] < 200 {
		t.Errorf("the mark is %v", rgb[p:p+3])
	}
	bad := errors.New("no")
	other := filepath.Join(t.TempDir(), "other.mp4")
	if err := Redraw(context.Background(), f, other, RedrawOptions{}, func(int, float64, float64, *image.RGBA) error { return bad }); !errors.Is(err, bad) {
		t.Error(err)
	}
	if left := entries(t, filepath.Dir(other)); len(left) != 0 {
		t.Errorf("left behind: %v", left)
	}
}

// TestJPEGSplitter builds pictures with restart markers, stuffed bytes, fill
// bytes and an end marker hidden in a comment.
func TestJPEGSplitter(t *testing.T) {
	t.Parallel()
	picture := []byte{0xff, 0xd8,
		0xff, 0xfe, 0, 8, 0xff, 0xd9, 1, 2, 0xff, 0xd8, // a comment that looks like ends and starts
		0xff, 0xff, 0xda, 0, 4, 9, 9, // fill byte, start of scan
		1, 2, 0xff, 0, 3, 0xff, 0xd3, 4, 0xff, 0xff, 0, 5, // stuffed, restart, fill
		0xff, 0xda, 0, 2, 0xff, 0, // a second scan
		0xff, 0xd9}
	var s jpegSplitter
	r := bytes.NewReader(bytes.Repeat(picture, 3))
	for range 3 {
		got, err := s.next(r)
		if err != nil || !bytes.Equal(got, picture) {
			t.Fatalf("%x, %v", got, err)
		}
	}
	if _, err := s.next(r); err != io.EOF {
		t.Errorf("at the end: %v", err)
	}
	for n := 1; n < len(picture); n++ {
		var s jpegSplitter
		if _, err := s.next(bytes.NewReader(picture[:n])); err != io.ErrUnexpectedEOF {
			t.Errorf("cut after %d bytes: %v", n, err)
		}
	}
}

func FuzzJPEGSplitter(f *testing.F) {
	f.Add([]byte{0xff, 0xd8, 0xff, 0xd9})
	f.Add([]byte{0xff, 0xd8, 0xff, 0xda, 0, 2, 1, 0xff, 0, 0xff, 0xd9, 0xff})
	f.Add([]byte{0xff, 0xff, 0xd8, 0xff, 0xd9}) // fill before the start
	f.Fuzz(func(t *testing.T, in []byte) {
		var s jpegSplitter
		r := bytes.NewReader(in)
		total := 0
		for {
			jpg, err := s.next(r)
			if err != nil {
				return
			}
			if !bytes.HasPrefix(jpg, []byte{0xff, 0xd8}) || !bytes.HasSuffix(jpg, []byte{0xff, 0xd9}) {
				t.Fatalf("%x is no picture", jpg)
			}
			if !bytes.Equal(jpg, in[total:total+len(jpg)]) {
				t.Fatal("the picture is not what was in the stream")
			}
			total += len(jpg)
		}
	})
}
