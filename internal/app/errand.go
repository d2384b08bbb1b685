package app

import (
	"bufio"
	"bytes"
	"context"
	"encoding/gob"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync/atomic"
	"syscall"
	"time"

	"gaitwright/internal/store"
)

// What takes much memory is done on an errand: the program starts itself once more,
// tells that process over its standard input what to do, and hears over its standard
// output how far it is. The pose network and its library, a film's landmarks and what
// is worked out of them stand in that process's memory and go with it, and where the
// work breaks down the pages do not. What it makes are files in a folder of its own
// inside the studio's; the program that sent it takes them into the records.
//
// To the process go, on its standard input, a first line (errandGreeting) and then,
// as gob, one errandOrder and what belongs to it. Its end means that nobody waits for
// the work any more, be it cancelled or the program gone, and the process ends at
// once. Back come lines, each one JSON object: errandLine.

// ErrandWord is the argument with which the program starts itself for an errand.
const ErrandWord = "errand"

// errandFolder is where errands have their folders.
const errandFolder = "errands"

// errandGrace is how long an errand that is called off has to end by itself.
const errandGrace = 2 * time.Second

// longestErrandLine bounds one line of an errand, in bytes.
const longestErrandLine = 16 << 20

// errandsReady is set where this program's executable may be started for an errand.
var errandsReady atomic.Bool

// errandGreeting is the first line an errand hears. It names the version, for the
// program's file may have been replaced since it was started.
func errandGreeting() string { return "gaitwright " + ErrandWord + " 1 " + Version + "\n" }

// errandOrder is what is to be done; one of the pointers is set.
type errandOrder struct {
	Studio string // the studio's folder; empty for an order that needs none
	Dir    string // the errand's own, in it, for what is made

	Measure *measureOrder
	Follow  *followOrder
	Exam    *examOrder
	Live    *liveOrder
	Draw    *drawOrder
	Invent  *inventOrder
}

// errandLine is one thing said by an errand; one of the fields is set.
type errandLine struct {
	Stage  *errandStage    `json:"stage,omitempty"`  // a part of the work begins
	More   int             `json:"more,omitempty"`   // so many more of its units are done
	Found  *errandTrack    `json:"found,omitempty"`  // a film's landmarks are found
	Answer json.RawMessage `json:"answer,omitempty"` // what came of it
	Failed *errandFailure  `json:"failed,omitempty"`
}

type errandStage struct {
	What  string `json:"what"`
	File  string `json:"file"`
	Units int    `json:"units"`
}

// errandTrack tells that the landmarks of a clip stand in a file of the errand's
// folder.
type errandTrack struct {
	Clip string      `json:"clip"` // its ID
	Name string      `json:"name"` // of the file
	How  trackRecord `json:"how"`  // they were found; without the hash
}

// errandFailure is an error, as it goes from one process to the other.
type errandFailure struct {
	Problem bool   `json:"problem"` // else What is the whole text
	Kind    Kind   `json:"kind,omitempty"`
	File    string `json:"file,omitempty"`
	What    string `json:"what"`
	Mend    string `json:"mend,omitempty"`
	Field   string `json:"field,omitempty"`
}

func failureOf(err error) *errandFailure {
	var p *Problem
	if errors.As(err, &p) {
		return &errandFailure{Problem: true, Kind: p.Kind, File: p.File, What: p.What, Mend: p.Mend, Field: p.Field}
	}
	return &errandFailure{What: err.Error()}
}

func (f *errandFailure) err() error {
	if !f.Problem {
		return errors.New(f.What)
	}
	return &Problem{Kind: f.Kind, File: f.File, What: f.What, Mend: f.Mend, Field: f.Field}
}

// errand is a process at work, from the side of the program that sent it.
type errand struct {
	dir    string
	unlock func()
	ctx    context.Context // of whoever waits for the work
	cancel context.CancelFunc
	cmd    *exec.Cmd
	in     *gob.Encoder
	out    *bufio.Scanner
	stderr *lastWords
}

