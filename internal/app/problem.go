package app

import (
	"errors"
	"fmt"
	"strings"
)

// Kind sorts problems so that a script can tell them apart by the exit code.
type Kind int

// The kinds of problem.
const (
	KindUnexpected   Kind = iota // something in the program or the machine failed
	KindUsage                    // the request itself does not make sense
	KindNoResult                 // the input was read but gives no result
	KindNotInstalled             // ffmpeg, the pose model or its runtime is missing
	KindAskBack                  // the analyst must say something first (capture rate, view)
	KindStopped                  // the person stopped it
	KindNotFound                 // what was asked for is not among the records
	KindStale                    // it was changed elsewhere since it was read; see Stale
	KindNotAllowed               // consent is lacking, or a warning sign stops the visit
	KindTooLarge                 // more than is taken in
	KindFull                     // the disk is full; nothing was changed
	KindBusy                     // another program holds the records; trying again helps
)

// ExitCode is the process's exit code for a problem of this kind.
func (k Kind) ExitCode() int {
	switch k {
	case KindUsage:
		return 2
	case KindNoResult:
		return 3
	case KindNotInstalled:
		return 4
	case KindAskBack:
		return 5
	case KindStopped:
		return 130
	}
	return 1
}

// Problem is an error a person can act on: what, where and how to mend it.
type Problem struct {
	Kind Kind
	File string // the file concerned; empty where none is
	What string // what is wrong, one sentence
	Mend string // what to do, one sentence; may be empty
	// Field names the entry of a form that is wrong, such as "height_m"; empty
	// where none is.
	Field string
	Err   error // the cause, for errors.Is; may be nil
}

// Error returns the whole problem as one line or two.
func (p *Problem) Error() string {
	s := p.What
	if p.File != "" {
		s = p.File + ": " + s
	}
	if p.Mend != "" {
		s += "\n  " + p.Mend
	}
	return s
}

// Unwrap returns the cause.
func (p *Problem) Unwrap() error { return p.Err }

// KindOf returns the kind of the first Problem in err's chain.
func KindOf(err error) Kind {
	var p *Problem
	if errors.As(err, &p) {
		return p.Kind
	}
	return KindUnexpected
}

func problem(kind Kind, file, mend, what string, args ...any) *Problem {
	return &Problem{Kind: kind, File: file, Mend: mend, What: fmt.Sprintf(what, args...)}
}

// refusal turns an error of a stage of the chain into a problem; what follows an
// imperative after a colon is how to mend it.
func refusal(kind Kind, file string, err error) *Problem {
	p := &Problem{Kind: kind, File: file, What: strings.TrimPrefix(err.Error(), file+": "), Err: err}
	for _, verb := range []string{"film", "check", "give", "run", "open", "copy"} {
		if what, mend, ok := strings.Cut(p.What, ": "+verb+" "); ok {
			p.What, p.Mend = what, sentence(verb+" "+mend)
			break
		}
	}
	return p
}
