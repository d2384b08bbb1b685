package video

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
)

// nicenessOf lists that of every thread of a process.
func nicenessOf(t *testing.T, pid int) (out []int) {
	t.Helper()
	stats, _ := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/stat", pid))
	for _, name := range stats {
		b, err := os.ReadFile(name)
		if err != nil {
			continue // a thread that has ended
		}
		fields := strings.Fields(string(b[strings.LastIndexByte(string(b), ')')+1:]))
		n, err := strconv.Atoi(fields[16])
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, n)
	}
	return out
}

// Work that nobody waits for leaves the machine to that which somebody does, with all
// its threads.
func TestAsideGivesWay(t *testing.T) {
	f := probeClip(t, makeClip(t, "aside.mp4", "-f", "lavfi", "-i", "color=gray:s=640x360:r=60:d=10,format=yuv420p", "-c:v", "libx264", "-preset", "ultrafast"))
	own, err := syscall.Getpriority(syscall.PRIO_PROCESS, 0)
	if err != nil {
		t.Fatal(err)
	}
	own = 20 - own // as Linux tells it
	if own >= niceness {
		t.Skipf("the tests give way themselves (niceness %d), and cannot be seen to give way more", own)
	}
	for name, want := range map[string]int{"asked for": own, "aside": niceness} {
		t.Run(name, func(t *testing.T) {
			ctx, cancel := context.WithCancel(t.Context())
			defer cancel()
			if name == "aside" {
				ctx = Aside(ctx)
			}
			r, err := Decode(ctx, f, Options{})
			if err != nil {
				t.Fatal(err)
			}
			defer r.Close()
			fr, err := r.Next() // by now it runs with all its threads
			if err != nil {
				t.Fatal(err)
			}
			fr.Release()
			pid, err := strconv.Atoi(strings.Fields(children(t)[0])[0])
			if err != nil {
				t.Fatal(err)
			}
			found := nicenessOf(t, pid)
			if len(found) < 2 {
				t.Fatalf("%d threads", len(found))
			}
			for _, n := range found {
				if n != want {
					t.Errorf("threads at %v, not at %d", found, want)
				}
			}
		})
	}
}
