package app

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/draw"
	"image/jpeg"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"

	"gaitwright/internal/video"
)

// stillsFolder keeps frames that reports show, so that a report need not wait for
// films to be decoded: a folder a film, named by its content as the film is, and in
// it a picture a frame. It can be removed at any time.
const stillsFolder = "stills"

// stillQuality is that of a frame that is kept, as JPEG.
const stillQuality = 92

// stillSource gives frames of a clip's file, by their numbers in the file. Pictures
// may be given twice; whoever draws in one takes a copy.
type stillSource func(ctx context.Context, c *Clip, frames []int) ([]*image.RGBA, error)

// decodedStills decodes frames. Each goes through the form in which frames are kept,
// so that a report is the same whether they were.
func decodedStills(ctx context.Context, c *Clip, frames []int) ([]*image.RGBA, error) {
	out, _, err := decodeStills(ctx, c, frames)
	return out, err
}

func decodeStills(ctx context.Context, c *Clip, frames []int) ([]*image.RGBA, [][]byte, error) {
	facts, err := video.Probe(ctx, c.Path)
	if err != nil {
		return nil, nil, videoProblem(c.Path, err)
	}
	pictures, err := video.Stills(ctx, facts, frames, keyFrameHeightPX)
	if err != nil {
		return nil, nil, videoProblem(c.Path, err)
	}
	packed := make([][]byte, len(frames))
	for i, p := range pictures {
		if k := slices.Index(frames, frames[i]); k < i {
			pictures[i], packed[i] = pictures[k], packed[k]
			continue
		}
		var b bytes.Buffer
		if err := jpeg.Encode(&b, p, &jpeg.Options{Quality: stillQuality}); err != nil {
			return nil, nil, fmt.Errorf("frame %d of %s: %w", frames[i], c.name(), err)
		}
		packed[i] = b.Bytes()
		if pictures[i], err = unpackStill(packed[i]); err != nil {
			return nil, nil, fmt.Errorf("frame %d of %s: %w", frames[i], c.name(), err)
		}
	}
	return pictures, packed, nil
}

func unpackStill(b []byte) (*image.RGBA, error) {
	m, err := jpeg.Decode(bytes.NewReader(b))
	if err != nil {
		return nil, err
	}
	out := image.NewRGBA(m.Bounds())
	draw.Draw(out, out.Rect, m, m.Bounds().Min, draw.Src)
	return out, nil
}

// keptStills gives frames that are kept, and decodes and keeps the others. That one
// could not be kept is no reason not to give it.
func (st *Studio) keptStills(ctx context.Context, c *Clip, frames []int) ([]*image.RGBA, error) {
	dir := st.stillsOf(c.Path)
	if dir == "" {
		return decodedStills(ctx, c, frames)
	}
	path := func(frame int) string { return filepath.Join(dir, fmt.Sprintf("%d-%d.jpg", frame, keyFrameHeightPX)) }
	out := make([]*image.RGBA, len(frames))
	var missing, at []int
	for i, k := range frames {
		b, err := os.ReadFile(path(k))
		if err == nil {
			out[i], err = unpackStill(b)
		}
		if err != nil {
			missing, at = append(missing, k), append(at, i)
		}
	}
	if len(missing) == 0 {
		return out, nil
	}
	pictures, packed, err := decodeStills(ctx, c, missing)
	if err != nil {
		return nil, err
	}
	for i, p := range pictures {
		out[at[i]] = p
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return out, nil
	}
	for i, b := range packed {
		if WriteFileWhole(path(missing[i]), func(w io.Writer) error { _, err := w.Write(b); return err }) != nil {
			break
		}
	}
	// The film may have been erased meanwhile; then nothing of it stays.
	if _, err := os.Stat(c.Path); errors.Is(err, fs.ErrNotExist) {
		os.RemoveAll(dir)
	}
	return out, nil
}

var filmName = regexp.MustCompile(`^[0-9a-f]{64}$`)

// stillsOf is where frames of a film are kept; empty for one that is not the studio's.
func (st *Studio) stillsOf(path string) string {
	rel, err := filepath.Rel(filepath.Join(st.dir, filesFolder), path)
	if err != nil || !filepath.IsLocal(rel) {
		return ""
	}
	hash := filepath.Base(filepath.Dir(rel)) + filepath.Base(rel)
	if !filmName.MatchString(hash) {
		return ""
	}
	return filepath.Join(st.dir, stillsFolder, hash)
}

// dropStills removes the kept frames of films.
func (st *Studio) dropStills(films []string) error {
	var faults []error
	for _, hash := range films {
		if filmName.MatchString(hash) {
			faults = append(faults, os.RemoveAll(filepath.Join(st.dir, stillsFolder, hash)))
		}
	}
	return errors.Join(faults...)
}

// sweepStills removes the kept frames of films that no record names any more.
func (st *Studio) sweepStills(keep map[string]bool) {
	list, _ := os.ReadDir(filepath.Join(st.dir, stillsFolder))
	var gone []string
	for _, f := range list {
		if !keep[f.Name()] {
			gone = append(gone, f.Name())
		}
	}
	st.dropStills(gone)
}

// readyStills decodes and keeps what the reports of a visit will show, so that the
// first one is there at once. A film that cannot be read is told of by the report.
func (st *Studio) readyStills(ctx context.Context, visitID string) {
	ctx = video.Aside(ctx)
	f, err := st.reason(ctx, visitID)
	if err != nil || f.session == nil {
		return
	}
	wanted := map[int][]int{}
	for n, c := range f.session.Clips {
		if c.IsVideo() {
			for _, m := range c.keyMoments() {
				wanted[n] = append(wanted[n], c.FirstFrame+m.frame)
			}
		}
	}
	for i := range f.report.Findings {
		if e, ok := f.mainEvidence(&f.report.Findings[i]); ok {
			if p := f.pictureFor(e); p != nil {
				wanted[p.Clip] = append(wanted[p.Clip], f.session.Clips[p.Clip].FirstFrame+p.Frame)
			}
		}
	}
	for n, c := range f.session.Clips {
		if frames := wanted[n]; len(frames) > 0 && ctx.Err() == nil {
			slices.Sort(frames)
			st.keptStills(ctx, c, slices.Compact(frames))
		}
	}
}
