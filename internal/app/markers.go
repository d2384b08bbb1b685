package app

import (
	"cmp"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"gaitwright/gait/clip"
	"gaitwright/gait/event"
	"gaitwright/internal/c3d"
	"gaitwright/internal/markerset"
	"gaitwright/internal/trc"
)

// markerFile is a motion-capture file reduced to what the chain needs.
type markerFile struct {
	points markerset.Points
	upHint string
	plates []c3d.Plate
	notes  []string
}

func fileProblem(file string, err error) error {
	return refusal(KindNoResult, file, err)
}

// readMarkers reads a C3D or TRC file.
func readMarkers(path string) (*markerFile, error) {
	switch formatOf(path) {
	case formatC3D:
		f, err := c3d.Open(path)
		if err != nil {
			return nil, fileProblem(path, err)
		}
		m := &markerFile{upHint: f.UpHint, notes: f.Notes, points: markerset.Points{TimeS: f.TimeS()}}
		for _, p := range f.Points {
			m.points.Markers = append(m.points.Markers, markerset.Marker{Label: p.Label, X: p.X, Y: p.Y, Z: p.Z})
		}
		plates, err := f.Plates()
		if err != nil {
			m.notes = append(m.notes, "the force platforms cannot be read ("+err.Error()+"); contacts are taken from motion")
		}
		m.plates = plates
		return m, nil
	default:
		return readTRC(path)
	}
}

// trackMarkers reads a motion-capture file, finds the runner's landmarks in it
// and, where it carries force, the contacts by force.
func trackMarkers(_ context.Context, file string, r *Request, progress Progress) (*Clip, *event.Series, error) {
	progress.Stage("reading markers", file, 1)
	m, err := readMarkers(file)
	if err != nil {
		return nil, nil, err
	}
	set, err := markerSetFor(file, m, r)
	if err != nil {
		return nil, nil, err
	}
	var standing *markerset.Points
	if static := staticFor(file, r); static != "" {
		s, err := readMarkers(static)
		if err != nil {
			return nil, nil, nameIn(err, static, r.StaticName)
		}
		standing = &s.points
		m.notes = append(m.notes, "joint centres were taken from the standing trial "+cmp.Or(r.StaticName, filepath.Base(static)))
	}
	res, err := markerset.Apply(set, m.points, standing, markerset.Options{UpHint: m.upHint})
	if err != nil {
		return nil, nil, fileProblem(file, err)
	}
	progress.Advance(1)
	t := res.Track
	c := &Clip{Path: file, Raw: t, Warnings: append(m.notes, res.Notes...)}
	c.Info = clip.Info{Name: file, View: clip.Spatial, Surface: res.Surface, FrameRateHz: t.RateHz(), Slowdown: 1}
	if r.Overground {
		c.Info.Surface = clip.Overground
	}
	for i := range t.TimeS {
		if t.Paths[landmarkOfPresence].ConfidenceAt(i) == 0 {
			c.Treatment.FramesMissing++
		}
	}
	if len(m.plates) == 0 {
		return c, nil, nil
	}
	force, err := forceContacts(m.plates, res)
	if err != nil {
		c.Warnings = append(c.Warnings, "contacts cannot be taken from force: "+err.Error())
		return c, nil, nil
	}
	return c, &force, nil
}

// forceContacts turns the platforms to the runner's axes and finds the contacts.
func forceContacts(plates []c3d.Plate, res *markerset.Result) (event.Series, error) {
	f := event.Force{RateHz: plates[0].RateHz}
	for _, p := range plates {
		q := event.Plate{VerticalN: make([]float64, len(p.ForceN)), CentreX: make([]float64, len(p.ForceN)), CentreZ: make([]float64, len(p.ForceN))}
		for i := range p.ForceN {
			q.VerticalN[i] = res.Axes.Turn(p.ForceN[i])[1]
			at := res.Axes.Turn(p.CentreM[i])
			q.CentreX[i], q.CentreZ[i] = at[0], at[2]
		}
		for k, corner := range p.Corners {
			at := res.Axes.Turn(corner)
			q.Corners[k] = [2]float64{at[0], at[2]}
		}
		f.Plates = append(f.Plates, q)
	}
	return event.ForceContacts(f, res.Track, event.ForceOptions{})
}

