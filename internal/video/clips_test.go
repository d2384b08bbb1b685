package video

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

// Test clips are made on the spot. Each frame shows its own number as twelve
// black or white boxes across the top half of the picture, so that any codec and
// any scaling leaves it readable; the bottom half is blue on the left and red on
// the right, so that a turned or mirrored picture shows.

const numberBits = 12

// numbered is the filter chain that draws the number of the frame.
func numbered(w, h int) string {
	parts := []string{
		fmt.Sprintf("drawbox=x=0:y=%d:w=%d:h=%d:color=blue:t=fill", h/2, w/2, h-h/2),
		fmt.Sprintf("drawbox=x=%d:y=%d:w=%d:h=%d:color=red:t=fill", w/2, h/2, w-w/2, h-h/2),
	}
	for k := range numberBits {
		x0, x1 := k*w/numberBits, (k+1)*w/numberBits
		parts = append(parts, fmt.Sprintf(`drawbox=x=%d:y=0:w=%d:h=%d:color=white:t=fill:enable=mod(floor(n/%d)\,2)`, x0, x1-x0, h/2, 1<<k))
	}
	return strings.Join(parts, ",")
}

// readNumber reads back the number of an upright frame.
func readNumber(rgb []byte, w, h int) int {
	n := 0
	for k := range numberBits {
		x, y := (2*k+1)*w/(2*numberBits), h/4
		if rgb[3*(y*w+x)+1] > 128 {
			n |= 1 << k
		}
	}
	return n
}

// upright tells whether the bottom half is blue on the left, red on the right.
func upright(rgb []byte, w, h int) bool {
	l, r := 3*(h*3/4*w+w/4), 3*(h*3/4*w+w*3/4)
	return rgb[l+2] > 150 && rgb[l] < 100 && rgb[r] > 150 && rgb[r+2] < 100
}

func needFFmpeg(t testing.TB) Tools {
	t.Helper()
	tools, err := Locate(context.Background())
	if err != nil {
		t.Skip(err)
	}
	return tools
}

// makeClip runs ffmpeg with the words of a command line and returns the path of the
// file it made.
func makeClip(t testing.TB, name string, args ...string) string {
	t.Helper()
	tools := needFFmpeg(t)
	path := filepath.Join(t.TempDir(), name)
	args = append(append([]string{"-hide_banner", "-nostdin", "-v", "error", "-y"}, args...), "file:"+path)
	if out, err := exec.Command(tools.FFmpeg, args...).CombinedOutput(); err != nil {
		t.Fatalf("making %s: %v\n%s\n%v", name, err, out, args)
	}
	return path
}

// source is a lavfi source of numbered frames.
func source(w, h int, rate string, frames int) []string {
	format := "yuv420p"
	if w%2+h%2 > 0 {
		format = "yuv444p"
	}
	return []string{"-f", "lavfi", "-i", fmt.Sprintf("color=black:s=%dx%d:r=%s,trim=end_frame=%d,format=%s,%s", w, h, rate, frames, format, numbered(w, h))}
}

// x264 are the options of an H.264 clip with B-frames and a key frame every 25.
var x264 = []string{"-c:v", "libx264", "-preset", "ultrafast", "-bf", "3", "-g", "25", "-crf", "18"}

func numberedClip(t testing.TB, name string, w, h int, rate string, frames int, more ...string) string {
	t.Helper()
	args := source(w, h, rate, frames)
	args = append(args, x264...)
	return makeClip(t, name, append(args, more...)...)
}

var encoders = sync.OnceValue(func() string {
	tools, err := Locate(context.Background())
	if err != nil {
		return ""
	}
	list, _ := output(context.Background(), tools.FFmpeg, "-hide_banner", "-encoders")
	return list
})

func hasEncoder(name string) bool { return strings.Contains(encoders(), " "+name+" ") }

func write(t testing.TB, name string, content []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// setMatrix makes an MP4 carry a clockwise turn in its track header, as phones
// write it (ISO/IEC 14496-12, 8.3.2: the matrix is nine numbers of 32 bits).
func setMatrix(t testing.TB, path string, deg int) string {
	t.Helper()
	content, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	at := bytes.Index(content, []byte("tkhd"))
	if at < 0 {
		t.Fatal("no track header")
	}
	const one = 0x10000
	abcd := map[int][4]int32{90: {0, one, -one, 0}, 180: {-one, 0, 0, -one}, 270: {0, -one, one, 0}}[deg]
	for k, offset := range [4]int{0, 4, 12, 16} {
		binary.BigEndian.PutUint32(content[at+44+offset:], uint32(abcd[k]))
	}
	return write(t, filepath.Base(path), content)
}
