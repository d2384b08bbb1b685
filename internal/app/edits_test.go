package app

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gaitwright/gait/clip"
	"gaitwright/internal/keypoint"
	"gaitwright/internal/synth"
)

// TestEditedContactsSurviveARerun: a contact moved by hand and one removed stay
// so when the clip is measured again, and again from the result of that.
func TestEditedContactsSurviveARerun(t *testing.T) {
	p := synth.Demo()
	p.DurationS = 9
	r, err := synth.New(p)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	file := filepath.Join(dir, "side.json")
	cam := synth.NewCamera(clip.LeftSide, 720, 1280, 4)
	if err := keypoint.Save(file, &keypoint.File{Track: synth.WithoutStickers(r.Track(synth.Clock(120, 8), cam)), View: clip.LeftSide, WidthPX: 720, HeightPX: 1280}); err != nil {
		t.Fatal(err)
	}
	st, err := OpenStudio(filepath.Join(dir, "results"))
	if err != nil {
		t.Fatal(err)
	}
	request := Request{Files: []string{file}, SpeedMPS: p.SpeedMPS}
	first, err := st.Measure(context.Background(), request, NoProgress{})
	if err != nil {
		t.Fatal(err)
	}
	d := first.Document()
	contacts := d.Clips[0].Contacts
	moved, gone := &contacts[4], contacts[7]
	moved.InitialContactS += 0.021
	moved.Edited = true
	d.Clips[0].RemovedContacts = []PageContact{gone}
	edits := filepath.Join(dir, "edits.json")
	for round := range 2 {
		b, err := json.Marshal(d)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(edits, b, 0o644); err != nil {
			t.Fatal(err)
		}
		request.EditsFile = edits
		again, err := st.Measure(context.Background(), request, NoProgress{})
		if err != nil {
			t.Fatal(err)
		}
		d = again.Document()
		foundMoved := false
		for _, c := range d.Clips[0].Contacts {
			if c.Edited && math.Abs(c.InitialContactS-moved.InitialContactS) < 1e-9 {
				foundMoved = true
			}
			if c.Side == gone.Side && math.Abs(c.InitialContactS-gone.InitialContactS) < 0.05 {
				t.Errorf("round %d: the removed contact is back", round)
			}
		}
		if !foundMoved {
			t.Errorf("round %d: the moved contact was changed", round)
		}
	}
}

func TestEditsAreChecked(t *testing.T) {
	for name, text := range map[string]string{
		"not JSON":     "hello",
		"no file name": `{"clips":[{"contacts":[]}]}`,
		"no side":      `{"clips":[{"file":"a.mp4","contacts":[{"side":"up","initial_contact_s":1,"toe_off_s":1.2,"edited":true}]}]}`,
		"backward":     `{"clips":[{"file":"a.mp4","contacts":[{"side":"left","initial_contact_s":1,"toe_off_s":0.9,"edited":true}]}]}`,
		"endless":      `{"clips":[{"file":"a.mp4","removed_contacts":[{"side":"left","initial_contact_s":1,"toe_off_s":90}]}]}`,
	} {
		if _, err := parseEdits([]byte(text)); err == nil {
			t.Errorf("%s was accepted", name)
		}
	}
	e, err := parseEdits([]byte(`{"clips":[{"file":"/x/a.mp4","contacts":[{"side":"left","initial_contact_s":1,"toe_off_s":1.2,"edited":false}]}]}`))
	if err != nil || len(e["a.mp4"].Placed) != 0 {
		t.Errorf("contacts that were not edited count as edits: %v %v", e, err)
	}
}

func FuzzParseEdits(f *testing.F) {
	f.Add([]byte(`{"clips":[{"file":"a.mp4","contacts":[{"side":"left","initial_contact_s":1,"toe_off_s":1.2,"edited":true}]}]}`))
	f.Add([]byte(strings.Repeat("[", 100)))
	f.Fuzz(func(t *testing.T, data []byte) {
		edits, err := parseEdits(data)
		if err != nil {
			return
		}
		for name, e := range edits {
			if name == "" || bytes.ContainsRune([]byte(name), os.PathSeparator) && name != string(os.PathSeparator) {
				t.Errorf("edits under the name %q", name)
			}
			for _, c := range append(e.Placed, e.Removed...) {
				if !(c.DurationS() > 0) {
					t.Errorf("a contact of %v s", c.DurationS())
				}
			}
		}
	})
}
