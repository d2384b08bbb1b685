package video

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
)

// probeTimeout ends an ffprobe that hangs on a damaged file. Reading the packet
// times of a clip takes as long as reading the file once.
const probeTimeout = 10 * time.Minute

// Probe reads what a film file says of itself, with the time of each frame. It
// decodes nothing unless the file's own time stamps are missing or repeated.
//
// The error is an *Error, or the context's.
func Probe(ctx context.Context, path string) (*Facts, error) {
	size, err := check(path)
	if err != nil {
		return nil, err
	}
	tools, err := Locate(ctx)
	if err != nil {
		return nil, err
	}
	limited, cancel := context.WithTimeout(ctx, probeTimeout)
	defer cancel()
	f, err := tools.probe(limited, path)
	switch {
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case limited.Err() != nil:
		return nil, &Error{File: path, What: fmt.Sprintf("reading the file took longer than %.0f minutes", probeTimeout.Minutes()),
			Mend: "copy it to a faster disk, or cut it shorter", Kind: ErrNotVideo, Cause: limited.Err()}
	case err != nil:
		return nil, err
	}
	f.Path, f.Bytes = path, size
	return f, nil
}

func (t Tools) ffprobeArgs(path string, more ...string) []string {
	args := append([]string{"-v", "error", "-hide_banner"}, guarded()...)
	return append(append(args, more...), "-i", "file:"+path)
}

func (t Tools) probe(ctx context.Context, path string) (*Facts, error) {
	text, err := output(ctx, t.FFprobe, t.ffprobeArgs(path, "-show_format", "-show_streams", "-of", "json")...)
	if err != nil {
		return nil, t.probeFault(ctx, path, err)
	}
	answer, err := parseAnswer([]byte(text))
	if err != nil {
		return nil, t.probeFault(ctx, path, err)
	}
	s := answer.picture()
	if s == nil {
		if answer.has("audio") {
			return nil, &Error{File: path, What: "this file has sound but no picture", Mend: "give the film, MP4 or MOV, from the phone", Kind: ErrAudioOnly}
		}
		return nil, notFilmAt(path)
	}
	if s.Codec == "" || s.Codec == "unknown" || s.Codec == "none" {
		return nil, &Error{File: path, What: "the picture format is not one that this ffmpeg knows",
			Mend: "install a full, recent build of ffmpeg, or convert the film to H.264", Kind: ErrCodec}
	}
	f, err := answer.facts(s)
	if errors.Is(err, errHugeSize) {
		return nil, &Error{File: path, What: fmt.Sprintf("the picture is %d × %d pixels, more than can be handled (%d a side, %d MB a frame)",
			s.Width, s.Height, MaxSidePX, MaxFrameBytes>>20), Mend: "film or export at 4K or less", Kind: ErrTooLarge}
	}
	if err != nil {
		return nil, &Error{File: path, What: "the file does not say how large its picture is; it is damaged or cut short",
			Mend: "copy it again from the phone, and wait until the copy is finished", Kind: ErrTruncated, Cause: err}
	}
	if err := t.clock(ctx, path, f, s); err != nil {
		return nil, err
	}
	return f, nil
}

// clock fills in the frame times.
func (t Tools) clock(ctx context.Context, path string, f *Facts, s *probeStream) error {
	tickS, ok := ratio(s.TimeBase)
	if !ok {
		return &Error{File: path, What: "the file has no clock", Mend: "convert it to MP4 with H.264 first", Kind: ErrNotVideo}
	}
	stamps, err := t.stamps(ctx, path, f.stream, "packet=pts,flags", "pts")
	if err != nil {
		return t.probeFault(ctx, path, err)
	}
	seconds, shown, sound := ticks(stamps, tickS)
	f.Clock = ClockPackets
	packets := shown
	if !sound {
		// Missing or repeated stamps: only decoding tells what is shown when.
		stamps, err := t.stamps(ctx, path, f.stream, "frame=best_effort_timestamp", "best_effort_timestamp")
		if err != nil {
			return t.probeFault(ctx, path, err)
		}
		seconds, shown, _ = ticks(stamps, tickS)
		f.Clock = ClockFrames
		if len(seconds) < shown || distinct(seconds) < (shown+1)/2 {
			if f.NominalHz <= 0 || shown == 0 {
				return &Error{File: path, What: "the file gives neither frame times nor a frame rate",
					Mend: "convert it to MP4 with H.264 first", Kind: ErrNotVideo}
			}
			f.Clock = ClockNominal
			seconds = make([]float64, shown)
			for i := range seconds {
				seconds[i] = float64(i) / f.NominalHz
			}
			f.Warnings = append(f.Warnings, fmt.Sprintf(
				"The file carries no frame times; they are taken from its frame rate of %.4g a second.", f.NominalHz))
		}
	}
	switch {
	case shown == 0 && packets == 0:
		return &Error{File: path, What: "there are no frames in the file", Mend: "it was cut off while recording or copying; copy it again", Kind: ErrTruncated}
	case shown == 0:
		return &Error{File: path, What: "no frame of the file can be decoded", Mend: "play it on the phone or computer first; if it plays there, copy it again", Kind: ErrDecode}
	case shown == 1:
		return &Error{File: path, What: "the file holds a single picture, and gait needs a film", Mend: "give the film, not the photo", Kind: ErrStill}
	}
	repeats := f.setTimes(seconds, tickS)
	if len(f.TimeS) < 2 {
		return &Error{File: path, What: "all frames of the file have the same time", Mend: "convert it to MP4 with H.264 first", Kind: ErrNotVideo}
	}
	f.warn(repeats, int(s.FrameCount.or(0)), len(stamps))
	return nil
}

