package app

import (
	"context"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"runtime"
	"slices"
	"strings"

	"gaitwright/internal/pose"
	"gaitwright/internal/video"
)

// Version is the program's version, set by main.
var Version = "unversioned"

// programName names the program and its version.
func programName() string { return "gaitwright " + Version }

// Part is one thing the program needs and whether it is there.
type Part struct {
	Name   string
	Found  bool
	Detail string // where it is and which version, or where it was looked for
	Mend   string // how to get it
	Needed bool   // the main job on films cannot do without it
}

// CheckReport is what is installed.
type CheckReport struct{ Parts []Part }

// Complete tells whether films can be measured.
func (r CheckReport) Complete() bool {
	for _, p := range r.Parts {
		if p.Needed && !p.Found {
			return false
		}
	}
	return true
}

// setupHint says how the model and its runtime are installed.
const setupHint = "In the program's folder run `make setup`, or `npm ci --ignore-scripts --omit=optional --prefix setup` (on a Mac with an Intel processor without --omit=optional)."

// Check looks for everything the program uses but does not contain.
func Check(ctx context.Context) CheckReport {
	var r CheckReport
	r.Parts = append(r.Parts, Part{Name: "gaitwright", Found: true, Detail: fmt.Sprintf("%s for %s/%s", Version, runtime.GOOS, runtime.GOARCH)})
	ff := Part{Name: "ffmpeg", Needed: true}
	if tools, err := video.Locate(); err != nil {
		ff.Detail = "reads films; without it only marker files can be measured"
		ff.Mend = video.InstallHint(runtime.GOOS) + "."
	} else if v, err := tools.Version(ctx); err != nil {
		ff.Detail, ff.Mend = tools.FFmpeg+" does not start: "+err.Error(), video.InstallHint(runtime.GOOS)+"."
	} else {
		ff.Found, ff.Detail = true, fmt.Sprintf("%s at %s", v.Text, tools.FFmpeg)
		if v.TooOld() {
			ff.Found = false
			ff.Mend = fmt.Sprintf("Install %s or later: %s.", video.OldestVersion, video.InstallHint(runtime.GOOS))
		}
	}
	r.Parts = append(r.Parts, ff)
	in := pose.Locate("")
	add := func(p pose.Part, needed bool) {
		part := Part{Name: p.Name, Needed: needed, Found: p.Found(), Detail: p.Path}
		if !part.Found {
			part.Detail = p.File + " was looked for in " + strings.Join(rootsOf(p.Looked), ", ")
			part.Mend = setupHint
		}
		r.Parts = append(r.Parts, part)
	}
	add(in.Library, true)
	add(in.Detector, true)
	for _, m := range pose.Models {
		add(in.Landmark[m], m == pose.Full)
	}
	return r
}

// rootsOf names the folders under which files were looked for, each once.
func rootsOf(paths []string) []string {
	var roots []string
	for _, p := range paths {
		p = filepath.ToSlash(p)
		for _, below := range []string{"/setup/node_modules/", "/node_modules/", "/onnxruntime-node/", "/@mediapipe/"} {
			if at := strings.Index(p, below); at >= 0 {
				p = p[:at] + "/"
				break
			}
		}
		if strings.HasSuffix(p, "/") {
			p = strings.TrimSuffix(p, "/")
		} else {
			p = path.Dir(p)
		}
		if !slices.Contains(roots, p) {
			roots = append(roots, p)
		}
	}
	return roots
}

// Place is a path the program uses.
type Place struct{ Name, Path string }

// Places lists where everything lives on this machine.
func Places(st *Studio) []Place {
	exe, err := os.Executable()
	if err != nil {
		exe = "unknown: " + err.Error()
	}
	out := []Place{{"program", exe}, {"results", st.Dir()}, {"ranges", NormsFile()}, {"own errors", st.ownErrorsPath()}}
	if tools, err := video.Locate(); err == nil {
		out = append(out, Place{"ffmpeg", tools.FFmpeg}, Place{"ffprobe", tools.FFprobe})
	}
	in := pose.Locate("")
	for _, p := range append([]pose.Part{in.Library, in.Detector}, in.Landmark[pose.Lite], in.Landmark[pose.Full], in.Landmark[pose.Heavy]) {
		path := p.Path
		if path == "" {
			path = "not found"
		}
		out = append(out, Place{p.File, path})
	}
	return out
}
