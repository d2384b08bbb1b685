package app

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode"

	"gaitwright/internal/store"
	"gaitwright/internal/video"
)

// Pictures and short films to take away. A picture is drawn at once; a film is a
// job, and lies in a folder of its own until the program starts anew, or until what
// it shows is removed or a consent it needs is withdrawn.
const (
	jobExport    = "export"
	exportFolder = "exports"
)

// Bounds of what is exported.
const (
	maxExportS     = 10.0 // seconds that a film plays
	maxExportSlow  = 16.0
	maxExportSteps = 4000
	maxExports     = 20 // films that lie ready together
)

// PageShow is a picture or film as it is asked for.
type PageShow struct {
	A PageShown  `json:"a"`
	B *PageShown `json:"b"` // null for one clip alone
	// Foot is whose strides are matched where there are two.
	Foot string `json:"foot"`
	// Over lays B over A instead of beside it, with an opacity of 0 to 1.
	Over    bool    `json:"over"`
	Opacity float64 `json:"opacity"`
	// Match makes the legs of both of one length; Whole shows the whole picture
	// instead of the runner.
	Match    bool `json:"match"`
	Whole    bool `json:"whole"`
	Skeleton bool `json:"skeleton"`
	Angles   bool `json:"angles"`
	Drawings bool `json:"drawings"`
	// Step is the picture wanted: a step of the pairing, or a sample of the clip
	// where there is one. From and To (not included) are those of a film.
	Step int     `json:"step"`
	From int     `json:"from"`
	To   int     `json:"to"`
	Slow float64 `json:"slow"` // plays so many times slower
	// Format is png, mp4 or gif.
	Format string `json:"format"`
}

// exportSize bounds the pictures of a format, in pixels.
type exportSize struct{ height, width int }

var exportSizes = map[string]exportSize{"png": {1080, 2560}, "mp4": {720, 1920}, "gif": {400, 800}}

// fastest is how many pictures a second a film of a format has at most.
var fastest = map[string]float64{"mp4": 60, "gif": 20}

// lens says where a film lies in a picture: scale pixels for each of the film's,
// its top left corner at left, top.
type lens struct{ scale, left, top float64 }

func (l lens) place(x, y float64) (float64, float64) { return l.left + x*l.scale, l.top + y*l.scale }

// area is a part of a film, in its pixels.
type area struct{ left, top, right, bottom float64 }

func (a area) w() float64 { return a.right - a.left }
func (a area) h() float64 { return a.bottom - a.top }

// composition is what is drawn, ready for any of its steps.
type composition struct {
	show   PageShow
	parts  []*composed
	steps  []PagePair // of two strides; nil for one clip
	stepHz float64    // steps a second of the runner's time
	size   image.Point
	words  image.Rectangle // the strip of words
	// letterPX is the size of the words.
	letterPX float64
}

// composed is one film in the picture.
type composed struct {
	session *Session
	clip    *Clip
	stride  stride // matched; zero for one clip alone
	marks   []Drawing
	live    map[string][]float64
	panel   image.Rectangle
	at      lens // from the film to its panel
	weight  float64
}

// frameOf is the sample that a part shows at a step.
func (c *composition) frameOf(part, step int) int {
	switch {
	case c.steps == nil:
		return step
	case part == 0:
		return c.steps[step].A
	}
	return c.steps[step].B
}

// length is how many steps there are.
func (c *composition) length() int {
	if c.steps == nil {
		return c.parts[0].clip.Mended.Frames()
	}
	return len(c.steps)
}

