package runfile

import (
	"bufio"
	"bytes"
	"cmp"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"gaitwright/gait/steprate"
	"gaitwright/internal/runfile/runtest"

	"pgregory.net/rapid"
)

// The published schemas, told here in tables of our own: which elements, in what
// order, how often, and what their texts may be. GPX 1.1 (topografix.com/GPX/1/1),
// Track Point Extension 1 and 2, Training Center Database 2, Activity Extension 2.
// The tables are from memory. That of GPX is held against the published schema file
// (TestGPXKeepsThePublishedSchema).
//
// The published schema file of TCX is in no package that could be installed, so a file
// that keeps its table is not proved to keep that schema: order, counts, types and
// ranges are as remembered, and only as good as that. What speaks for the table: its
// elements are those of another library for the format (tcx-builder 1.1.1), what a
// general converter writes keeps it (TestAConverterSaysTheSame), and any single
// departure from it is refused (TestTCXDeparturesAreRefused). Where the table is
// narrower than the schema (no negative speed or distance, no infinite number) it is so
// by us.
const (
	gpx11 = "http://www.topografix.com/GPX/1/1"
	tpx1  = "http://www.garmin.com/xmlschemas/TrackPointExtension/v1"
	tpx2  = "http://www.garmin.com/xmlschemas/TrackPointExtension/v2"
	tcx2  = "http://www.garmin.com/xmlschemas/TrainingCenterDatabase/v2"
	ext2  = "http://www.garmin.com/xmlschemas/ActivityExtension/v2"
	xsi   = "http://www.w3.org/2001/XMLSchema-instance"
)

// content is what a text may be, and how one is made up.
type content struct {
	ok   func(string) bool
	make func(*rapid.T) string
}

// part is an element in its place; most 0 is any number.
type part struct {
	name        string
	least, most int
	text        *content // a text, or
	of          *shape   // elements
}

type attr struct {
	name   string
	needed bool
	text   *content
}

type shape struct {
	space string
	attrs []attr
	parts []part
	// open takes elements of other name spaces, those of known checked.
	open  bool
	known map[xml.Name]*shape
}

// number64 is a double of the schemas, without those that are not finite.
var number64 = regexp.MustCompile(`^[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?$`)

func within(low, high float64, digits int) *content {
	return &content{func(s string) bool {
		if !number64.MatchString(strings.TrimSpace(s)) {
			return false
		}
		v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
		return err == nil && v >= low && v <= high
	}, func(t *rapid.T) string {
		return strconv.FormatFloat(rapid.Float64Range(low, high).Draw(t, "v"), 'f', digits, 64)
	}}
}

func whole(low, high int64) *content {
	return &content{func(s string) bool {
		v, err := strconv.ParseInt(strings.TrimSpace(s), 10, 64)
		return err == nil && v >= low && v <= high
	}, func(t *rapid.T) string { return strconv.FormatInt(rapid.Int64Range(low, high).Draw(t, "n"), 10) }}
}

func one(of ...string) *content {
	return &content{func(s string) bool { return slices.Contains(of, s) }, func(t *rapid.T) string { return rapid.SampledFrom(of).Draw(t, "one") }}
}

var (
	dateTime = regexp.MustCompile(`^-?\d{4,}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?(Z|[+-]\d\d:\d\d)?$`)
	text     = &content{func(string) bool { return true }, func(t *rapid.T) string {
		return rapid.StringMatching(`[A-Za-zäß <&>"'.-]{0,12}`).Draw(t, "text")
	}}
	// Moments rise with each that is made up in a file; moments counts them.
	moment = &content{func(s string) bool {
		s = strings.TrimSpace(s)
		_, err := time.Parse("2006-01-02T15:04:05", s[:min(len(s), 19)])
		return err == nil && dateTime.MatchString(s)
	}, func(t *rapid.T) string {
		at := start.Add(time.Duration(moments) * time.Second)
		moments++
		// A time without a zone is of the world's clock in both formats.
		return at.Format(rapid.SampledFrom([]string{"2006-01-02T15:04:05Z", "2006-01-02T15:04:05.000Z", "2006-01-02T15:04:05", "2006-01-02T15:04:05+00:00"}).Draw(t, "form"))
	}}
	moments  = 0
	decimal  = within(-1e5, 1e5, 4)
	positive = within(0, 1e5, 3)
	count    = whole(0, 100000)
	rate     = whole(0, 254)
	beats    = whole(1, 255)
	short    = whole(0, 65535)
	degrees  = within(0, 359.99, 2)
)

