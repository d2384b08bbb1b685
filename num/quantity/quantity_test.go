package quantity

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestParseSpeed(t *testing.T) {
	tests := []struct {
		text string
		want float64 // m/s
	}{
		{"3.5m/s", 3.5}, {" 3.5 M/S ", 3.5}, {"3,5 m/s", 3.5}, {"12.6km/h", 3.5}, {"12.6kph", 3.5}, {"12.6 kmh", 3.5},
		{"7.8mph", 7.8 * 0.44704}, // 1 mph is 0.44704 m/s exactly
		{"4:45/km", 1000.0 / 285}, {"4:45 min/km", 1000.0 / 285}, {"4:45 /km", 1000.0 / 285},
		{"7:39/mi", 1609.344 / 459}, {"7:39 min/mile", 1609.344 / 459}, {"4.75 min/km", 1000.0 / 285},
		{"200 m/min", 10.0 / 3}, {"4:00/km", 1000.0 / 240},
	}
	for _, tt := range tests {
		got, err := ParseSpeed(tt.text)
		if err != nil || math.Abs(got.MPS()-tt.want) > 1e-12 {
			t.Errorf("ParseSpeed(%q) = %v, %v; want %v m/s", tt.text, got.MPS(), err, tt.want)
		}
	}
}

func TestParseSpeedRefuses(t *testing.T) {
	tests := []struct{ text, why string }{
		{"3.5", "the unit is missing"}, {"", "no number"}, {"fast", "no number"}, {"3.5 furlongs", "not known"},
		{"4:45", "needs its distance"}, {"4:60/km", "below 60"}, {"4:5/km", "two digits"}, {"4:45 km/h", "does not go with"},
		{"0m/s", "greater than zero"}, {"-3m/s", "greater than zero"}, {"0:00/km", "greater than zero"},
		{"1,234 m/s", "two ways"}, {"1e3 m/s", "not known"}, {"NaN m/s", "no number"}, {"4/km", "minutes and seconds are missing"},
		{strings.Repeat("9", 400) + "m/s", "not a number"}, {"1.2.3m/s", "not a number"}, {"-4:45/km", "minutes:seconds"},
	}
	for _, tt := range tests {
		got, err := ParseSpeed(tt.text)
		if err == nil || !strings.Contains(err.Error(), tt.why) || !strings.Contains(err.Error(), "km/h") {
			t.Errorf("ParseSpeed(%.20q) = %v, %v; want an error with %q and a hint", tt.text, got, err, tt.why)
		}
	}
}

func TestPace(t *testing.T) {
	tests := []struct {
		speed    Speed
		km, mile string
	}{
		// Check value 25: 15 km/h is 4:00 a kilometre, never 3:60.
		{15 * KilometrePerHour, "4:00/km", "6:26/mi"},
		{3.5, "4:46/km", "7:40/mi"},
		{12 * KilometrePerHour, "5:00/km", "8:03/mi"},
		{1000.0 / 239.6, "4:00/km", "6:26/mi"}, // 3:59.6 rounds up across the minute
		{0, "-", "-"}, {-1, "-", "-"}, {Speed(math.NaN()), "-", "-"},
	}
	for _, tt := range tests {
		if got := tt.speed.Pace(); got != tt.km {
			t.Errorf("%v m/s: Pace() = %q, want %q", float64(tt.speed), got, tt.km)
		}
		if got := tt.speed.PaceMile(); got != tt.mile {
			t.Errorf("%v m/s: PaceMile() = %q, want %q", float64(tt.speed), got, tt.mile)
		}
	}
}

func TestPaceNeverReadsSixtySeconds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := Speed(rapid.Float64Range(0.3, 12).Draw(t, "speed"))
		for _, p := range []string{s.Pace(), s.PaceMile()} {
			if strings.Contains(p, ":60") {
				t.Fatalf("%v m/s prints as %s", float64(s), p)
			}
			back, err := ParseSpeed(p)
			if err != nil {
				t.Fatal(err)
			}
			if d := float64(back.PerKM() - s.PerKM()); math.Abs(d) > 0.5001 {
				t.Fatalf("%v m/s prints as %s, %v s a kilometre off", float64(s), p, d)
			}
		}
	})
}

func TestParseLength(t *testing.T) {
	tests := []struct {
		text string
		want float64 // m
	}{
		{"178cm", 1.78}, {"1.78m", 1.78}, {"1,78 m", 1.78}, {"1780mm", 1.78}, {"5ft10in", 1.778}, {"5 ft 10 in", 1.778},
		{`5'10"`, 1.778}, {"5'10", 1.778}, {"5’10”", 1.778}, {"5′10″", 1.778}, {"5'10''", 1.778}, {"70in", 1.778}, {`70"`, 1.778}, {"6ft", 1.8288}, {"6'", 1.8288},
		{"5ft 10.5in", 1.7907}, {"5 feet 10 inches", 1.778},
	}
	for _, tt := range tests {
		got, err := ParseLength(tt.text)
		if err != nil || math.Abs(got.M()-tt.want) > 1e-12 {
			t.Errorf("ParseLength(%q) = %v, %v; want %v m", tt.text, got.M(), err, tt.want)
		}
	}
	for _, text := range []string{"178", "1.78", "", "m", "5'12\"", "5ft10cm", "-1.7m", "0cm", "1.7kg"} {
		if got, err := ParseLength(text); err == nil {
			t.Errorf("ParseLength(%q) = %v, want an error", text, got)
		}
	}
}