// compose checks what is asked for and lays it out.
func (st *Studio) compose(ctx context.Context, show PageShow) (*composition, error) {
	bounds, ok := exportSizes[show.Format]
	if !ok {
		return nil, problem(KindUsage, "", "", "the format is %q; it must be png, mp4 or gif", clean(show.Format, 20))
	}
	c := &composition{show: show}
	asked := []PageShown{show.A}
	if show.B != nil {
		asked = append(asked, *show.B)
		if !(show.Opacity >= 0 && show.Opacity <= 1) {
			return nil, problem(KindUsage, "", "", "the opacity is %g; it must lie between 0 and 1", show.Opacity)
		}
	}
	for _, p := range asked {
		s, clip, err := st.shown(p)
		if err != nil {
			return nil, err
		}
		part := &composed{session: s, clip: clip}
		if err := st.readRecords(ctx, func(r store.Reader) error { return mayTakeAway(r, s.ID, p.Clip) }); err != nil {
			return nil, err
		}
		if show.B != nil {
			side, err := footOf(show.Foot)
			if err != nil {
				return nil, err
			}
			all, err := clip.strideOf(side, p.Stride)
			if err != nil {
				return nil, err
			}
			part.stride = all[p.Stride]
		}
		if show.Drawings {
			if part.marks, err = st.marksOf(ctx, s.ID, p.Clip); err != nil {
				return nil, err
			}
		}
		if show.Angles {
			part.live = clip.liveAngles()
		}
		c.parts = append(c.parts, part)
	}
	a := c.parts[0]
	c.stepHz = a.clip.Info.FrameRateHz
	if show.B != nil {
		b := c.parts[1]
		c.steps = pairUp(a.clip.Mended.TimeS, a.stride, b.clip.Mended.TimeS, b.stride)
		c.stepHz = float64(len(c.steps)) / a.stride.durationS()
	}
	if err := c.checkRange(); err != nil {
		return nil, err
	}
	c.layOut(bounds)
	return c, nil
}

func (c *composition) checkRange() error {
	show, n := c.show, c.length()
	if show.Format == "png" {
		if show.Step < 0 || show.Step >= n {
			return problem(KindUsage, "", "", "there are %d pictures, counted from 0; there is no picture %d", n, show.Step)
		}
		return nil
	}
	if show.From < 0 || show.To > n || show.From >= show.To || show.To-show.From > maxExportSteps {
		return problem(KindUsage, "", "Choose a range with at least one picture.", "there are %d pictures; %d to %d is no range of them", n, show.From, show.To)
	}
	if !(show.Slow >= 1 && show.Slow <= maxExportSlow) {
		return problem(KindUsage, "", "", "the film would play %g times slower; it must be 1 to %g", show.Slow, maxExportSlow)
	}
	if plays := float64(show.To-show.From) / c.stepHz * show.Slow; plays > maxExportS {
		return problem(KindTooLarge, "", "Choose a shorter range, or let it play faster.", "the film would play %.1f s; %g s is the most", plays, maxExportS)
	}
	return nil
}

// runnerArea is the part of the film in which the runner stays, with some air, over
// a stride or, for none, the clip.
func (p *composed) runnerArea() area {
	w, h := float64(p.clip.Info.WidthPX), float64(p.clip.Info.HeightPX)
	whole := area{0, 0, w, h}
	var xs, ys []float64
	t := p.clip.Mended
	for _, path := range t.Paths {
		if path == nil {
			continue
		}
		for i, when := range t.TimeS {
			if path.Seen(i) && (p.stride.toS == 0 || p.stride.fromS <= when && when <= p.stride.toS) {
				xs, ys = append(xs, path.X[i]), append(ys, path.Y[i])
			}
		}
	}
	if len(xs) < 2 {
		return whole
	}
	slices.Sort(xs)
	slices.Sort(ys)
	// From the first to the last hundredth: a stray landmark does not count.
	at := func(v []float64, part float64) float64 { return v[int(math.Round(part*float64(len(v)-1)))] }
	high := at(ys, 0.99) - at(ys, 0.01)
	out := area{math.Max(0, at(xs, 0.01)-0.12*high), math.Max(0, at(ys, 0.01)-0.14*high), math.Min(w, at(xs, 0.99)+0.12*high), math.Min(h, at(ys, 0.99)+0.08*high)}
	if !(out.w() > 8 && out.h() > 8) {
		return whole
	}
	// Not so narrow that words find no room below it.
	if lack := 0.62*out.h() - out.w(); lack > 0 {
		out.left = math.Max(0, out.left-lack/2)
		out.right = math.Min(w, out.left+0.62*out.h())
		out.left = math.Max(0, math.Min(out.left, out.right-0.62*out.h()))
	}
	return out
}

