package video

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
)

// EncodeOptions say what an Encoder writes.
type EncodeOptions struct {
	WidthPX, HeightPX int // of the pictures handed to Write
	// RateHz is the constant frame rate of the film before it is slowed down;
	// the median rate of the clip as a rule.
	RateHz float64
	// SlowBy plays the film this many times slower; 0 means 1.
	SlowBy float64
	// Quality is the constant rate factor of H.264: 18 is hardly to be told
	// from the original, 28 is coarse; 0 means 20.
	Quality int
}

// Encoder writes pictures to an MP4 that any player and browser shows: H.264 in
// 4:2:0, or MPEG-4 part 2 where this ffmpeg has no libx264; or, where the path ends
// in .gif, to a GIF that plays round and round, in 256 colours chosen from all its
// pictures. A GIF's pictures are all held by ffmpeg until its end, so it is for
// short films, and it cannot show more than fifty a second. The film appears under
// its name when Finish has succeeded and not before.
type Encoder struct {
	path, temp string
	options    EncodeOptions
	parent     context.Context // why the work was stopped from outside
	cancel     context.CancelFunc
	cmd        *exec.Cmd
	in         io.WriteCloser
	stderr     *tail
	held       []byte // the picture before, for gaps in the clip
	firstS     float64
	written    int // pictures given to ffmpeg
	ended      bool
}

// NewEncoder starts to write a film to path, by way of a temporary file beside
// it. The caller must end with Finish or Abort.
func NewEncoder(ctx context.Context, path string, o EncodeOptions) (*Encoder, error) {
	if o.WidthPX <= 0 || o.HeightPX <= 0 || o.WidthPX > MaxSidePX || o.HeightPX > MaxSidePX {
		return nil, &Error{File: path, What: fmt.Sprintf("a film of %d × %d pixels cannot be written", o.WidthPX, o.HeightPX),
			Mend: fmt.Sprintf("choose sides between 1 and %d pixels", MaxSidePX), Kind: ErrEncode}
	}
	if o.SlowBy == 0 {
		o.SlowBy = 1
	}
	if !(o.RateHz > 0 && o.RateHz <= 100_000 && o.SlowBy > 0 && o.SlowBy <= 1000) {
		return nil, &Error{File: path, What: fmt.Sprintf("a film of %g frames a second slowed down %g times cannot be written", o.RateHz, o.SlowBy),
			Mend: "give the clip's own frame rate and a factor of 1 to 8", Kind: ErrEncode}
	}
	tools, err := Locate(ctx)
	if err != nil {
		return nil, err
	}
	target, err := tools.targetOptions(ctx, path, o.Quality)
	if err != nil {
		return nil, err
	}
	temp, err := os.CreateTemp(filepath.Dir(path), ".gaitwright-*"+filepath.Ext(path))
	if err != nil {
		return nil, &Error{File: path, What: "the film cannot be written there", Mend: "choose a folder that exists and may be written to", Kind: ErrEncode, Cause: err}
	}
	temp.Close()
	e := &Encoder{path: path, temp: temp.Name(), options: o, parent: ctx, stderr: &tail{max: 8 << 10}}
	ctx, e.cancel = context.WithCancel(ctx)
	args := []string{"-hide_banner", "-nostats", "-v", "error", "-y",
		"-f", "rawvideo", "-pix_fmt", "rgba", "-video_size", fmt.Sprintf("%dx%d", o.WidthPX, o.HeightPX),
		"-framerate", strconv.FormatFloat(o.RateHz/o.SlowBy, 'f', 6, 64), "-i", "pipe:0"}
	args = append(append(args, target...), "file:"+e.temp)
	e.cmd = command(ctx, tools.FFmpeg, args...)
	e.cmd.Stderr = e.stderr
	if e.in, err = e.cmd.StdinPipe(); err == nil {
		err = start(ctx, e.cmd)
	}
	if err != nil {
		e.cancel()
		os.Remove(e.temp)
		if e.parent.Err() != nil {
			return nil, e.parent.Err()
		}
		return nil, notStarting(tools.FFmpeg, err)
	}
	return e, nil
}

// targetOptions are what ffmpeg is told of the file to be written.
func (t Tools) targetOptions(ctx context.Context, path string, quality int) ([]string, error) {
	if strings.EqualFold(filepath.Ext(path), ".gif") {
		return []string{"-vf", "split[a][b];[a]palettegen=stats_mode=full[p];[b][p]paletteuse=dither=bayer:bayer_scale=4:diff_mode=rectangle",
			"-loop", "0", "-f", "gif"}, nil
	}
	codec, err := t.encoderOptions(ctx, quality)
	if err != nil {
		return nil, err
	}
	// Sides must be even in 4:2:0.
	args := []string{"-vf", "pad=ceil(iw/2)*2:ceil(ih/2)*2,scale=out_color_matrix=bt709:out_range=tv,format=yuv420p",
		"-colorspace", "bt709", "-color_primaries", "bt709", "-color_trc", "bt709", "-color_range", "tv"}
	return append(append(args, codec...), "-movflags", "+faststart", "-f", "mp4"), nil
}

