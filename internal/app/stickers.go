package app

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"math"
	"slices"
	"sort"
	"strings"

	"gaitwright/gait/body"
	"gaitwright/gait/track"
	"gaitwright/internal/sticker"
	"gaitwright/internal/video"
	"gaitwright/num/signal"
)

// Stickers are points that no pose network gives: each is clicked once in a film
// and followed through it. Those with the name of a landmark take part in the
// measurement; others are only followed.

// StickerPoint is one point to be followed.
type StickerPoint struct {
	Name       string         `json:"name"` // a landmark's, or any other
	Clicks     []StickerClick `json:"clicks"`
	DiameterPX float64        `json:"diameter_px,omitempty"` // 0 where not told
	Shape      string         `json:"shape,omitempty"`       // "round", "textured", or empty for what is found
}

// StickerClick is a place shown by a person: a frame of the file, counted from 0,
// and pixels of the film.
type StickerClick struct {
	Frame int     `json:"frame"`
	X     float64 `json:"x"`
	Y     float64 `json:"y"`
}

// StickerPath is a point as it was followed. Its samples are those of the frames
// of the clip's raw landmarks, or of the file where it stands alone.
type StickerPath struct {
	Name  string
	Shape string
	// DiameterPX is that of the mark as it was found at the first click; 0 in paths
	// kept before it was noted.
	DiameterPX float64
	X, Y       []float64 // pixels of the film, NaN where it was not seen
	SD         []float64 // of the worse axis, pixels; NaN where it was not seen
	Quality    []float64 // 0 to 1
	State      []uint8   // sticker.State
}

// The bounds of what one clip's stickers may be.
const (
	maxStickers      = 40
	maxStickerClicks = 200
	maxStickerName   = 60
)

// fewestSure is the share of the frames in which a sticker must be seen without
// doubt for anything to be measured from it.
const fewestSure = 0.5

// checkStickers refuses what cannot be followed in a film of that many frames and
// pixels; 0 frames where that is not known yet.
func checkStickers(points []StickerPoint, frames, widthPX, heightPX int) error {
	bad := func(field, mend, form string, args ...any) error {
		return &Problem{Kind: KindUsage, Field: field, What: fmt.Sprintf(form, args...), Mend: mend}
	}
	if len(points) > maxStickers {
		return bad("points", "Remove some.", "a clip can have %d stickers, not %d", maxStickers, len(points))
	}
	seen := map[string]bool{}
	for i := range points {
		p, at := &points[i], fmt.Sprintf("points.%d", i)
		p.Name = clean(p.Name, maxStickerName)
		switch {
		case p.Name == "":
			return bad(at+".name", "Give it a landmark's name or one of your own.", "sticker %d has no name", i+1)
		case seen[p.Name]:
			return bad(at+".name", "Add the click to the sticker that is there.", "there are two stickers with the name %q", p.Name)
		case len(p.Clicks) == 0:
			return bad(at+".clicks", "Click the sticker in a frame in which it is plainly seen.", "the sticker %q was not clicked", p.Name)
		case len(p.Clicks) > maxStickerClicks:
			return bad(at+".clicks", "", "the sticker %q has more than %d clicks", p.Name, maxStickerClicks)
		case !(p.DiameterPX == 0 || p.DiameterPX >= 3 && p.DiameterPX <= 400):
			return bad(at+".diameter_px", "Leave it out to have it found.", "a sticker of %.4g pixels cannot be followed (3 to 400)", p.DiameterPX)
		case p.Shape != "" && p.Shape != sticker.Round.String() && p.Shape != sticker.Textured.String():
			return bad(at+".shape", "", "the shape is %q; it must be %s, %s or left out", clean(p.Shape, 40), sticker.Round, sticker.Textured)
		}
		seen[p.Name] = true
		slices.SortFunc(p.Clicks, func(a, b StickerClick) int { return a.Frame - b.Frame })
		for k, c := range p.Clicks {
			switch {
			case k > 0 && p.Clicks[k-1].Frame == c.Frame:
				return bad(at+".clicks", "Keep one of them.", "the sticker %q was clicked twice in frame %d", p.Name, c.Frame)
			case c.Frame < 0 || frames > 0 && c.Frame >= frames:
				return bad(at+".clicks", fmt.Sprintf("The film has %d frames, counted from 0.", frames), "the sticker %q was clicked in frame %d, which is not there", p.Name, c.Frame)
			case !(c.X >= 0 && c.Y >= 0) || frames > 0 && !(c.X <= float64(widthPX) && c.Y <= float64(heightPX)):
				return bad(at+".clicks", "Click inside the picture.", "a click for %q is outside the picture of %d × %d pixels", p.Name, widthPX, heightPX)
			}
		}
	}
	return nil
}

