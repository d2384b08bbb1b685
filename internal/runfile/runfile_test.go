package runfile

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/muktihari/fit/encoder"
	"github.com/muktihari/fit/profile/filedef"
	"github.com/muktihari/fit/profile/mesgdef"
	"github.com/muktihari/fit/profile/typedef"
)

var start = time.Date(2026, 3, 7, 6, 30, 0, 0, time.UTC)

// fitRun writes a run with the format's own library: n records a second apart at
// 3 m/s with 82.5 strides a minute.
func fitRun(t testing.TB, n int, sport typedef.Sport) []byte {
	t.Helper()
	a := filedef.NewActivity()
	a.FileId = *mesgdef.NewFileId(nil).SetType(typedef.FileActivity).SetTimeCreated(start)
	for i := range n {
		a.Records = append(a.Records, mesgdef.NewRecord(nil).SetTimestamp(start.Add(time.Duration(i)*time.Second)).
			SetCadence(82).SetFractionalCadence(64).SetEnhancedSpeed(3000).SetDistance(uint32(i*300)).
			SetEnhancedAltitude(uint32((100+500)*5)).SetStanceTime(2450).SetVerticalOscillation(880).SetPositionLat(500000000).SetPositionLong(100000000))
	}
	a.Sessions = append(a.Sessions, mesgdef.NewSession(nil).SetTimestamp(start.Add(time.Duration(n)*time.Second)).SetSport(sport))
	fit := a.ToFIT(nil)
	var b bytes.Buffer
	if err := encoder.New(&b).Encode(&fit); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func tcxRun(n int, sport string) []byte {
	var b strings.Builder
	fmt.Fprintf(&b, `<?xml version="1.0" encoding="UTF-8"?>
<TrainingCenterDatabase xmlns="http://www.garmin.com/xmlschemas/TrainingCenterDatabase/v2" xmlns:ns3="http://www.garmin.com/xmlschemas/ActivityExtension/v2">
<Activities><Activity Sport="%s"><Id>2026-03-07T06:30:00.000Z</Id><Lap StartTime="2026-03-07T06:30:00.000Z"><TotalTimeSeconds>%d</TotalTimeSeconds><DistanceMeters>%d</DistanceMeters><Calories>0</Calories><Intensity>Active</Intensity><TriggerMethod>Manual</TriggerMethod><Track>`, sport, n, 3*n)
	for i := range n {
		fmt.Fprintf(&b, `<Trackpoint><Time>%s</Time><Position><LatitudeDegrees>41.9</LatitudeDegrees><LongitudeDegrees>12.5</LongitudeDegrees></Position><AltitudeMeters>20</AltitudeMeters><DistanceMeters>%d</DistanceMeters><HeartRateBpm><Value>140</Value></HeartRateBpm><Extensions><ns3:TPX><ns3:Speed>3.0</ns3:Speed><ns3:RunCadence>82</ns3:RunCadence></ns3:TPX></Extensions></Trackpoint>`,
			start.Add(time.Duration(i)*time.Second).Format("2006-01-02T15:04:05.000Z"), 3*i)
	}
	b.WriteString(`</Track></Lap></Activity></Activities></TrainingCenterDatabase>`)
	return []byte(b.String())
}

func gpxRun(n int, kind string) []byte {
	var b strings.Builder
	fmt.Fprintf(&b, `<?xml version="1.0"?><gpx version="1.1" creator="a watch" xmlns="http://www.topografix.com/GPX/1/1" xmlns:gpxtpx="http://www.garmin.com/xmlschemas/TrackPointExtension/v1"><trk><type>%s</type><trkseg>`, kind)
	for i := range n {
		// 3 m north each second.
		fmt.Fprintf(&b, `<trkpt lat="%.9f" lon="12.5"><ele>20</ele><time>%s</time><extensions><gpxtpx:TrackPointExtension><gpxtpx:hr>140</gpxtpx:hr><gpxtpx:cad>82</gpxtpx:cad></gpxtpx:TrackPointExtension></extensions></trkpt>`,
			41.9+float64(i)*3/earthM*180/math.Pi, start.Add(time.Duration(i)*time.Second).Format(time.RFC3339))
	}
	b.WriteString(`</trkseg></trk></gpx>`)
	return []byte(b.String())
}

func TestEveryFormatTellsTheSame(t *testing.T) {
	for name, c := range map[string]struct {
		data []byte
		rate float64
	}{"FIT": {fitRun(t, 900, typedef.SportRunning), 165}, "TCX": {tcxRun(900, "Running"), 164}, "GPX": {gpxRun(900, "running"), 164}} {
		run, err := Read(bytes.NewReader(c.data))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if len(run.Samples) != 900 || !run.Start.Equal(start) {
			t.Errorf("%s: %d samples from %s", name, len(run.Samples), run.Start)
		}
		if m, s := run.Distance(); math.Abs(m-2697) > 3 || s != 899 {
			t.Errorf("%s: %.1f m in %.0f s", name, m, s)
		}
		seg := run.Steady(0)
		if len(seg) < 3 || math.Abs(seg[0].PerMin-c.rate) > 0.01 || math.Abs(seg[0].SpeedMPS-3) > 0.02 {
			t.Errorf("%s: steady parts %+v, notes %v", name, seg, run.Notes)
		}
	}
	run, _ := Read(bytes.NewReader(fitRun(t, 300, typedef.SportRunning)))
	if s := run.Samples[10]; math.Abs(s.ContactS-0.245) > 1e-9 || math.Abs(s.OscillationM-0.088) > 1e-9 || math.Abs(s.AltitudeM-100) > 1e-9 {
		t.Errorf("FIT sample %+v", s)
	}
}

func TestBadFilesInClearWords(t *testing.T) {
	fit := fitRun(t, 900, typedef.SportRunning)
	flipped := bytes.Clone(fit)
	for i := 200; i < len(flipped); i += 37 {
		flipped[i] ^= 0xff
	}
	// Two in one file, side by side or one long after the other.
	two := func(form string, from, to string, after time.Duration) []byte {
		one := map[string][]byte{"TCX": tcxRun(200, "Running"), "GPX": gpxRun(200, "running")}[form]
		a, b := bytes.Index(one, []byte(from)), bytes.Index(one, []byte(to))+len(to)
		moment := regexp.MustCompile(`2026-\d\d-\d\dT\d\d:\d\d:\d\d`)
		other := moment.ReplaceAllFunc(one[a:b], func(m []byte) []byte {
			at, err := time.Parse("2006-01-02T15:04:05", string(m))
			if err != nil {
				t.Fatal(err)
			}
			return []byte(at.Add(after).Format("2006-01-02T15:04:05"))
		})
		return slices.Concat(one[:b], other, one[b:])
	}
	for _, form := range [][3]string{{"TCX", "<Activity ", "</Activity>"}, {"GPX", "<trk>", "</trk>"}} {
		for _, after := range []time.Duration{-time.Hour, time.Minute, 5 * time.Hour} {
			if _, err := Read(bytes.NewReader(two(form[0], form[1], form[2], after))); err == nil || !strings.Contains(err.Error(), "more than one run") {
				t.Errorf("two runs %s apart in one %s: %v", after, form[0], err)
			}
		}
		// A recording that was stopped and begun again is one run.
		if run, err := Read(bytes.NewReader(two(form[0], form[1], form[2], 10*time.Minute))); err != nil || len(run.Samples) != 400 {
			t.Errorf("a break in a %s: %v", form[0], err)
		}
	}
	for name, c := range map[string]struct {
		data []byte
		want string // of the error; empty where a part is used
	}{
		"TCX closes wrong":       {bytes.Replace(tcxRun(900, "Running"), []byte("</Trackpoint>"), []byte("</Trackpont>"), 1), "damaged"},
		"TCX closes wrong later": {bytes.Replace(tcxRun(900, "Running"), []byte("<DistanceMeters>300</DistanceMeters>"), []byte("<DistanceMeters>300</Distance>"), 1), ""},
		"GPX closes wrong":       {bytes.Replace(gpxRun(900, "running"), []byte("<time>"), []byte("<time"), 1), "damaged"},
		"GPX closes wrong later": {bytes.Replace(gpxRun(900, "running"), []byte("</gpxtpx:TrackPointExtension></extensions></trkpt></trkseg>"), []byte("</extensions></gpxtpx:TrackPointExtension></trkpt></trkseg>"), 1), ""},
		"empty":                  {nil, "empty"},
		"other":                  {[]byte("hello, this is a letter"), "no run file"},
		"FIT cycling":            {fitRun(t, 100, typedef.SportCycling), "no run but"},
		"TCX biking":             {tcxRun(100, "Biking"), "no run but biking"},
		"GPX cycling":            {gpxRun(100, "cycling"), "no run but cycling"},
		"FIT head alone":         {fit[:60], "damaged"},
		"FIT broken off":         {fit[:len(fit)/2], ""},
		"FIT shuffled":           {flipped, "damaged"},
		"TCX broken off":         {tcxRun(900, "Running")[:150000], ""},
		"TCX head alone":         {tcxRun(900, "Running")[:900], "damaged"},
		"GPX cycling, late":      {[]byte(`<gpx version="1.1"><wpt lat="1" lon="1"><type>shop</type></wpt><trk><name>a</name><type>Mountain Biking</type></trk></gpx>`), "no run but mountain biking"},
		"GPX of a place":         {[]byte(`<gpx version="1.1"><metadata><link href="x"><type>bike/shop</type></link></metadata><wpt lat="1" lon="1"><type>bike shop</type></wpt></gpx>`), "no record"},
		"GPX no points":          {[]byte(`<gpx version="1.1"></gpx>`), "no record"},
		"GPX nested deep":        {[]byte("<gpx>" + strings.Repeat("<a>", 100)), "nested"},
		"GPX entity":             {[]byte(`<!DOCTYPE gpx [<!ENTITY a "b">]><gpx><trkpt lat="&a;" lon="1"></trkpt></gpx>`), "damaged"},
	} {
		run, err := Read(bytes.NewReader(c.data))
		switch {
		case c.want == "" && (err != nil || len(run.Samples) < 60 || !strings.Contains(strings.Join(run.Notes, " "), "breaks off")):
			t.Errorf("%s: %v", name, err)
		case c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)):
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}

func packed(data []byte) []byte {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	z.Write(data)
	z.Close()
	return b.Bytes()
}

func TestPackedFiles(t *testing.T) {
	for name, data := range map[string][]byte{"FIT": fitRun(t, 600, typedef.SportRunning), "TCX": tcxRun(600, "Running"), "GPX": gpxRun(600, "running")} {
		want, err := Read(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		if got, err := Read(bytes.NewReader(packed(data))); err != nil || fmt.Sprint(got) != fmt.Sprint(want) {
			t.Errorf("%s packed: %v", name, err)
		}
		half := packed(data)
		if got, err := Read(bytes.NewReader(half[:len(half)/2])); err == nil && !got.Cut {
			t.Errorf("%s: half of a packed file is taken for all", name)
		}
	}
	for name, bad := range map[string][]byte{"head": {0x1f, 0x8b}, "nothing in it": packed(nil), "a letter": packed([]byte("Dear Ida")), "packed twice": packed(packed(gpxRun(3, "running")))} {
		if _, err := Read(bytes.NewReader(bad)); err == nil {
			t.Errorf("%s was taken", name)
		} else {
			t.Logf("%s: %v", name, err)
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add(packed(gpxRun(3, "running")))
	f.Add(fitRun(f, 3, typedef.SportRunning))
	f.Add(tcxRun(3, "Running"))
	f.Add(gpxRun(3, "running"))
	f.Fuzz(func(t *testing.T, data []byte) {
		run, err := Read(bytes.NewReader(data))
		if err != nil {
			return
		}
		last := math.Inf(-1)
		for _, s := range run.Samples {
			if !(s.TimeS > last) {
				t.Fatal("the clock does not go on")
			}
			last = s.TimeS
		}
		run.Steady(0)
		run.Distance()
	})
}

func BenchmarkFITMillion(b *testing.B) {
	data := fitRun(b, 1_000_000, typedef.SportRunning)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Read(bytes.NewReader(data)); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkTCXMillion(b *testing.B) {
	data := tcxRun(1_000_000, "Running")
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Read(bytes.NewReader(data)); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkGPXMillion(b *testing.B) {
	data := gpxRun(1_000_000, "running")
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Read(bytes.NewReader(data)); err != nil {
			b.Fatal(err)
		}
	}
}

// Points read in one pass say the same as those read tag by tag, which comments in
// them force.
func TestOnePassSaysTheSame(t *testing.T) {
	for name, c := range map[string]struct {
		data []byte
		in   string
	}{"TCX": {tcxRun(300, "Running"), "<Position>"}, "GPX": {gpxRun(300, "running"), "<ele>"}} {
		slow := bytes.ReplaceAll(c.data, []byte(c.in), []byte("<!-- a > b -->"+c.in))
		// White space, attributes with a > in quotes and elements that close
		// themselves are plain.
		odd := bytes.ReplaceAll(c.data, []byte(c.in), []byte("\n\t<note about=\"a > b\" /> <more about='</x>'>\n</more > "+c.in))
		want, err := Read(bytes.NewReader(c.data))
		if err != nil {
			t.Fatal(err)
		}
		for how, data := range map[string][]byte{"tag by tag": slow, "odd": odd} {
			got, err := Read(bytes.NewReader(data))
			if err != nil || fmt.Sprint(got) != fmt.Sprint(want) {
				t.Errorf("%s, %s: %v", name, how, err)
			}
		}
		// Wherever the file is cut, what came before is the same.
		for _, n := range []int{len(c.data) / 2, len(c.data)/2 + 7, len(c.data)/2 + 131, len(c.data) - 20} {
			got, err := Read(bytes.NewReader(c.data[:n]))
			if err != nil || len(got.Samples) > len(want.Samples) || fmt.Sprint(got.Samples) != fmt.Sprint(want.Samples[:len(got.Samples)]) {
				t.Errorf("%s cut at %d: %v", name, n, err)
			}
		}
	}
}

func TestSamplesRoundTrip(t *testing.T) {
	run, err := Read(bytes.NewReader(fitRun(t, 500, typedef.SportRunning)))
	if err != nil {
		t.Fatal(err)
	}
	run.Samples[3].PerMin = math.NaN()
	var b bytes.Buffer
	if err := WriteSamples(&b, run.Samples); err != nil {
		t.Fatal(err)
	}
	got, err := ReadSamples(bytes.NewReader(b.Bytes()))
	if err != nil || fmt.Sprint(got) != fmt.Sprint(run.Samples) {
		t.Errorf("%v: %v", err, got[:4])
	}
	if _, err := ReadSamples(bytes.NewReader(b.Bytes()[:b.Len()/2])); err == nil {
		t.Error("half of the samples are taken for all")
	}
}