// layOut places the films and the words.
func (c *composition) layOut(bounds exportSize) {
	a := c.parts[0]
	areaOf := func(p *composed) area {
		if c.show.Whole {
			return area{0, 0, float64(p.clip.Info.WidthPX), float64(p.clip.Info.HeightPX)}
		}
		return p.runnerArea()
	}
	in := areaOf(a)
	// Nothing is enlarged more than twice: that would only look sharper than it is.
	height := math.Min(float64(bounds.height), 2*in.h())
	a.at.scale = height / in.h()
	var b *composed
	var inB area
	if len(c.parts) == 2 {
		b = c.parts[1]
		inB = areaOf(b)
		b.at.scale = height / inB.h()
		legA, xA, yA, okA := a.clip.legOf(a.stride)
		legB, xB, yB, okB := b.clip.legOf(b.stride)
		matched := c.show.Match && okA && okB
		switch {
		case c.show.Over && matched:
			b.at.scale = a.at.scale * legA / legB
			inB = area{left: xB - (xA-in.left)*a.at.scale/b.at.scale, top: yB - (yA-in.top)*a.at.scale/b.at.scale}
		case c.show.Over:
			// Picture upon picture, as filmed.
			grow := float64(a.clip.Info.HeightPX) / float64(b.clip.Info.HeightPX)
			b.at.scale = a.at.scale * grow
			inB = area{left: in.left / grow, top: in.top / grow}
		case matched && !c.show.Whole:
			b.at.scale = a.at.scale * legA / legB
			mid, half := (inB.top+inB.bottom)/2, height/b.at.scale/2
			inB.top, inB.bottom = mid-half, mid+half
		}
	}
	gap := 0.0
	width := in.w() * a.at.scale
	if b != nil && !c.show.Over {
		gap = math.Round(height / 120)
		width += gap + inB.w()*b.at.scale
	}
	if shrink := float64(bounds.width) / width; shrink < 1 {
		height, width, gap = height*shrink, width*shrink, gap*shrink
		a.at.scale *= shrink
		if b != nil {
			b.at.scale *= shrink
		}
	}
	// Films have even sides.
	even := func(v float64) int { return max(16, int(math.Round(v/2))*2) }
	c.size = image.Pt(even(width), even(height))
	a.panel = image.Rectangle{Max: c.size}
	if b != nil && !c.show.Over {
		a.panel.Max.X = min(c.size.X-8, int(math.Round(in.w()*a.at.scale)))
		b.panel = image.Rect(min(c.size.X-8, a.panel.Max.X+int(gap)), 0, c.size.X, c.size.Y)
	} else if b != nil {
		b.panel = a.panel
	}
	a.at.left, a.at.top = -in.left*a.at.scale, -in.top*a.at.scale
	if b != nil {
		b.at.left, b.at.top = -inB.left*b.at.scale, -inB.top*b.at.scale
	}
	for i, p := range c.parts {
		// A small picture has lines that are still to be seen.
		p.weight = math.Max(1, 0.6/math.Max(0.5, math.Sqrt(float64(p.panel.Dx()*p.panel.Dy()))/900))
		if i == 1 && c.show.Over {
			p.weight *= thin
		}
	}
	c.letterPX = math.Max(12, float64(c.size.Y)/60)
	lines := max(len(c.caption(0)), len(c.caption(c.length()-1)))
	high := even(video.CaptionHeight(lines, c.letterPX))
	c.words = image.Rect(0, c.size.Y, c.size.X, c.size.Y+high)
	c.size.Y += high
}

// thin is how much thinner the lines of the upper of two pictures are, so that the
// two are told apart.
const thin = 0.55

