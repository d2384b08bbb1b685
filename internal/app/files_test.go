package app

import (
	"errors"
	"io"
	"path/filepath"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/track"
)

// TestUprightPictures turns one standing body in the picture: only upright ones
// pass, and a roll that the analyst gave counts.
func TestUprightPictures(t *testing.T) {
	for _, c := range []struct {
		name       string
		across, up float64 // from hips to shoulders
		roll       float64
		passes     bool
	}{
		{"upright", 5, 100, 0, true},
		{"leaning", 60, 100, 0, true},
		{"on its side", 100, 5, 0, false},
		{"on its head", 5, -100, 0, false},
		{"rolled back by the analyst", -100, 100, 45, true},
	} {
		raw := track.New(track.Picture, track.Pixel, []float64{0, 0.01})
		for l, at := range map[body.Landmark][2]float64{body.LeftHip: {300, 500}, body.RightHip: {310, 500},
			body.LeftShoulder: {300 + c.across, 500 - c.up}, body.RightShoulder: {310 + c.across, 500 - c.up}} {
			raw.Paths[l] = &track.Path{X: []float64{at[0], at[0]}, Y: []float64{at[1], at[1]}}
		}
		err := checkUpright(&Clip{Raw: raw, Info: clip.Info{RollDeg: c.roll}})
		if (err == nil) != c.passes {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

// TestFilesAreWholeOrAbsent fails in the middle of writing: nothing is left.
func TestFilesAreWholeOrAbsent(t *testing.T) {
	dir := t.TempDir()
	err := WriteFileWhole(filepath.Join(dir, "out.json"), func(w io.Writer) error {
		io.WriteString(w, "half")
		return errors.New("the rest is missing")
	})
	if err == nil {
		t.Error("no error")
	}
	if left, _ := filepath.Glob(filepath.Join(dir, "*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, ".*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}
