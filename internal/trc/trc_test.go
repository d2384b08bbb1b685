package trc

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// text builds an invented file of two markers; the lines are its frames.
func text(header string, lines ...string) string {
	return "PathFileType\t4\t(X/Y/Z)\tinvented.trc\n" +
		"DataRate\tCameraRate\tNumFrames\tNumMarkers\tUnits\tOrigDataRate\tOrigDataStartFrame\tOrigNumFrames\n" +
		header + "\n" +
		"Frame#\tTime\tL Heel\t\t\tRTOE\t\t\n\t\tX1\tY1\tZ1\tX2\tY2\tZ2\n" + strings.Join(lines, "\n") + "\n"
}

const twoFrames = "100\t100\t2\t2\tmm\t100\t1\t2"

func TestReadsUnitsBlanksAndZeroes(t *testing.T) {
	for unit, metres := range map[string]float64{"mm": 1e-3, "cm": 1e-2, "m": 1} {
		f, err := Read(strings.NewReader(text("100\t100\t3\t2\t"+unit+"\t100\t1\t3",
			"1\t1.00\t1\t2\t3\t4\t5\t6", "2\t1.01\t\t\t\t4\t5\t6\t", "3\t1.02\t0\t0\t0\tNaN\tNaN\tNaN")))
		if err != nil {
			t.Fatal(err)
		}
		if f.RateHz != 100 || len(f.TimeS) != 3 || f.TimeS[0] != 0 || math.Abs(f.TimeS[2]-0.02) > 1e-12 {
			t.Errorf("rate %g, times %v", f.RateHz, f.TimeS)
		}
		if got := f.Labels(); got[0] != "L Heel" || got[1] != "RTOE" {
			t.Errorf("labels %q", got)
		}
		heel, toe := f.Markers[0], f.Markers[1]
		if math.Abs(heel.Z[0]-3*metres) > 1e-12 || math.Abs(toe.X[1]-4*metres) > 1e-12 {
			t.Errorf("%s: heel z %g, toe x %g", unit, heel.Z[0], toe.X[1])
		}
		if !math.IsNaN(heel.X[1]) || !math.IsNaN(heel.Y[2]) || !math.IsNaN(toe.Z[2]) {
			t.Errorf("missing points were read as %v %v %v", heel.X[1], heel.Y[2], toe.Z[2])
		}
	}
}

func TestHeaderVariants(t *testing.T) {
	for name, in := range map[string]string{
		"carriage returns":     strings.ReplaceAll(text(twoFrames, "1\t0\t1\t2\t3\t4\t5\t6", "2\t0.01\t1\t2\t3\t4\t5\t6"), "\n", "\r\n"),
		"byte-order mark":      "\ufeff" + text(twoFrames, "1\t0\t1\t2\t3\t4\t5\t6", "2\t0.01\t1\t2\t3\t4\t5\t6"),
		"blank line":           text(twoFrames, "", "1\t0\t1\t2\t3\t4\t5\t6", "2\t0.01\t1\t2\t3\t4\t5\t6"),
		"short last line":      text(twoFrames, "1\t0\t1\t2\t3\t4\t5\t6", "2\t0.01\t1\t2\t3"),
		"blanks for tabs":      strings.ReplaceAll(strings.ReplaceAll(text(twoFrames, "1\t0\t1\t2\t3\t4\t5\t6", "2\t0.01\t1\t2\t3\t4\t5\t6"), "L Heel", "LHeel"), "\t", "  "),
		"five header columns":  strings.Replace(text("100\t100\t2\t2\tmm", "1\t0\t1\t2\t3\t4\t5\t6", "2\t0.01\t1\t2\t3\t4\t5\t6"), "\tOrigDataRate\tOrigDataStartFrame\tOrigNumFrames", "", 1),
		"columns in any order": strings.Replace(text("mm\t100\t2\t2\t100", "1\t0\t1\t2\t3\t4\t5\t6", "2\t0.01\t1\t2\t3\t4\t5\t6"), "DataRate\tCameraRate\tNumFrames\tNumMarkers\tUnits\tOrigDataRate\tOrigDataStartFrame\tOrigNumFrames", "Units\tDataRate\tNumFrames\tNumMarkers\tCameraRate", 1),
	} {
		f, err := Read(strings.NewReader(in))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if len(f.TimeS) != 2 || len(f.Markers) != 2 || math.Abs(f.Markers[0].Y[0]-0.002) > 1e-12 {
			t.Errorf("%s: read %+v", name, f)
		}
	}
}

