package video

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestParseStamps(t *testing.T) {
	for _, c := range []struct {
		name, text string
		pts        []int64 // of those shown, in order of the rows
		sound      bool
	}{
		{"plain", "pts=0|flags=K_\npts=2|flags=__\npts=1|flags=__\n", []int64{0, 2, 1}, true},
		{"blank rows and stray commas", "\n\npts=0|flags=K_,\n,\n  \npts=5,|flags=__,,\r\n\n", []int64{0, 5}, true},
		{"no last line end", "pts=0|flags=K_\npts=7|flags=_", []int64{0, 7}, true},
		{"cut by the edit list", "pts=-2|flags=KD\npts=-1|flags=_D\npts=0|flags=___\n", []int64{0}, true},
		{"no stamp", "pts=0|flags=K_\npts=N/A|flags=__\n", []int64{0}, false},
		{"repeated stamp", "pts=3|flags=K_\npts=3|flags=__\n", []int64{3, 3}, false},
		{"side data behind", "pts=4|flags=K__|side_data|side_data_type=Skip Samples|skip=3\n\npts=6|flags=___|\n", []int64{4, 6}, true},
		{"keys unknown", "x=1|y=2\nfoo\npts=9|new=1|flags=K_\n", []int64{9}, true},
		{"overlong row", "pts=1|flags=K_|" + strings.Repeat("x", 200_000) + "\npts=2|flags=__\n", []int64{1, 2}, true},
		{"nothing", "", nil, false},
	} {
		stamps, err := parseStamps(strings.NewReader(c.text), "pts", 100)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		seconds, _, sound := ticks(stamps, 1)
		var got []int64
		for _, s := range seconds {
			got = append(got, int64(s))
		}
		if !slices.Equal(got, c.pts) || sound != c.sound {
			t.Errorf("%s: %v, sound %v; want %v, %v", c.name, got, sound, c.pts, c.sound)
		}
	}
	if _, err := parseStamps(strings.NewReader(strings.Repeat("pts=1|flags=K_\n", 11)), "pts", 10); err == nil {
		t.Error("more rows than allowed were taken")
	}
}

