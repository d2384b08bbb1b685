package app_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"gaitwright/gait/track"
	"gaitwright/internal/app"
	"gaitwright/internal/store"
)

// servingDir, where it names a studio's folder in the environment, makes the test's
// binary a program that does the studio's work and tells how much memory it has.
const servingDir = "GAITWRIGHT_TEST_SERVING"

// correcting is the byte for which it corrects the newest result, as a person does at
// the bench.
const correcting = '!'

// serving does a studio's work until its standard input ends. For each other byte that
// it is sent it gives memory back, as the pages' server does in a calm, and says how
// much is left.
func serving(dir string) int {
	st, err := app.OpenStudio(dir)
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer st.Close()
	st.StartWork(context.Background())
	for buf := make([]byte, 1); ; {
		if _, err := os.Stdin.Read(buf); err != nil {
			return 0
		}
		if buf[0] == correcting {
			if err := correctNewest(st); err != nil {
				fmt.Fprintln(os.Stderr, err)
				return 1
			}
			continue
		}
		st.Rest()
		app.GiveBack()
		m := memoryOf(os.Getpid())
		fmt.Println(m.all, m.own, m.file)
	}
}

// correctNewest asks for what the bench shows of the newest result and exchanges the legs
// for a while in its first film.
func correctNewest(st *app.Studio) error {
	list, err := st.Results()
	if err != nil {
		return err
	}
	id := list[0].ID
	if _, err := st.Result(id); err != nil {
		return err
	}
	if _, err := st.Track(id, 0); err != nil {
		return err
	}
	if _, err := st.Check(bg, id, 0); err != nil {
		return err
	}
	was, err := st.Edits(bg, id, 0)
	if err != nil {
		return err
	}
	edits := app.PageEdits{Swaps: []app.Swap{{From: 100, To: 160 + int(was.Version), Part: track.Legs}}}
	out, err := st.Correct(bg, id, 0, app.PageCorrection{Version: was.Version, What: "Exchanged", Edits: edits})
	if err != nil {
		return err
	}
	_, err = json.Marshal(out)
	return err
}

// server is a process of its own that does a studio's work.
type server struct {
	t   testing.TB
	cmd *exec.Cmd
	in  io.WriteCloser
	out io.Reader
}

func serve(t testing.TB, dir string) *server {
	t.Helper()
	s := &server{t: t, cmd: exec.Command(must[string](t)(os.Executable()))}
	s.cmd.Env = append(os.Environ(), servingDir+"="+dir)
	s.cmd.Stderr = os.Stderr
	s.in = must[io.WriteCloser](t)(s.cmd.StdinPipe())
	s.out = must[io.ReadCloser](t)(s.cmd.StdoutPipe())
	if err := s.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.in.Close(); s.cmd.Wait() })
	return s
}

// memory is of a process, in MB: all, its own, and pages of files such as the program
// itself, which the system can take back.
type memory struct{ all, own, file float64 }

func memoryOf(pid int) (m memory) {
	b, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return m
	}
	for line := range strings.Lines(string(b)) {
		for name, to := range map[string]*float64{"VmRSS:": &m.all, "RssAnon:": &m.own, "RssFile:": &m.file} {
			if rest, ok := strings.CutPrefix(line, name); ok {
				kB, _ := strconv.ParseFloat(strings.Fields(rest)[0], 64)
				*to = kB / 1024
			}
		}
	}
	return m
}

// idle is the memory of the process once it has come to rest: a job that has ended
// still makes pictures ready.
func (s *server) idle() (m memory) {
	s.t.Helper()
	for begun := time.Now(); time.Since(begun) < 10*time.Minute; time.Sleep(300 * time.Millisecond) {
		before := m
		if _, err := s.in.Write([]byte("?")); err != nil {
			s.t.Fatal(err)
		}
		if _, err := fmt.Fscanln(s.out, &m.all, &m.own, &m.file); err != nil {
			s.t.Fatal(err)
		}
		if math.Abs(m.all-before.all) < 0.5 && len(descendants(s.t, s.cmd.Process.Pid, "")) == 0 {
			break
		}
	}
	return m
}

// mostIdleMB is what the program may hold when nothing is asked of it.
const mostIdleMB = 60