// greyFilm gives the frames from, inclusive, to, exclusive, of a film as grey
// pictures at its full size.
type greyFilm struct {
	facts    *video.Facts
	from, to int
}

// Len is the number of frames.
func (g greyFilm) Len() int { return g.to - g.from }

// Each decodes frames and hands them over one after the other.
func (g greyFilm) Each(ctx context.Context, from, to int, give func(int, *image.Gray) error) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	reader, err := video.Decode(ctx, g.facts, video.Options{From: g.from + from, To: g.from + to})
	if err != nil {
		return err
	}
	defer reader.Close()
	var grey *image.Gray
	for {
		f, err := reader.Next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		if grey == nil || grey.Rect.Dx() != f.WidthPX || grey.Rect.Dy() != f.HeightPX {
			grey = image.NewGray(image.Rect(0, 0, f.WidthPX, f.HeightPX))
		}
		for i, j := 0, 0; i < len(grey.Pix) && j+2 < len(f.RGB); i, j = i+1, j+3 {
			// Luma by ITU-R BT.601, in 256ths.
			grey.Pix[i] = uint8((77*uint(f.RGB[j]) + 150*uint(f.RGB[j+1]) + 29*uint(f.RGB[j+2]) + 128) >> 8)
		}
		n := f.Index - g.from
		f.Release()
		if err := give(n, grey); err != nil {
			return err
		}
	}
}

// toFollow is the point as it is followed in frames from one on.
func (p StickerPoint) toFollow(from int) sticker.Point {
	q := sticker.Point{Name: p.Name, DiameterPX: p.DiameterPX}
	switch p.Shape {
	case sticker.Round.String():
		q.Shape = sticker.Round
	case sticker.Textured.String():
		q.Shape = sticker.Textured
	}
	for _, c := range p.Clicks {
		q.Clicks = append(q.Clicks, sticker.Click{Frame: c.Frame - from, XPX: c.X, YPX: c.Y})
	}
	return q
}

// What a click may be worth, as it is told at once.
const (
	clickNothing  = "nothing"  // there is nothing to follow
	clickFleeting = "fleeting" // what is there would be lost at once
)

// glance tells from a few frames of a film what a point's first click is worth; empty
// where nothing is wrong, as far as they tell. What cannot be read is not worth a word:
// whoever has it followed is told.
func (p StickerPoint) glance(ctx context.Context, facts *video.Facts) string {
	err := sticker.Glance(ctx, greyFilm{facts, 0, facts.Frames()}, p.toFollow(0))
	switch {
	case errors.Is(err, sticker.ErrNothing):
		return clickNothing
	case errors.Is(err, sticker.ErrFleeting):
		return clickFleeting
	}
	return ""
}

// followStickers follows points through the frames from, inclusive, to, exclusive,
// of a film; the samples of the paths are those frames. Clicks outside are an
// error.
func followStickers(ctx context.Context, facts *video.Facts, from, to int, points []StickerPoint, tell func(done, total int)) ([]StickerPath, error) {
	var ask []sticker.Point
	for _, p := range points {
		ask = append(ask, p.toFollow(from))
	}
	paths, err := sticker.Follow(ctx, greyFilm{facts, from, to}, ask, sticker.Options{Progress: tell})
	switch {
	case errors.Is(err, sticker.ErrNothing):
		return nil, &Problem{Kind: KindNoResult, File: facts.Path, What: err.Error(), Mend: "Click the middle of the sticker in a frame in which it is plainly seen.", Err: err}
	case errors.Is(err, sticker.ErrClick), errors.Is(err, sticker.ErrFrameSize):
		return nil, &Problem{Kind: KindUsage, File: facts.Path, What: err.Error(), Err: err}
	case err != nil:
		return nil, videoProblem(facts.Path, err)
	}
	out := make([]StickerPath, len(paths))
	for i, p := range paths {
		n := len(p.Samples)
		o := StickerPath{Name: p.Name, Shape: p.Shape.String(), DiameterPX: p.DiameterPX, X: make([]float64, n), Y: make([]float64, n), SD: make([]float64, n), Quality: make([]float64, n), State: make([]uint8, n)}
		for k, s := range p.Samples {
			f := s.InFilm()
			o.X[k], o.Y[k], o.SD[k] = s.XPX, s.YPX, max(f.SDXPX, f.SDYPX)
			if p.Shape == sticker.Textured {
				// The whole path is off by as much as the click was.
				o.SD[k] = math.Hypot(o.SD[k], sticker.ClickSDPX)
			}
			o.Quality[k], o.State[k] = s.Quality, uint8(s.State)
		}
		out[i] = o
	}
	return out, nil
}

