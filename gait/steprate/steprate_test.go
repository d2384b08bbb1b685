package steprate

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// Check value 24 (computed): counting for 10 s resolves 6 steps/min (12 when one
// foot is doubled), SD 2.45; 165 steps/min at 3.0 m/s is a step of 1.0909 m, and
// 0.9917 m at +10 %.
func TestCountingAndStepLength(t *testing.T) {
	if r := Resolution(10, false); r != 6 {
		t.Errorf("10 s resolve %.2f", r)
	}
	if r := Resolution(10, true); r != 12 {
		t.Errorf("10 s of one foot resolve %.2f", r)
	}
	for _, c := range []struct{ s, want float64 }{{10, 2.45}, {20, 1.22}, {30, 0.82}, {60, 0.41}} {
		if got := CountingSD(c.s, false); math.Abs(got-c.want) > 0.006 {
			t.Errorf("%g s: SD %.3f, want %.2f", c.s, got, c.want)
		}
	}
	if l := StepLengthM(3, 165); math.Abs(l-1.0909) > 5e-5 {
		t.Errorf("step %.4f m", l)
	}
	if l := StepLengthM(3, 165*1.1); math.Abs(l-0.9917) > 5e-5 {
		t.Errorf("step %.4f m", l)
	}
}

// The SD of counting is what counting at random moments gives.
func TestCountingErrorBySimulation(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	const seconds, trials = 10.0, 40000
	sum, sq := 0.0, 0.0
	for range trials {
		rate := 160 + 20*r.Float64()
		step := 60 / rate
		first := r.Float64() * step
		n := math.Floor((seconds-first)/step) + 1
		e := n*60/seconds - rate
		sum += e
		sq += e * e
	}
	sd := math.Sqrt(sq/trials - (sum/trials)*(sum/trials))
	if want := CountingSD(seconds, false); math.Abs(sd/want-1) > 0.05 {
		t.Errorf("SD by simulation %.3f, by formula %.3f", sd, want)
	}
}

func TestCounted(t *testing.T) {
	r, err := Counted(83, 30, false)
	if err != nil || r.PerMin != 166 || !(r.SEM > 0.82 && r.SEM < 1.6) {
		t.Errorf("%+v, %v", r, err)
	}
	one, err := Counted(41, 30, true)
	if err != nil || one.PerMin != 164 || one.SEM < 1.63 {
		t.Errorf("%+v, %v", one, err)
	}
	for _, c := range []struct {
		n    int
		s    float64
		one  bool
		want string
	}{{14, 10, true, "168"}, {83, 2, false, "30 to 60"}, {41, 30, false, "both feet"}, {400, 30, false, "no runner"}} {
		_, err := Counted(c.n, c.s, c.one)
		if c.want == "168" {
			if err != nil {
				t.Errorf("%+v: %v", c, err)
			}
		} else if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v", c, err)
		}
	}
}

// Burns 2019 (seen): −12.3 steps a minute for 10 cm, +5.6 for 1 m/s; the trade's
// 190, 180, 170.
func TestAnchors(t *testing.T) {
	if d := ByStature(1.85, 3) - ByStature(1.75, 3); math.Abs(d+12.31) > 1e-9 {
		t.Errorf("10 cm taller: %.2f", d)
	}
	if d := ByStature(1.75, 4) - ByStature(1.75, 3); math.Abs(d-5.6) > 1e-9 {
		t.Errorf("1 m/s faster: %.2f", d)
	}
	for h, want := range map[float64]float64{1.58: 190, 1.75: 180, 1.92: 170} {
		if ByTrade(h) != want {
			t.Errorf("%.2f m: %.0f", h, ByTrade(h))
		}
	}
}

func TestTarget(t *testing.T) {
	base := Rate{PerMin: 160, SEM: 0.5, SpeedMPS: 2.8}
	if x := TargetFor(base, 1.75, Landing{}); x.None == "" || x.PerMin != 0 {
		t.Errorf("a target although the landing needs none: %+v", x)
	}
	if x := TargetFor(base, 1.75, Landing{Undecided: "Slow steps"}); !strings.Contains(x.None, "not decided yet: Slow steps.") || x.PerMin != 0 {
		t.Errorf("an open finding: %+v", x)
	}
	x := TargetFor(base, 1.75, Landing{Overstriding: true, Reason: "slow, long steps"})
	if x.None != "" || x.PerMin < x.Least || x.PerMin > x.Most || x.PerMin != 176 || len(x.Anchors) != 2 {
		t.Errorf("target %+v", x)
	}
	if x := TargetFor(Rate{PerMin: 184, SpeedMPS: 2.8}, 1.92, Landing{Overstriding: true}); !strings.Contains(x.None, "already") {
		t.Errorf("target %+v", x)
	}
	rapid.Check(t, func(t *rapid.T) {
		b := Rate{PerMin: rapid.Float64Range(140, 200).Draw(t, "base"), SpeedMPS: rapid.Float64Range(0, 5).Draw(t, "v")}
		x := TargetFor(b, rapid.SampledFrom([]float64{0, 1.5, 1.75, 2}).Draw(t, "h"), Landing{Overstriding: true})
		if x.None == "" && (x.PerMin < b.PerMin*1.05-1 || x.PerMin > b.PerMin*1.10+1e-9 || x.PerMin != math.Round(x.PerMin)) {
			t.Fatalf("base %.1f: target %.2f", b.PerMin, x.PerMin)
		}
	})
}