// TestMemoryAfterAFilm measures a film from its pictures and again from its landmarks
// in a program of its own: what that took goes back to the machine, and the network's
// library never comes into it. Killed at one blow, that program leaves no process
// behind, and the next one does the work.
func TestMemoryAfterAFilm(t *testing.T) {
	if testing.Short() {
		t.Skip("finds landmarks in a film; left out with -short")
	}
	if runtime.GOOS != "linux" {
		t.Skip("reads /proc")
	}
	st := openStudio(t)
	v := filmedVisit(t, st)
	j := must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{}))

	first := serve(t, st.Dir())
	atWork(t, first.cmd.Process.Pid, "ffmpeg")
	pids := descendants(t, first.cmd.Process.Pid, "")
	for _, pid := range pids {
		// Whoever gives way already, as under nice, cannot be seen to give way more.
		if least, own := leastNice(t, pid), leastNice(t, os.Getpid()); least <= own && own < 10 {
			t.Errorf("a process of an errand has a thread at niceness %d, that of the pages %d: it does not give way", least, own)
		}
	}
	kill(t, first.cmd.Process.Pid, syscall.SIGKILL)
	allGone(t, "the program killed", pids)
	left := must[[]os.DirEntry](t)(os.ReadDir(filepath.Join(st.Dir(), "errands")))
	if len(left) != 1 {
		t.Errorf("the program killed: its errand had %d folders", len(left))
	}

	s := serve(t, st.Dir())
	measured := func() {
		t.Helper()
		if got := stored(t, st, j.ID); got.State != store.JobDone {
			t.Fatalf("job %s: %s", got.State, got.Message)
		}
		maps := must[[]byte](t)(os.ReadFile(fmt.Sprintf("/proc/%d/maps", s.cmd.Process.Pid)))
		if bytes.Contains(maps, []byte("onnxruntime")) {
			t.Error("the network's library is in the program with the pages")
		}
	}
	measured()
	film := s.idle()
	if left, err := os.ReadDir(filepath.Join(st.Dir(), "errands")); len(left) > 0 {
		t.Errorf("left behind %v, %v", left, err)
	}
	c := must[app.PageVisit](t)(st.Visit(bg, v.ID)).Clips[0]
	c.Facts.SpeedMPS = ptr(3.4)
	must[app.PageVisitClip](t)(st.ChangeClip(bg, "", c.ID, app.PageClipChange{Version: c.Version, Facts: c.Facts}))
	j = must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{}))
	measured()
	again := s.idle()
	for _, m := range []struct {
		when string
		memory
	}{{"after a film", film}, {"after it was measured again", again}} {
		t.Logf("%-28s %.1f MB: its own %.1f, pages of files %.1f", m.when, m.all, m.own, m.file)
		if m.all == 0 || m.all > mostIdleMB {
			t.Errorf("%s the program holds %.1f MB, more than %d", m.when, m.all, mostIdleMB)
		}
	}
}

// TestMemoryAfterACorrection corrects half a minute of film at 240 pictures a second in a
// program of its own, twice, with a rest between: whenever it has come to rest it holds no
// more than an idle one may, and of its own file little.
func TestMemoryAfterACorrection(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("reads /proc")
	}
	st := openStudio(t)
	app.LongInventedResult(t, st)
	s := serve(t, st.Dir())
	for range 2 {
		if _, err := s.in.Write([]byte{correcting}); err != nil {
			t.Fatal(err)
		}
		m := s.idle()
		t.Logf("%.1f MB: its own %.1f, pages of files %.1f", m.all, m.own, m.file)
		if m.all == 0 || m.all > mostIdleMB {
			t.Errorf("the program holds %.1f MB, more than %d", m.all, mostIdleMB)
		}
		if m.file > mostOfFileMB {
			t.Errorf("of its file it holds %.1f MB, more than %d", m.file, mostOfFileMB)
		}
	}
}

// mostOfFileMB is what it may hold of its own file then: what it takes to be idle.
const mostOfFileMB = 20

// leastNice is the lowest niceness of a process's threads.
func leastNice(t testing.TB, pid int) int {
	t.Helper()
	least := 20
	for _, path := range must[[]string](t)(filepath.Glob(fmt.Sprintf("/proc/%d/task/*/stat", pid))) {
		b, err := os.ReadFile(path)
		if err != nil {
			continue // it has ended
		}
		fields := strings.Fields(string(b[bytes.LastIndexByte(b, ')')+1:]))
		least = min(least, must[int](t)(strconv.Atoi(fields[16])))
	}
	return least
}

// stored waits until a job has ended that another program does.
func stored(t testing.TB, st *app.Studio, id string) (j store.Job) {
	t.Helper()
	records, _, err := st.Records()
	if err != nil {
		t.Fatal(err)
	}
	for begun := time.Now(); time.Since(begun) < 10*time.Minute; time.Sleep(50 * time.Millisecond) {
		if err := records.Read(bg, func(r store.Reader) (err error) { j, err = r.Job(id); return err }); err != nil {
			t.Fatal(err)
		}
		if j.State != store.JobQueued && j.State != store.JobRunning {
			return j
		}
	}
	t.Fatal("the job does not end")
	return j
}

// A person who calls what the program calls itself is told so; another version is
// told to be restarted; an order that breaks off ends the errand.
func TestErrandsAreNotForPeople(t *testing.T) {
	program := must[string](t)(os.Executable())
	for _, c := range []struct {
		name  string
		in    io.Reader // nil for the null device
		exit  int
		words string // on either output
	}{
		{"nothing", nil, 2, "by hand"},
		{"text", strings.NewReader("hello\n"), 2, "by hand"},
		{"no line", strings.NewReader("gaitwright errand"), 2, "by hand"},
		{"another version", strings.NewReader("gaitwright errand 1 of another day\n"), 2, "Stop it and start it again"},
		{"no order", strings.NewReader(app.ErrandGreeting()), 130, ""},
		{"a broken order", strings.NewReader(app.ErrandGreeting() + "\x03\x04\x00\x01\x02\x03"), 3, "failed"},
	} {
		cmd := exec.Command(program, app.ErrandWord)
		cmd.Stdin = c.in
		out, err := cmd.CombinedOutput()
		var exit *exec.ExitError
		if !errors.As(err, &exit) || exit.ExitCode() != c.exit || !strings.Contains(string(out), c.words) {
			t.Errorf("%s: %v, %s", c.name, err, out)
		}
	}
}
