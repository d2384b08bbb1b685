package runfile

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/muktihari/fit/decoder"
	"github.com/muktihari/fit/profile/typedef"
	"github.com/muktihari/fit/profile/untyped/fieldnum"
	"github.com/muktihari/fit/profile/untyped/mesgnum"
	"github.com/muktihari/fit/proto"
)

// fitEpoch is the beginning of the format's time, seconds after 1970.
const fitEpoch = 631065600

type fitReader struct {
	run     File
	got     pile
	lastS   float64
	startS  uint32
	sport   typedef.Sport
	sports  bool
	tooMany bool
	// Where the last record was, degrees, and how far it was to there, metres.
	lat, lon, farM float64
	placed         bool
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
	case mesgnum.FileId:
		f.device(m)
	case mesgnum.Activity:
		f.zone(m)
	}
}

// device marks the watch without telling its number.
func (f *fitReader) device(m proto.Message) {
	var maker, product uint16
	var serial uint32
	for i := range m.Fields {
		switch v := m.Fields[i].Value; m.Fields[i].Num {
		case fieldnum.FileIdManufacturer:
			maker = v.Uint16()
		case fieldnum.FileIdProduct:
			product = v.Uint16()
		case fieldnum.FileIdSerialNumber:
			serial = v.Uint32()
		}
	}
	if serial != 0 && serial != math.MaxUint32 {
		f.run.Device = mark(fmt.Sprint(maker, "/", product, "/", serial))
	}
}

// mark is a short name for what is not to be kept.
func mark(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:4])
}

// zone is how far the watch's own time is from that of the world.
func (f *fitReader) zone(m proto.Message) {
	at, local := uint32(math.MaxUint32), uint32(math.MaxUint32)
	for i := range m.Fields {
		switch v := m.Fields[i].Value; m.Fields[i].Num {
		case fieldnum.ActivityTimestamp:
			at = v.Uint32()
		case fieldnum.ActivityLocalTimestamp:
			local = v.Uint32()
		}
	}
	if d := int64(local) - int64(at); at != math.MaxUint32 && local != math.MaxUint32 && d >= -14*3600 && d <= 14*3600 {
		f.run.Zone = time.FixedZone("", int(math.Round(float64(d)/900)*900))
	}
}

// sportName is the name of a sport as it may be shown.
func sportName(s typedef.Sport) string {
	if !slices.Contains(typedef.ListSport(), s) {
		return "a sport that is not known"
	}
	return strings.ReplaceAll(s.String(), "_", " ")
}

func (f *fitReader) record(m proto.Message) {
	if f.got.n >= maxRecords {
		f.tooMany = true
		return
	}
	s := blank()
	cadence, fraction := math.NaN(), 0.0
	lat, lon := int32(math.MaxInt32), int32(math.MaxInt32)
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
		case fieldnum.RecordPositionLat:
			lat = v.Int32()
		case fieldnum.RecordPositionLong:
			lon = v.Int32()
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
	if lat != math.MaxInt32 && lon != math.MaxInt32 {
		f.run.Places = true
		const degrees = 180.0 / (1 << 31)
		a, o := float64(lat)*degrees, float64(lon)*degrees
		if f.placed {
			f.farM += between(f.lat, f.lon, a, o)
		}
		f.lat, f.lon, f.placed = a, o, true
		if math.IsNaN(s.DistanceM) && math.IsNaN(s.SpeedMPS) {
			s.DistanceM = f.farM
		}
	}
	if f.got.n == 0 {
		f.startS = at
		f.run.Start = unix(int64(at) + fitEpoch)
	}
	s.TimeS = float64(int64(at) - int64(f.startS))
	s.PerMin = 2 * (cadence + fraction)
	f.got.add(s)
	f.lastS = s.TimeS
}

func readFIT(r io.Reader) (run *File, err error) {
	f := &fitReader{run: File{Format: "FIT"}}
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
		return nil, fmt.Errorf("this is no run but %s", sportName(f.sport))
	}
	if err != nil {
		if f.got.n < 60 {
			return nil, damaged("the FIT file is damaged: export it again from the watch", err)
		}
		f.run.Cut = true
		f.run.Notes = append(f.run.Notes, fmt.Sprintf("the file breaks off after %.0f minutes; what came before is used", f.lastS/60))
	}
	f.run.Samples = f.got.all()
	return &f.run, nil
}