// 160 to 180 at one a week is twenty weeks (common practice).
func TestRampOfTheTrade(t *testing.T) {
	w, err := Ramp(Rate{PerMin: 160, SpeedMPS: 2.7778}, 180, []Pace{{Name: "easy", SpeedMPS: 2.7778}}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	climb := 0
	for _, x := range w {
		if x.PerMin < 180 {
			climb++
		}
	}
	if climb+1 != 20 || len(w) != 22 {
		t.Errorf("180 is reached in week %d of %d", climb+1, len(w))
	}
	if w[0].PerMin != 161 || w[0].ClickShare != 1 || math.Abs(w[0].At[0].StepLengthM-60*2.7778/161) > 1e-9 {
		t.Errorf("week 1 %+v", w[0])
	}
	if last := w[len(w)-1]; last.ClickShare > 0.15 || last.PerMin != 180 {
		t.Errorf("last week %+v", last)
	}
}

func TestRampHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		base := Rate{PerMin: rapid.Float64Range(140, 190).Draw(t, "base"), SpeedMPS: rapid.Float64Range(2, 4.5).Draw(t, "v")}
		target := math.Round(base.PerMin * rapid.Float64Range(1.02, 1.1).Draw(t, "up"))
		o := Options{StepAWeek: rapid.SampledFrom([]float64{0.5, 1, 2, 3}).Draw(t, "step"), RunMin: rapid.Float64Range(10, 90).Draw(t, "run")}
		paces := []Pace{{Name: "easy", SpeedMPS: base.SpeedMPS}, {Name: "tempo", SpeedMPS: base.SpeedMPS + 0.8}}
		w, err := Ramp(base, target, paces, o)
		if err != nil {
			if target <= base.PerMin {
				return
			}
			t.Fatal(err)
		}
		before, share := base.PerMin, 1.0
		for _, x := range w {
			if x.PerMin < before || x.PerMin > before+o.StepAWeek+1e-9 || x.PerMin > target+1e-9 {
				t.Fatalf("week %d: %.2f after %.2f", x.Number, x.PerMin, before)
			}
			if x.ClickShare > share || x.ClickShare < leastShare-1e-9 || x.ClickMin > x.RunMin+1e-9 {
				t.Fatalf("week %d: click %.2f after %.2f", x.Number, x.ClickShare, share)
			}
			// The pace is fixed: rate × length is the speed.
			for i, a := range x.At {
				if math.Abs(a.PerMin/60*a.StepLengthM-paces[i].SpeedMPS) > 1e-9 {
					t.Fatalf("week %d: the pace changed", x.Number)
				}
			}
			if x.At[1].PerMin <= x.At[0].PerMin {
				t.Fatal("the faster pace has no quicker steps")
			}
			before, share = x.PerMin, x.ClickShare
		}
		if before != target {
			t.Fatalf("the ramp ends at %.2f, not %.0f", before, target)
		}
	})
	for _, c := range []struct {
		base, target float64
		o            Options
		want         string
	}{{170, 168, Options{}, "not above"}, {150, 190, Options{}, "more than any trial"}, {160, 180, Options{StepAWeek: 0.1}, "weeks"}, {160, 170, Options{StepAWeek: 99}, "99"}} {
		if _, err := Ramp(Rate{PerMin: c.base}, c.target, nil, c.o); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: %v", c, err)
		}
	}
}

