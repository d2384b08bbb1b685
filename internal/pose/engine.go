package pose

import (
	"fmt"
	"os"
	"runtime"

	"golang.org/x/sync/errgroup"
)

// Options says which networks to open and how to run them.
type Options struct {
	Model   Model  // Full where empty
	Threads int    // of one inference; 0 means two, or one on a single-core machine
	Dir     string // searched first for the model and the library; see Locate
}

// An Engine holds the two networks. It is not safe for use by several
// goroutines at once.
type Engine struct {
	model    Model
	detector *session
	landmark *session
}

// Open loads the library and both networks. Where a part is missing the error
// wraps ErrNotInstalled and says what to do.
func Open(o Options) (*Engine, error) {
	model, err := ParseModel(string(o.Model))
	if err != nil {
		return nil, err
	}
	in := Locate(o.Dir)
	if err := in.Ready(model); err != nil {
		return nil, err
	}
	lib, err := loadLibrary(in.Library.Path)
	if err != nil {
		return nil, err
	}
	threads := o.Threads
	if threads <= 0 {
		threads = min(2, runtime.NumCPU())
	}
	e := &Engine{model: model}
	var g errgroup.Group
	g.Go(func() (err error) {
		e.detector, err = loadNetwork(lib, in.Detector.Path, threads, []int{1, detectSize, detectSize, 3},
			[]int{1, detectAnchors, detectValues}, []int{1, detectAnchors, 1})
		return err
	})
	g.Go(func() (err error) {
		e.landmark, err = loadNetwork(lib, in.Landmark[model].Path, threads, []int{1, cropSize, cropSize, 3},
			[]int{1, 5 * points}, []int{1, 1}, []int{1, heatSize, heatSize, points}, []int{1, 3 * points})
		return err
	})
	if err := g.Wait(); err != nil {
		e.Close()
		return nil, err
	}
	return e, nil
}

// Model returns the landmark model in use.
func (e *Engine) Model() Model { return e.model }

// Close frees the networks, and gives the memory they worked in back to the machine.
func (e *Engine) Close() {
	e.detector.close()
	e.landmark.close()
	trimMemory()
}

// loadNetwork reads a TFLite file, converts it and makes it ready to run.
func loadNetwork(lib *library, path string, threads int, input []int, outputs ...[]int) (*session, error) {
	wrap := func(err error) error {
		return fmt.Errorf("the model %s cannot be used: %w; install it again with `make setup`", path, err)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, wrap(err)
	}
	n, err := readNetwork(b)
	if err != nil {
		return nil, wrap(err)
	}
	model, in, outs, err := convert(n, input, outputs...)
	if err != nil {
		return nil, wrap(err)
	}
	s, err := newSession(lib, model, in, outs, threads)
	if err != nil {
		return nil, wrap(err)
	}
	return s, nil
}

// check reports a frame whose buffer does not hold its picture.
func (f *Frame) check() error {
	if f.Width < 8 || f.Height < 8 || f.Width > 1<<15 || f.Height > 1<<15 {
		return fmt.Errorf("frame %d has a size of %d×%d pixels, which cannot be read", f.Index, f.Width, f.Height)
	}
	if len(f.RGB) != 3*f.Width*f.Height {
		return fmt.Errorf("frame %d has %d bytes where a picture of %d×%d pixels has %d", f.Index, len(f.RGB), f.Width, f.Height, 3*f.Width*f.Height)
	}
	return nil
}

// Detect finds the people in a whole picture, the surest first.
func (e *Engine) Detect(f Frame) ([]Detection, error) {
	if err := f.check(); err != nil {
		return nil, err
	}
	whole := Region{X: float64(f.Width) / 2, Y: float64(f.Height) / 2, SidePX: float64(max(f.Width, f.Height))}
	cut(e.detector.in, detectSize, f, whole, signedScaling, true)
	if err := e.detector.run(); err != nil {
		return nil, fmt.Errorf("frame %d: looking for people failed: %w", f.Index, err)
	}
	return decodeDetections(e.detector.out[0], e.detector.out[1], whole), nil
}

// Landmarks finds the landmarks of the person in a region of the frame. It
// always gives a pose; its Score says whether somebody is there.
func (e *Engine) Landmarks(f Frame, r Region) (Pose, error) {
	if err := f.check(); err != nil {
		return nobody(), err
	}
	if !r.valid(f.Width, f.Height) {
		return nobody(), nil
	}
	cut(e.landmark.in, cropSize, f, r, unitScaling, false)
	if err := e.landmark.run(); err != nil {
		return nobody(), fmt.Errorf("frame %d: finding landmarks failed: %w", f.Index, err)
	}
	o := e.landmark.out
	return decodeLandmarks(o[0], o[1], o[2], o[3], r), nil
}