// encoderOptions chooses the codec.
func (t Tools) encoderOptions(ctx context.Context, quality int) ([]string, error) {
	if quality <= 0 {
		quality = 20
	}
	list, err := output(ctx, t.FFmpeg, "-hide_banner", "-v", "error", "-encoders")
	switch {
	case ctx.Err() != nil:
		return nil, ctx.Err()
	case err != nil:
		return nil, notStarting(t.FFmpeg, err)
	}
	if strings.Contains(list, " libx264 ") {
		return []string{"-c:v", "libx264", "-preset", "veryfast", "-crf", strconv.Itoa(min(51, quality))}, nil
	}
	return []string{"-c:v", "mpeg4", "-q:v", strconv.Itoa(min(31, max(2, quality/4)))}, nil
}

// Write adds a picture at timeS, in seconds on the clip's own clock. Times must
// increase. The film has a constant rate: where the clip left out frames the
// picture before is held, where it has more than the rate some are left out.
func (e *Encoder) Write(img *image.RGBA, timeS float64) error {
	w, h := e.options.WidthPX, e.options.HeightPX
	if img.Rect.Dx() != w || img.Rect.Dy() != h {
		return fmt.Errorf("a picture of %d × %d pixels was given to a film of %d × %d", img.Rect.Dx(), img.Rect.Dy(), w, h)
	}
	if e.written == 0 {
		e.firstS = timeS
	}
	slot := int(math.Round((timeS - e.firstS) * e.options.RateHz))
	if slot < e.written {
		return nil
	}
	if gap := slot - e.written; gap > maxHold {
		return fmt.Errorf("a gap of %d frames in the clip is too long for a film", gap)
	}
	if strings.EqualFold(filepath.Ext(e.path), ".gif") && 4*w*h*(slot+1) > maxGIF {
		return &Error{File: e.path, What: "a GIF of this length and size would take too much memory", Mend: "make it shorter or smaller, or write an MP4", Kind: ErrEncode}
	}
	for e.written < slot {
		if err := e.put(e.held); err != nil {
			return err
		}
	}
	if e.held == nil {
		e.held = make([]byte, 4*w*h)
	}
	for y := range h {
		copy(e.held[4*w*y:4*w*(y+1)], img.Pix[img.PixOffset(img.Rect.Min.X, img.Rect.Min.Y+y):])
	}
	return e.put(e.held)
}

// maxGIF is how many bytes of pictures a GIF may be made of.
const maxGIF = 400 << 20

// maxHold is the longest gap that is filled by holding a picture, in frames.
const maxHold = 10_000

func (e *Encoder) put(pix []byte) error {
	if _, err := e.in.Write(pix); err != nil {
		return e.fault(e.Abort(), err)
	}
	e.written++
	return nil
}

// Finish completes the film and puts it under its name.
func (e *Encoder) Finish() error {
	if e.ended {
		return errors.New("the film has already been ended")
	}
	if e.written == 0 {
		e.Abort()
		return &Error{File: e.path, What: "no picture was given for the film", Mend: "choose a range with frames in it", Kind: ErrEncode}
	}
	e.ended = true
	defer e.cancel()
	closeErr := e.in.Close()
	err := errors.Join(e.cmd.Wait(), closeErr)
	if err == nil {
		// The temporary file was made for its owner alone.
		err = errors.Join(os.Chmod(e.temp, 0o644), os.Rename(e.temp, e.path))
	}
	if err != nil {
		os.Remove(e.temp)
		return e.fault(err, nil)
	}
	return nil
}

// Abort ends the work and leaves nothing behind. After Finish it does nothing.
func (e *Encoder) Abort() error {
	if e.ended {
		return nil
	}
	e.ended = true
	e.cancel()
	e.in.Close()
	err := e.cmd.Wait()
	os.Remove(e.temp)
	return err
}

func (e *Encoder) fault(err, second error) error {
	if e.parent.Err() != nil {
		return e.parent.Err()
	}
	if fault := Starts(e.parent, e.cmd.Path); fault != nil {
		return fault
	}
	what := "the film could not be written"
	if line := lastLine(e.stderr.String()); line != "" {
		what += " (ffmpeg says: " + line + ")"
	}
	return &Error{File: e.path, What: what, Mend: "check that there is room on the disk and that the folder may be written to",
		Kind: ErrEncode, Cause: errors.Join(err, second)}
}
