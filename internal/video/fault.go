package video

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// The sentinels behind an *Error.
var (
	ErrNoFFmpeg = errors.New("ffmpeg is not installed")
	// ErrFaulty is an ffmpeg or ffprobe that is there and does not start; it is ErrNoFFmpeg too.
	ErrFaulty    = fmt.Errorf("%w as a program that starts", ErrNoFFmpeg)
	ErrMissing   = errors.New("file missing")
	ErrEmpty     = errors.New("file empty")
	ErrNotVideo  = errors.New("not a video")
	ErrAudioOnly = errors.New("sound without picture")
	ErrStill     = errors.New("a still picture")
	ErrTruncated = errors.New("file cut short")
	ErrCodec     = errors.New("picture format not readable")
	ErrTooLarge  = errors.New("picture too large")
	ErrDecode    = errors.New("decoding failed")
	ErrEncode    = errors.New("writing failed")
	ErrRange     = errors.New("no frames in that range")
)

// Error is a failure that a person can do something about.
type Error struct {
	File  string // the file concerned; empty where none is
	What  string // what is wrong, one sentence without a full stop
	Mend  string // what to do, one sentence without a full stop
	Kind  error  // one of the sentinels
	Cause error  // the underlying error; may be nil
}

// Error returns the whole as one line.
func (e *Error) Error() string {
	var b strings.Builder
	if e.File != "" {
		b.WriteString(printable(e.File) + ": ")
	}
	b.WriteString(e.What)
	if e.Mend != "" {
		b.WriteString(": " + e.Mend)
	}
	return b.String()
}

// printable returns a file name as it is, or quoted where it would upset a
// terminal.
func printable(name string) string {
	for _, r := range name {
		if !strconv.IsPrint(r) {
			return strconv.Quote(name)
		}
	}
	return name
}

// Unwrap returns the sentinel and the cause.
func (e *Error) Unwrap() []error {
	if e.Cause == nil {
		return []error{e.Kind}
	}
	return []error{e.Kind, e.Cause}
}

// complaint is a piece of text by which ffmpeg or ffprobe says what is wrong,
// and what that means for the person.
type complaint struct {
	text string
	kind error
	what string
	mend string
}

var complaints = []complaint{
	{"moov atom not found", ErrTruncated, "the end of the file is missing, so its frames cannot be found",
		"the recording or the copy was cut off; copy the file again from the phone, and wait until the copy is finished"},
	{"EBML header parsing failed", ErrTruncated, "the start of the file is damaged", "copy the file again from the phone or camera"},
	{"Format not on whitelist", ErrNotVideo, "the file is not a film",
		"give a film as the phone or camera wrote it (MP4, MOV, MKV, AVI …), not a playlist, a list of files or a script"},
	{"not on whitelist", ErrNotVideo, "the file refers to other files or addresses, which are not opened",
		"give the film itself"},
	{"Decoder not found", ErrCodec, "this ffmpeg cannot decode the picture format of the file", "install a full build of ffmpeg, or convert the film to H.264"},
	{"Unknown decoder", ErrCodec, "this ffmpeg cannot decode the picture format of the file", "install a full build of ffmpeg, or convert the film to H.264"},
	{"no decoder found for", ErrCodec, "this ffmpeg cannot decode the picture format of the file", "install a full build of ffmpeg, or convert the film to H.264"},
	{"Permission denied", ErrMissing, "the file may not be read", "check who owns the file and its access rights"},
	{"No such file or directory", ErrMissing, "there is no such file", "check the name and the folder"},
	{"Cannot allocate memory", ErrTooLarge, "there is not enough memory to decode the file", "close other programs, or film at a lower resolution"},
	{"partial file", ErrTruncated, "the file ends too early", "copy it again from the phone, and wait until the copy is finished"},
	{"Invalid data found when processing input", ErrNotVideo, "the file is not a film that can be read, or it is damaged",
		"play it on the phone or computer first; if it plays there, copy it again"},
}

// notStarting is the *Error of a program that is there but does not start: which
// file was tried, what it said, and how to mend it.
func notStarting(exe string, err error) *Error {
	var known *Error
	if errors.As(err, &known) {
		return known
	}
	name := strings.TrimSuffix(filepath.Base(exe), filepath.Ext(exe))
	return &Error{What: "the program " + name + " is there but does not start (" + printable(exe) + complained(err) + ")", Mend: reinstallHint(runtime.GOOS), Kind: ErrFaulty, Cause: err}
}