// caption says what is seen at a step, in lines that fit.
func (c *composition) caption(step int) []string {
	part := func(i int) string {
		p, k := c.parts[i], c.frameOf(i, step)
		text := p.session.Created.Format(dayForm) + ", " + viewInWords(p.clip.Info.View)
		if v := p.clip.Info.BeltSpeedMPS; v > 0 {
			text += fmt.Sprintf(", %.2f m/s", v)
		}
		return fmt.Sprintf("%s, frame %d, %.3f s", text, p.clip.FirstFrame+k, p.clip.Mended.TimeS[k])
	}
	head := []string{}
	if n := c.parts[0].session.Runner.Name; n != "" {
		head = append(head, n)
	}
	if c.steps != nil {
		head = append(head, fmt.Sprintf("%.0f %% of the %s stride", 100*c.steps[step].Phase, c.show.Foot))
	}
	var lines []string
	switch {
	case len(c.parts) == 1:
		lines = []string{part(0)}
	case c.show.Over:
		lines = []string{"thick lines: " + part(0), "thin lines: " + part(1)}
	default:
		lines = []string{"on the left: " + part(0), "on the right: " + part(1)}
	}
	if len(head) > 0 {
		lines = append([]string{strings.Join(head, ", ")}, lines...)
	}
	if c.show.Skeleton {
		lines = append(lines, "left side solid, right side dashed")
	}
	return video.CaptionLines(float64(c.size.X), c.letterPX, lines)
}

// filmed is a picture of a film, scale times its size.
type filmed struct {
	img   *image.RGBA
	scale float64
}

// draw draws a step from the pictures of its parts.
func (c *composition) draw(canvas *image.RGBA, pictures []filmed, step int) {
	clear(canvas.Pix)
	for i := 3; i < len(canvas.Pix); i += 4 {
		canvas.Pix[i] = 0xff
	}
	for i, p := range c.parts {
		opacity := 1.0
		if i == 1 && c.show.Over {
			opacity = c.show.Opacity
		}
		lay(canvas.SubImage(p.panel).(*image.RGBA), pictures[i], p.at, opacity)
	}
	for i, p := range c.parts {
		k := c.frameOf(i, step)
		o := video.Overlay{Near: p.clip.near(), Weight: p.weight}
		for l := range o.Points {
			o.Points[l] = video.Unseen
		}
		if c.show.Skeleton || c.show.Angles {
			full := p.clip.overlayAt(k, 1)
			for l, q := range full.Points {
				if q.Seen() {
					full.Points[l].XPX, full.Points[l].YPX = p.at.place(q.XPX, q.YPX)
				}
			}
			full.Weight = p.weight
			if c.show.Angles && !(i == 1 && c.show.Over) { // two numbers in one place would not be read
				full = p.clip.withAngles(full, p.live, k)
			}
			if !c.show.Skeleton {
				full.Points, full.ContactsKnown = o.Points, false
			}
			o = full
		}
		o.Marks = drawnMarks(p.marks, p.clip, p.clip.FirstFrame+k, p.at)
		video.Annotate(canvas.SubImage(p.panel).(*image.RGBA), o)
	}
	video.Caption(canvas.SubImage(c.words).(*image.RGBA), c.letterPX, c.caption(step))
}

// still takes the pictures of one step.
func (c *composition) still(ctx context.Context, step int) ([]filmed, error) {
	var out []filmed
	for i, p := range c.parts {
		facts, err := video.Probe(ctx, p.clip.Path)
		if err != nil {
			return nil, p.clip.pictureProblem(err)
		}
		img, err := video.Still(ctx, facts, p.clip.FirstFrame+c.frameOf(i, step), p.decodeHeight(facts))
		if err != nil {
			return nil, p.clip.pictureProblem(err)
		}
		out = append(out, filmed{img, float64(img.Rect.Dy()) / float64(facts.HeightPX)})
	}
	return out, nil
}

// decodeHeight is how large a film is decoded: no larger than it is shown.
func (p *composed) decodeHeight(facts *video.Facts) int {
	return max(16, min(facts.HeightPX, int(math.Ceil(p.at.scale*float64(facts.HeightPX)))))
}