func (f *Facts) warn(repeats, declared, packets int) {
	say := func(format string, a ...any) { f.Warnings = append(f.Warnings, fmt.Sprintf(format, a...)) }
	if repeats == 1 {
		say("One frame has the same time as another and is left out.")
	} else if repeats > 1 {
		say("%d frames have the same time as another and are left out.", repeats)
	}
	if f.LongGaps == 1 {
		say("The camera left out frames in one place.")
	} else if f.LongGaps > 1 {
		say("The camera left out frames in %d places.", f.LongGaps)
	}
	if declared > packets && packets > 0 {
		say("The file announces %d frames but holds %d: its end is missing.", declared, packets)
	}
	if k := f.Slowdown(); k > 1 {
		say("The camera filmed at %.0f frames a second (%s), the file plays at %.4g: its clock runs %.3g times slow.",
			f.CaptureRateHz, f.CaptureRateFrom, f.MedianHz, k)
	}
}

func distinct(v []float64) int {
	s := slices.Clone(v)
	slices.Sort(s)
	return len(slices.Compact(s))
}

// stamps asks ffprobe for the timing of each packet or frame of one stream.
func (t Tools) stamps(ctx context.Context, path string, index int, entries, key string) ([]stamp, error) {
	var out []stamp
	args := t.ffprobeArgs(path, "-select_streams", strconv.Itoa(index), "-show_entries", entries, "-of", "compact=p=0")
	err := stream(ctx, func(r io.Reader) error {
		var err error
		out, err = parseStamps(r, key, maxFrames)
		return err
	}, t.FFprobe, args...)
	var child *childError
	if errors.As(err, &child) && len(out) > 1 {
		err = nil // a damaged end: what came before it is good
	}
	return out, err
}

func (t Tools) probeFault(ctx context.Context, path string, err error) error {
	var child *childError
	switch {
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return err
	case errors.Is(err, ErrNoFFmpeg):
		return err
	case errors.As(err, &child):
		if fault := Starts(ctx, t.FFprobe); fault != nil {
			return fault
		}
		if strings.Contains(child.stderr, "moov atom not found") && !startsLikeMP4(path) {
			return notFilmAt(path)
		}
		return explain(path, child.stderr, ErrNotVideo, err)
	}
	return &Error{File: path, What: "the file could not be examined (" + err.Error() + ")",
		Mend: "play it on the phone or computer first; if it plays there, copy it again", Kind: ErrNotVideo, Cause: err}
}

func notFilmAt(path string) *Error {
	e := notFilm("this file holds no moving pictures")
	e.What = "this file holds no moving pictures"
	e.File = path
	return e
}

// seekPoint returns the time to give to -ss so that frame from is the first to
// come out: a quarter of an interval before it, which still rounds to it on a
// clock whose tick is one frame, counted from the file's start. It is false where
// seeking is of no use.
func (f *Facts) seekPoint(from int) (float64, bool) {
	if from == 0 || f.Clock == ClockNominal {
		return 0, false
	}
	at := f.rawS(from) - math.Min(f.TimeS[from]-f.TimeS[from-1], 1)/4 - f.startS
	return at, at > 0
}
