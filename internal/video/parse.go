package video

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

// The answer of ffprobe in JSON, as far as it is used. Numbers come as text or
// as numbers by release, so the doubtful ones are read by looseNumber.

type probeAnswer struct {
	Streams []probeStream `json:"streams"`
	Format  probeFormat   `json:"format"`
}

type probeFormat struct {
	Name      string            `json:"format_name"`
	StartTime looseNumber       `json:"start_time"`
	Tags      map[string]string `json:"tags"`
}

type probeStream struct {
	Index       int               `json:"index"`
	Kind        string            `json:"codec_type"`
	Codec       string            `json:"codec_name"`
	Profile     string            `json:"profile"`
	PixelKind   string            `json:"pix_fmt"`
	Width       int               `json:"width"`
	Height      int               `json:"height"`
	Aspect      string            `json:"sample_aspect_ratio"`
	Bits        looseNumber       `json:"bits_per_raw_sample"`
	Space       string            `json:"color_space"`
	Transfer    string            `json:"color_transfer"`
	RealRate    string            `json:"r_frame_rate"`
	MeanRate    string            `json:"avg_frame_rate"`
	TimeBase    string            `json:"time_base"`
	FrameCount  looseNumber       `json:"nb_frames"`
	Disposition map[string]int    `json:"disposition"`
	Tags        map[string]string `json:"tags"`
	SideData    []probeSideData   `json:"side_data_list"`
}

type probeSideData struct {
	Kind       string      `json:"side_data_type"`
	Rotation   looseNumber `json:"rotation"`
	CropTop    looseNumber `json:"crop_top"`
	CropBottom looseNumber `json:"crop_bottom"`
	CropLeft   looseNumber `json:"crop_left"`
	CropRight  looseNumber `json:"crop_right"`
}

// looseNumber reads a number that may be quoted, absent or "N/A"; the last two
// give NaN.
type looseNumber struct {
	v  float64
	ok bool
}

// UnmarshalJSON never fails: what is no number is absent.
func (n *looseNumber) UnmarshalJSON(b []byte) error {
	v, err := strconv.ParseFloat(strings.Trim(string(b), `"`), 64)
	*n = looseNumber{v: v, ok: err == nil && !math.IsNaN(v) && !math.IsInf(v, 0)}
	return nil
}

func (n looseNumber) or(v float64) float64 {
	if n.ok {
		return n.v
	}
	return v
}

// parseAnswer reads ffprobe's description of a file's streams.
func parseAnswer(text []byte) (probeAnswer, error) {
	var a probeAnswer
	if err := json.Unmarshal(text, &a); err != nil {
		return probeAnswer{}, fmt.Errorf("ffprobe's description of the file cannot be read: %w", err)
	}
	return a, nil
}

// ratio reads "30000/1001", "4:3" or "25" and gives false for anything that is
// not a positive, finite number.
func ratio(text string) (float64, bool) {
	num, den, ok := strings.Cut(text, "/")
	if !ok {
		if num, den, ok = strings.Cut(text, ":"); !ok {
			den = "1"
		}
	}
	n, err1 := strconv.ParseFloat(num, 64)
	d, err2 := strconv.ParseFloat(den, 64)
	v := n / d
	if err1 != nil || err2 != nil || math.IsNaN(v) || math.IsInf(v, 0) || v <= 0 {
		return 0, false
	}
	return v, true
}

// picture returns the stream that holds the film: the first that is no cover
// picture, the one marked default before others.
func (a *probeAnswer) picture() *probeStream {
	var best *probeStream
	for i := range a.Streams {
		s := &a.Streams[i]
		if s.Kind != "video" || s.Disposition["attached_pic"] != 0 || s.Disposition["timed_thumbnails"] != 0 {
			continue
		}
		if best == nil || s.Disposition["default"] > best.Disposition["default"] {
			best = s
		}
	}
	return best
}

func (a *probeAnswer) has(kind string) bool {
	for _, s := range a.Streams {
		if s.Kind == kind {
			return true
		}
	}
	return false
}

// facts turns ffprobe's description into what is known before the frame times.
func (a *probeAnswer) facts(s *probeStream) (*Facts, error) {
	f := &Facts{Container: a.Format.Name, Codec: s.Codec, Profile: s.Profile, PixelKind: s.PixelKind,
		HasAudio: a.has("audio"), CodedWidthPX: s.Width, CodedHeightPX: s.Height,
		stream: s.Index, startS: a.Format.StartTime.or(0), PixelAspect: 1}
	if s.Width <= 0 || s.Height <= 0 {
		return nil, errNoSize
	}
	f.BitDepth = bitDepth(s)
	f.HDR = s.Transfer == "arib-std-b67" || s.Transfer == "smpte2084"
	f.matrix = s.Space != "" && s.Space != "unknown" && s.Space != "unspecified"
	w, h := s.Width, s.Height
	turn := 0.0
	if v, err := strconv.ParseFloat(s.Tags["rotate"], 64); err == nil {
		turn = v // the older tag: clockwise degrees
	}
	for _, d := range s.SideData {
		if d.Rotation.ok {
			turn = -d.Rotation.v // side data: counter-clockwise degrees
		}
		w -= int(clampPX(d.CropLeft.or(0)) + clampPX(d.CropRight.or(0)))
		h -= int(clampPX(d.CropTop.or(0)) + clampPX(d.CropBottom.or(0)))
	}
	f.RotationDeg = quarterTurn(turn)
	if v, ok := ratio(s.Aspect); ok && v > 0.1 && v < 10 {
		f.PixelAspect = v
	}
	if w <= 0 || h <= 0 {
		return nil, errNoSize
	}
	if w > MaxSidePX || h > MaxSidePX {
		return nil, errHugeSize
	}
	w = max(1, int(math.Round(float64(w)*f.PixelAspect)))
	if f.RotationDeg%180 != 0 {
		w, h = h, w
	}
	if w > MaxSidePX || h > MaxSidePX || 3*w*h > MaxFrameBytes {
		return nil, errHugeSize
	}
	f.WidthPX, f.HeightPX = w, h
	for _, r := range []string{s.MeanRate, s.RealRate} {
		if v, ok := ratio(r); ok && v <= 100_000 {
			f.NominalHz = v
			break
		}
	}
	f.CaptureRateHz, f.CaptureRateFrom = captureRate(a.Format.Tags, s.Tags)
	return f, nil
}