func TestNext(t *testing.T) {
	good := Log{Planned: 3, Done: 3, Effort: 3, Rate: 165, RateSEM: 0.5}
	for _, c := range []struct {
		change func(*Log)
		want   string
	}{
		{func(*Log) {}, "go on"},
		{func(l *Log) { l.PainWorst = 2 }, "go on"},
		{func(l *Log) { l.PainWorst = 3 }, "hold"},
		{func(l *Log) { l.PainWorst = 5 }, "hold"},
		{func(l *Log) { l.PainWorst = 6 }, "step back"},
		{func(l *Log) { l.PainNextDay = true }, "step back"},
		{func(l *Log) { l.BonePain = true }, "stop"},
		{func(l *Log) { l.Done = 1 }, "hold"},
		{func(l *Log) { l.Effort = 8 }, "hold"},
		{func(l *Log) { l.Rate = 160 }, "hold"},
		{func(l *Log) { l.Rate, l.RateSEM = 160, 4 }, "go on"},
	} {
		l := good
		c.change(&l)
		if a := Next(165, l); a.Do != c.want || a.Why == "" {
			t.Errorf("%+v: %+v, want %s", l, a, c.want)
		}
	}
}

// week makes the steady parts of a week of runs by a runner whose rate is base at
// speed 2.8 m/s and rises by slope.
func week(r *rand.Rand, runs int, speed, base, slope float64) []Segment {
	var out []Segment
	for k := range runs {
		for range 6 {
			v := speed + 0.15*r.NormFloat64()
			out = append(out, Segment{Run: k, Seconds: 240, SpeedMPS: v, PerMin: base + slope*(v-2.8) + 0.8*r.NormFloat64()})
		}
	}
	return out
}

// One week truly quicker, one just faster, one missed, one unchanged.
func TestFasterIsNotQuicker(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	before := week(r, 6, 2.8, 162, 6)
	for _, c := range []struct {
		name string
		now  []Segment
		want Verdict
	}{
		{"true", week(r, 3, 2.8, 166, 6), Quicker},
		{"just faster", week(r, 3, 3.3, 162, 6), JustFaster},
		{"missed", nil, NotRun},
		{"the same", week(r, 3, 2.8, 162, 6), NoChange},
		{"slower steps", week(r, 3, 2.8, 158, 6), Slower},
		{"no speed", []Segment{{Seconds: 60, PerMin: 170}}, CannotTell},
	} {
		if got := Compare(before, c.now); got.Verdict != c.want {
			t.Errorf("%s: %s (%s)", c.name, got.Verdict, got.Text)
		}
	}
	base, err := FitRate(before)
	if err != nil {
		t.Fatal(err)
	}
	easy := func(rate float64) []AtPace { return []AtPace{{Name: "easy", SpeedMPS: 2.8, PerMin: rate}} }
	if a := Judge(base, easy(166), week(r, 3, 2.8, 166, 6)); a.Runs != 3 || a.Share < 0.9 || a.Verdict != WeekReached {
		t.Errorf("adherence %+v", a)
	}
	if a := Judge(base, easy(172), week(r, 3, 2.8, 162, 6)); a.Share > 0.1 || a.Verdict != WeekShort {
		t.Errorf("adherence %+v", a)
	}
	if a := Judge(base, easy(166), week(r, 3, 3.3, 162, 6)); a.Verdict != WeekFaster {
		t.Errorf("adherence %+v", a)
	}
	if a := Judge(base, easy(166), nil); a.Verdict != WeekUnknown {
		t.Errorf("adherence %+v", a)
	}
}

// Of pairs of weeks without a change few are called one, also where a runner's
// runs differ from day to day.
func TestFewFalseCalls(t *testing.T) {
	// Where runs differ by more than is taken beforehand (2), somewhat more are.
	for daily, most := range map[float64]float64{0: 0.06, 1.5: 0.06, 2: 0.06, 3: 0.09} {
		r := rand.New(rand.NewPCG(11, 12))
		days := func(runs int, speed float64) []Segment {
			out := week(r, runs, speed, 162, 6)
			at := map[int]float64{}
			for i := range out {
				if _, ok := at[out[i].Run]; !ok {
					at[out[i].Run] = daily * r.NormFloat64()
				}
				out[i].PerMin += at[out[i].Run]
			}
			return out
		}
		false_, trials := 0, 400
		for range trials {
			c := Compare(days(6, 2.8), days(3, 2.8+0.4*r.Float64()))
			if c.Verdict == Quicker || c.Verdict == Slower {
				false_++
			}
		}
		t.Logf("runs that differ by %.1f: %.1f %% of unchanged weeks are called changed", daily, 100*float64(false_)/float64(trials))
		if share := float64(false_) / float64(trials); share > most {
			t.Errorf("runs that differ by %.1f: %.1f %% of unchanged weeks are called changed", daily, 100*share)
		}
	}
}

func TestFitFindsTheLine(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	f, err := FitRate(week(r, 30, 2.8, 165, 7))
	if err != nil {
		t.Fatal(err)
	}
	if rate, _ := f.At(2.8); math.Abs(rate-165) > 0.5 || math.Abs(f.Slope-7) > 1 {
		t.Errorf("fit %+v", f)
	}
}