// sendOut starts an errand. Whoever gets it must close it.
func (st *Studio) sendOut(ctx context.Context, order errandOrder) (*errand, error) {
	order.Studio = st.dir
	return sendOut(ctx, order)
}

func sendOut(ctx context.Context, order errandOrder) (*errand, error) {
	e := &errand{ctx: ctx, stderr: &lastWords{}}
	fail := func(err error) (*errand, error) {
		e.close()
		return nil, err
	}
	program, err := ownProgram()
	if err != nil {
		return nil, fmt.Errorf("the program cannot start itself for this work: %w", err)
	}
	if order.Studio != "" {
		if err := e.settle(filepath.Join(order.Studio, errandFolder)); err != nil {
			return fail(err)
		}
		order.Dir = e.dir
	}
	run, cancel := context.WithCancel(ctx)
	e.cancel = cancel
	e.cmd = exec.CommandContext(run, program, ErrandWord)
	e.cmd.Args[0] = os.Args[0]
	e.cmd.Stderr, e.cmd.WaitDelay = e.stderr, errandGrace
	apart(e.cmd)
	in, err := e.cmd.StdinPipe()
	if err != nil {
		return fail(err)
	}
	e.cmd.Cancel = in.Close
	out, err := e.cmd.StdoutPipe()
	if err != nil {
		return fail(err)
	}
	if err := e.cmd.Start(); err != nil {
		return fail(fmt.Errorf("the program cannot start itself for this work: %w", err))
	}
	e.out = bufio.NewScanner(out)
	e.out.Buffer(nil, longestErrandLine)
	e.in = gob.NewEncoder(in)
	_, err = io.WriteString(in, errandGreeting())
	if err == nil {
		err = e.in.Encode(&order)
	}
	if err != nil { // it ended before it had heard all; why is what it says
		_, err := e.next()
		if err == nil {
			err = e.broken(nil)
		}
		return fail(err)
	}
	return e, nil
}

// settle makes the errand's folder.
func (e *errand) settle(home string) error {
	err := os.MkdirAll(home, 0o700)
	if err == nil {
		e.dir, err = os.MkdirTemp(home, "")
	}
	if err != nil {
		return unwritable(home, err)
	}
	var ok bool
	if e.unlock, ok = lockFile(e.dir); !ok {
		return fmt.Errorf("the folder %s cannot be claimed", e.dir)
	}
	return nil
}

// next returns the next thing that the errand says. An errand that ends without
// having said how is an error.
func (e *errand) next() (errandLine, error) {
	for e.out.Scan() {
		b := e.out.Bytes()
		if !bytes.HasPrefix(b, []byte("{")) {
			continue // a library's chatter
		}
		var l errandLine
		if err := json.Unmarshal(b, &l); err != nil {
			continue
		}
		switch {
		case l.Failed != nil && e.ctx.Err() != nil:
			return l, e.ctx.Err() // it tells of its own being called off
		case l.Failed != nil:
			return l, l.Failed.err()
		}
		return l, nil
	}
	return errandLine{}, e.broken(e.out.Err())
}

// reply reads the next answer of an errand that goes on after it.
func (e *errand) reply(v any) error {
	for {
		l, err := e.next()
		if err != nil {
			return err
		}
		if l.Answer != nil {
			return json.Unmarshal(l.Answer, v)
		}
	}
}

// over tells whether the process has ended.
func (e *errand) over() bool { return e.cmd.Process == nil }

// broken ends the errand and tells why it is of no use.
func (e *errand) broken(read error) error {
	switch {
	case e.ctx.Err() != nil:
		e.end()
		return e.ctx.Err()
	case e.over(): // as was told before
		return brokenErrand(errors.New("it has ended"))
	}
	err := e.cmd.Wait()
	e.cmd.Process = nil
	if e.ctx.Err() != nil {
		return e.ctx.Err()
	}
	if err == nil {
		err = errors.Join(errors.New("it ended without an answer"), read)
	}
	slog.Error("work in a process of its own broke down", "err", err, "said", e.stderr.String())
	return brokenErrand(err)
}

