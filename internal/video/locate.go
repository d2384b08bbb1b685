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
	"strconv"
	"strings"
	"sync"
)

// Tools are the two programs this package runs.
type Tools struct {
	FFmpeg  string // path of ffmpeg
	FFprobe string // path of ffprobe
}

// Locate finds ffmpeg and ffprobe: on the search path, then beside this
// program, then where package managers put them. Where one is missing the error
// is an *Error of kind ErrNoFFmpeg that says how to install it.
func Locate() (Tools, error) {
	var t Tools
	var missing, barred []string
	for _, p := range []struct {
		name string
		path *string
	}{{"ffmpeg", &t.FFmpeg}, {"ffprobe", &t.FFprobe}} {
		path, ok := find(p.name)
		if !ok {
			missing = append(missing, p.name)
			if file, ok := findBarred(p.name); ok {
				barred = append(barred, file)
			}
		}
		*p.path = path
	}
	if len(barred) > 0 {
		return Tools{}, notStarting(barred[0], fs.ErrPermission)
	}
	if len(missing) > 0 {
		return Tools{}, &Error{What: strings.Join(missing, " and ") + " cannot be found, and films cannot be read without",
			Mend: InstallHint(runtime.GOOS), Kind: ErrNoFFmpeg}
	}
	return t, nil
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

func find(name string) (string, bool) {
	p, err := exec.LookPath(name)
	if err == nil || errors.Is(err, exec.ErrDot) && p != "" {
		if abs, err := filepath.Abs(p); err == nil {
			return abs, true
		}
	}
	var dirs []string
	if self, err := os.Executable(); err == nil {
		dirs = append(dirs, filepath.Dir(self))
	}
	switch runtime.GOOS {
	case "darwin":
		dirs = append(dirs, "/opt/homebrew/bin", "/usr/local/bin", "/opt/local/bin")
	case "windows":
		dirs = append(dirs, `C:\ffmpeg\bin`, filepath.Join(os.Getenv("ProgramFiles"), "ffmpeg", "bin"),
			filepath.Join(os.Getenv("LOCALAPPDATA"), "Microsoft", "WinGet", "Links"))
		name += ".exe"
	}
	for _, d := range dirs {
		p := filepath.Join(d, name)
		if i, err := os.Stat(p); filepath.IsAbs(p) && err == nil && i.Mode().IsRegular() {
			return p, true
		}
	}
	return "", false
}

// findBarred finds a file of that name on the search path which this user may not run,
// and which is passed over for that reason.
func findBarred(name string) (string, bool) {
	for _, d := range filepath.SplitList(os.Getenv("PATH")) {
		p := filepath.Join(d, name)
		if i, err := os.Stat(p); filepath.IsAbs(p) && err == nil && i.Mode().IsRegular() {
			return p, true
		}
	}
	return "", false
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
// old is an error of kind ErrNoFFmpeg, with the release beside it.
func (t Tools) Version(ctx context.Context) (Version, error) {
	if v, ok := versions.Load(t.FFmpeg); ok {
		return v.(Version), nil
	}
	out, err := output(ctx, t.FFmpeg, "-version")
	switch {
	case ctx.Err() != nil:
		return Version{}, ctx.Err()
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