func TestParseAnswer(t *testing.T) {
	const phone = `{"streams":[
	 {"index":0,"codec_type":"audio","codec_name":"aac"},
	 {"index":1,"codec_type":"video","codec_name":"mjpeg","width":600,"height":600,"disposition":{"attached_pic":1}},
	 {"index":2,"codec_type":"video","codec_name":"hevc","profile":"Main 10","pix_fmt":"yuv420p10le","width":1920,"height":1080,
	  "sample_aspect_ratio":"1:1","color_transfer":"arib-std-b67","color_space":"bt2020nc","r_frame_rate":"240/1","avg_frame_rate":"143640/599",
	  "time_base":"1/600","nb_frames":"1197","disposition":{"default":1,"attached_pic":0},
	  "side_data_list":[{"side_data_type":"DOVI configuration record"},{"side_data_type":"Display Matrix","displaymatrix":"…","rotation":-90}]}],
	 "format":{"format_name":"mov,mp4,m4a,3gp,3g2,mj2","start_time":"0.000000","tags":{"com.android.capture.fps":"240.0"}}}`
	a, err := parseAnswer([]byte(phone))
	if err != nil {
		t.Fatal(err)
	}
	f, err := a.facts(a.picture())
	if err != nil {
		t.Fatal(err)
	}
	if f.stream != 2 || !f.HasAudio || !f.HDR || f.BitDepth != 10 || f.RotationDeg != 90 || f.WidthPX != 1080 || f.HeightPX != 1920 ||
		f.CodedWidthPX != 1920 || math.Abs(f.NominalHz-239.8) > 0.01 || f.CaptureRateHz != 240 {
		t.Errorf("%+v", f)
	}
	for name, c := range map[string]struct {
		stream string
		w, h   int
		turn   int
		err    error
	}{
		"older rotation tag":     {`"width":1280,"height":720,"tags":{"rotate":"270"}`, 720, 1280, 270, nil},
		"matrix before tag":      {`"width":1280,"height":720,"tags":{"rotate":"90"},"side_data_list":[{"rotation":-180}]`, 1280, 720, 180, nil},
		"rotation as text":       {`"width":1280,"height":720,"side_data_list":[{"rotation":"90.00"}]`, 720, 1280, 270, nil},
		"slanting":               {`"width":1280,"height":720,"side_data_list":[{"rotation":-45}]`, 1280, 720, 0, nil},
		"not quite":              {`"width":1280,"height":720,"side_data_list":[{"rotation":-89.7}]`, 720, 1280, 90, nil},
		"wide pixels":            {`"width":720,"height":576,"sample_aspect_ratio":"16:15"`, 768, 576, 0, nil},
		"wide pixels, turned":    {`"width":720,"height":576,"sample_aspect_ratio":"16:15","tags":{"rotate":"90"}`, 576, 768, 90, nil},
		"silly pixels":           {`"width":720,"height":576,"sample_aspect_ratio":"1:9999"`, 720, 576, 0, nil},
		"no pixel aspect":        {`"width":720,"height":576,"sample_aspect_ratio":"0:1"`, 720, 576, 0, nil},
		"cropped by the file":    {`"width":1920,"height":1088,"side_data_list":[{"side_data_type":"Frame Cropping","crop_top":0,"crop_bottom":8,"crop_left":0,"crop_right":0}]`, 1920, 1080, 0, nil},
		"cropped to nothing":     {`"width":100,"height":100,"side_data_list":[{"crop_left":60,"crop_right":60}]`, 0, 0, 0, errNoSize},
		"no size":                {`"width":0,"height":0`, 0, 0, 0, errNoSize},
		"negative":               {`"width":-5,"height":100`, 0, 0, 0, errNoSize},
		"too wide":               {`"width":8193,"height":10`, 0, 0, 0, errHugeSize},
		"too many pixels":        {`"width":8192,"height":8192`, 0, 0, 0, errHugeSize},
		"too wide by its aspect": {`"width":8000,"height":100,"sample_aspect_ratio":"9:1"`, 0, 0, 0, errHugeSize},
		"8K":                     {`"width":7680,"height":4320`, 7680, 4320, 0, nil},
	} {
		a, err := parseAnswer([]byte(`{"streams":[{"codec_type":"video",` + c.stream + `}]}`))
		if err != nil {
			t.Fatal(name, err)
		}
		f, err := a.facts(a.picture())
		if !errors.Is(err, c.err) {
			t.Errorf("%s: %v, want %v", name, err, c.err)
		} else if err == nil && (f.WidthPX != c.w || f.HeightPX != c.h || f.RotationDeg != c.turn) {
			t.Errorf("%s: %d × %d turned %d, want %d × %d turned %d", name, f.WidthPX, f.HeightPX, f.RotationDeg, c.w, c.h, c.turn)
		}
	}
}