// Picture draws one picture as a PNG and names it.
func (st *Studio) Picture(ctx context.Context, show PageShow) (data []byte, name string, err error) {
	if show.Format != "png" {
		return nil, "", problem(KindUsage, "", "", "a picture is a png")
	}
	c, err := st.compose(ctx, show)
	if err != nil {
		return nil, "", err
	}
	pictures, err := c.still(ctx, show.Step)
	if err != nil {
		return nil, "", err
	}
	canvas := image.NewRGBA(image.Rectangle{Max: c.size})
	c.draw(canvas, pictures, show.Step)
	var b bytes.Buffer
	if err := png.Encode(&b, canvas); err != nil {
		return nil, "", err
	}
	return b.Bytes(), c.name(), nil
}

// name is a file name that tells what is in it.
func (c *composition) name() string {
	a := c.parts[0]
	words := []string{"gait", a.session.Runner.Name, a.session.Created.Format(dayForm), a.clip.Info.View.String()}
	if len(c.parts) == 2 {
		b := c.parts[1]
		word := "beside"
		if c.show.Over {
			word = "under"
		}
		words = append(words, word, b.session.Created.Format(dayForm), b.clip.Info.View.String())
	}
	switch {
	case c.show.Format != "png" && c.steps == nil:
		words = append(words, fmt.Sprintf("frames %d-%d", a.clip.FirstFrame+c.show.From, a.clip.FirstFrame+c.show.To-1))
	case c.show.Format != "png":
		words = append(words, c.show.Foot+" stride")
	default:
		words = append(words, fmt.Sprintf("frame %d", a.clip.FirstFrame+c.frameOf(0, c.show.Step)))
	}
	return fileWord(strings.Join(words, " ")) + "." + c.show.Format
}

// fileWord makes a file name of words: letters, digits and single hyphens.
func fileWord(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return r
		}
		return '-'
	}, s)
	s = strings.Join(strings.FieldsFunc(s, func(r rune) bool { return r == '-' }), "-")
	if r := []rune(s); len(r) > 120 {
		s = strings.TrimRight(string(r[:120]), "-")
	}
	return s
}

// ExportFilm puts the making of a film into the queue.
func (st *Studio) ExportFilm(ctx context.Context, show PageShow) (PageJob, error) {
	if show.Format == "png" {
		return PageJob{}, problem(KindUsage, "", "", "a film is an mp4 or a gif")
	}
	c, err := st.compose(ctx, show)
	if err != nil {
		return PageJob{}, err
	}
	if free, err := st.free(st.dir); err == nil && free < roomLeft {
		return PageJob{}, problem(KindFull, "", "Make room on the disk.", "the disk has %.1f GB left, too little for a film", float64(free)/1e9)
	}
	a := c.parts[0]
	show.A.Result = a.session.ID // as it is called now
	if show.B != nil {
		b := *show.B
		b.Result = c.parts[1].session.ID
		show.B = &b
	}
	job := store.Job{VisitID: a.session.VisitID, ClipID: a.clip.ID, Kind: jobExport, State: store.JobQueued, Message: "waiting", Request: rawJSON(show)}
	kept, err := st.records()
	if err != nil {
		return PageJob{}, err
	}
	if err := kept.Change(ctx, store.Deed{}, func(w store.Writer) error { return w.PutJob(&job) }); err != nil {
		return PageJob{}, recordProblem(err, "")
	}
	st.tellJob(job)
	if job.VisitID != "" {
		st.tellVisit(job.VisitID, "")
	}
	st.queue.nudge()
	return st.pageJob(job), nil
}

