//go:build unix

package video

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// children lists the living or unburied children of this process.
func children(t *testing.T) []string {
	t.Helper()
	out, err := exec.Command("ps", "-o", "pid=,stat=,comm=", "--ppid", strconv.Itoa(os.Getpid())).Output()
	if err != nil && len(out) == 0 {
		t.Skip("ps is not there: ", err)
	}
	var left []string
	for line := range strings.Lines(string(out)) {
		if !strings.Contains(line, " ps") {
			left = append(left, strings.TrimSpace(line))
		}
	}
	return left
}

// TestStoppingLeavesNoChildren: a reader that is closed, cancelled or runs out of
// time in the middle of a clip ends its ffmpeg and buries it.
func TestStoppingLeavesNoChildren(t *testing.T) {
	f := probeClip(t, makeClip(t, "long.mp4", "-f", "lavfi", "-i", "color=gray:s=640x360:r=60:d=10,format=yuv420p", "-c:v", "libx264", "-preset", "ultrafast"))
	for name, stop := range map[string]func(*Reader, context.CancelFunc){
		"closed":    func(r *Reader, _ context.CancelFunc) { r.Close() },
		"cancelled": func(_ *Reader, cancel context.CancelFunc) { cancel() },
	} {
		ctx, cancel := context.WithCancel(context.Background())
		r, err := Decode(ctx, f, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for range 3 {
			fr, err := r.Next()
			if err != nil {
				t.Fatal(err)
			}
			fr.Release()
		}
		stop(r, cancel)
		var last error
		for last == nil {
			var fr *Frame
			if fr, last = r.Next(); last == nil {
				fr.Release()
			}
		}
		if !errors.Is(last, context.Canceled) {
			t.Errorf("%s: %v", name, last)
		}
		r.Close()
		cancel()
		if left := children(t); len(left) > 0 {
			t.Errorf("%s: left behind %q", name, left)
		}
	}
	var r *Reader
	err := context.DeadlineExceeded
	// On a busy machine the time may be out before the film is open.
	for wait := 300 * time.Millisecond; errors.Is(err, context.DeadlineExceeded); wait *= 2 {
		ctx, cancel := context.WithTimeout(context.Background(), wait)
		defer cancel()
		r, err = Decode(ctx, f, Options{})
	}
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	for err == nil { // no frame is released: the ring runs dry, and the time out
		_, err = r.Next()
	}
	if !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("out of time: %v", err)
	}
	r.Close()
	if left := children(t); len(left) > 0 {
		t.Errorf("out of time: left behind %q", left)
	}
}

// TestChildDies: an ffmpeg that ends early is an error that says how far it came.
func TestChildDies(t *testing.T) {
	f := probeClip(t, makeClip(t, "long.mp4", "-f", "lavfi", "-i", "color=gray:s=640x360:r=60:d=10,format=yuv420p", "-c:v", "libx264", "-preset", "ultrafast"))
	r, err := Decode(context.Background(), f, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	fr, err := r.Next()
	if err != nil {
		t.Fatal(err)
	}
	fr.Release()
	for _, line := range children(t) {
		pid, _, _ := strings.Cut(line, " ")
		if n, err := strconv.Atoi(pid); err == nil && strings.Contains(line, "ffmpeg") {
			p, _ := os.FindProcess(n)
			p.Kill()
		}
	}
	for err == nil {
		if fr, err = r.Next(); err == nil {
			fr.Release()
		}
	}
	if !errors.Is(err, ErrDecode) || !strings.Contains(err.Error(), "ended from outside after") {
		t.Errorf("got %v", err)
	}
}

// TestChildEndsWithoutAWord: an ffmpeg that breaks off and says nothing is told by
// how it ended.
func TestChildEndsWithoutAWord(t *testing.T) {
	f := probeClip(t, makeClip(t, "quiet.mp4", "-f", "lavfi", "-i", "color=gray:s=64x48:r=60:d=1,format=yuv420p", "-c:v", "libx264", "-preset", "ultrafast"))
	const size = 64 * 48
	for name, c := range map[string]struct {
		bytes, exit int
		want        string
	}{
		"exit":        {7 * size, 5, "after 7 of 60 frames (ffmpeg gave no reason: exit status 5)"},
		"cut picture": {7*size + 100, 0, "after 7 of 60 frames (ffmpeg gave no reason: its last picture is not whole)"},
	} {
		p, err := newPass(context.Background(), f, 0, f.Frames(), 48)
		if err != nil {
			t.Fatal(err)
		}
		p.raw("gray")
		dir := t.TempDir()
		script := fmt.Sprintf("#!/bin/sh\n'%s' \"$@\" > '%s/out' 2> '%s/err'\nhead -c %d '%s/out'\ngrep showinfo '%s/err' >&2\nexit %d\n", p.tools.FFmpeg, dir, dir, c.bytes, dir, dir, c.exit)
		p.tools.FFmpeg = filepath.Join(dir, "ffmpeg")
		if err := os.WriteFile(p.tools.FFmpeg, []byte(script), 0o755); err != nil {
			t.Fatal(err)
		}
		_, err = p.run(context.Background(), func(r io.Reader) (payload, error) {
			data := make([]byte, size)
			_, err := io.ReadFull(r, data)
			return payload{data: data}, err
		}, func(int, []byte) error { return nil })
		if !errors.Is(err, ErrDecode) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %s", name, err, c.want)
		}
	}
}

// TestMemoryIsBounded decodes a 4K clip and watches both processes: neither may
// grow with the length of the clip.
func TestMemoryIsBounded(t *testing.T) {
	if testing.Short() {
		t.Skip("long")
	}
	if _, err := os.Stat("/proc/self/status"); err != nil {
		t.Skip("no /proc here")
	}
	path := makeClip(t, "4k.mp4", "-f", "lavfi", "-i", "color=gray:s=3840x2160:r=60:d=1.4,format=yuv420p",
		"-c:v", "libx264", "-preset", "ultrafast", "-refs", "4", "-bf", "2")
	f := probeClip(t, path)
	r, err := Decode(context.Background(), f, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	var own, child int
	var early int // of both, after forty frames
	n := 0
	for {
		fr, err := r.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if n%10 == 0 {
			own = max(own, residentMB(t, os.Getpid()))
			for _, line := range children(t) {
				pid, _, _ := strings.Cut(line, " ")
				if id, err := strconv.Atoi(pid); err == nil {
					child = max(child, residentMB(t, id))
				}
			}
		}
		if n == 40 {
			early = own + child
		}
		n++
		fr.Release()
	}
	t.Logf("%d frames of 4K: this process %d MB, ffmpeg %d MB, after forty frames %d MB together", n, own, child, early)
	if n != f.Frames() {
		t.Errorf("%d of %d frames", n, f.Frames())
	}
	if own+child > 500 {
		t.Errorf("%d MB", own+child)
	}
	if own+child > early+60 {
		t.Errorf("grew from %d to %d MB", early, own+child)
	}
}

func residentMB(t *testing.T, pid int) int {
	t.Helper()
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0
	}
	for line := range strings.Lines(string(b)) {
		if rest, ok := strings.CutPrefix(line, "VmRSS:"); ok {
			kB, _ := strconv.Atoi(strings.Fields(rest)[0])
			return kB / 1024
		}
	}
	return 0
}
