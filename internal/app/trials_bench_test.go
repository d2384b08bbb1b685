//go:build unix

package app_test

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"runtime/metrics"
	"syscall"
	"testing"
	"time"

	"gaitwright/internal/app"
)

// BenchmarkTrials measures sets of 21 and of 84 trials (28 runners at three speeds),
// made by repeating the trials of the open treadmill set under other names. cores% is
// processor time against the time of all cores, MB/most the largest heap in use.
func BenchmarkTrials(b *testing.B) {
	for _, runners := range []int{7, 28} {
		b.Run(fmt.Sprintf("%d trials", 3*runners), func(b *testing.B) {
			dir := manyTrials(b, runners)
			st, err := app.OpenStudio(b.TempDir())
			if err != nil {
				b.Fatal(err)
			}
			defer st.Close()
			spent, begun, most := processorTime(b), time.Now(), uint64(0)
			for b.Loop() {
				_, err := st.MeasureTrials(b.Context(), app.TrialsRequest{Dir: dir, Out: b.TempDir()}, func(app.TrialsProgress) { most = max(most, heapInUse()) })
				if err != nil {
					b.Fatal(err)
				}
			}
			wall := time.Since(begun)
			b.ReportMetric(100*float64(processorTime(b)-spent)/float64(wall)/float64(runtime.GOMAXPROCS(0)), "cores%")
			b.ReportMetric(float64(most)/1e6, "MB/most")
			b.ReportMetric(float64(b.N*3*runners)/wall.Seconds(), "trials/s")
		})
	}
}

// manyTrials is a set of so many runners: links to the trials of the open set.
func manyTrials(tb testing.TB, runners int) string {
	tb.Helper()
	from, dir := openData(tb), tb.TempDir()
	for i := range runners {
		for _, kind := range []string{"runT25", "runT35", "runT45", "static"} {
			name := func(who string) string { return "RBDS" + who + kind + ".c3d" }
			src, err := filepath.Abs(filepath.Join(from, name(openRunners[i%len(openRunners)])))
			if err != nil {
				tb.Fatal(err)
			}
			if err := os.Symlink(src, filepath.Join(dir, name(fmt.Sprintf("%03d", i+1)))); err != nil {
				tb.Fatal(err)
			}
		}
	}
	return dir
}

func processorTime(tb testing.TB) time.Duration {
	tb.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		tb.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

func heapInUse() uint64 {
	s := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}}
	metrics.Read(s)
	return s[0].Value.Uint64()
}
