package app

import (
	"bufio"
	"compress/gzip"
	"context"
	"encoding/gob"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"

	"gaitwright/gait/track"
)

// The side of the process that was sent on an errand: see errand.go.

// Exit codes of an errand; what went wrong is said on its standard output.
const (
	errandDone      = 0
	errandRefused   = 2 // a person called it, or another version
	errandFailed    = 3
	errandCalledOff = 130
)

// Errands makes the program one that starts itself for what takes much memory. It is
// the first thing that main calls: where the program was started for an errand, the
// work is done here and the process ends.
func Errands() {
	if len(os.Args) != 2 || os.Args[1] != ErrandWord {
		errandsReady.Store(true)
		return
	}
	out := os.Stdout
	os.Stdout = os.Stderr // what else is printed is no answer
	os.Exit(runErrand(os.Stdin, out, os.Stderr))
}

// runErrand hears what is to be done and does it.
func runErrand(in *os.File, out io.Writer, stderr io.Writer) int {
	refuse := func(why string) int {
		fmt.Fprintf(stderr, "gaitwright: %q is what the program calls itself with, for work in the background; %s.\n  `gaitwright --help` lists the commands for people.\n", ErrandWord, why)
		return errandRefused
	}
	if i, err := in.Stat(); err != nil || i.Mode()&os.ModeCharDevice != 0 {
		return refuse("it does nothing by hand")
	}
	r := bufio.NewReader(in)
	greeting, err := r.ReadString('\n')
	say := &errandTongue{enc: json.NewEncoder(out)}
	switch {
	case !strings.HasPrefix(greeting, "gaitwright "+ErrandWord+" "):
		return refuse("it does nothing by hand")
	case greeting != errandGreeting() || err != nil:
		say.line(errandLine{Failed: failureOf(&Problem{Kind: KindUnexpected, What: "The program was replaced by another version while it ran.", Mend: "Stop it and start it again."})})
		return errandRefused
	}
	standAside()
	orders := gob.NewDecoder(r)
	var order errandOrder
	if err := orders.Decode(&order); err != nil {
		if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
			return errandCalledOff
		}
		say.line(errandLine{Failed: failureOf(err)})
		return errandFailed
	}
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	calledOff := func() { // ends decoders too
		cancel()
		time.AfterFunc(errandGrace/2, func() { os.Exit(errandCalledOff) })
	}
	next := func(v any) bool {
		err := orders.Decode(v)
		if err != nil {
			calledOff()
		}
		return err == nil
	}
	if order.Live == nil { // nothing more comes but the end
		go func() {
			io.Copy(io.Discard, r)
			calledOff()
		}()
	}
	answer, err := order.carryOut(ctx, say, next)
	switch {
	case ctx.Err() != nil:
		return errandCalledOff
	case err != nil:
		say.line(errandLine{Failed: failureOf(err)})
		return errandFailed
	case answer != nil:
		say.answer(answer)
	}
	if say.err != nil {
		return errandFailed
	}
	return errandDone
}

// carryOut does what is ordered. A panic in it is told as a failure.
func (o *errandOrder) carryOut(ctx context.Context, say *errandTongue, next func(any) bool) (answer any, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("the program failed in this work (%v); the films and all records are as they were", r)
		}
	}()
	switch {
	case o.Measure != nil:
		return o.Measure.carryOut(ctx, o, say)
	case o.Follow != nil:
		return o.Follow.carryOut(ctx, o, say)
	case o.Exam != nil:
		return o.Exam.carryOut(ctx, o, say)
	case o.Draw != nil:
		return o.Draw.carryOut(ctx, o, say)
	case o.Invent != nil:
		return o.Invent.carryOut(ctx, say)
	case o.Live != nil:
		return nil, o.Live.carryOut(say, next)
	}
	return nil, errors.New("an errand without an order")
}

// errandTongue says lines to the program that waits. It is a Progress.
type errandTongue struct {
	mu  sync.Mutex
	enc *json.Encoder
	err error
}

func (s *errandTongue) line(l errandLine) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.enc.Encode(l); err != nil && s.err == nil {
		s.err = err
	}
}

func (s *errandTongue) answer(v any) { s.line(errandLine{Answer: rawJSON(v)}) }

// Stage begins a part of the work.
func (s *errandTongue) Stage(what, file string, units int) {
	s.line(errandLine{Stage: &errandStage{What: what, File: file, Units: units}})
}

// Advance says that n more units are done.
func (s *errandTongue) Advance(n int) {
	if n > 0 {
		s.line(errandLine{More: n})
	}
}

// Done says nothing: the answer does.
func (s *errandTongue) Done() {}

// errandMemory holds the landmarks of one clip on an errand: those that were found
// before, and a place for those that are found now.
type errandMemory struct {
	clip  string // its ID
	known knownTrack
	dir   string
	say   *errandTongue
}

// knownTrack is where landmarks stand that were found before; its file is empty
// where there are none.
type knownTrack struct {
	How  trackRecord
	Path string
}

func (m *errandMemory) recall(_ context.Context, w trackRecord) (*track.Track, []string, bool) {
	if m.known.Path == "" || !m.known.How.covers(w) {
		return nil, nil, false
	}
	f, err := os.Open(m.known.Path)
	if err != nil {
		return nil, nil, false
	}
	defer f.Close()
	return m.known.How.read(f, w)
}

func (m *errandMemory) remember(_ context.Context, w trackRecord, t *track.Track, notes []string) error {
	for n := 1; ; n++ {
		name := "landmarks-" + strconv.Itoa(n)
		err := writeGob(filepath.Join(m.dir, name), keptTrack{Format: trackFormat, Track: t, Notes: notes})
		if errors.Is(err, os.ErrExist) {
			continue
		}
		if err == nil {
			m.say.line(errandLine{Found: &errandTrack{Clip: m.clip, Name: name, How: w}})
		}
		return err
	}
}

// writeGob writes a value into a fresh file, as putGob keeps it.
func writeGob(path string, v any) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	buffered := bufio.NewWriterSize(f, 64<<10)
	z, _ := gzip.NewWriterLevel(buffered, gzip.BestSpeed)
	err = gob.NewEncoder(z).Encode(v)
	if err == nil {
		err = errors.Join(z.Close(), buffered.Flush())
	}
	if err = errors.Join(err, f.Close()); err != nil {
		os.Remove(path)
		p := unwritable(path, err)
		p.File, p.What = "", "What this work made "+p.What+"."
		return p
	}
	return nil
}
