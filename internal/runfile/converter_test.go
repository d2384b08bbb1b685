package runfile

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"gaitwright/gait/steprate"
	"gaitwright/internal/runfile/runtest"
)

// A general converter of positions, which shares nothing with this program, reads the
// same out of a FIT file as we do; and a run that went through it, from each of the
// three formats into each, is read as the same run, as far as it carries it: it takes
// no step rate from a TCX file's extension and writes none into FIT, and it works speed
// and distance out of places. What it writes as TCX keeps the table of that format.
func TestAConverterSaysTheSame(t *testing.T) {
	converter, err := exec.LookPath("gpsbabel")
	if err != nil {
		t.Skip("needs gpsbabel; install it with `make setup-tests`")
	}
	dir := t.TempDir()
	convert := func(in, from, out, to string) []byte {
		t.Helper()
		out = filepath.Join(dir, out)
		cmd := exec.Command(converter, "-t", "-i", in, "-f", from, "-o", to, "-F", out)
		if told, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("%s to %s: %v: %s", in, to, err, told)
		}
		data, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		return data
	}
	run := runtest.Run{Start: start, Seed: 3, Serial: 7, Legs: []runtest.Leg{{Seconds: 120, SpeedMPS: 2.6, PerMin: 160}, {Seconds: 240, SpeedMPS: 2.9, PerMin: 166, GradePercent: 2}, {Seconds: 30}, {Seconds: 180, SpeedMPS: 3.2, PerMin: 170}}}
	truth := run.Records()
	formats := []struct {
		name, read, write string
		data              []byte
		rate              bool // it takes the step rate from it, or writes it
	}{{"fit", "garmin_fit", "garmin_fit", run.FIT(), false}, {"tcx", "gtrnctr", "gtrnctr", run.TCX(), true}, {"gpx", "gpx", "gpx,garminextensions=1", run.GPX(), true}}
	for _, from := range formats {
		source := filepath.Join(dir, "run."+from.name)
		if err := os.WriteFile(source, from.data, 0o600); err != nil {
			t.Fatal(err)
		}
		for _, to := range formats {
			name := from.name + " to " + to.name
			data := convert(from.read, source, from.name+"-to."+to.name, to.write)
			got, err := Read(bytes.NewReader(data))
			if err != nil {
				t.Errorf("%s: %v", name, err)
				continue
			}
			if len(got.Samples) != len(truth) || !got.Start.Equal(start) {
				t.Errorf("%s: %d records from %s, want %d from %s", name, len(got.Samples), got.Start, len(truth), start)
				continue
			}
			rated := to.rate && from.name != "tcx"
			for i, s := range got.Samples {
				w := truth[i]
				if s.TimeS != float64(w.Second) || math.Abs(s.AltitudeM-w.AltitudeM) > 0.2 {
					t.Errorf("%s: record %d is at %g s and %.2f m, want %d s and %.2f m", name, i, s.TimeS, s.AltitudeM, w.Second, w.AltitudeM)
					break
				}
				if rated && math.Abs(s.PerMin-w.PerMin) > 2 {
					t.Errorf("%s: record %d has %.2f steps a minute, want %.2f", name, i, s.PerMin, w.PerMin)
					break
				}
			}
			if m, _ := got.Distance(); math.Abs(m/truth[len(truth)-1].DistanceM-1) > 0.005 {
				t.Errorf("%s: %.1f m, want %.1f", name, m, truth[len(truth)-1].DistanceM)
			}
			if to.name == "tcx" {
				n, err := tree(data)
				if err == nil && n.name != (xml.Name{Space: tcx2, Local: "TrainingCenterDatabase"}) {
					err = fmt.Errorf("the root is %v", n.name)
				}
				if err == nil {
					err = tcxShape().check(n)
				}
				if err != nil {
					t.Errorf("what the converter writes from %s is not as the table says: %v", from.name, err)
				}
			}
		}
	}

	// What it reads from the file of the format's own library, field by field.
	rows, err := csv.NewReader(bytes.NewReader(convert("garmin_fit", filepath.Join(dir, "run.fit"), "run.csv", "unicsv,utc=0"))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	at := map[string]int{}
	for i, name := range rows[0] {
		at[name] = i
	}
	ours, err := Read(bytes.NewReader(run.FIT()))
	if err != nil || len(rows)-1 != len(ours.Samples) {
		t.Fatalf("%v; it reads %d records", err, len(rows)-1)
	}
	for i, s := range ours.Samples {
		row := rows[i+1]
		field := func(name string) float64 {
			k, ok := at[name]
			if !ok || row[k] == "" {
				return math.NaN()
			}
			v, err := strconv.ParseFloat(row[k], 64)
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		when, err := time.Parse("2006/01/02 15:04:05", row[at["Date"]]+" "+row[at["Time"]])
		if err != nil {
			t.Fatal(err)
		}
		theirs := steprate.Sample{SpeedMPS: field("Speed"), AltitudeM: field("Altitude"), PerMin: 2 * field("Cadence")}
		// It rounds: to 0.01 m/s, 0.1 m, and down to whole strides a minute.
		if when.Sub(ours.Start).Seconds() != s.TimeS || s.SpeedMPS > 0 && !(math.Abs(theirs.SpeedMPS-s.SpeedMPS) < 0.006) || !(math.Abs(theirs.AltitudeM-s.AltitudeM) < 0.06) || s.PerMin > 0 && !(theirs.PerMin <= s.PerMin && s.PerMin < theirs.PerMin+2) {
			t.Fatalf("record %d: it reads %s %+v, and we %+v", i, when, theirs, s)
		}
	}
}