var (
	errNoSize   = errors.New("the picture has no size")
	errHugeSize = errors.New("the picture is too large")
)

func clampPX(v float64) float64 { return math.Max(0, math.Min(v, MaxSidePX)) }

// quarterTurn rounds a turn in degrees to 0, 90, 180 or 270; a turn further
// than one degree from all of them leaves the picture's size as it is and
// counts as 0, as it does in ffmpeg.
func quarterTurn(deg float64) int {
	if math.IsNaN(deg) || math.IsInf(deg, 0) {
		return 0
	}
	d := math.Mod(math.Mod(deg, 360)+360, 360)
	q := math.Round(d / 90)
	if math.Abs(d-90*q) > 1 {
		return 0
	}
	return int(q) % 4 * 90
}

func bitDepth(s *probeStream) int {
	if s.Bits.ok && s.Bits.v >= 1 && s.Bits.v <= 32 {
		return int(s.Bits.v)
	}
	for _, bits := range []int{9, 10, 12, 14, 16} {
		for _, end := range []string{"le", "be"} {
			if strings.HasSuffix(s.PixelKind, fmt.Sprintf("p%d%s", bits, end)) || s.PixelKind == fmt.Sprintf("p0%d%s", bits, end) {
				return bits
			}
		}
	}
	return 8
}

// captureRateTags are the entries by which a camera records the rate it filmed
// at, where that may differ from the rate of the file. Android's MPEG-4 writer
// stores com.android.capture.fps (Android Open Source Project, MPEG4Writer; from
// memory).
var captureRateTags = []string{"com.android.capture.fps"}

func captureRate(tags ...map[string]string) (hz float64, from string) {
	for _, name := range captureRateTags {
		for _, t := range tags {
			v, err := strconv.ParseFloat(strings.TrimSpace(t[name]), 64)
			if err == nil && v >= 1 && v <= 10_000 {
				return v, name
			}
		}
	}
	return 0, ""
}

// stamp is the timing of one packet or frame, in ticks of the stream's clock.
type stamp struct {
	pts    int64
	hasPTS bool
	drop   bool // decoded but not shown: outside the edit list
}

// parseStamps reads the rows of `-of compact`: key=value fields between bars,
// one packet or frame a row. Keys it does not know, empty fields, empty rows and
// stray commas are passed over. A row that holds no field at all is no packet.
func parseStamps(r io.Reader, key string, limit int) ([]stamp, error) {
	var out []stamp
	br := bufio.NewReaderSize(r, 64<<10)
	for {
		line, err := br.ReadSlice('\n')
		for err == bufio.ErrBufferFull { // an overlong row: its start is enough
			line = append([]byte(nil), line...)
			_, err = br.ReadSlice('\n')
		}
		if s, ok := parseStamp(string(line), key); ok {
			if len(out) == limit {
				return nil, fmt.Errorf("the clip has more than %d frames", limit)
			}
			out = append(out, s)
		}
		if err == io.EOF {
			return out, nil
		}
		if err != nil {
			return nil, err
		}
	}
}

func parseStamp(row, key string) (s stamp, ok bool) {
	for field := range strings.SplitSeq(strings.TrimSpace(row), "|") {
		name, value, found := strings.Cut(field, "=")
		if !found {
			continue
		}
		switch name {
		case key:
			ok = true
			v, err := strconv.ParseInt(strings.Trim(value, ", \t"), 10, 64)
			if err == nil && !s.hasPTS {
				s.pts, s.hasPTS = v, true
			}
		case "flags":
			// K for a key frame, D for one that is decoded and not shown.
			s.drop = strings.Contains(value, "D")
		}
	}
	return s, ok
}

// ticks sorts out a list of stamps: those shown, in seconds, and whether every
// one of them has a time of its own.
func ticks(stamps []stamp, tickS float64) (seconds []float64, shown int, sound bool) {
	sound = true
	seen := make(map[int64]bool, len(stamps))
	for _, s := range stamps {
		if s.drop {
			continue
		}
		shown++
		if !s.hasPTS || seen[s.pts] {
			sound = false
		}
		if s.hasPTS {
			seen[s.pts] = true
			seconds = append(seconds, float64(s.pts)*tickS)
		}
	}
	return seconds, shown, sound && shown > 0
}
