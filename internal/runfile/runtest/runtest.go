// Package runtest writes run files of an invented runner, for tests and for the
// invented studio: FIT by the
// format's own library, TCX and GPX in the order of their published schemas.
package runtest

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"time"

	"github.com/muktihari/fit/encoder"
	"github.com/muktihari/fit/profile/filedef"
	"github.com/muktihari/fit/profile/mesgdef"
	"github.com/muktihari/fit/profile/typedef"
)

// Leg is a part of a run.
type Leg struct {
	Seconds      int
	SpeedMPS     float64
	PerMin       float64 // both feet
	GradePercent float64
}

// Run is an invented run, a record a second.
type Run struct {
	Start time.Time
	Legs  []Leg
	Seed  uint64
	// Serial is the watch's number, 0 for none.
	Serial uint32
	// ZoneHours is the watch's zone; a FIT file says it where ZoneKnown.
	ZoneHours int
	ZoneKnown bool
	NoSpeed   bool          // neither speed nor, in FIT and TCX, distance
	Sport     typedef.Sport // running where zero
}

// Easy is a run of some minutes at a pace, with a warm-up before, a stop and a hill
// in it.
func Easy(start time.Time, seed uint64, minutes int, speedMPS, perMin float64) Run {
	half := minutes * 30
	return Run{Start: start, Seed: seed, Serial: 1001, Legs: []Leg{
		{90, speedMPS - 0.5, perMin - 4, 0}, {half, speedMPS - 0.1, perMin - 0.6, 0}, {40, 0, 0, 0},
		{half, speedMPS + 0.1, perMin + 0.6, 0}, {120, speedMPS - 0.4, perMin - 1, 5}}}
}

// Record is one second of a run.
type Record struct {
	Second    int
	SpeedMPS  float64
	PerMin    float64
	DistanceM float64
	AltitudeM float64
}

// Records are the seconds of the run, with the noise of a watch: 1 step a minute
// and 0.06 m/s.
func (r Run) Records() []Record {
	noise := rand.New(rand.NewPCG(r.Seed, 77))
	out := make([]Record, 0, 3600)
	d, h := 0.0, 120.0
	for _, l := range r.Legs {
		for range l.Seconds {
			d += l.SpeedMPS
			h += l.SpeedMPS * l.GradePercent / 100
			o := Record{Second: len(out), SpeedMPS: l.SpeedMPS, PerMin: l.PerMin, DistanceM: d, AltitudeM: h}
			if l.SpeedMPS > 0 {
				o.SpeedMPS = math.Max(0, o.SpeedMPS+0.06*noise.NormFloat64())
			}
			if l.PerMin > 0 {
				o.PerMin = math.Max(0, o.PerMin+noise.NormFloat64())
			}
			out = append(out, o)
		}
	}
	return out
}

func (r Run) at(second int) time.Time { return r.Start.Add(time.Duration(second) * time.Second) }

// FIT writes the run with the format's own library.
func (r Run) FIT() []byte {
	a := filedef.NewActivity()
	a.FileId = *mesgdef.NewFileId(nil).SetType(typedef.FileActivity).SetTimeCreated(r.Start).SetManufacturer(typedef.ManufacturerDevelopment)
	if r.Serial != 0 {
		a.FileId.SetSerialNumber(r.Serial)
	}
	list := r.Records()
	a.Records = make([]*mesgdef.Record, 0, len(list))
	for _, o := range list {
		strides := o.PerMin / 2
		m := mesgdef.NewRecord(nil).SetTimestamp(r.at(o.Second)).SetCadence(uint8(strides)).SetFractionalCadence(uint8(128 * (strides - math.Floor(strides)))).
			SetEnhancedAltitude(uint32(math.Round((o.AltitudeM + 500) * 5))).SetPositionLat(semicircles(41.9 + o.DistanceM*degreesPerM)).SetPositionLong(semicircles(12.5))
		if !r.NoSpeed {
			m.SetEnhancedSpeed(uint32(math.Round(o.SpeedMPS * 1000))).SetDistance(uint32(math.Round(o.DistanceM * 100)))
		}
		if o.PerMin > 0 {
			m.SetStanceTime(2450).SetVerticalOscillation(880)
		}
		a.Records = append(a.Records, m)
	}
	sport := r.Sport
	if sport == 0 {
		sport = typedef.SportRunning
	}
	end := r.at(len(list))
	a.Sessions = append(a.Sessions, mesgdef.NewSession(nil).SetTimestamp(end).SetSport(sport))
	act := mesgdef.NewActivity(nil).SetTimestamp(end).SetNumSessions(1)
	if r.ZoneKnown {
		act.SetLocalTimestamp(end.Add(time.Duration(r.ZoneHours) * time.Hour))
	}
	a.Activity = act
	fit := a.ToFIT(nil)
	var b bytes.Buffer
	if err := encoder.New(&b).Encode(&fit); err != nil {
		panic("runtest: " + err.Error())
	}
	return b.Bytes()
}

