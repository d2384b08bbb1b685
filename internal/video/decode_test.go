package video

import (
	"context"
	"errors"
	"io"
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