func FuzzParseAnswer(f *testing.F) {
	f.Add([]byte(`{"streams":[{"index":0,"codec_type":"video","width":1280,"height":720,"side_data_list":[{"rotation":-90}]}],"format":{"start_time":"0.1"}}`))
	f.Add([]byte(`{"streams":[{"codec_type":"video","width":9,"height":9,"sample_aspect_ratio":"3:1","side_data_list":[{"rotation":"1e300","crop_top":"x"}]}]}`))
	f.Add([]byte(`{}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		a, err := parseAnswer(text)
		if err != nil {
			return
		}
		s := a.picture()
		if s == nil {
			return
		}
		facts, err := a.facts(s)
		if err != nil {
			return
		}
		w, h := facts.WidthPX, facts.HeightPX
		if w < 1 || h < 1 || w > MaxSidePX || h > MaxSidePX || 3*w*h > MaxFrameBytes || facts.RotationDeg%90 != 0 || !(facts.NominalHz >= 0) || !(facts.PixelAspect > 0) {
			t.Errorf("%+v", facts)
		}
	})
}

func FuzzParseStamps(f *testing.F) {
	f.Add([]byte("pts=0|flags=K_\npts=2|flags=__\n\npts=N/A|flags=_D,\n"))
	f.Add([]byte("pts=9223372036854775807|flags=K\npts=-9223372036854775808|\n"))
	f.Add([]byte("pts=1|pts=2||=|flags"))
	f.Fuzz(func(t *testing.T, text []byte) {
		stamps, err := parseStamps(strings.NewReader(string(text)), "pts", 1000)
		if err != nil {
			return
		}
		seconds, shown, sound := ticks(stamps, 1.0/600)
		if len(seconds) > shown || sound && len(seconds) != shown {
			t.Fatalf("%d stamps of %d frames, sound %v", len(seconds), shown, sound)
		}
		if len(seconds) == 0 {
			return
		}
		var facts Facts
		facts.setTimes(seconds, 1.0/600)
		for i, s := range facts.TimeS {
			if math.IsNaN(s) || math.IsInf(s, 0) || i == 0 && s != 0 || i > 0 && !(s > facts.TimeS[i-1]) {
				t.Fatalf("time %d of %v", i, facts.TimeS)
			}
		}
	})
}

func FuzzInfoLine(f *testing.F) {
	f.Add("[Parsed_showinfo_0 @ 0x5625] [info] config in time_base: 1/15000, frame_rate: 150/1", "[Parsed_showinfo_0 @ 0x5625] [info] n:   2 pts:    200 pts_time:0.0133333 pos: 4 fmt:yuv420p")
	f.Add("[showinfo @ 1] config in time_base: 0/0", "[showinfo @ 1] n:0 pts:NOPTS pts_time:NOPTS")
	f.Fuzz(func(t *testing.T, config, frame string) {
		var l infoLines
		l.parse(config)
		if s, ok := l.parse(frame); ok && s.ok && (math.IsNaN(s.rawS) || math.IsInf(s.rawS, 0)) {
			t.Error(s)
		}
	})
}

func TestInfoLines(t *testing.T) {
	var l infoLines
	for _, c := range []struct {
		line string
		want logStamp
		ok   bool
	}{
		{"[Parsed_showinfo_1 @ 0x1] [info] n:   0 pts:      5 pts_time:5 ", logStamp{}, true}, // before the clock is known
		{"[Parsed_showinfo_1 @ 0x1] [info] config in time_base: 1/600, frame_rate: 30/1", logStamp{}, false},
		{"[Parsed_showinfo_1 @ 0x1] [info] config out time_base: 0/0, frame_rate: 0/0", logStamp{}, false},
		{"[Parsed_showinfo_1 @ 0x1] [info] n:   0 pts:    300 pts_time:0.5     duration: 20", logStamp{0.5, true}, true},
		{"[Parsed_showinfo_1 @ 0x1] [info] n:12345 pts:-60 pts_time:-0.1", logStamp{-0.1, true}, true},
		{"[Parsed_showinfo_1 @ 0x1] [info] n:   1 pts:NOPTS pts_time:NOPTS", logStamp{}, true},
		{"[Parsed_showinfo_1 @ 0x1] [info] color_range:tv color_space:bt709", logStamp{}, false},
		{"[info]     title           : ] n: 3 pts: 9", logStamp{}, false},
		{"", logStamp{}, false},
	} {
		got, ok := l.parse(c.line)
		if ok != c.ok || got.ok != c.want.ok || math.Abs(got.rawS-c.want.rawS) > 1e-12 {
			t.Errorf("%q: %v %v, want %v %v", c.line, got, ok, c.want, c.ok)
		}
	}
}

func TestParseVersion(t *testing.T) {
	for _, c := range []struct {
		line            string
		major, minor    int
		tooOld, fpsMode bool
	}{
		{"ffmpeg version 5.1.9-0+deb12u1 Copyright (c) 2000-2026 the FFmpeg developers", 5, 1, false, true},
		{"ffmpeg version 4.4.2-0ubuntu0.22.04.1 Copyright", 4, 4, false, false},
		{"ffmpeg version 4.2.7 Copyright", 4, 2, true, false},
		{"ffmpeg version 5.0 Copyright", 5, 0, false, false},
		{"ffmpeg version n7.1-3-gabc Copyright", 7, 1, false, true},
		{"ffmpeg version 8.0-full_build-www.gyan.dev Copyright", 8, 0, false, true},
		{"ffmpeg version N-112345-gdeadbeef Copyright", 0, 0, false, true},
		{"ffmpeg version git-2024-01-01 Copyright", 0, 0, false, true},
		{"ffmpeg version N-47683-g0e8eb07980 Copyright\nlibavfilter     7. 46.101 /  7. 46.101", 0, 0, true, false},
		{"ffmpeg version N-1 Copyright\nlibavutil      57. 17.100 / 57. 17.100\nlibavfilter     8. 24.100 /  8. 24.100", 0, 0, false, false},
		{"ffmpeg version N-2 Copyright\nlibavfilter    11.  4.100 / 11.  4.100", 0, 0, false, true},
	} {
		v, err := parseVersion(c.line + "\nbuilt with gcc\n")
		if err != nil || v.Major != c.major || v.Minor != c.minor || v.TooOld() != c.tooOld || v.hasFPSMode() != c.fpsMode {
			t.Errorf("%q: %+v, %v", c.line, v, err)
		}
	}
	if _, err := parseVersion("hello\n"); err == nil {
		t.Error("any program was taken for ffmpeg")
	}
}

func TestRange(t *testing.T) {
	var f Facts
	f.setTimes([]float64{10, 10.1, 10.2, 10.3, 10.4}, 1e-3)
	for _, c := range []struct {
		start, end float64
		from, to   int
	}{{0, 0, 0, 5}, {0.1, 0.3, 1, 3}, {0.05, 0.31, 1, 4}, {0.4, 9, 4, 5}, {5, 0, 5, 5}, {-1, 0.2, 0, 2}, {0.3, 0.1, 3, 3}} {
		if from, to := f.Range(c.start, c.end); from != c.from || to != c.to {
			t.Errorf("%g to %g s: frames %d to %d, want %d to %d", c.start, c.end, from, to, c.from, c.to)
		}
	}
}

// TestClock: whatever the frame times, each frame's own stamp finds it, also
// when read a microsecond off, and a stamp half-way to a neighbour finds none.
func TestClock(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		gaps := rapid.SliceOfN(rapid.IntRange(2, 400), 1, 60).Draw(t, "gaps")
		at := rapid.IntRange(-5000, 5000).Draw(t, "first")
		stamps := []float64{float64(at) * 1e-3}
		for _, g := range gaps {
			at += g
			stamps = append(stamps, float64(at)*1e-3)
		}
		shuffled := rapid.Permutation(stamps).Draw(t, "order")
		var f Facts
		if repeats := f.setTimes(shuffled, 1e-3); repeats != 0 {
			t.Fatalf("%d repeats", repeats)
		}
		for i, s := range stamps {
			for _, off := range []float64{0, 1e-6, -1e-6} {
				if got, ok := f.frameAt(s + off); !ok || got != i {
					t.Fatalf("stamp %g finds %d, %v; want %d", s+off, got, ok, i)
				}
			}
			if i > 0 {
				if got, ok := f.frameAt((s + stamps[i-1]) / 2); ok {
					t.Fatalf("a stamp between two frames finds frame %d", got)
				}
			}
		}
		if !(f.MinHz <= f.MedianHz*(1+1e-9) && f.MedianHz <= f.MaxHz*(1+1e-9)) {
			t.Fatalf("rates %g, %g, %g", f.MinHz, f.MedianHz, f.MaxHz)
		}
	})
}