// complained is what a program said that did not start, or why it did not, after its name.
func complained(err error) string {
	var child *childError
	if errors.As(err, &child) {
		if line := lastLine(child.stderr); line != "" {
			return " says: " + line
		}
	}
	return ": " + reason(err)
}

// briefly is a fault of a program without its name and how to mend it.
func briefly(err error) string {
	var e *Error
	if errors.As(err, &e) && errors.Is(err, ErrFaulty) && e.Cause != nil {
		return "does not start" + strings.Replace(complained(e.Cause), " says:", ":", 1)
	}
	if errors.As(err, &e) {
		return e.What
	}
	return err.Error()
}

// reason is in plain words why a program did not start that said nothing itself.
func reason(err error) string {
	var child *childError
	switch {
	case errors.As(err, &child):
		return "it ended with " + child.err.Error() + " and said nothing"
	case errors.Is(err, fs.ErrPermission):
		return "this user may not run the file, which `chmod a+x` allows"
	case errors.Is(err, syscall.ENOEXEC):
		return "the file is not a program for this computer, or it is damaged"
	case errors.Is(err, fs.ErrNotExist):
		return "a part that it needs to start is missing"
	}
	return lastLine(err.Error())
}

// reinstallHint says how to mend an ffmpeg that does not start, by operating system.
func reinstallHint(goos string) string {
	const other = ", or put one that starts on the search path (PATH) and start gaitwright again"
	switch goos {
	case "darwin":
		return "install ffmpeg again with `brew reinstall ffmpeg`" + other
	case "windows":
		return "install ffmpeg again with `winget uninstall ffmpeg` and `winget install ffmpeg`" + other
	}
	return "install ffmpeg again with `sudo apt reinstall ffmpeg` (Debian, Ubuntu) or `sudo dnf reinstall ffmpeg` (Fedora)" + other
}

// startTimeout is how long a program may take to say its release.
const startTimeout = 20 * time.Second

// Starts asks a program for its release, and returns an *Error where it does not start.
// After a child that ended badly it tells a fault of the program from one of the film:
// both may say "no such file". Where it cannot be told, in time or because somebody ended
// the program, the answer is nil.
func Starts(ctx context.Context, exe string) error {
	ctx, cancel := context.WithTimeout(ctx, startTimeout)
	defer cancel()
	if _, err := output(ctx, exe, "-version"); err != nil && ctx.Err() == nil && !wasKilled(err) {
		tried.Delete(exe)
		versions.Delete(exe)
		return notStarting(exe, err)
	}
	return nil
}

// wasKilled tells whether somebody ended a child, as against one that crashed by itself.
func wasKilled(err error) bool {
	var e *exec.ExitError
	if !errors.As(err, &e) {
		return false
	}
	s, ok := e.Sys().(interface{ Signal() syscall.Signal })
	return ok && !e.Exited() && slices.Contains([]syscall.Signal{syscall.SIGKILL, syscall.SIGTERM, syscall.SIGINT, syscall.SIGHUP}, s.Signal())
}

// explain turns what the child wrote on its standard error into an *Error.
func explain(path, stderr string, fallback error, cause error) *Error {
	for _, c := range complaints {
		if strings.Contains(stderr, c.text) {
			return &Error{File: path, What: c.what, Mend: c.mend, Kind: c.kind, Cause: cause}
		}
	}
	what := "the file could not be read"
	if line := lastLine(stderr); line != "" {
		what += " (ffmpeg says: " + line + ")"
	}
	return &Error{File: path, What: what, Mend: "play it on the phone or computer first; if it plays there, copy it again", Kind: fallback, Cause: cause}
}

// lastLine returns the last line of text that says something, cut to a length
// fit for a message.
func lastLine(text string) string {
	lines := strings.Split(strings.TrimSpace(text), "\n")
	s := strings.TrimSpace(lines[len(lines)-1])
	if r := []rune(s); len(r) > 200 {
		s = string(r[:200]) + "…"
	}
	return s
}