// exportJob makes a film.
func (st *Studio) exportJob(ctx context.Context, job store.Job) error {
	var show PageShow
	if err := json.Unmarshal(job.Request, &show); err != nil {
		return fmt.Errorf("what was asked of job %s cannot be read: %w", job.ID, err)
	}
	c, err := st.compose(ctx, show)
	if err != nil {
		return err
	}
	dir := filepath.Join(st.dir, exportFolder)
	if err := os.MkdirAll(dir, 0o700); err != nil { // films of people: for the analyst alone
		return recordProblem(err, dir)
	}
	pruneExports(dir, maxExports-1)
	st.queue.mu.Lock()
	live := st.queue.now[job.ID]
	st.queue.mu.Unlock()
	progress := &jobProgress{st: st, ctx: ctx, live: live, total: show.To - show.From}
	path := filepath.Join(dir, job.ID+"."+show.Format)
	if err := c.write(ctx, path, progress); err != nil {
		return err
	}
	// What it shows may have been removed meanwhile.
	if err := st.readRecords(ctx, func(r store.Reader) error { return mayTakeAllAway(r, show) }); err != nil {
		os.Remove(path)
		return err
	}
	job.State, job.Share, job.Message, job.Outcome = store.JobDone, 1, "ready", c.name()
	st.endJob(ctx, job)
	return nil
}

// write draws the film's pictures one after the other.
func (c *composition) write(ctx context.Context, path string, progress Progress) error {
	show := c.show
	strips := make([]*strip, len(c.parts))
	for i, p := range c.parts {
		facts, err := video.Probe(ctx, p.clip.Path)
		if err == nil {
			first, last := c.frameOf(i, show.From), c.frameOf(i, show.To-1)
			strips[i], err = openStrip(ctx, facts, p.clip.FirstFrame+first, p.clip.FirstFrame+last+1, p.decodeHeight(facts))
		}
		if err != nil {
			return p.clip.pictureProblem(err)
		}
		defer strips[i].reader.Close()
	}
	rate := math.Min(c.stepHz, fastest[show.Format]*show.Slow)
	e, err := video.NewEncoder(ctx, path, video.EncodeOptions{WidthPX: c.size.X, HeightPX: c.size.Y, RateHz: rate, SlowBy: show.Slow})
	if err != nil {
		return videoProblem(path, err)
	}
	defer e.Abort()
	progress.Stage("drawing the film", "", show.To-show.From)
	canvas := image.NewRGBA(image.Rectangle{Max: c.size})
	pictures := make([]filmed, len(c.parts))
	for step := show.From; step < show.To; step++ {
		for i, s := range strips {
			if pictures[i], err = s.at(c.parts[i].clip.FirstFrame + c.frameOf(i, step)); err != nil {
				p := c.parts[i].clip
				return nameIn(videoProblem(p.Path, err), p.Path, p.name())
			}
		}
		c.draw(canvas, pictures, step)
		if err := e.Write(canvas, float64(step-show.From)/c.stepHz); err != nil {
			return videoProblem(path, err)
		}
		progress.Advance(1)
	}
	if err := e.Finish(); err != nil {
		return videoProblem(path, err)
	}
	return nil
}

// mayTakeAway refuses a clip of a result that is out of sight, and one of a runner
// who has not agreed, or agrees no more, to be filmed and to records being kept.
func mayTakeAway(r store.Reader, result string, n int) error {
	kept, err := r.Result(result)
	if err != nil {
		return missingRecord(err, "result")
	}
	if kept.VisitID == "" {
		return nil
	}
	v, err := r.Visit(kept.VisitID)
	if err != nil {
		return missingRecord(err, "visit")
	}
	if n < len(kept.ClipIDs) && kept.ClipIDs[n] != "" {
		if _, err := r.Clip(kept.ClipIDs[n]); err != nil {
			return missingRecord(err, "clip")
		}
	}
	runner, err := r.Runner(v.RunnerID)
	if err != nil {
		return missingRecord(err, "runner")
	}
	lacks := func(what string) error {
		return problem(KindNotAllowed, "", "Note the day of the consent at the station Intake.", "%s has not agreed %s, so no picture or film is given away", runner.Name, what)
	}
	switch {
	case runner.ConsentFilming.IsZero():
		return lacks("to be filmed")
	case runner.ConsentRecords.IsZero():
		return lacks("that records are kept")
	}
	return nil
}