func opt(name string, k *content) part         { return part{name, 0, 1, k, nil} }
func must(name string, k *content) part        { return part{name, 1, 1, k, nil} }
func optOf(name string, s *shape) part         { return part{name, 0, 1, nil, s} }
func listOf(name string, n int, s *shape) part { return part{name, n, 0, nil, s} }

// gpxShape is a GPX file.
func gpxShape() *shape {
	point1 := &shape{space: tpx1, parts: []part{opt("atemp", decimal), opt("wtemp", decimal), opt("depth", decimal), opt("hr", beats), opt("cad", rate), optOf("Extensions", &shape{space: tpx1, open: true})}}
	point2 := &shape{space: tpx2, parts: []part{opt("atemp", decimal), opt("wtemp", decimal), opt("depth", decimal), opt("hr", beats), opt("cad", rate), opt("speed", positive), opt("course", degrees), opt("bearing", degrees), optOf("Extensions", &shape{space: tpx2, open: true})}}
	more := optOf("extensions", &shape{space: gpx11, open: true, known: map[xml.Name]*shape{{Space: tpx1, Local: "TrackPointExtension"}: point1, {Space: tpx2, Local: "TrackPointExtension"}: point2}})
	link := &shape{space: gpx11, attrs: []attr{{"href", true, text}}, parts: []part{opt("text", text), opt("type", text)}}
	person := &shape{space: gpx11, parts: []part{opt("name", text), optOf("email", &shape{space: gpx11, attrs: []attr{{"id", true, text}, {"domain", true, text}}}), optOf("link", link)}}
	lat, lon := within(-90, 90, 7), within(-180, 179.999, 7)
	place := &shape{space: gpx11, attrs: []attr{{"lat", true, lat}, {"lon", true, lon}}, parts: []part{
		opt("ele", decimal), opt("time", moment), opt("magvar", degrees), opt("geoidheight", decimal), opt("name", text), opt("cmt", text), opt("desc", text), opt("src", text), listOf("link", 0, link),
		opt("sym", text), opt("type", text), opt("fix", one("none", "2d", "3d", "dgps", "pps")), opt("sat", count), opt("hdop", decimal), opt("vdop", decimal), opt("pdop", decimal), opt("ageofdgpsdata", decimal), opt("dgpsid", whole(0, 1023)), more}}
	named := []part{opt("name", text), opt("cmt", text), opt("desc", text), opt("src", text), listOf("link", 0, link), opt("number", count), opt("type", one("running", "Run", "9")), more}
	return &shape{space: gpx11, attrs: []attr{{"version", true, one("1.1")}, {"creator", true, text}}, parts: []part{
		optOf("metadata", &shape{space: gpx11, parts: []part{opt("name", text), opt("desc", text), optOf("author", person),
			optOf("copyright", &shape{space: gpx11, attrs: []attr{{"author", true, text}}, parts: []part{opt("year", whole(1990, 2100)), opt("license", text)}}),
			listOf("link", 0, link), opt("time", moment), opt("keywords", text),
			optOf("bounds", &shape{space: gpx11, attrs: []attr{{"minlat", true, lat}, {"minlon", true, lon}, {"maxlat", true, lat}, {"maxlon", true, lon}}}), more}}),
		listOf("wpt", 0, place),
		listOf("rte", 0, &shape{space: gpx11, parts: append(slices.Clone(named), listOf("rtept", 0, place))}),
		listOf("trk", 0, &shape{space: gpx11, parts: append(slices.Clone(named), listOf("trkseg", 0, &shape{space: gpx11, parts: []part{listOf("trkpt", 0, place), more}}))}),
		more}}
}

// token is a text of the schemas that is not empty and has no lines in it.
func token(most int) *content {
	return &content{func(s string) bool {
		s = strings.TrimSpace(s)
		return s != "" && !strings.ContainsAny(s, "\r\n\t") && (most == 0 || len([]rune(s)) <= most)
	}, func(t *rapid.T) string { return rapid.StringMatching(`[A-Za-z][A-Za-z0-9]{0,9}`).Draw(t, "token") }}
}

