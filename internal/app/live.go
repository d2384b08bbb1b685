package app

import (
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"sync"
	"time"

	"gaitwright/gait/body"
	"gaitwright/gait/live"
	"gaitwright/gait/track"
	"gaitwright/internal/pose"
	"gaitwright/internal/store"
)

// Bounds of a live view.
const (
	MaxLiveBytes = 1 << 20 // of a picture
	liveSide     = 1280    // pixels of its longer side
	liveViews    = 2       // at once
	liveIdle     = 20 * time.Second
	liveKeepS    = live.WindowS + 2 // of landmarks in memory
	liveFreshS   = 120.0            // after which the follower begins anew, so that its memory stays small
	liveReadS    = 0.3              // between two readings
)

// PageLive is a live view that has begun.
type PageLive struct {
	ID    string `json:"id"`
	Model string `json:"model"`
	// LegSource says what the scale rests on: leg, height, or empty where neither is
	// known.
	LegSource string `json:"leg_source"`
}

// PageLiveReading is what the last seconds of a live view show. What is withheld is
// null, and the reason stands beside it.
type PageLiveReading struct {
	Seen   bool    `json:"seen"`    // somebody is in this picture
	RateHz float64 `json:"rate_hz"` // pictures a second that are worked out
	OverS  float64 `json:"over_s"`  // seconds that the reading looks back
	WorkMS float64 `json:"work_ms"` // from the picture's arrival to the answer
	View   string  `json:"view"`
	// PerMin is the step rate, steps a minute of both feet, ± Error in 95 of 100.
	PerMin *float64        `json:"per_min"`
	Error  *float64        `json:"error"`
	Why    string          `json:"why"`
	Ahead  []PageLiveAhead `json:"ahead"` // left, right
}

// PageLiveAhead is the overstride of one side, metres, ± Error in 95 of 100.
type PageLiveAhead struct {
	Side  string   `json:"side"`
	M     *float64 `json:"m"`
	Error *float64 `json:"error"`
	Why   string   `json:"why"`
}

// lives are the live views that run.
type lives struct {
	mu  sync.Mutex
	all map[string]*liveView
}

// liveView is a live view as the program with the pages has it: an errand, to which
// the pictures go. It has its place among the others while its errand makes itself
// ready, which takes a while, and holds none of them up.
type liveView struct {
	ctx    context.Context
	cancel context.CancelFunc // ends the errand, whatever it is at

	mu     sync.Mutex  // of the errand: held while it makes itself ready and works out a picture
	errand *errand     // nil before it is sent out and after the end
	idle   *time.Timer // ends it where no picture comes
}

// enter gives a live view its place, where there is one.
func (l *lives) enter(id string, v *liveView) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if len(l.all) >= liveViews {
		return &Problem{Kind: KindBusy, What: fmt.Sprintf("%d live views run already, on this or another screen", liveViews), Mend: fmt.Sprintf("Close one, or wait %.0f s after its screen was closed.", liveIdle.Seconds())}
	}
	if l.all == nil {
		l.all = map[string]*liveView{}
	}
	l.all[id] = v
	return nil
}

// leave takes its place away and returns it, or nil where it has none.
func (l *lives) leave(id string) *liveView {
	l.mu.Lock()
	defer l.mu.Unlock()
	v := l.all[id]
	delete(l.all, id)
	return v
}

// end ends the errand. The view's lock is held.
func (v *liveView) end() {
	v.cancel()
	if v.idle != nil {
		v.idle.Stop()
	}
	if v.errand != nil {
		v.errand.close()
		v.errand = nil
	}
}

// liveOrder is a live view as an errand.
type liveOrder struct{ Options live.Options }

// liveFrame is the next picture of a live view, a JPEG.
type liveFrame struct {
	TimeS   float64
	Picture []byte
}

// liveBegun is the first answer of a live view.
type liveBegun struct {
	Model string `json:"model"`
}

// liveEye follows a runner through pictures as they come, on the errand. Only
// landmarks of the last seconds are held, in memory, and nothing is written.
type liveEye struct {
	options live.Options
	engine  *pose.Engine
	tracker *pose.Tracker
	begunS  float64
	size    image.Point
	timeS   []float64
	poses   []pose.Pose
	readS   float64
	reading live.Reading
}

