package runfile

import (
	"errors"
	"fmt"
	"io"
	"math"

	"gaitwright/gait/steprate"

	"github.com/muktihari/fit/decoder"
	"github.com/muktihari/fit/profile/typedef"
	"github.com/muktihari/fit/profile/untyped/fieldnum"
	"github.com/muktihari/fit/profile/untyped/mesgnum"
	"github.com/muktihari/fit/proto"
)

// fitEpoch is the beginning of the format's time, seconds after 1970.
const fitEpoch = 631065600

type fitReader struct {
	run     steprate.Run
	startS  uint32
	sport   typedef.Sport
	sports  bool
	tooMany bool
}

// OnMesg takes one message of the file.
func (f *fitReader) OnMesg(m proto.Message) {
	switch m.Num {
	case mesgnum.Session, mesgnum.Sport:
		for i := range m.Fields {
			field := &m.Fields[i]
			if m.Num == mesgnum.Session && field.Num == fieldnum.SessionSport || m.Num == mesgnum.Sport && field.Num == fieldnum.SportSport {
				f.sport, f.sports = typedef.Sport(field.Value.Uint8()), true
			}
		}
	case mesgnum.Record:
		f.record(m)
	}
}

func (f *fitReader) record(m proto.Message) {
	if len(f.run.Samples) >= maxRecords {
		f.tooMany = true
		return
	}
	s := blank()
	cadence, fraction := math.NaN(), 0.0
	at := uint32(math.MaxUint32)
	for i := range m.Fields {
		v := m.Fields[i].Value
		switch m.Fields[i].Num {
		case fieldnum.RecordTimestamp:
			at = v.Uint32()
		case fieldnum.RecordCadence:
			if c := v.Uint8(); c != math.MaxUint8 {
				cadence = float64(c)
			}
		case fieldnum.RecordFractionalCadence:
			if c := v.Uint8(); c != math.MaxUint8 {
				fraction = float64(c) / 128
			}
		case fieldnum.RecordEnhancedSpeed:
			if x := v.Uint32(); x != math.MaxUint32 {
				s.SpeedMPS = float64(x) / 1000
			}
		case fieldnum.RecordSpeed:
			if x := v.Uint16(); x != math.MaxUint16 && math.IsNaN(s.SpeedMPS) {
				s.SpeedMPS = float64(x) / 1000
			}
		case fieldnum.RecordDistance:
			if x := v.Uint32(); x != math.MaxUint32 {
				s.DistanceM = float64(x) / 100
			}
		case fieldnum.RecordEnhancedAltitude:
			if x := v.Uint32(); x != math.MaxUint32 {
				s.AltitudeM = float64(x)/5 - 500
			}
		case fieldnum.RecordAltitude:
			if x := v.Uint16(); x != math.MaxUint16 && math.IsNaN(s.AltitudeM) {
				s.AltitudeM = float64(x)/5 - 500
			}
		case fieldnum.RecordStanceTime:
			if x := v.Uint16(); x != math.MaxUint16 {
				s.ContactS = float64(x) / 10 / 1000
			}
		case fieldnum.RecordVerticalOscillation:
			if x := v.Uint16(); x != math.MaxUint16 {
				s.OscillationM = float64(x) / 10 / 1000
			}
		}
	}
	if at == math.MaxUint32 {
		return // a record without its time cannot be placed
	}
	if len(f.run.Samples) == 0 {
		f.startS = at
		f.run.Start = unix(int64(at) + fitEpoch)
	}
	s.TimeS = float64(int64(at) - int64(f.startS))
	s.PerMin = 2 * (cadence + fraction)
	f.run.Samples = append(f.run.Samples, s)
}

func readFIT(r io.Reader) (run *steprate.Run, err error) {
	f := &fitReader{}
	defer func() {
		if p := recover(); p != nil {
			run, err = nil, errors.New("the FIT file is damaged: export it again from the watch")
		}
	}()
	d := decoder.New(r, decoder.WithMesgListener(f), decoder.WithBroadcastOnly(), decoder.WithNoComponentExpansion())
	_, err = d.Decode()
	if f.tooMany {
		return nil, tooMany(maxRecords)
	}
	if f.sports && f.sport != typedef.SportRunning && f.sport != typedef.SportGeneric {
		return nil, fmt.Errorf("this is no run but %s", f.sport)
	}
	if err != nil {
		if len(f.run.Samples) < 60 {
			return nil, fmt.Errorf("the FIT file is damaged: export it again from the watch (%w)", err)
		}
		f.run.Notes = append(f.run.Notes, fmt.Sprintf("the file breaks off after %.0f minutes; what came before is used", f.run.Samples[len(f.run.Samples)-1].TimeS/60))
	}
	return &f.run, nil
}