// brokenErrand puts a process's end into words.
func brokenErrand(err error) *Problem {
	p := &Problem{Kind: KindUnexpected, What: "The part of the program that did this work broke down (" + err.Error() + "). The films and all records are as they were.",
		Mend: "Start it again. Where that does not help, cut the film shorter.", Err: err}
	var exit *exec.ExitError
	if errors.As(err, &exit) && endedFromOutside(exit) {
		p.What = "The part of the program that did this work was ended from outside, as a machine does that has run out of memory. The films and all records are as they were."
		p.Mend = "Close other programs or cut the film shorter, and start it again."
	}
	return p
}

// finish reads what the errand says to its end and returns its answer. Found is
// called for landmarks; where it fails, the errand is ended.
func (e *errand) finish(progress Progress, found func(errandTrack) error) (json.RawMessage, error) {
	for {
		l, err := e.next()
		switch {
		case err != nil:
			return nil, err
		case l.Stage != nil:
			progress.Stage(l.Stage.What, l.Stage.File, l.Stage.Units)
		case l.More > 0:
			progress.Advance(l.More)
		case l.Found != nil:
			if err := found(*l.Found); err != nil {
				return nil, err
			}
		case l.Answer != nil:
			return l.Answer, e.ctx.Err()
		}
	}
}

// keep puts a file that the errand made among those of the studio and returns its
// hash and size.
func (e *errand) keep(ctx context.Context, files store.FileKeeper, name string) (hash string, size int64, err error) {
	f, err := os.Open(filepath.Join(e.dir, filepath.Base(name)))
	if err != nil {
		return "", 0, fmt.Errorf("what the work made is not there: %w", err)
	}
	defer f.Close()
	hash, size, err = files.Put(ctx, f, 0)
	return hash, size, recordProblem(err, "")
}

// end ends the process where it still runs, and buries it.
func (e *errand) end() {
	if e.cancel != nil {
		e.cancel()
	}
	if e.cmd != nil && e.cmd.Process != nil {
		e.cmd.Wait()
		e.cmd.Process = nil
	}
}

// close ends the errand and removes what it made.
func (e *errand) close() {
	e.end()
	if e.unlock != nil {
		e.unlock()
		e.unlock = nil
	}
	if e.dir != "" {
		os.RemoveAll(e.dir)
		e.dir = ""
	}
}

// sweepErrands removes what errands left behind that ended with the program that had
// sent them.
func (st *Studio) sweepErrands() {
	home := filepath.Join(st.dir, errandFolder)
	list, err := os.ReadDir(home)
	if err != nil {
		return
	}
	for _, f := range list {
		dir := filepath.Join(home, f.Name())
		if release, ok := lockFile(dir); ok { // nobody waits for it
			release()
			os.RemoveAll(dir)
		}
	}
	os.Remove(home) // where it is empty
}

// lastWords keeps the beginning of what a process says on standard error: a breakdown
// tells its reason first and may go on for long.
type lastWords struct{ kept []byte }

const wordsKept = 1 << 10

func (w *lastWords) Write(p []byte) (int, error) {
	w.kept = append(w.kept, p[:min(len(p), wordsKept-len(w.kept))]...)
	return len(p), nil
}

func (w *lastWords) String() string { return strings.TrimSpace(string(w.kept)) }

// ownProgram is the executable of this program. On Linux it is the very file that
// runs, even where another was put in its place.
func ownProgram() (string, error) {
	if !errandsReady.Load() {
		return "", errors.New("it was not made ready to")
	}
	if _, err := os.Stat(runningProgram); runningProgram != "" && err == nil {
		return runningProgram, nil
	}
	return os.Executable()
}

// endedFromOutside tells a process that was killed from one that broke down.
func endedFromOutside(exit *exec.ExitError) bool {
	s, ok := exit.Sys().(syscall.WaitStatus)
	return ok && killed(s)
}