// BeginLive begins a live view of the runner of a visit, who must have agreed to
// be filmed. It keeps nothing.
func (st *Studio) BeginLive(ctx context.Context, visitID string) (PageLive, error) {
	var f visitRecords
	err := st.readRecords(ctx, func(r store.Reader) (err error) { f, _, err = openVisit(r, visitID); return err })
	if err != nil {
		return PageLive{}, recordProblem(err, "")
	}
	switch {
	case f.intake.refer().stops():
		return PageLive{}, f.mayFilm()
	case f.runner.ConsentFilming.IsZero():
		return PageLive{}, problem(KindNotAllowed, "", "Note the day of the consent at the station Intake.", "%s has not agreed to be filmed, so the camera stays off", f.runner.Name)
	}
	order := &liveOrder{}
	out := PageLive{ID: rand.Text()}
	switch {
	case f.runner.LegLengthM > 0:
		order.Options = live.Options{LegM: legOfHeight * f.runner.LegLengthM * heightOfLeg, LegRelativeSD: legScaleSD}
		out.LegSource = "leg"
	case f.runner.HeightM > 0:
		order.Options = live.Options{LegM: legOfHeight * f.runner.HeightM, LegRelativeSD: heightScaleSD}
		out.LegSource = "height"
	}
	v := &liveView{}
	// It outlives the request that begins it, unless nobody waits for it any more.
	v.ctx, v.cancel = context.WithCancel(context.WithoutCancel(ctx))
	unasked := context.AfterFunc(ctx, v.cancel)
	v.mu.Lock()
	defer v.mu.Unlock()
	if err := st.lives.enter(out.ID, v); err != nil {
		v.cancel()
		return PageLive{}, err
	}
	var begun liveBegun
	if v.errand, err = st.sendOut(v.ctx, errandOrder{Live: order}); err == nil {
		err = v.errand.reply(&begun)
	}
	if err == nil && !unasked() {
		err = context.Cause(ctx)
	}
	if err != nil {
		st.lives.leave(out.ID)
		v.end()
		return PageLive{}, err
	}
	out.Model = begun.Model
	v.idle = time.AfterFunc(liveIdle, func() { st.EndLive(out.ID) })
	return out, nil
}

// LiveFrame takes the next picture of a live view, a JPEG taken timeS seconds after
// the first on the camera's clock, and tells what the last seconds show.
func (st *Studio) LiveFrame(ctx context.Context, id string, timeS float64, picture []byte) (PageLiveReading, error) {
	arrived := time.Now()
	st.lives.mu.Lock()
	v := st.lives.all[id]
	st.lives.mu.Unlock()
	ended := &Problem{Kind: KindNotFound, What: "This live view has ended.", Mend: "Start the camera again."}
	if v == nil {
		return PageLiveReading{}, ended
	}
	bad := func(what string, more ...any) (PageLiveReading, error) {
		return PageLiveReading{}, problem(KindUsage, "", "", what, more...)
	}
	if !(timeS >= 0 && timeS < 1e6) {
		return bad("a picture without a time")
	}
	head, err := jpeg.DecodeConfig(bytes.NewReader(picture))
	if err != nil {
		return bad("this is no JPEG picture")
	}
	if head.Width > liveSide || head.Height > liveSide || head.Width < 64 || head.Height < 64 {
		return bad("a picture of %d×%d pixels; 64 to %d are taken", head.Width, head.Height, liveSide)
	}
	v.mu.Lock()
	defer v.mu.Unlock()
	if v.errand == nil {
		return PageLiveReading{}, ended
	}
	v.idle.Stop() // it is not idle, however long this picture takes
	defer func() {
		if v.errand != nil {
			v.idle.Reset(liveIdle)
		}
	}()
	var p PageLiveReading
	err = v.errand.in.Encode(liveFrame{TimeS: timeS, Picture: picture})
	if err == nil {
		err = v.errand.reply(&p)
	} else {
		err = v.errand.broken(err)
	}
	if err != nil {
		if v.ctx.Err() != nil {
			return PageLiveReading{}, ended
		}
		if v.errand.over() {
			st.lives.leave(id)
			v.end()
		}
		return PageLiveReading{}, err
	}
	p.WorkMS = math.Round(float64(time.Since(arrived).Microseconds())/100) / 10
	return p, nil
}

// EndLive ends a live view at once, whatever it is at; what it held is gone.
func (st *Studio) EndLive(id string) {
	v := st.lives.leave(id)
	if v == nil {
		return
	}
	v.cancel()
	v.mu.Lock()
	defer v.mu.Unlock()
	v.end()
}

func (st *Studio) endLives() {
	st.lives.mu.Lock()
	var ids []string
	for id := range st.lives.all {
		ids = append(ids, id)
	}
	st.lives.mu.Unlock()
	for _, id := range ids {
		st.EndLive(id)
	}
}