// TCX writes the run in the order of the Training Center Database v2 with the
// Activity Extension v2.
func (r Run) TCX() []byte {
	var b strings.Builder
	list := r.Records()
	b.Grow(420 * len(list))
	start := r.Start.UTC().Format("2006-01-02T15:04:05.000Z")
	fmt.Fprintf(&b, `<?xml version="1.0" encoding="UTF-8"?>
<TrainingCenterDatabase xmlns="http://www.garmin.com/xmlschemas/TrainingCenterDatabase/v2" xmlns:ns3="http://www.garmin.com/xmlschemas/ActivityExtension/v2" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
  <Activities>
    <Activity Sport="Running">
      <Id>%s</Id>
      <Lap StartTime="%s">
        <TotalTimeSeconds>%d</TotalTimeSeconds>
        <DistanceMeters>%.1f</DistanceMeters>
        <Calories>0</Calories>
        <Intensity>Active</Intensity>
        <TriggerMethod>Manual</TriggerMethod>
        <Track>
`, start, start, len(list), list[len(list)-1].DistanceM)
	for _, o := range list {
		fmt.Fprintf(&b, `          <Trackpoint>
            <Time>%s</Time>
            <Position>
              <LatitudeDegrees>%.7f</LatitudeDegrees>
              <LongitudeDegrees>12.5</LongitudeDegrees>
            </Position>
            <AltitudeMeters>%.1f</AltitudeMeters>
`, r.at(o.Second).UTC().Format("2006-01-02T15:04:05.000Z"), 41.9+o.DistanceM*degreesPerM, o.AltitudeM)
		if !r.NoSpeed {
			fmt.Fprintf(&b, "            <DistanceMeters>%.2f</DistanceMeters>\n", o.DistanceM)
		}
		b.WriteString("            <HeartRateBpm><Value>140</Value></HeartRateBpm>\n            <Extensions>\n              <ns3:TPX>\n")
		if !r.NoSpeed {
			fmt.Fprintf(&b, "                <ns3:Speed>%.3f</ns3:Speed>\n", o.SpeedMPS)
		}
		fmt.Fprintf(&b, "                <ns3:RunCadence>%.0f</ns3:RunCadence>\n              </ns3:TPX>\n            </Extensions>\n          </Trackpoint>\n", o.PerMin/2)
	}
	fmt.Fprintf(&b, `        </Track>
      </Lap>
      <Creator xsi:type="Device_t">
        <Name>invented</Name>
        <UnitId>%d</UnitId>
        <ProductID>1</ProductID>
        <Version><VersionMajor>1</VersionMajor><VersionMinor>0</VersionMinor></Version>
      </Creator>
    </Activity>
  </Activities>
</TrainingCenterDatabase>
`, r.Serial)
	return []byte(b.String())
}

// degreesPerM is a metre along a meridian of the mean sphere, degrees.
const degreesPerM = 180 / math.Pi / 6371008.8

// semicircles are the format's unit of an angle: 2^31 of them are 180 degrees.
func semicircles(degrees float64) int32 { return int32(math.Round(degrees / 180 * (1 << 31))) }

// GPX writes the run as GPX 1.1 with the Track Point Extension v1, which has no
// speed: it follows from the places.
func (r Run) GPX() []byte {
	var b strings.Builder
	list := r.Records()
	b.Grow(300 * len(list))
	b.WriteString(`<?xml version="1.0" encoding="UTF-8"?>
<gpx version="1.1" creator="invented" xmlns="http://www.topografix.com/GPX/1/1" xmlns:gpxtpx="http://www.garmin.com/xmlschemas/TrackPointExtension/v1">
  <metadata>
    <time>` + r.Start.UTC().Format(time.RFC3339) + `</time>
  </metadata>
  <trk>
    <name>A run</name>
    <type>running</type>
    <trkseg>
`)
	for _, o := range list {
		fmt.Fprintf(&b, `      <trkpt lat="%.9f" lon="12.5">
        <ele>%.1f</ele>
        <time>%s</time>
        <extensions>
          <gpxtpx:TrackPointExtension>
            <gpxtpx:hr>140</gpxtpx:hr>
            <gpxtpx:cad>%.0f</gpxtpx:cad>
          </gpxtpx:TrackPointExtension>
        </extensions>
      </trkpt>
`, 41.9+o.DistanceM*degreesPerM, o.AltitudeM, r.at(o.Second).UTC().Format(time.RFC3339), o.PerMin/2)
	}
	b.WriteString("    </trkseg>\n  </trk>\n</gpx>\n")
	return []byte(b.String())
}
