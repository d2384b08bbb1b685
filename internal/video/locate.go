package video

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// Tools are the two programs this package runs.
type Tools struct {
	FFmpeg     string   // path of ffmpeg
	FFprobe    string   // path of ffprobe
	PassedOver []Passed // what stood before them and is of no use
}

// Passed is a program that was found and passed over for one that stands later.
type Passed struct {
	Path string
	Why  string // what is wrong with it, such as "does not start: it ended with exit status 1 and said nothing"
}

// Locate finds ffmpeg and ffprobe: on the search path, then beside this
// program, then where package managers put them. Where several stand there, each
// is tried in that order and the first that starts and is not too old is taken;
// what stands alone is taken untried. Where one is missing the error is an *Error
// of kind ErrNoFFmpeg that says how to install it; where all fail it is the first
// one's.
func Locate(ctx context.Context) (Tools, error) {
	var t Tools
	var missing []string
	var fault error
	for _, p := range []struct {
		name string
		path *string
	}{{"ffmpeg", &t.FFmpeg}, {"ffprobe", &t.FFprobe}} {
		path, passed, err := choose(ctx, p.name)
		*p.path = path
		t.PassedOver = append(t.PassedOver, passed...)
		switch {
		case err != nil && fault == nil:
			fault = err
		case err == nil && path == "":
			missing = append(missing, p.name)
		}
	}
	switch {
	case fault != nil:
		return Tools{}, fault
	case len(missing) > 0:
		return Tools{}, lacking(strings.Join(missing, " and "))
	}
	return t, nil
}

// LocateFFmpeg finds ffmpeg alone, as Locate does, for what needs no ffprobe.
func LocateFFmpeg(ctx context.Context) (string, error) {
	path, _, err := choose(ctx, "ffmpeg")
	if err == nil && path == "" {
		err = lacking("ffmpeg")
	}
	return path, err
}

func lacking(names string) error {
	return &Error{What: names + " cannot be found, and films cannot be read without",
		Mend: InstallHint(runtime.GOOS), Kind: ErrNoFFmpeg}
}

// InstallHint says how to install ffmpeg on an operating system, named as in
// runtime.GOOS.
func InstallHint(goos string) string {
	switch goos {
	case "darwin":
		return "install it with `brew install ffmpeg` (Homebrew, brew.sh), then try again"
	case "windows":
		return "install it with `winget install ffmpeg`, open a new window and try again"
	}
	return "install it with `sudo apt install ffmpeg` (Debian, Ubuntu) or `sudo dnf install ffmpeg` (Fedora), then try again"
}

// tried holds the paths of programs that started.
var tried sync.Map

// choose returns the first program of that name that can be used, and those passed
// over for it. The path is empty where there is none, and the error that of the
// first where none can be used.
func choose(ctx context.Context, name string) (path string, passed []Passed, err error) {
	all := candidates(name)
	var first error
	for _, c := range all {
		fault := c.err
		if _, good := tried.Load(c.path); fault == nil && !good && len(all) > 1 {
			fault = usable(ctx, name, c.path)
			if ctx.Err() != nil {
				return "", nil, ctx.Err()
			}
			if fault == nil {
				tried.Store(c.path, true)
			}
		}
		if fault == nil {
			return c.path, passed, nil
		}
		if first == nil {
			first = fault
		}
		passed = append(passed, Passed{Path: c.path, Why: briefly(fault)})
	}
	return "", nil, first
}

// usable tells what is wrong with a program, if anything is.
func usable(ctx context.Context, name, path string) error {
	if err := Starts(ctx, path); err != nil || name != "ffmpeg" {
		return err
	}
	if _, err := (Tools{FFmpeg: path}).Version(ctx); errors.Is(err, ErrNoFFmpeg) {
		return err
	}
	return nil
}

// candidate is a file of a program's name; err says why it cannot be run.
type candidate struct {
	path string
	err  error
}

// candidates are the files of that name where programs stand, in the order they are
// tried in, each once however many names lead to it.
func candidates(name string) []candidate {
	var all []candidate
	var known []os.FileInfo
	add := func(path string, err error) {
		info, statErr := os.Stat(path)
		if statErr != nil || !info.Mode().IsRegular() ||
			slices.ContainsFunc(known, func(k os.FileInfo) bool { return os.SameFile(k, info) }) {
			return
		}
		if err != nil {
			err = notStarting(path, fs.ErrPermission)
		}
		known, all = append(known, info), append(all, candidate{path, err})
	}
	// What the system finds in the working folder, where it looks there at all.
	if p, err := exec.LookPath(name); errors.Is(err, exec.ErrDot) && p != "" {
		if abs, err := filepath.Abs(p); err == nil {
			add(abs, nil)
		}
	}
	dirs := filepath.SplitList(os.Getenv("PATH"))
	if self, err := os.Executable(); err == nil {
		dirs = append(dirs, filepath.Dir(self))
	}
	switch runtime.GOOS {
	case "darwin":
		dirs = append(dirs, "/opt/homebrew/bin", "/usr/local/bin", "/opt/local/bin")
	case "windows":
		dirs = append(dirs, `C:\ffmpeg\bin`, filepath.Join(os.Getenv("ProgramFiles"), "ffmpeg", "bin"),
			filepath.Join(os.Getenv("LOCALAPPDATA"), "Microsoft", "WinGet", "Links"))
	}
	for _, d := range dirs {
		if !filepath.IsAbs(d) {
			continue
		}
		p, err := exec.LookPath(filepath.Join(d, name))
		switch {
		case err == nil:
			add(p, nil)
		case errors.Is(err, fs.ErrPermission):
			add(filepath.Join(d, name), err)
		}
	}
	return all
}