// The asked rate lies between paces in a line.
func TestAskedBetweenPaces(t *testing.T) {
	at := []AtPace{{Name: "tempo", SpeedMPS: 3.8, PerMin: 175}, {Name: "easy", SpeedMPS: 2.8, PerMin: 165}}
	for v, want := range map[float64]float64{2.8: 165, 3.3: 170, 3.8: 175, 4.8: 181, 1.8: 159} {
		if got := AskedAt(at, v, 6); math.Abs(got-want) > 1e-9 {
			t.Errorf("%.1f m/s: %.2f, want %.2f", v, got, want)
		}
	}
	if got := AskedAt([]AtPace{{PerMin: 165}}, 3, 6); !math.IsNaN(got) {
		t.Errorf("without a pace: %.2f", got)
	}
}

// Two runners' files in one lot, one run in two files, and what one runner can do.
func TestMixedRunners(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 2))
	lot := func(rates ...float64) []OfRunner {
		var out []OfRunner
		for i, rate := range rates {
			out = append(out, OfRunner{Start: time.Date(2026, 3, 1+2*i, 6, 30, 0, 0, time.UTC), Seconds: 2400, DistanceM: 7000 + 10*float64(i), Name: "run", Segments: week(r, 1, 2.6+0.4*r.Float64(), rate+1.5*r.NormFloat64(), 7)})
		}
		return out
	}
	doubted := func(runs []OfRunner) (out []int) {
		for i, d := range Mixed(runs) {
			if d.Text != "" {
				out = append(out, i)
			}
		}
		return out
	}
	for name, c := range map[string]struct {
		runs []OfRunner
		want []int
	}{
		"one runner":       {lot(164, 164, 164, 164, 164, 164), nil},
		"a ramp":           {lot(162, 163, 164, 165, 166, 167, 168, 169, 170, 171, 172), nil},
		"at once":          {lot(162, 162, 162, 174, 174, 174), nil},
		"one of another":   {lot(164, 164, 182, 164, 164, 164), []int{2}},
		"the last":         {lot(164, 164, 164, 164, 164, 182), []int{5}},
		"two take turns":   {lot(164, 182, 164, 182, 164, 164), []int{1, 3}},
		"half and half":    {lot(164, 182, 164, 182), []int{0, 1, 2, 3}},
		"too few to judge": {lot(164, 182, 164), nil},
	} {
		if got := doubted(c.runs); !slices.Equal(got, c.want) {
			t.Errorf("%s: in doubt are %v, want %v", name, got, c.want)
		}
	}
	same := lot(164, 164, 164)
	copied := same[1]
	copied.Segments, copied.Name = copied.Segments[:2], "copy"
	together := same[1]
	together.Segments = slices.Clone(together.Segments)
	for i := range together.Segments {
		together.Segments[i].PerMin += 12
	}
	if d := Mixed(append(slices.Clone(same), together)); d[3].Kind != "overlap" || d[1].Kind != "overlap" {
		t.Errorf("two who ran together are taken for one: %+v", d)
	}
	if d := Mixed(append(same, copied)); d[3].Twice != 1 || d[1].Text != "" {
		t.Errorf("one run in two files: %+v", d)
	}
	over := lot(164, 164, 164)
	other := over[1]
	other.Start, other.DistanceM = other.Start.Add(20*time.Minute), 4000
	d := Mixed(append(over, other))
	if d[3].Twice >= 0 || !strings.Contains(d[3].Text, "overlaps") || !strings.Contains(d[1].Text, "overlaps") || d[0].Text != "" {
		t.Errorf("overlapping runs: %+v", d)
	}
}

// Rates of injury by how much longer a run was (5,205 runners, 2025; seen).
func TestSpikes(t *testing.T) {
	day := func(n int) time.Time { return time.Date(2026, 3, n, 8, 0, 0, 0, time.UTC) }
	got := Spikes([]RunLength{{day(20), 25000}, {day(1), 10000}, {day(3), 10900}, {day(5), 12500}, {day(8), 20000}})
	if len(got) != 3 {
		t.Fatalf("%d spikes: %+v", len(got), got)
	}
	for i, want := range []string{"1.64", "1.52", "1.64"} {
		if !strings.Contains(got[i].Text, want) {
			t.Errorf("spike %d: %s", i, got[i].Text)
		}
	}
	if s := Spikes([]RunLength{{day(1), 5000}, {day(2), 20000}}); len(s) != 1 || !strings.Contains(s[0].Text, "2.28") {
		t.Errorf("%+v", s)
	}
}