// tcxShape is a Training Center file with runs or courses; its folders and workouts
// hold no record of a run and are left out. From memory (see above).
func tcxShape() *shape {
	like := func(form string, s *shape) *shape { // of a type that is derived from another
		s.attrs = append(s.attrs, attr{xsi + " type", true, one(form)})
		return s
	}
	foreign := func(space string) part { return optOf("Extensions", &shape{space: space, open: true}) }
	tpx := &shape{space: ext2, attrs: []attr{{"CadenceSensor", false, one("Footpod", "Bike")}}, parts: []part{opt("Speed", positive), opt("RunCadence", rate), opt("Watts", short), foreign(ext2)}}
	lx := &shape{space: ext2, parts: []part{opt("AvgSpeed", positive), opt("MaxBikeCadence", rate), opt("AvgRunCadence", rate), opt("MaxRunCadence", rate), opt("Steps", short), opt("AvgWatts", short), opt("MaxWatts", short), foreign(ext2)}}
	more := optOf("Extensions", &shape{space: tcx2, open: true, known: map[xml.Name]*shape{{Space: ext2, Local: "TPX"}: tpx, {Space: ext2, Local: "LX"}: lx}})
	heart := &shape{space: tcx2, parts: []part{must("Value", beats)}}
	version := &shape{space: tcx2, parts: []part{must("VersionMajor", short), must("VersionMinor", short), opt("BuildMajor", short), opt("BuildMinor", short)}}
	place := &shape{space: tcx2, parts: []part{must("LatitudeDegrees", within(-90, 90, 7)), must("LongitudeDegrees", within(-180, 180, 7))}}
	point := &shape{space: tcx2, parts: []part{must("Time", moment), optOf("Position", place),
		opt("AltitudeMeters", decimal), opt("DistanceMeters", positive), optOf("HeartRateBpm", heart), opt("Cadence", rate), opt("SensorState", one("Present", "Absent")), more}}
	track := listOf("Track", 0, &shape{space: tcx2, parts: []part{listOf("Trackpoint", 1, point)}})
	lap := &shape{space: tcx2, attrs: []attr{{"StartTime", true, moment}}, parts: []part{must("TotalTimeSeconds", positive), must("DistanceMeters", positive), opt("MaximumSpeed", positive), must("Calories", short),
		optOf("AverageHeartRateBpm", heart), optOf("MaximumHeartRateBpm", heart), must("Intensity", one("Active", "Resting")), opt("Cadence", rate),
		must("TriggerMethod", one("Manual", "Distance", "Location", "Time", "HeartRate")), track, opt("Notes", text), more}}
	creator := optOf("Creator", like("Device_t", &shape{space: tcx2, parts: []part{must("Name", token(0)), must("UnitId", whole(0, math.MaxUint32)), must("ProductID", short), {"Version", 1, 1, nil, version}}}))
	plan := &shape{space: tcx2, attrs: []attr{{"Type", true, one("Workout", "Course")}, {"IntervalWorkout", true, one("true", "false", "1", "0")}}, parts: []part{opt("Name", token(15)), foreign(tcx2)}}
	training := optOf("Training", &shape{space: tcx2, attrs: []attr{{"VirtualPartner", true, one("true", "false", "1", "0")}}, parts: []part{
		optOf("QuickWorkoutResults", &shape{space: tcx2, parts: []part{must("TotalTimeSeconds", positive), must("DistanceMeters", positive), foreign(tcx2)}}), optOf("Plan", plan)}})
	courseLap := &shape{space: tcx2, parts: []part{must("TotalTimeSeconds", positive), must("DistanceMeters", positive), optOf("BeginPosition", place), opt("BeginAltitudeMeters", decimal), optOf("EndPosition", place), opt("EndAltitudeMeters", decimal),
		optOf("AverageHeartRateBpm", heart), optOf("MaximumHeartRateBpm", heart), must("Intensity", one("Active", "Resting")), opt("Cadence", rate), foreign(tcx2)}}
	coursePoint := &shape{space: tcx2, parts: []part{must("Name", token(10)), must("Time", moment), {"Position", 1, 1, nil, place}, opt("AltitudeMeters", decimal),
		must("PointType", one("Generic", "Summit", "Valley", "Water", "Food", "Danger", "Left", "Right", "Straight", "First Aid", "4th Category", "3rd Category", "2nd Category", "1st Category", "Hors Category", "Sprint")), opt("Notes", text), foreign(tcx2)}}
	build := &shape{space: tcx2, parts: []part{{"Version", 1, 1, nil, version}, opt("Type", one("Internal", "Alpha", "Beta", "Release")), opt("Time", token(0)), opt("Builder", token(0))}}
	part3 := regexp.MustCompile(`^[\p{Lu}\d]{3}-[\p{Lu}\d]{5}-[\p{Lu}\d]{2}$`)
	author := like("Application_t", &shape{space: tcx2, parts: []part{must("Name", token(0)), {"Build", 1, 1, nil, build},
		must("LangID", &content{func(s string) bool { return len(strings.TrimSpace(s)) == 2 }, func(*rapid.T) string { return "en" }}),
		must("PartNumber", &content{func(s string) bool { return part3.MatchString(strings.TrimSpace(s)) }, func(*rapid.T) string { return "006-A0000-00" }})}})
	return &shape{space: tcx2, parts: []part{
		optOf("Activities", &shape{space: tcx2, parts: []part{listOf("Activity", 0, &shape{space: tcx2, attrs: []attr{{"Sport", true, one("Running", "Other")}}, parts: []part{
			must("Id", moment), listOf("Lap", 1, lap), opt("Notes", text), training, creator, more}}), foreign(tcx2)}}),
		optOf("Courses", &shape{space: tcx2, parts: []part{listOf("Course", 0, &shape{space: tcx2, parts: []part{must("Name", token(15)), listOf("Lap", 0, courseLap), track, opt("Notes", text), listOf("CoursePoint", 0, coursePoint), creator, foreign(tcx2)}}), foreign(tcx2)}}),
		optOf("Author", author), foreign(tcx2)}}
}