// framesSeen is in how many frames the point was seen.
func (p StickerPath) framesSeen() int {
	n := 0
	for _, x := range p.X {
		if !math.IsNaN(x) {
			n++
		}
	}
	return n
}

// doubtful tells whether another place is as likely in a frame.
func (p StickerPath) doubtful(frame int) bool {
	return sticker.State(p.State[frame]) == sticker.Doubtful
}

// sure returns the path without the frames in which it is in doubt, and in how many
// frames it is seen then.
func (p StickerPath) sure() (StickerPath, int) {
	o := p
	o.X, o.Y, o.SD = slices.Clone(p.X), slices.Clone(p.Y), slices.Clone(p.SD)
	for i := range o.X {
		if p.doubtful(i) {
			o.X[i], o.Y[i], o.SD[i] = math.NaN(), math.NaN(), math.NaN()
		}
	}
	return o, o.framesSeen()
}

// onto returns the path on other frames: those at timesS, where the path's own are
// at ownS, both on the file's clock. Frames that the path does not have are not
// seen.
func (p StickerPath) onto(ownS, timesS []float64) StickerPath {
	n := len(timesS)
	o := StickerPath{Name: p.Name, Shape: p.Shape, X: make([]float64, n), Y: make([]float64, n), SD: make([]float64, n), Quality: make([]float64, n), State: make([]uint8, n)}
	near := track.MedianStepS(ownS) / 4
	for i, t := range timesS {
		k := sort.SearchFloat64s(ownS, t-near)
		if k < len(ownS) && math.Abs(ownS[k]-t) <= near && k < len(p.X) {
			o.X[i], o.Y[i], o.SD[i], o.Quality[i], o.State[i] = p.X[k], p.Y[k], p.SD[k], p.Quality[k], p.State[k]
		} else {
			o.X[i], o.Y[i], o.SD[i] = math.NaN(), math.NaN(), math.NaN()
		}
	}
	return o
}

// takeStickers lays followed paths, on frames at ownS of the file's clock, beside
// the clip's raw landmarks, and says of each how well it was seen.
func (c *Clip) takeStickers(paths []StickerPath, ownS []float64) {
	times := slices.Clone(c.Raw.TimeS)
	for i := range times {
		times[i] *= max(1, c.Info.Slowdown)
	}
	for _, p := range paths {
		p = p.onto(ownS, times)
		seen, all := p.framesSeen(), len(p.X)
		sure, sureFrames := p.sure()
		_, err := body.ParseLandmark(p.Name)
		switch name := sayLandmark(p.Name); {
		case seen == 0:
			c.Warnings = append(c.Warnings, fmt.Sprintf("the sticker %s was not seen in the part that was measured", name))
			continue
		case err != nil:
			c.Warnings = append(c.Warnings, fmt.Sprintf("the sticker %q is no landmark: it was followed and nothing is measured from it", p.Name))
		case float64(sureFrames) < fewestSure*float64(all):
			c.Warnings = append(c.Warnings, fmt.Sprintf("nothing is measured from the sticker %s: it was seen without doubt in %d of %d frames only; click it again where it was lost or doubtful", name, sureFrames, all))
			continue
		case sureFrames < seen:
			c.Warnings = append(c.Warnings, fmt.Sprintf("the sticker %s is doubtful in %d of %d frames, which are left out: click it again there", name, seen-sureFrames, all))
		case float64(seen) < 0.8*float64(all):
			c.Warnings = append(c.Warnings, fmt.Sprintf("the sticker %s was seen in %d of %d frames: click it again where it was lost", name, seen, all))
		}
		c.Stickers = append(c.Stickers, sure)
	}
}

