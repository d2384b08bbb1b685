package keypoint

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/track"
)

// Version of the format that is written; the only one so far.
const Version = 1

// maxFileBytes bounds a file: some twenty minutes of 33 landmarks at 60 frames a
// second. A list of numbers takes several times its text in memory.
const maxFileBytes = 64 << 20

// largest coordinates: pixels of no camera, metres of no laboratory.
const (
	maxPixel = 1e6
	maxMetre = 1e4
)

// File is a keypoint file: a track and what is known of the picture.
type File struct {
	// Track has Origin MarkerFile on every path that was read. In picture space it
	// has X and Y in pixels, in runner space two or three axes in metres or pixels.
	Track *track.Track
	// View is UnknownView where the file does not say.
	View              clip.View
	WidthPX, HeightPX int // 0 where the file does not say
}

// Open reads the file at path: JSON if its name ends in .json, or has no ending
// and the content begins with a brace, and CSV otherwise.
func Open(path string) (*File, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s is not a plain file", path)
	}
	if info.Size() > maxFileBytes {
		return nil, fmt.Errorf("%s is %d MB; keypoint files up to %d MB are read: split it", path, info.Size()>>20, maxFileBytes>>20)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	read := ReadCSV
	ext := filepath.Ext(path)
	if strings.EqualFold(ext, ".json") || ext == "" && bytes.HasPrefix(bytes.TrimLeft(data, " \t\r\n"), []byte("{")) {
		read = ReadJSON
	}
	f, err := read(data)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return f, nil
}

// Save writes the file to path, JSON if its name ends in .json and CSV otherwise.
// An existing file is replaced only once the new one is whole.
func Save(path string, f *File) error {
	var b bytes.Buffer
	write := WriteCSV
	if strings.EqualFold(filepath.Ext(path), ".json") {
		write = WriteJSON
	}
	if err := write(&b, f); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	tmp, err := os.CreateTemp(filepath.Dir(path), ".keypoints-*")
	if err != nil {
		return err
	}
	defer os.Remove(tmp.Name())
	if _, err := io.Copy(tmp, &b); err != nil {
		tmp.Close()
		return err
	}
	if err := tmp.Close(); err != nil {
		return err
	}
	if err := os.Chmod(tmp.Name(), 0o644); err != nil {
		return err
	}
	return os.Rename(tmp.Name(), path)
}

var spaceNames = map[track.Space]string{track.Picture: "picture", track.Runner: "runner"}

// setSpace sets space and unit from their names; an empty name is the default:
// picture, and the space's own unit.
func setSpace(t *track.Track, space, unit string) error {
	switch space {
	case "", "picture":
		t.Space, t.Unit = track.Picture, track.Pixel
	case "runner":
		t.Space, t.Unit = track.Runner, track.Metre
	default:
		return fmt.Errorf("space is %q; write picture or runner", space)
	}
	switch {
	case unit == "":
	case unit == "px":
		t.Unit = track.Pixel
	case unit == "m" && t.Space == track.Runner:
		t.Unit = track.Metre
	case unit == "m":
		return fmt.Errorf("unit is m, but picture space is in px: give \"runner\" as space, or pixels")
	default:
		return fmt.Errorf("unit is %q; write px or m", unit)
	}
	return nil
}

func (f *File) setView(name string) error {
	if name == "" {
		return nil
	}
	v, err := clip.ParseView(name)
	f.View = v
	return err
}

func (f *File) setSize(width, height int) error {
	const most = 1 << 16
	if width < 0 || height < 0 || width > most || height > most || (width == 0) != (height == 0) {
		return fmt.Errorf("the picture is %d by %d pixels; give both width_px and height_px, from 1 to %d", width, height, most)
	}
	f.WidthPX, f.HeightPX = width, height
	return nil
}

// axes of a path by their letters, in order.
func axes(p *track.Path) [3]*[]float64 { return [3]*[]float64{&p.X, &p.Y, &p.Z} }

const axisNames = "xyz"

// checkAxes tells whether the path has the axes that its space needs.
func checkAxes(space track.Space, l body.Landmark, p *track.Path) error {
	switch {
	case space == track.Picture && (p.X == nil || p.Y == nil || p.Z != nil):
		return fmt.Errorf("%v needs x and y, and no z, in picture space", l)
	case space == track.Runner && (p.Y == nil || (p.X == nil && p.Z == nil)):
		return fmt.Errorf("%v needs y and at least one of x and z in runner space", l)
	}
	return nil
}

// checkSample tells what is wrong with sample k of a path; empty for nothing.
func checkSample(unit track.Unit, p *track.Path, k int) string {
	most := maxPixel
	if unit == track.Metre {
		most = maxMetre
	}
	lost, given := 0, 0
	for _, c := range axes(p) {
		if *c == nil {
			continue
		}
		given++
		switch v := (*c)[k]; {
		case math.IsNaN(v):
			lost++
		case math.Abs(v) > most:
			return fmt.Sprintf("the coordinate %g %v is out of bounds", v, unit)
		}
	}
	if lost > 0 && lost < given {
		return "some coordinates of the point are given and some are missing; give all or none"
	}
	if p.Confidence != nil {
		c := p.Confidence[k]
		if math.IsNaN(c) {
			if lost == 0 {
				return "the confidence is missing where the point is given"
			}
			p.Confidence[k] = 0
			return ""
		}
		if !(c >= 0 && c <= 1) {
			return fmt.Sprintf("the confidence is %g; it lies between 0 and 1", c)
		}
	}
	return ""
}

// writable checks that f can be written so that it reads back.
func (f *File) writable() error {
	if f.Track == nil || f.Track.Frames() == 0 {
		return fmt.Errorf("there are no frames to write")
	}
	if err := f.Track.Validate(); err != nil {
		return err
	}
	if f.Track.Space == track.Picture && f.Track.Unit != track.Pixel {
		return fmt.Errorf("a track in picture space is in pixels, not %v", f.Track.Unit)
	}
	if slices.ContainsFunc(f.Track.TimeS, func(t float64) bool { return math.IsNaN(t) || math.IsInf(t, 0) }) {
		return fmt.Errorf("a frame has no time")
	}
	some := false
	for l, p := range f.Track.Paths {
		if p == nil {
			continue
		}
		some = true
		if err := checkAxes(f.Track.Space, body.Landmark(l), p); err != nil {
			return err
		}
		q := p.Clone()
		for k := range f.Track.TimeS {
			if fault := checkSample(f.Track.Unit, q, k); fault != "" {
				return fmt.Errorf("%v, frame %d: %s", body.Landmark(l), k, fault)
			}
		}
	}
	if !some {
		return fmt.Errorf("there are no landmarks to write")
	}
	return nil
}