// node is an element of a file.
type node struct {
	name  xml.Name
	attrs []xml.Attr
	text  string
	parts []*node
}

func tree(data []byte) (*node, error) {
	d := xml.NewDecoder(bytes.NewReader(data))
	root := &node{}
	open := []*node{root}
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		top := open[len(open)-1]
		switch e := tok.(type) {
		case xml.StartElement:
			n := &node{name: e.Name, attrs: slices.Clone(e.Attr)}
			top.parts = append(top.parts, n)
			open = append(open, n)
		case xml.CharData:
			top.text += string(e)
		case xml.EndElement:
			open = open[:len(open)-1]
		}
	}
	if len(root.parts) != 1 {
		return nil, fmt.Errorf("%d roots", len(root.parts))
	}
	return root.parts[0], nil
}

// check holds an element against its shape.
func (s *shape) check(n *node) error {
	for _, a := range n.attrs {
		if a.Name.Space == "xmlns" || a.Name.Local == "xmlns" || a.Name.Space == xsi && a.Name.Local == "schemaLocation" {
			continue
		}
		// The type itself may be named anywhere; where another may stand in its place the
		// table says which.
		if a.Name.Space == xsi && a.Name.Local == "type" && strings.HasSuffix(a.Value, "_t") && !slices.ContainsFunc(s.attrs, func(k attr) bool { return k.name == xsi+" type" }) {
			continue
		}
		name := strings.TrimSpace(a.Name.Space + " " + a.Name.Local)
		i := slices.IndexFunc(s.attrs, func(k attr) bool { return k.name == name })
		if i < 0 {
			return fmt.Errorf("%s has an attribute %s", n.name.Local, name)
		}
		if !s.attrs[i].text.ok(a.Value) {
			return fmt.Errorf("%s: %s may not be %q", n.name.Local, name, a.Value)
		}
	}
	for _, k := range s.attrs {
		if k.needed && !slices.ContainsFunc(n.attrs, func(a xml.Attr) bool { return strings.TrimSpace(a.Name.Space+" "+a.Name.Local) == k.name }) {
			return fmt.Errorf("%s lacks %s", n.name.Local, k.name)
		}
	}
	if strings.TrimSpace(n.text) != "" {
		return fmt.Errorf("%s has the text %q", n.name.Local, n.text)
	}
	rest := n.parts
	for _, p := range s.parts {
		had := 0
		for len(rest) > 0 && rest[0].name == (xml.Name{Space: s.space, Local: p.name}) && (p.most == 0 || had < p.most) {
			c := rest[0]
			rest, had = rest[1:], had+1
			switch {
			case p.of != nil:
				if err := p.of.check(c); err != nil {
					return err
				}
			case len(c.parts) > 0 || len(c.attrs) > 0:
				return fmt.Errorf("%s holds more than a text", p.name)
			case !p.text.ok(c.text):
				return fmt.Errorf("%s may not be %q", p.name, c.text)
			}
		}
		if had < p.least {
			return fmt.Errorf("%s lacks %s", n.name.Local, p.name)
		}
	}
	for _, c := range rest {
		if !s.open || c.name.Space == s.space || c.name.Space == "" {
			return fmt.Errorf("%s %s is out of its place in %s", c.name.Space, c.name.Local, n.name.Local)
		}
		if k := s.known[c.name]; k != nil {
			if err := k.check(c); err != nil {
				return err
			}
		}
	}
	return nil
}