func markerSetFor(file string, m *markerFile, r *Request) (markerset.Set, error) {
	if r.MarkerSetFile != "" {
		return ownMarkerSet(r.MarkerSetFile)
	}
	set, ok := markerset.Detect(m.points.Labels())
	if !ok {
		err := markerset.UnknownNames(m.points.Labels())
		return set, &Problem{Kind: KindNoResult, File: file, What: err.Error(), Mend: "Save the mapping, fill it in and give it with --markers FILE.", Err: err}
	}
	return set, nil
}

// ownMarkerSet reads a user's mapping of marker names.
func ownMarkerSet(file string) (markerset.Set, error) {
	kind := ownKind{"mapping of marker names", "`gaitwright markers --show NAME` prints a mapping to copy; `gaitwright markers` lists them.", markerset.MaxBytes}
	return readOwn(file, kind, markerset.Parse)
}

// staticFor returns the standing trial that belongs to a marker file: the one
// given, or one beside it with the same beginning of its name and "static" in
// it. Empty where there is none.
func staticFor(file string, r *Request) string {
	if r.StaticFile != "" {
		return r.StaticFile
	}
	dir, name := filepath.Split(file)
	entries, err := os.ReadDir(filepath.Clean(dir + "."))
	if err != nil {
		return ""
	}
	best, common := "", 0
	for _, e := range entries {
		if k := standsFor(e.Name(), name); k > common {
			best, common = filepath.Join(dir, e.Name()), k
		}
	}
	return best
}

// standsFor tells by their names whether one marker file is the standing trial of
// another: how many characters the names share from the beginning, 0 where it is
// not. The names must agree up to the word itself, so that one runner's trial is
// never taken for another's.
func standsFor(static, name string) int {
	at := strings.Index(strings.ToLower(static), "static")
	if at < 0 || static == name || !strings.EqualFold(filepath.Ext(static), filepath.Ext(name)) {
		return 0
	}
	k := 0
	for k < len(static) && k < len(name) && static[k] == name[k] {
		k++
	}
	if k < 3 || k < at {
		return 0
	}
	return k
}

// MarkerSets lists the built-in mappings, prints one of them, or checks a user's
// file.
func MarkerSets(show, check string) (string, error) {
	switch {
	case show != "":
		b, err := markerset.Source(show)
		if err != nil {
			return "", &Problem{Kind: KindUsage, What: err.Error(), Mend: "`gaitwright markers` lists the built-in ones.", Err: err}
		}
		return string(b), nil
	case check != "":
		set, err := ownMarkerSet(check)
		if err != nil {
			return "", err
		}
		return fmt.Sprintf("%s is sound: it finds %d landmarks.\n", check, len(set.Landmarks)), nil
	}
	var b strings.Builder
	b.WriteString("Built-in mappings of marker names; print one with --show NAME, copy and edit it,\ncheck it with --check FILE and use it with `measure --markers FILE`.\n\n")
	for _, n := range markerset.Names() {
		set, err := markerset.BuiltIn(n)
		if err != nil {
			return "", err
		}
		fmt.Fprintf(&b, "  %-12s %s\n", n, strings.Join(strings.Fields(set.About), " "))
	}
	return b.String(), nil
}

func readTRC(path string) (*markerFile, error) {
	f, err := trc.Open(path)
	if err != nil {
		return nil, fileProblem(path, err)
	}
	m := &markerFile{notes: f.Notes, points: markerset.Points{TimeS: f.TimeS}}
	for _, p := range f.Markers {
		m.points.Markers = append(m.points.Markers, markerset.Marker{Label: p.Label, X: p.X, Y: p.Y, Z: p.Z})
	}
	return m, nil
}
