package video

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"time"
)

// command prepares a child in a process group of its own that is killed with
// the context, takes no input from the terminal and speaks plain text.
func command(ctx context.Context, exe string, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, exe, args...)
	isolate(cmd)
	cmd.Cancel = func() error { return killGroup(cmd) }
	cmd.WaitDelay = 3 * time.Second
	cmd.Env = environment(os.Environ())
	return cmd
}

// aside marks a context as that of work that gives way.
type aside struct{}

// Aside returns a context under which film is read with what the machine has left over:
// for what nobody waits for yet, beside what somebody does.
func Aside(ctx context.Context) context.Context { return context.WithValue(ctx, aside{}, true) }

// start starts a child of command.
func start(ctx context.Context, cmd *exec.Cmd) error {
	if ctx.Value(aside{}) == nil {
		return cmd.Start()
	}
	askToGiveWay(cmd)
	err := cmd.Start()
	if err == nil {
		giveWay(cmd)
	}
	return err
}

// environment removes what would make ffmpeg write report files or colours, and
// keeps glibc's allocator from hoarding: one arena and fixed thresholds take a
// sixth off the memory of a 4K decode and cost no time. Other systems pass over
// these variables.
func environment(env []string) []string {
	out := make([]string, 0, len(env)+5)
	for _, e := range env {
		if !strings.HasPrefix(e, "FFREPORT=") && !strings.HasPrefix(e, "AV_LOG_FORCE_") {
			out = append(out, e)
		}
	}
	return append(out, "AV_LOG_FORCE_NOCOLOR=1", "LC_ALL=C",
		"MALLOC_ARENA_MAX=1", "MALLOC_MMAP_THRESHOLD_=67108864", "MALLOC_TRIM_THRESHOLD_=33554432")
}

// tail is a writer that keeps the last bytes written to it.
type tail struct {
	buf []byte
	max int
}

func (t *tail) Write(p []byte) (int, error) {
	t.buf = append(t.buf, p...)
	if len(t.buf) > 2*t.max {
		t.buf = append(t.buf[:0], t.buf[len(t.buf)-t.max:]...)
	}
	return len(p), nil
}

func (t *tail) String() string {
	if len(t.buf) > t.max {
		return string(t.buf[len(t.buf)-t.max:])
	}
	return string(t.buf)
}

// maxOutput bounds what is kept of a child's answer.
const maxOutput = 16 << 20

// childError is a child that did not end well.
type childError struct {
	stderr string
	err    error
}

func (e *childError) Error() string { return fmt.Sprintf("%v: %s", e.err, lastLine(e.stderr)) }
func (e *childError) Unwrap() error { return e.err }

// output runs a child and returns its standard output.
func output(ctx context.Context, exe string, args ...string) (string, error) {
	var buf bytes.Buffer
	err := stream(ctx, func(r io.Reader) error {
		n, err := io.Copy(&buf, io.LimitReader(r, maxOutput+1))
		if n > maxOutput {
			return fmt.Errorf("the answer is longer than %d MB", maxOutput>>20)
		}
		return err
	}, exe, args...)
	return buf.String(), err
}

// stream runs a child and gives its standard output to use. An error of use
// ends the child.
func stream(ctx context.Context, use func(io.Reader) error, exe string, args ...string) error {
	run, cancel := context.WithCancel(ctx)
	defer cancel()
	cmd := command(run, exe, args...)
	stderr := &tail{max: 16 << 10}
	cmd.Stderr = stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		return err
	}
	if err := start(ctx, cmd); err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		return notStarting(exe, err)
	}
	useErr := use(out)
	if useErr != nil {
		cancel()
	}
	waitErr := cmd.Wait()
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case useErr != nil:
		return useErr
	case waitErr != nil:
		return &childError{stderr: stderr.String(), err: waitErr}
	}
	return nil
}