// make writes an element that the shape allows.
func (s *shape) make(t *rapid.T, b *strings.Builder, name string, also string) {
	esc := func(v string) { xml.EscapeText(b, []byte(v)) }
	b.WriteString("<" + name + also)
	for _, a := range s.attrs {
		if !a.needed && !rapid.Bool().Draw(t, a.name) {
			continue
		}
		b.WriteString(" " + strings.Replace(a.name, xsi+" ", "xsi:", 1) + `="`)
		esc(a.text.make(t))
		b.WriteString(`"`)
	}
	b.WriteString(">")
	prefix := name[:strings.Index(name, ":")+1]
	for _, p := range s.parts {
		most := p.most
		if most == 0 {
			most = 4
		}
		for range rapid.IntRange(p.least, most).Draw(t, p.name) {
			if p.of != nil {
				p.of.make(t, b, prefix+p.name, "")
				continue
			}
			b.WriteString("<" + prefix + p.name + ">")
			esc(p.text.make(t))
			b.WriteString("</" + prefix + p.name + ">")
		}
	}
	if s.open {
		for _, of := range slices.SortedFunc(maps.Keys(s.known), func(a, b xml.Name) int { return cmp.Compare(a.Space+a.Local, b.Space+b.Local) }) {
			if rapid.Bool().Draw(t, of.Local) {
				s.known[of].make(t, b, map[string]string{tpx1: "a:", tpx2: "b:", ext2: "c:"}[of.Space]+of.Local, "")
			}
		}
		if rapid.Bool().Draw(t, "foreign") {
			b.WriteString(`<x:thing xmlns:x="http://example.org/x" x:y="1"><x:cadence>88</x:cadence></x:thing>`)
		}
	}
	b.WriteString("</" + name + ">")
}