func mayTakeAllAway(r store.Reader, show PageShow) error {
	err := mayTakeAway(r, show.A.Result, show.A.Clip)
	if err == nil && show.B != nil {
		err = mayTakeAway(r, show.B.Result, show.B.Clip)
	}
	return err
}

// dropExports removes the films that may not be taken away any more, and ends the
// making of such. Every deed that can take a record out of sight or a consent back
// calls it.
func (st *Studio) dropExports(ctx context.Context) {
	dir := filepath.Join(st.dir, exportFolder)
	list, err := os.ReadDir(dir)
	if err != nil {
		return // there are none
	}
	may := func(r store.Reader, job store.Job) bool {
		var show PageShow
		return json.Unmarshal(job.Request, &show) == nil && mayTakeAllAway(r, show) == nil
	}
	st.queue.mu.Lock()
	var running []*liveJob
	for _, live := range st.queue.now {
		if live.job.Kind == jobExport {
			running = append(running, live)
		}
	}
	st.queue.mu.Unlock()
	st.readRecords(ctx, func(r store.Reader) error {
		for _, live := range running {
			if !may(r, live.job) {
				live.cancel(errCancelled)
			}
		}
		for _, f := range list {
			id := strings.TrimSuffix(f.Name(), filepath.Ext(f.Name()))
			if !store.ValidID(id) {
				continue // being made
			}
			if job, err := r.Job(id); err != nil || !may(r, job) {
				os.Remove(filepath.Join(dir, f.Name()))
			}
		}
		return nil
	})
}

// pruneExports leaves the newest films alone, most of them at the most.
func pruneExports(dir string, most int) {
	list, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	// Names begin with the time at which their job was asked for.
	slices.SortFunc(list, func(a, b os.DirEntry) int { return strings.Compare(a.Name(), b.Name()) })
	for i := 0; i < len(list)-most; i++ {
		os.Remove(filepath.Join(dir, list[i].Name()))
	}
}

// Exported finds a film that was made: its path, and the name to save it under.
func (st *Studio) Exported(ctx context.Context, jobID string) (path, name string, err error) {
	var job store.Job
	err = st.readRecords(ctx, func(r store.Reader) (err error) {
		job, err = r.Job(jobID)
		return missingRecord(err, "film")
	})
	if err != nil {
		return "", "", err
	}
	if job.Kind != jobExport || job.State != store.JobDone {
		return "", "", problem(KindNotFound, "", "Wait until it is ready.", "there is no such film")
	}
	path = filepath.Join(st.dir, exportFolder, job.ID+filepath.Ext(job.Outcome))
	if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) {
		return "", "", problem(KindNotFound, "", "Make it again.", "this film is not kept any more; the newest %d are, until the program starts anew", maxExports)
	} else if err != nil {
		return "", "", err
	}
	return path, job.Outcome, nil
}

// strip gives the pictures of a film in rising order, holding the last.
type strip struct {
	reader *video.Reader
	now    *image.RGBA
	frame  int // of now
	ended  bool
}

func openStrip(ctx context.Context, facts *video.Facts, from, to, maxHeightPX int) (*strip, error) {
	r, err := video.Decode(ctx, facts, video.Options{From: from, To: to, MaxHeightPX: maxHeightPX})
	if err != nil {
		return nil, err
	}
	return &strip{reader: r, frame: -1}, nil
}

// at returns the picture of a frame; where that one did not decode, the nearest one
// after it, or the last there is.
func (s *strip) at(frame int) (filmed, error) {
	for s.frame < frame && !s.ended {
		f, err := s.reader.Next()
		if err != nil {
			if !errors.Is(err, io.EOF) {
				return filmed{}, err
			}
			if s.now == nil {
				return filmed{}, problem(KindNoResult, "", "Choose another range.", "no picture of this range could be decoded")
			}
			s.ended = true
			break
		}
		s.now, s.frame = f.RGBA(s.now), f.Index
		f.Release()
	}
	return filmed{s.now, s.reader.Scale}, nil
}