// Version is the release of an installed ffmpeg.
type Version struct {
	Text  string // as the program prints it, such as "5.1.9-0+deb12u1"
	Major int    // 0 for a build from the development tree
	Minor int
	// filters is the version of libavfilter, which development builds have too:
	// 7.110 in release 4.4, 8.44 in 5.1; 0 where it is not printed.
	filters [2]int
}

// OldestVersion is the oldest release of ffmpeg that is supported.
const OldestVersion = "4.4"

// TooOld tells whether the release lies before OldestVersion.
func (v Version) TooOld() bool {
	if v.filters[0] > 0 {
		return before(v.filters, [2]int{7, 110})
	}
	return v.Major > 0 && before([2]int{v.Major, v.Minor}, [2]int{4, 4})
}

// hasFPSMode tells whether the release knows -fps_mode, which came with 5.1 and
// replaces -vsync.
func (v Version) hasFPSMode() bool {
	if v.filters[0] > 0 {
		return !before(v.filters, [2]int{8, 44})
	}
	return v.Major == 0 || !before([2]int{v.Major, v.Minor}, [2]int{5, 1})
}

func before(a, b [2]int) bool { return a[0] < b[0] || a[0] == b[0] && a[1] < b[1] }

// passthrough returns the options by which every decoded frame is kept once.
func (v Version) passthrough() []string {
	if v.hasFPSMode() {
		return []string{"-fps_mode", "passthrough"}
	}
	return []string{"-vsync", "passthrough"}
}

var versionLine = regexp.MustCompile(`^ff(?:mpeg|probe) version (\S+)`)
var filterVersion = regexp.MustCompile(`(?m)^libavfilter\s+(\d+)\.\s*(\d+)\.`)
var versionNumber = regexp.MustCompile(`^n?(\d+)\.(\d+)`)

func parseVersion(output string) (Version, error) {
	m := versionLine.FindStringSubmatch(output)
	if m == nil {
		return Version{}, fmt.Errorf("ffmpeg did not say its version but %q", lastLine(output))
	}
	v := Version{Text: m[1]}
	if n := versionNumber.FindStringSubmatch(m[1]); n != nil {
		v.Major, _ = strconv.Atoi(n[1])
		v.Minor, _ = strconv.Atoi(n[2])
	}
	if n := filterVersion.FindStringSubmatch(output); n != nil {
		v.filters[0], _ = strconv.Atoi(n[1])
		v.filters[1], _ = strconv.Atoi(n[2])
	}
	return v, nil
}

var versions sync.Map // path → Version

// Starts asks both programs for their release and returns that of ffmpeg. Where one of
// them does not start, or ffmpeg is too old, the error is an *Error of kind ErrNoFFmpeg.
func (t Tools) Starts(ctx context.Context) (Version, error) {
	for _, exe := range []string{t.FFmpeg, t.FFprobe} {
		if err := Starts(ctx, exe); err != nil {
			return Version{}, err
		}
	}
	return t.Version(ctx)
}

// Version asks ffmpeg for its release, once for each path. An ffmpeg that is too
// old is an error of kind ErrNoFFmpeg, with the release beside it; of one that
// somebody ended meanwhile that kind is not said.
func (t Tools) Version(ctx context.Context) (Version, error) {
	if v, ok := versions.Load(t.FFmpeg); ok {
		return v.(Version), nil
	}
	out, err := output(ctx, t.FFmpeg, "-version")
	switch {
	case ctx.Err() != nil:
		return Version{}, ctx.Err()
	case wasKilled(err):
		return Version{}, &Error{What: "ffmpeg was ended from outside when it was asked for its release (" + reason(err) + ")", Mend: shortOfMemory, Kind: ErrDecode, Cause: err}
	case err != nil:
		return Version{}, notStarting(t.FFmpeg, err)
	}
	v, err := parseVersion(out)
	if err != nil {
		return Version{}, &Error{What: err.Error(), Mend: InstallHint(runtime.GOOS), Kind: ErrNoFFmpeg}
	}
	if v.TooOld() {
		return v, &Error{What: "the ffmpeg found (" + v.Text + ") is older than " + OldestVersion + " and lacks what is needed",
			Mend: "bring it up to date: " + InstallHint(runtime.GOOS), Kind: ErrNoFFmpeg}
	}
	versions.Store(t.FFmpeg, v)
	return v, nil
}
