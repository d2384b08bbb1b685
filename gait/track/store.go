package track

import (
	"bytes"
	"encoding/gob"

	"gaitwright/gait/body"
)

// storedTrack is a track as it is kept: by landmark name, so that landmarks
// added later do not shift those kept before.
type storedTrack struct {
	Space Space
	Unit  Unit
	TimeS []float64
	Paths map[string]*Path
}

// GobEncode writes the track under its landmarks' names.
func (t *Track) GobEncode() ([]byte, error) {
	s := storedTrack{Space: t.Space, Unit: t.Unit, TimeS: t.TimeS, Paths: map[string]*Path{}}
	for l, p := range t.Paths {
		if p != nil {
			s.Paths[body.Landmark(l).String()] = p
		}
	}
	var b bytes.Buffer
	err := gob.NewEncoder(&b).Encode(s)
	return b.Bytes(), err
}

// GobDecode reads what GobEncode wrote and checks it.
func (t *Track) GobDecode(data []byte) error {
	var s storedTrack
	if err := gob.NewDecoder(bytes.NewReader(data)).Decode(&s); err != nil {
		return err
	}
	*t = Track{Space: s.Space, Unit: s.Unit, TimeS: s.TimeS}
	for name, p := range s.Paths {
		l, err := body.ParseLandmark(name)
		if err != nil {
			return err
		}
		t.Paths[l] = p
	}
	return t.Validate()
}