// carryOut follows through the pictures until no more come, on the errand.
func (o *liveOrder) carryOut(say *errandTongue, next func(any) bool) error {
	v := &liveEye{options: o.Options}
	// The small model where it is there: more pictures a second tell more here than
	// finer landmarks.
	var err error
	for _, m := range pose.Models {
		if v.engine, err = pose.Open(pose.Options{Model: m}); err == nil {
			say.answer(liveBegun{Model: string(m)})
			break
		}
	}
	if errors.Is(err, pose.ErrNotInstalled) {
		return refusal(KindNotInstalled, "", err)
	}
	if err != nil {
		return err
	}
	for {
		var f liveFrame
		if !next(&f) {
			return nil
		}
		picture, err := jpeg.Decode(bytes.NewReader(f.Picture))
		if err != nil {
			err = problem(KindUsage, "", "", "the picture is broken")
		} else {
			err = v.next(f.TimeS, picture)
		}
		if err != nil {
			say.line(errandLine{Failed: failureOf(err)})
			continue
		}
		say.answer(v.page())
	}
}

// next follows the runner into one more picture. One that is not later than the last
// is left out.
func (v *liveEye) next(timeS float64, picture image.Image) error {
	size := picture.Bounds().Size()
	if size != v.size { // another camera, or it was turned
		v.tracker, v.size, v.timeS, v.poses, v.reading = nil, size, nil, nil, live.Reading{}
	}
	if n := len(v.timeS); n > 0 && timeS <= v.timeS[n-1] {
		return nil
	}
	if v.tracker == nil || timeS-v.begunS > liveFreshS {
		v.tracker, v.begunS = pose.NewTracker(v.engine, nil), timeS
	}
	p, err := v.tracker.Next(pose.Frame{Index: len(v.timeS), TimeS: timeS, Width: size.X, Height: size.Y, RGB: rgbOf(picture)})
	if err != nil {
		return err
	}
	old := 0
	for old < len(v.timeS) && v.timeS[old] < timeS-liveKeepS {
		old++
	}
	v.timeS, v.poses = append(v.timeS[old:], timeS), append(v.poses[old:], p)
	if v.reading.Why == "" && v.reading.OverS == 0 || timeS-v.readS >= liveReadS {
		v.reading, v.readS = live.Read(v.track(), v.options), timeS
	}
	return nil
}

// track is what is held, as a track.
func (v *liveEye) track() *track.Track {
	n := len(v.timeS)
	t := track.New(track.Picture, track.Pixel, append([]float64(nil), v.timeS...))
	for l := range body.NumPose {
		path := &track.Path{Origin: track.PoseModel, X: make([]float64, n), Y: make([]float64, n), Confidence: make([]float64, n)}
		for i := range v.poses {
			path.X[i], path.Y[i], path.Confidence[i] = v.poses[i].X[l], v.poses[i].Y[l], v.poses[i].Confidence(l)
		}
		t.Paths[l] = path
	}
	return t
}

func (v *liveEye) page() PageLiveReading {
	r := v.reading
	p := PageLiveReading{RateHz: math.Round(r.RateHz*10) / 10, OverS: math.Round(r.OverS*10) / 10, Why: string(r.Why), Ahead: []PageLiveAhead{}}
	if n := len(v.poses); n > 0 {
		p.Seen = v.poses[n-1].Found
	}
	if r.View.Sagittal() || r.View.Frontal() {
		p.View = r.View.String()
	}
	if r.Why == "" && r.PerMin > 0 {
		p.PerMin, p.Error = number(r.PerMin, 1), number(1.96*r.SEM, 1)
	}
	for _, s := range body.Sides {
		a, one := r.Of(s), PageLiveAhead{Side: s.String()}
		if one.Why = string(a.Why); a.Why == "" && r.PerMin > 0 && r.Why == "" {
			one.M, one.Error = number(a.M, 3), number(1.96*a.SEM, 3)
		}
		p.Ahead = append(p.Ahead, one)
	}
	return p
}

// rgbOf is a picture as rows of red, green and blue.
func rgbOf(picture image.Image) []byte {
	b := picture.Bounds()
	out := make([]byte, 0, 3*b.Dx()*b.Dy())
	if y, ok := picture.(*image.YCbCr); ok {
		for row := b.Min.Y; row < b.Max.Y; row++ {
			for x := b.Min.X; x < b.Max.X; x++ {
				c := y.YCbCrAt(x, row)
				r, g, bl, _ := c.RGBA()
				out = append(out, byte(r>>8), byte(g>>8), byte(bl>>8))
			}
		}
		return out
	}
	for row := b.Min.Y; row < b.Max.Y; row++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			r, g, bl, _ := picture.At(x, row).RGBA()
			out = append(out, byte(r>>8), byte(g>>8), byte(bl>>8))
		}
	}
	return out
}
