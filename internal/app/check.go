package app

import (
	"context"
	"errors"
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
	Faulty bool   // it is there and does not start
	Detail string // where it is and which version, or where it was looked for
	Mend   string // how to get it
	Needed bool   // the main job on films cannot do without it
	// Remarks are what was passed over for it, and why.
	Remarks []string
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
	r.Parts = append(r.Parts, ffmpegPart(ctx))
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

// ffmpegPart tells whether ffmpeg and ffprobe are there and start.
func ffmpegPart(ctx context.Context) Part {
	part := Part{Name: "ffmpeg", Needed: true}
	tools, version, err := ffmpegReady(ctx)
	var p *Problem
	switch {
	case err == nil:
		part.Found, part.Detail = true, fmt.Sprintf("%s at %s", version.Text, tools.FFmpeg)
		for _, p := range tools.PassedOver {
			part.Remarks = append(part.Remarks, fmt.Sprintf("passed over: %s: %s", p.Path, p.Why))
		}
	case errors.As(err, &p):
		part.Faulty, part.Detail, part.Mend = errors.Is(err, video.ErrFaulty), p.What, p.Mend
	default:
		part.Detail = err.Error()
	}
	return part
}

// ffmpegReady finds ffmpeg and ffprobe and sees that both start.
func ffmpegReady(ctx context.Context) (video.Tools, video.Version, error) {
	tools, err := video.Locate(ctx)
	if err != nil {
		return tools, video.Version{}, videoProblem("", err)
	}
	version, err := tools.Starts(ctx)
	return tools, version, videoProblem("", err)
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
	if tools, err := video.Locate(context.Background()); err == nil {
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
