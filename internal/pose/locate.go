package pose

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"github.com/adrg/xdg"
)

// Model names one of the three landmark networks, from the fastest to the most
// exact.
type Model string

// The models.
const (
	Lite  Model = "lite"
	Full  Model = "full" // the default
	Heavy Model = "heavy"
)

// Models lists the models in order of cost.
var Models = [...]Model{Lite, Full, Heavy}

// ParseModel reads a model's name; the empty text means Full.
func ParseModel(text string) (Model, error) {
	if text == "" {
		return Full, nil
	}
	for _, m := range Models {
		if string(m) == text {
			return m, nil
		}
	}
	return "", fmt.Errorf("pose model %q is not known: write lite, full or heavy", text)
}

// ErrNotInstalled says that the pose model or the inference library is missing.
// errors.Is finds it in what Open and Locate return.
var ErrNotInstalled = errors.New("the pose model or its inference library is not installed: run `make setup` in the program's folder, or `gaitwright check` to see what is missing and where it is looked for")

// DirEnv is the environment variable that names a folder to search first.
const DirEnv = "GAITWRIGHT_MODELS"

// The file name of the detector, as the npm package has it.
const detectorFile = "pose_solution_packed_assets.data"

func landmarkFile(m Model) string { return "pose_landmark_" + string(m) + ".tflite" }

// A Part is one file that reading landmarks needs.
type Part struct {
	Name   string   // what it is, for people
	File   string   // its file name
	Path   string   // where it was found; empty where it is missing
	Looked []string // the places searched, in order, up to where it was found
}

// Found tells whether the part is there.
func (p Part) Found() bool { return p.Path != "" }

// Installation says what was found of what reading landmarks needs. A model of
// which one size is missing still works in the other sizes.
type Installation struct {
	Library  Part           // ONNX Runtime
	Detector Part           // finds people in a picture
	Landmark map[Model]Part // finds the landmarks of one person
}

// Ready returns nil where everything that model m needs is there, and otherwise
// an error that wraps ErrNotInstalled and names what is missing.
func (in Installation) Ready(m Model) error {
	var missing []string
	for _, p := range [...]Part{in.Library, in.Detector, in.Landmark[m]} {
		if !p.Found() {
			missing = append(missing, fmt.Sprintf("%s (%s)", p.Name, p.File))
		}
	}
	if missing == nil {
		return nil
	}
	return fmt.Errorf("%w; missing: %s", ErrNotInstalled, strings.Join(missing, ", "))
}

// Locate searches for the model and the library: in dir where it is not empty;
// in the folder that the environment variable GAITWRIGHT_MODELS names; in
// setup/node_modules beside the program and one folder above it; in
// setup/node_modules of the working folder; in gaitwright/models of the user's
// and the system's data folders. Each may hold the files themselves or an npm
// tree.
func Locate(dir string) Installation {
	in := Installation{Landmark: map[Model]Part{}}
	places := places(dir)
	libs := libraryFiles(runtime.GOOS, runtime.GOARCH)
	in.Library = find("the inference library ONNX Runtime", libs, places)
	in.Detector = find("the person detector", modelFiles(detectorFile), places)
	for _, m := range Models {
		in.Landmark[m] = find("the landmark model "+string(m), modelFiles(landmarkFile(m)), places)
	}
	return in
}

func modelFiles(name string) []string {
	return []string{filepath.Join("@mediapipe", "pose", name), name}
}

// libraryFiles returns the paths below an npm tree, and the bare names, that the
// library has on a system.
func libraryFiles(system, arch string) []string {
	folder, cpu := system, arch
	if cpu == "amd64" {
		cpu = "x64"
	}
	pkg := "onnxruntime-node"
	var names []string
	switch system {
	case "windows":
		folder, names = "win32", []string{"onnxruntime.dll"}
	case "darwin":
		names = []string{"libonnxruntime.1.30.0.dylib", "libonnxruntime.1.dylib", "libonnxruntime.dylib"}
		if arch == "amd64" { // the last version built for it
			pkg, names = "onnxruntime-node-1-23", []string{"libonnxruntime.1.23.2.dylib", "libonnxruntime.dylib"}
		}
	default:
		names = []string{"libonnxruntime.so.1", "libonnxruntime.so"}
	}
	var out []string
	for _, n := range names {
		out = append(out, filepath.Join(pkg, "bin", "napi-v6", folder, cpu, n))
	}
	return append(out, names...)
}

func places(dir string) []string {
	var list []string
	add := func(d string) {
		if d != "" {
			list = append(list, d, filepath.Join(d, "node_modules"), filepath.Join(d, "setup", "node_modules"))
		}
	}
	add(dir)
	add(os.Getenv(DirEnv))
	if exe, err := os.Executable(); err == nil {
		if real, err := filepath.EvalSymlinks(exe); err == nil {
			exe = real
		}
		d := filepath.Dir(exe)
		list = append(list, filepath.Join(d, "setup", "node_modules"), filepath.Join(filepath.Dir(d), "setup", "node_modules"))
	}
	if wd, err := os.Getwd(); err == nil {
		list = append(list, filepath.Join(wd, "setup", "node_modules"))
	}
	for _, d := range append([]string{xdg.DataHome}, xdg.DataDirs...) {
		add(filepath.Join(d, "gaitwright", "models"))
	}
	return list
}

func find(name string, files, places []string) Part {
	p := Part{Name: name, File: filepath.Base(files[0])}
	for _, d := range places {
		for _, f := range files {
			path := filepath.Join(d, f)
			p.Looked = append(p.Looked, path)
			if st, err := os.Stat(path); err == nil && st.Mode().IsRegular() && st.Size() > 0 {
				p.Path = path
				return p
			}
		}
	}
	return p
}