func TestParseOthers(t *testing.T) {
	check := func(text string, got float64, err error, want float64) {
		t.Helper()
		if err != nil || math.Abs(got-want) > 1e-12*math.Max(1, math.Abs(want)) {
			t.Errorf("%q = %v, %v; want %v", text, got, err, want)
		}
	}
	refuse := func(text string, err error) {
		t.Helper()
		if err == nil {
			t.Errorf("%q was read; want an error", text)
		}
	}
	for text, want := range map[string]float64{"70kg": 70, "154lb": 154 * 0.45359237, "11 st": 11 * 14 * 0.45359237} {
		v, err := ParseMass(text)
		check(text, v.KG(), err, want)
	}
	for text, want := range map[string]float64{"12.5s": 12.5, "1:05.2": 65.2, "750ms": 0.75, "1:02:03": 3723, "2m30s": 150, "30min": 1800, "1h 5 min 2s": 3902, "0s": 0} {
		v, err := ParseTime(text)
		check(text, v.Seconds(), err, want)
	}
	for text, want := range map[string]float64{"165spm": 165, "165 steps/min": 165, "82.5 strides/min": 165, "165 steps a minute": 165} {
		v, err := ParseStepRate(text)
		check(text, v.PerMinute(), err, want)
	}
	for text, want := range map[string]float64{"240fps": 240, "59.94 Hz": 59.94} {
		v, err := ParseFrequency(text)
		check(text, v.Hz(), err, want)
	}
	for text, want := range map[string]float64{"7.3deg": 7.3, "-2°": -2, "−2 °": -2, "0deg": 0} {
		v, err := ParseAngle(text)
		check(text, v.Degrees(), err, want)
	}
	for _, text := range []string{"70", "kg", "70m", "-1kg"} {
		_, err := ParseMass(text)
		refuse(text, err)
	}
	for _, text := range []string{"12.5", "1:65", "1:2:3:4", "-1s", "30s2m", "2m2m", "1.5:10", ":10", "1:"} {
		_, err := ParseTime(text)
		refuse(text, err)
	}
	for _, text := range []string{"90", "165/min", "0spm"} {
		_, err := ParseStepRate(text)
		refuse(text, err)
	}
	for _, text := range []string{"240", "0fps"} {
		_, err := ParseFrequency(text)
		refuse(text, err)
	}
	_, err := ParseAngle("7")
	refuse("7", err)
}

func TestPrint(t *testing.T) {
	tests := []struct{ got, want string }{
		{Speed(3.5).String(), "3.5 m/s"}, {Length(1.78).String(), "1.78 m"}, {Mass(70).String(), "70 kg"},
		{Time(12.5).String(), "12.5 s"}, {StepRate(165).String(), "165 steps/min"}, {Frequency(240).String(), "240 Hz"},
		{(7.3 * Degree).String(), "7.3°"}, {(-0.01 * Degree).String(), "0°"}, {Length(1.778).FeetInches(), "5 ft 10 in"},
		{Length(1.825).FeetInches(), "6 ft 0 in"}, // 5 ft 11.85 in rounds up across the foot
		{Time(3723).Clock(), "1:02:03"}, {Time(59.6).Clock(), "1:00"}, {Time(-65).Clock(), "-1:05"},
	}
	for _, tt := range tests {
		if tt.got != tt.want {
			t.Errorf("got %q, want %q", tt.got, tt.want)
		}
	}
}

func ExampleParseSpeed() {
	s, _ := ParseSpeed("4:00/km")
	fmt.Printf("%v, %.1f km/h, %s\n", s, s.KMH(), s.PaceMile())
	_, err := ParseSpeed("12")
	fmt.Println(err)
	// Output:
	// 4.17 m/s, 15.0 km/h, 6:26/mi
	// speed "12": the unit is missing; write it like 3.5m/s, 12.6km/h, 7.8mph or as a pace 4:45/km, 7:39/mi
}

// fuzz checks what every parser promises: a finite value or an *Error.
func fuzz[T ~float64](f *testing.F, parse func(string) (T, error), signed bool, seeds ...string) {
	for _, s := range seeds {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		v, err := parse(text)
		if err != nil {
			if _, ok := err.(*Error); !ok || v != 0 {
				t.Fatalf("%q: value %v beside error %v", text, v, err)
			}
			return
		}
		if x := float64(v); math.IsNaN(x) || math.IsInf(x, 0) || !signed && x <= 0 {
			t.Fatalf("%q was read as %v", text, x)
		}
	})
}

func FuzzParseSpeed(f *testing.F) {
	fuzz(f, ParseSpeed, false, "3.5m/s", "4:45/km", "7:39 min/mi", "12,6 km/h", "1:2:3/km", "4.75min/km", "0:00.0001/km")
}
func FuzzParseLength(f *testing.F) {
	fuzz(f, ParseLength, false, "178cm", `5'10"`, "5ft10in", "5′10″", "ft", "''")
}
func FuzzParseMass(f *testing.F) { fuzz(f, ParseMass, false, "70kg", "154lb", "11st") }
func FuzzParseTime(f *testing.F) {
	fuzz(f, ParseTime, true, "12.5s", "1:05.2", "2m30s", "1:02:03", "::")
}
func FuzzParseStepRate(f *testing.F)  { fuzz(f, ParseStepRate, false, "165spm", "82 strides/min") }
func FuzzParseFrequency(f *testing.F) { fuzz(f, ParseFrequency, false, "240fps") }
func FuzzParseAngle(f *testing.F)     { fuzz(f, ParseAngle, true, "7.3deg", "−2°") }