// The files that the tests read are such as the schemas ask for.
func TestFilesKeepTheSchemas(t *testing.T) {
	r := runtest.Easy(start, 1, 2, 2.8, 164)
	mute := r
	mute.NoSpeed = true
	late, most := r, r
	late.Start = start.In(time.FixedZone("", 5400)).Add(123456789)
	most.Serial, most.Legs = math.MaxUint32, []runtest.Leg{{Seconds: 3, SpeedMPS: 9, PerMin: 300, GradePercent: -40}, {Seconds: 2}}
	for name, c := range map[string]struct {
		data []byte
		root string
		of   *shape
	}{
		"TCX": {r.TCX(), "TrainingCenterDatabase", tcxShape()}, "TCX without speed": {mute.TCX(), "TrainingCenterDatabase", tcxShape()}, "TCX here": {tcxRun(3, "Running"), "TrainingCenterDatabase", tcxShape()},
		"TCX of another zone": {late.TCX(), "TrainingCenterDatabase", tcxShape()}, "TCX at its bounds": {most.TCX(), "TrainingCenterDatabase", tcxShape()}, "TCX with all": {[]byte(wholeTCX), "TrainingCenterDatabase", tcxShape()},
		"GPX": {r.GPX(), "gpx", gpxShape()}, "GPX here": {gpxRun(3, "running"), "gpx", gpxShape()},
	} {
		n, err := tree(c.data)
		if err == nil && n.name != (xml.Name{Space: c.of.space, Local: c.root}) {
			err = fmt.Errorf("the root is %v", n.name)
		}
		if err == nil {
			err = c.of.check(n)
		}
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// wholeTCX has every element of a run that the table knows.
const wholeTCX = `<?xml version="1.0" encoding="UTF-8"?>
<TrainingCenterDatabase xmlns="` + tcx2 + `" xmlns:e="` + ext2 + `" xmlns:xsi="` + xsi + `" xsi:schemaLocation="` + tcx2 + ` here.xsd">
<Activities><Activity Sport="Running"><Id>2026-03-07T06:30:00Z</Id>
<Lap StartTime="2026-03-07T06:30:00Z"><TotalTimeSeconds>2</TotalTimeSeconds><DistanceMeters>5.6</DistanceMeters><MaximumSpeed>2.9</MaximumSpeed><Calories>1</Calories>
<AverageHeartRateBpm><Value>140</Value></AverageHeartRateBpm><MaximumHeartRateBpm><Value>141</Value></MaximumHeartRateBpm><Intensity>Active</Intensity><Cadence>82</Cadence><TriggerMethod>Manual</TriggerMethod>
<Track><Trackpoint><Time>2026-03-07T06:30:00Z</Time><Position><LatitudeDegrees>41.9</LatitudeDegrees><LongitudeDegrees>12.5</LongitudeDegrees></Position><AltitudeMeters>20</AltitudeMeters><DistanceMeters>0</DistanceMeters>
<HeartRateBpm><Value>140</Value></HeartRateBpm><Cadence>81</Cadence><SensorState>Present</SensorState><Extensions><e:TPX CadenceSensor="Footpod"><e:Speed>2.8</e:Speed><e:RunCadence>82</e:RunCadence><e:Watts>200</e:Watts></e:TPX></Extensions></Trackpoint>
<Trackpoint><Time>2026-03-07T06:30:02Z</Time></Trackpoint></Track><Notes>flat</Notes>
<Extensions><e:LX><e:AvgSpeed>2.8</e:AvgSpeed><e:MaxBikeCadence>0</e:MaxBikeCadence><e:AvgRunCadence>82</e:AvgRunCadence><e:MaxRunCadence>83</e:MaxRunCadence><e:Steps>5</e:Steps><e:AvgWatts>200</e:AvgWatts><e:MaxWatts>210</e:MaxWatts></e:LX></Extensions></Lap>
<Notes>invented</Notes><Training VirtualPartner="false"><Plan Type="Workout" IntervalWorkout="false"><Name>easy</Name></Plan></Training>
<Creator xsi:type="Device_t"><Name>invented</Name><UnitId>1</UnitId><ProductID>1</ProductID><Version><VersionMajor>1</VersionMajor><VersionMinor>0</VersionMinor><BuildMajor>0</BuildMajor><BuildMinor>0</BuildMinor></Version></Creator></Activity></Activities>
<Author xsi:type="Application_t"><Name>invented</Name><Build><Version><VersionMajor>1</VersionMajor><VersionMinor>0</VersionMinor></Version><Type>Release</Type></Build><LangID>en</LangID><PartNumber>006-A0000-00</PartNumber></Author>
</TrainingCenterDatabase>`

// Any single departure from the table of TCX is refused: an element that is missing,
// doubled, out of its order, of another name or name space, with a text of another
// kind or beyond its range; an attribute that is missing, unknown or of another value.
func TestTCXDeparturesAreRefused(t *testing.T) {
	check := tcxShape()
	root, err := tree([]byte(wholeTCX))
	if err != nil {
		t.Fatal(err)
	}
	tried := 0
	refused := func(what string) {
		t.Helper()
		if tried++; check.check(root) == nil {
			t.Errorf("taken: %s", what)
		}
	}
	needed := strings.Fields("Id Lap TotalTimeSeconds Calories Intensity TriggerMethod Time Value LatitudeDegrees LongitudeDegrees Name UnitId ProductID Version VersionMajor VersionMinor Build LangID PartNumber")
	many := strings.Fields("Activity Lap Track Trackpoint")
	// Texts that an element may not have, by its name; any other may not be a word.
	wrong := map[string][]string{
		"Value": {"0", "256", "140.5"}, "LatitudeDegrees": {"90.1", "-91", "north"}, "LongitudeDegrees": {"180.1", "-181"}, "Cadence": {"255", "-1", "81.5"}, "RunCadence": {"255", "-1"}, "AvgRunCadence": {"255"}, "MaxRunCadence": {"255"}, "MaxBikeCadence": {"255"},
		"Calories": {"65536", "-1", "1.5"}, "Watts": {"65536"}, "AvgWatts": {"65536"}, "MaxWatts": {"65536"}, "Steps": {"65536", "-1"}, "UnitId": {"4294967296", "-1"}, "ProductID": {"65536"}, "VersionMajor": {"65536"}, "BuildMinor": {"-1"},
		"Time": {"2026-13-07T06:30:00Z", "2026-02-30T06:30:00Z", "2026-03-07 06:30:00", "2026-03-07T25:30:00Z", "07.03.2026"}, "Id": {"1"}, "Speed": {"2,8", "0x1p1", "1_0", "fast"}, "DistanceMeters": {"5 m", "1e"}, "TotalTimeSeconds": {"0:02"},
		"Intensity": {"active", "Fast"}, "TriggerMethod": {"manual", "Lap"}, "SensorState": {"present"}, "Type": {"Final"}, "LangID": {"english"}, "PartNumber": {"6-A0000-00"}, "Name": {"", "two\nlines"},
	}
	var walk func(n, up *node, path string, open bool)
	walk = func(n, up *node, path string, open bool) {
		path += "/" + n.name.Local
		name := n.name
		if !open { // an extension of another name is another's, and allowed
			n.name.Local += "s"
			refused(path + " of another name")
			n.name = xml.Name{Space: "http://example.org/x", Local: name.Local}
			refused(path + " of another name space")
			n.name = name
		}
		for i, a := range slices.Clone(n.attrs) {
			if a.Name.Space == "xmlns" || a.Name.Local == "xmlns" || a.Name.Local == "schemaLocation" {
				continue
			}
			was := slices.Clone(n.attrs)
			n.attrs[i].Value = "nothing known"
			refused(path + " with another " + a.Name.Local)
			n.attrs = slices.Delete(n.attrs, i, i+1)
			if a.Name.Local != "CadenceSensor" {
				refused(path + " without " + a.Name.Local)
			}
			n.attrs = was
		}
		n.attrs = append(n.attrs, xml.Attr{Name: xml.Name{Local: "colour"}, Value: "red"})
		refused(path + " with an unknown attribute")
		n.attrs = n.attrs[:len(n.attrs)-1]
		if up != nil {
			i := slices.Index(up.parts, n)
			was := up.parts
			if slices.Contains(needed, name.Local) && !(name.Local == "Name" && up.name.Local == "Plan") || name.Local == "DistanceMeters" && up.name.Local == "Lap" {
				up.parts = slices.Delete(slices.Clone(was), i, i+1)
				refused("without " + path)
			}
			if !slices.Contains(many, name.Local) && !open {
				up.parts = slices.Insert(slices.Clone(was), i, n)
				refused("twice " + path)
			}
			if i > 0 && was[i-1].name != name && !open {
				up.parts = slices.Clone(was)
				up.parts[i-1], up.parts[i] = up.parts[i], up.parts[i-1]
				refused(path + " before its turn")
			}
			up.parts = was
		}
		isText := len(n.parts) == 0
		text := n.text
		if isText && name.Local != "Notes" && name.Local != "Trackpoint" {
			bad := wrong[name.Local]
			if name.Local != "Name" {
				bad = append(slices.Clone(bad), "", "some thing else")
			}
			for _, v := range bad {
				n.text = v
				refused(fmt.Sprintf("%s of %q", path, v))
			}
			n.text = text
			n.parts = []*node{{name: xml.Name{Space: tcx2, Local: "More"}}}
			refused(path + " with an element in its text")
			n.parts = nil
		} else if !isText {
			n.text = "words"
			refused(path + " with words between its elements")
			n.text = text
		}
		for _, c := range slices.Clone(n.parts) {
			walk(c, n, path, name.Local == "Extensions")
		}
	}
	if err := check.check(root); err != nil {
		t.Fatal(err)
	}
	walk(root, nil, "", true)
	if err := check.check(root); err != nil {
		t.Fatalf("not put back as it was: %v", err)
	}
	if t.Logf("%d departures", tried); tried < 400 {
		t.Errorf("only %d departures were tried", tried)
	}
}

// The table of GPX says what the published schema says: xmllint, with the schema file
// that setup takes from a Debian package, allows what the table makes up and refuses
// what the table refuses.
func TestGPXKeepsThePublishedSchema(t *testing.T) {
	schema, err := filepath.Abs(filepath.Join("..", "..", "setup", "schemas", "gpx11.xsd"))
	if err == nil {
		_, err = os.Stat(schema)
	}
	if err != nil {
		t.Skip("needs the published schema of GPX; install it with `make setup-tests`")
	}
	xmllint, err := exec.LookPath("xmllint")
	if err != nil {
		t.Skip("needs xmllint; install it with `make setup-tests`")
	}
	dir := t.TempDir()
	allows := func(names ...string) (out string, ok bool) {
		told, err := exec.Command(xmllint, append([]string{"--noout", "--nonet", "--schema", schema}, names...)...).CombinedOutput()
		return string(told), err == nil
	}
	write := func(name, data string) string {
		name = filepath.Join(dir, name)
		if err := os.WriteFile(name, []byte(data), 0o600); err != nil {
			t.Fatal(err)
		}
		return name
	}
	made := rapid.Custom(func(t *rapid.T) string {
		moments = 0
		var b strings.Builder
		b.WriteString(`<?xml version="1.0" encoding="UTF-8"?>`)
		gpxShape().make(t, &b, "gpx", fmt.Sprintf(` xmlns=%q xmlns:a=%q xmlns:b=%q xmlns:c=%q xmlns:xsi=%q`, gpx11, tpx1, tpx2, ext2, xsi))
		return b.String()
	})
	names := []string{write("run.gpx", string(runtest.Easy(start, 1, 2, 2.8, 164).GPX())), write("here.gpx", string(gpxRun(3, "running")))}
	for i := range 80 {
		names = append(names, write(fmt.Sprintf("made%d.gpx", i), made.Example(i)))
	}
	if told, ok := allows(names...); !ok {
		t.Errorf("the published schema refuses what the table makes up: %s", told)
	}
	whole := string(gpxRun(3, "running"))
	for from, to := range map[string]string{
		`version="1.1"`: `version="1.2"`,
		"<trkseg>":      "<trkpart>",
		"<trk>":         `<trk><trkseg></trkseg><name>late</name>`,
		` lat="`:        ` lat="1`,
		` lon="`:        ` width="`,
		"</trkseg>":     "<ele>3</ele></trkseg>",
	} {
		broken := strings.Replace(strings.Replace(whole, from, to, 1), "</trkseg>", map[bool]string{true: "</trkpart>", false: "</trkseg>"}[from == "<trkseg>"], 1)
		if broken == whole {
			t.Errorf("%q is not in the file", from)
			continue
		}
		_, ok := allows(write("broken.gpx", broken))
		n, err := tree([]byte(broken))
		if ours := err == nil && gpxShape().check(n) == nil; ok || ours {
			t.Errorf("%q is allowed: by the published schema %v, by the table %v", to, ok, ours)
		}
	}
}

// Whatever the schemas allow is read, each point with what it says and nothing else.
func TestWhateverTheSchemasAllowIsRead(t *testing.T) {
	for name, c := range map[string]struct {
		root  string
		of    *shape
		read  func(*bufio.Reader) (*File, error)
		point string
		space string
	}{
		"GPX": {"gpx", gpxShape(), readGPX, "trkpt", gpx11}, "TCX": {"TrainingCenterDatabase", tcxShape(), readTCX, "Trackpoint", tcx2},
	} {
		t.Run(name, func(t *testing.T) {
			read := 0
			rapid.Check(t, func(t *rapid.T) {
				moments = 0
				var b strings.Builder
				b.WriteString(`<?xml version="1.0" encoding="UTF-8"?>`)
				c.of.make(t, &b, c.root, fmt.Sprintf(` xmlns=%q xmlns:a=%q xmlns:b=%q xmlns:c=%q xmlns:xsi=%q`, c.space, tpx1, tpx2, ext2, xsi))
				n, err := tree([]byte(b.String()))
				if err != nil {
					t.Fatal(err)
				}
				if err := c.of.check(n); err != nil {
					t.Fatalf("the file made up is not as the schema asks: %v", err)
				}
				got, err := c.read(bufio.NewReaderSize(strings.NewReader(b.String()), longestTag))
				if err != nil {
					t.Fatal(err)
				}
				want := said(n, c.point)
				if len(got.Samples) != len(want) {
					t.Fatalf("%d of %d points with a time", len(got.Samples), len(want))
				}
				read += len(want)
				for i, w := range want {
					g := got.Samples[i]
					if at := got.Start.Add(time.Duration(math.Round(g.TimeS*1000)) * time.Millisecond); !at.Equal(w.at) || !alike(g.AltitudeM, w.AltitudeM) || !alike(g.PerMin, w.PerMin) || !alike(g.SpeedMPS, w.SpeedMPS) || !math.IsNaN(w.DistanceM) && !alike(g.DistanceM, w.DistanceM) {
						t.Fatalf("point %d is %+v at %s, and the file says %+v", i, g, at, w)
					}
				}
			})
			if t.Logf("%d points", read); read == 0 {
				t.Error("no point was made up")
			}
		})
	}
}

func alike(a, b float64) bool { return math.IsNaN(a) && math.IsNaN(b) || math.Abs(a-b) < 1e-9 }

type saidPoint struct {
	steprate.Sample
	at time.Time
}

// said are the points of a file with a time, read by the library's own reader of XML.
func said(n *node, point string) (out []saidPoint) {
	if n.name.Local == point {
		p := saidPoint{Sample: blank()}
		var look func(*node)
		bike := math.NaN()
		look = func(n *node) {
			v, err := strconv.ParseFloat(n.text, 64)
			if err != nil {
				v = math.NaN()
			}
			switch n.name.Space + " " + n.name.Local {
			case gpx11 + " time", tcx2 + " Time":
				for _, form := range []string{time.RFC3339, "2006-01-02T15:04:05"} {
					if at, err := time.Parse(form, n.text); err == nil {
						p.at = at
					}
				}
			case gpx11 + " ele", tcx2 + " AltitudeMeters":
				p.AltitudeM = v
			case tcx2 + " DistanceMeters":
				p.DistanceM = v
			case tpx1 + " cad", tpx2 + " cad", ext2 + " RunCadence":
				p.PerMin = 2 * v
			case tcx2 + " Cadence":
				bike = 2 * v
			case tpx2 + " speed", ext2 + " Speed":
				p.SpeedMPS = v
			}
			for _, c := range n.parts {
				look(c)
			}
		}
		look(n)
		if math.IsNaN(p.PerMin) {
			p.PerMin = bike
		}
		if !p.at.IsZero() {
			out = append(out, p)
		}
		return out
	}
	for _, c := range n.parts {
		out = append(out, said(c, point)...)
	}
	return out
}