func TestFaultsNameTheLine(t *testing.T) {
	good := "1\t0\t1\t2\t3\t4\t5\t6"
	for _, c := range []struct{ name, in, want string }{
		{"empty", "", "no TRC file"},
		{"another format", "time,x\n1,2\n", "no TRC file"},
		{"cut in the header", "PathFileType\t4\n", "ends after line 1"},
		{"no frames", text(twoFrames), "no frames"},
		{"fewer frames than said", text(twoFrames, good), "cut short"},
		{"unit", text("100\t100\t2\t2\tfurlong\t1\t1\t1", good), "furlong"},
		{"rate", text("fast\t100\t2\t2\tmm\t1\t1\t1", good), "DataRate"},
		{"lying marker count", text("100\t100\t2\t99999999\tmm\t1\t1\t1", good), "NumMarkers"},
		{"another marker count", text("100\t100\t2\t3\tmm\t1\t1\t1", good), "names 2 markers"},
		{"too many columns", text(twoFrames, good, "2\t0.01\t1\t2\t3\t4\t5\t6\t7"), "line 7"},
		{"ends within a marker", text(twoFrames, good, "2\t0.01\t1\t2"), "line 7"},
		{"half a point", text(twoFrames, good, "2\t0.01\t1\t\t3\t4\t5\t6"), "line 7 (L Heel)"},
		{"no number", text(twoFrames, good, "2\t0.01\t1\t2\tthree\t4\t5\t6"), "line 7, column 5 (L Heel)"},
		{"no time", text(twoFrames, "1\tsoon\t1\t2\t3\t4\t5\t6"), "line 6, column 2"},
		{"time stands still", text(twoFrames, good, good), "line 7"},
		{"far away", text(twoFrames, "1\t0\t1e300\t2\t3\t4\t5\t6"), "beyond any laboratory"},
	} {
		if _, err := Read(strings.NewReader(c.in)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", c.name, err, c.want)
		}
	}
}

// TestAnyPathsReadBack writes random paths as text and reads them again.
func TestAnyPathsReadBack(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		frames := rapid.IntRange(1, 10).Draw(r, "frames")
		v := rapid.SliceOfN(rapid.Float64Range(0.5, 3000), 6*frames, 6*frames).Draw(r, "mm")
		var lines []string
		for k := range frames {
			line := fmt.Sprintf("%d\t%g", k+1, float64(k)/100)
			for _, x := range v[6*k : 6*k+6] {
				line += fmt.Sprintf("\t%g", x)
			}
			lines = append(lines, line)
		}
		f, err := Read(strings.NewReader(text(fmt.Sprintf("100\t100\t%d\t2\tmm\t100\t1\t%d", frames, frames), lines...)))
		if err != nil {
			r.Fatal(err)
		}
		for k := range frames {
			if math.Abs(f.Markers[1].Z[k]-v[6*k+5]/1000) > 1e-12 {
				r.Fatalf("frame %d changed", k)
			}
		}
	})
}

func FuzzRead(f *testing.F) {
	f.Add(text(twoFrames, "1\t0\t1\t2\t3\t4\t5\t6", "2\t0.01\t\t\t\t4\t5\t6"))
	f.Add("PathFileType")
	f.Add("")
	f.Fuzz(func(t *testing.T, in string) {
		file, err := Read(strings.NewReader(in))
		if err != nil {
			return
		}
		for _, m := range file.Markers {
			if len(m.X) != len(file.TimeS) || len(m.Y) != len(file.TimeS) || len(m.Z) != len(file.TimeS) {
				t.Fatalf("marker %q has %d values for %d frames", m.Label, len(m.X), len(file.TimeS))
			}
		}
	})
}