// sayLandmark is a landmark's name as people write it.
func sayLandmark(landmark string) string { return strings.ReplaceAll(landmark, "_", " ") }

// estimate is the path with its error, ready to be fused.
func (p StickerPath) estimate() track.Estimate {
	return track.Estimate{Path: &track.Path{Origin: track.Sticker, X: slices.Clone(p.X), Y: slices.Clone(p.Y), Confidence: slices.Clone(p.Quality)},
		SDX: p.SD, SDY: p.SD}
}

// withStickers returns the landmarks with the clip's stickers among them. A
// landmark that nothing else gives is the sticker's path alone; one that the pose
// network gives too is fused by error.
func (c *Clip) withStickers(t *track.Track) (*track.Track, error) {
	if len(c.Stickers) == 0 || t.Space != track.Picture {
		return t, nil
	}
	out := *t
	for _, s := range c.Stickers {
		l, err := body.ParseLandmark(s.Name)
		if err != nil || len(s.X) != t.Frames() {
			continue
		}
		own := s.estimate()
		if out.Paths[l] == nil {
			out.Paths[l] = own.Path
			continue
		}
		other, ok := besides(out.Paths[l], own.Path)
		if !ok {
			out.Paths[l] = own.Path
			continue
		}
		fused, err := track.Fuse(own, other)
		if err != nil {
			return nil, fmt.Errorf("the sticker %s cannot be joined with the landmark: %w", sayLandmark(s.Name), err)
		}
		out.Paths[l] = fused.Path
	}
	return &out, nil
}

// fewestTogether is the number of frames in which a sticker and another origin
// must both be seen for the second to help out where the first is lost.
const fewestTogether = 20

// besides returns another origin's path of a landmark as an estimate of where the
// sticker is: moved by the median difference of the two, since a sticker sits
// elsewhere than the network's point, with the robust scatter that is left as its
// error.
func besides(p, s *track.Path) (track.Estimate, bool) {
	e := track.Estimate{Path: p.Clone()}
	for axis, pair := range [...][2][]float64{{e.Path.X, s.X}, {e.Path.Y, s.Y}} {
		var d []float64
		for i := range pair[0] {
			if p.Seen(i) && s.Seen(i) {
				d = append(d, pair[1][i]-pair[0][i])
			}
		}
		if len(d) < fewestTogether {
			return e, false
		}
		shift := signal.Median(d)
		for i := range d {
			d[i] = math.Abs(d[i] - shift)
		}
		scatter := max(0.5, 1.4826*signal.Median(d)) // pixels; 1.4826 makes the median deviation one SD of a normal scatter
		sd := make([]float64, len(pair[0]))
		for i := range pair[0] {
			pair[0][i] += shift
			sd[i] = scatter
		}
		if axis == 0 {
			e.SDX = sd
		} else {
			e.SDY = sd
		}
	}
	return e, true
}

// followedFor follows the points that were asked of a file that is being measured.
func (c *Clip) followedFor(ctx context.Context, points []StickerPoint, progress Progress) error {
	if !c.IsVideo() {
		return problem(KindUsage, c.Path, "Leave --sticker out for this file.", "is no film, so no sticker can be followed in it")
	}
	facts, err := video.Probe(ctx, c.Path)
	if err != nil {
		return videoProblem(c.Path, err)
	}
	if err := checkStickers(points, facts.Frames(), facts.WidthPX, facts.HeightPX); err != nil {
		return nameIn(err, "", c.Path)
	}
	slow := max(1, c.Info.Slowdown)
	from, to := facts.Range(c.Raw.TimeS[0]*slow, c.Raw.TimeS[c.Raw.Frames()-1]*slow)
	to = max(min(to+1, facts.Frames()), from+1)
	for _, p := range points {
		for _, k := range p.Clicks {
			from, to = min(from, k.Frame), max(to, k.Frame+1)
		}
	}
	last := -1
	paths, err := followStickers(ctx, facts, from, to, points, func(done, total int) {
		if last < 0 {
			progress.Stage("following stickers", c.Path, total)
			last = 0
		}
		progress.Advance(done - last)
		last = done
	})
	if err != nil {
		return err
	}
	c.takeStickers(paths, facts.TimeS[from:to])
	return nil
}
