package app_test

import (
	"context"
	"image"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gaitwright/gait/body"
	"gaitwright/gait/clip"
	"gaitwright/gait/measure"
	"gaitwright/gait/track"
	"gaitwright/internal/app"
	"gaitwright/internal/synth"
	"gaitwright/internal/video"
)

// stickered is a film of the synthetic runner on which white stickers are drawn
// where the landmarks are, with the landmarks of the legs and trunk as a pose
// network might give them, scattered by a pixel. Nothing covers a sticker.
type stickered struct {
	view   clip.View
	path   string
	exact  *track.Track
	found  *track.Track
	truth  *synth.Truth
	params synth.Params
}

const stickerPX = 12.0

// Between these frames a decoyed film has the posterior spine's sticker hidden, and
// another of its look beside it.
const decoyFrom, decoyTo, decoyPX = 90, 110, 42.0

// decoyed tells where the sticker of a landmark is drawn in a frame.
func decoyed(l body.Landmark, frame int, x, y float64) (float64, float64) {
	if l == body.LeftPSIS && frame >= decoyFrom && frame < decoyTo {
		return x + decoyPX, y + decoyPX/2
	}
	return x, y
}

func onLandmark(_ body.Landmark, _ int, x, y float64) (float64, float64) { return x, y }

func shootStickered(t testing.TB, view clip.View, seconds float64, where []body.Landmark, place func(l body.Landmark, frame int, x, y float64) (float64, float64)) stickered {
	t.Helper()
	const rate = 60
	p := synth.Demo()
	p.DurationS = seconds + 1
	runner := must[*synth.Runner](t)(synth.New(p))
	cam := synth.NewCamera(view, 720, 1280, 4)
	times := synth.Clock(rate, seconds)
	film := must[*synth.Film](t)(synth.NewFilm(runner, cam, times, synth.Look{}))
	out := stickered{view: view, path: filepath.Join(t.TempDir(), view.String()+".mp4"), exact: runner.Track(times, cam), params: p, truth: runner.Truth(0, seconds, synth.Spines)}
	writeFilm(t, film, rate, out.path, func(i int, picture *image.RGBA) {
		for _, l := range where {
			x, y := place(l, i, out.exact.Paths[l].X[i], out.exact.Paths[l].Y[i])
			drawSticker(picture, x, y)
		}
	})
	out.found = synth.Noisy(synth.WithoutStickers(out.exact), synth.Noise{SD: 1, Seed: 5})
	for _, p := range out.found.Paths {
		if p != nil {
			p.Origin = track.PoseModel
		}
	}
	return out
}

// visitOfStickers is a visit whose one film was measured, by its landmarks alone.
type visitOfStickers struct {
	st            *app.Studio // at work
	visit, result string
	clip          app.PageVisitClip
}

func measuredStickers(t testing.TB, film stickered) visitOfStickers {
	t.Helper()
	st := openStudio(t)
	_, v := consented(t, st)
	must[app.PageIntake](t)(st.ChangeIntake(bg, "", v.ID, healthy(st)))
	one := must[app.PageVisitClip](t)(takeIn(t, st, v.ID, "film.mp4", must[[]byte](t)(os.ReadFile(film.path))))
	one.Facts.SpeedMPS, one.Facts.View = ptr(film.params.SpeedMPS), film.view.String()
	must[app.PageVisitClip](t)(st.ChangeClip(bg, "", one.ID, app.PageClipChange{Version: one.Version, Facts: one.Facts}))
	if err := st.RememberLandmarks(bg, one.ID, film.found); err != nil {
		t.Fatal(err)
	}
	work(t, st)
	measured := ended(t, st, must[app.PageJob](t)(st.MeasureVisit(bg, "", v.ID, app.PageMeasureAsk{})).ID)
	if measured.State != "done" {
		t.Fatal(measured.Message)
	}
	return visitOfStickers{st, v.ID, measured.Outcome, one}
}

// writeFilm draws a film into an H.264 file; over, where it is not nil, draws on
// each picture.
func writeFilm(tb testing.TB, film *synth.Film, rateHz float64, path string, over func(i int, picture *image.RGBA)) {
	tb.Helper()
	w, h := film.Size()
	e, err := video.NewEncoder(tb.Context(), path, video.EncodeOptions{WidthPX: w, HeightPX: h, RateHz: rateHz, Quality: 20})
	if err != nil {
		tb.Skip("needs ffmpeg: ", err)
	}
	defer e.Abort()
	picture := image.NewRGBA(image.Rect(0, 0, w, h))
	err = film.Render(context.WithoutCancel(tb.Context()), func(i int, timeS float64, rgb []byte) error {
		for k, j := 0, 0; j+2 < len(rgb); k, j = k+4, j+3 {
			picture.Pix[k], picture.Pix[k+1], picture.Pix[k+2], picture.Pix[k+3] = rgb[j], rgb[j+1], rgb[j+2], 255
		}
		if over != nil {
			over(i, picture)
		}
		return e.Write(picture, timeS)
	})
	if err == nil {
		err = e.Finish()
	}
	if err != nil {
		tb.Fatal(err)
	}
}

// drawSticker draws a white disc with a dark rim and soft edges.
func drawSticker(p *image.RGBA, x, y float64) {
	r := stickerPX / 2
	for v := int(y - r - 4); v <= int(y+r+4); v++ {
		for u := int(x - r - 4); u <= int(x+r+4); u++ {
			if !(image.Point{u, v}).In(p.Rect) {
				continue
			}
			d := math.Hypot(float64(u)+0.5-x, float64(v)+0.5-y)
			white, rim := min(1, max(0, r+0.5-d)), min(1, max(0, r+3.5-d))
			at := p.PixOffset(u, v)
			for k := range 3 {
				under := float64(p.Pix[at+k])*(1-rim) + 30*rim
				p.Pix[at+k] = uint8(under*(1-white) + 245*white)
			}
		}
	}
}

// clicks shows each sticker once, a pixel and a half beside its middle.
func (s stickered) clicks(frame int, where []body.Landmark) []app.StickerPoint {
	var out []app.StickerPoint
	for _, l := range where {
		p := s.exact.Paths[l]
		out = append(out, app.StickerPoint{Name: l.String(), Clicks: []app.StickerClick{{Frame: frame, X: p.X[frame] + 1.2, Y: p.Y[frame] - 0.9}}})
	}
	return out
}

// Stickers clicked in a film of a visit are followed in the background; a
// measurement made again has the measures that need them, as true as their stated
// error, and the older result stays without them.
func TestStickersGiveTheMeasuresThatNeedThem(t *testing.T) {
	if testing.Short() || os.Getenv("GAITWRIGHT_LONG") == "" {
		t.Skip("a film is drawn, encoded and followed, a minute or more: set GAITWRIGHT_LONG=1")
	}
	for _, c := range []struct {
		view     clip.View
		stickers []body.Landmark
		measures []string
	}{
		{clip.LeftSide, []body.Landmark{body.LeftPSIS, body.LeftASIS, body.Thoracolumbar, body.Lumbosacral}, []string{"pelvic_tilt", "lumbar_curve"}},
	} {
		t.Run(c.view.String(), func(t *testing.T) {
			film := shootStickered(t, c.view, 5, c.stickers, onLandmark)
			m := measuredStickers(t, film)
			st, one := m.st, m.clip
			kept := must[app.PageStickers](t)(st.ChangeStickers(bg, "", one.ID, app.PageStickerChange{Points: append(film.clicks(60, c.stickers),
				app.StickerPoint{Name: "my own", Clicks: film.clicks(61, c.stickers)[0].Clicks})}))
			if kept.Version == 0 || kept.Fresh || len(kept.Followed) != 0 || len(kept.Doubts) != 0 {
				t.Errorf("before they were followed: %+v", kept)
			}
			if _, err := st.ChangeStickers(bg, "", one.ID, app.PageStickerChange{}); app.KindOf(err) != app.KindStale {
				t.Errorf("a stale change: %v", err)
			}
			j := ended(t, st, must[app.PageJob](t)(st.FollowStickers(bg, "", one.ID)).ID)
			if j.State != "done" {
				t.Fatal(j.Message)
			}
			followed := must[app.PageStickers](t)(st.Stickers(bg, one.ID))
			if !followed.Fresh || followed.Version != kept.Version || len(followed.Followed) != len(c.stickers)+1 {
				t.Fatalf("after: fresh %v, version %d, %d paths", followed.Fresh, followed.Version, len(followed.Followed))
			}
			for _, p := range followed.Followed[:len(c.stickers)] {
				l, _ := body.ParseLandmark(p.Name)
				var sum, stated float64
				n := 0
				for i, x := range p.X {
					if x != nil {
						d := math.Hypot(*x-film.exact.Paths[l].X[i], *p.Y[i]-film.exact.Paths[l].Y[i])
						sum, stated, n = sum+d*d/2, stated+*p.SDPX[i]**p.SDPX[i], n+1
					}
				}
				t.Logf("%-18s seen %d of %d, root mean square error %.3f px an axis, stated %.3f px", p.Name, n, len(p.X), math.Sqrt(sum/float64(n)), math.Sqrt(stated/float64(n)))
				if float64(n) < 0.6*float64(len(p.X)) || math.Sqrt(sum/float64(n)) > 0.15 /* under 0.06 was measured */ || math.Sqrt(sum/float64(n)) > 1.5*math.Sqrt(stated/float64(n)) {
					t.Errorf("%s was seen in %d of %d frames with an error of %.2f px", p.Name, n, len(p.X), math.Sqrt(sum/float64(n)))
				}
			}
			after := ended(t, st, must[app.PageJob](t)(st.MeasureVisit(bg, "", m.visit, app.PageMeasureAsk{})).ID)
			if after.State != "done" || after.Outcome == m.result {
				t.Fatalf("%+v", after)
			}
			older, newer := must[*app.Session](t)(st.Load(m.result)), must[*app.Session](t)(st.Load(after.Outcome))
			for _, name := range c.measures {
				n := 0
				for _, m := range newer.Clips[0].Measures {
					if m.Name != name {
						continue
					}
					want, ok := film.truth.Value(name, m.Side)
					t.Logf("%s %v: %.2f, true %.2f (%v), standard error %.2f, by %s %s", name, m.Side, m.Value, want, ok, m.SEM, m.Origin, m.Reason)
					if !ok || math.IsNaN(m.Value) {
						continue
					}
					n++
					if math.Abs(m.Value-want) > 2*m.SEM {
						t.Errorf("%s %v is %.2f, in truth %.2f: more than twice the stated error of %.2f", name, m.Side, m.Value, want, m.SEM)
					}
					if m.Origin != "sticker" {
						t.Errorf("%s is said to rest on %q", name, m.Origin)
					}
				}
				if n == 0 {
					t.Errorf("%s is not given", name)
				}
				if slices.ContainsFunc(older.Clips[0].Measures, func(m measure.Measure) bool {
					return m.Name == name && m.Origin == "sticker" && !math.IsNaN(m.Value)
				}) {
					t.Errorf("%s stands in the older result", name)
				}
			}
			// One more click makes the path one of the past.
			points := film.clicks(60, c.stickers)
			points[0].Clicks = append(points[0].Clicks, app.StickerClick{Frame: 100, X: 300, Y: 300})
			changed := must[app.PageStickers](t)(st.ChangeStickers(bg, "", one.ID, app.PageStickerChange{Version: followed.Version, Points: points}))
			if changed.Fresh || changed.Followed[0].Current || !changed.Followed[1].Current {
				t.Error("a path of other clicks is taken for one of these")
			}
		})
	}
}

func TestStickersThatCannotBe(t *testing.T) {
	st := openStudio(t)
	v := visitWithKeypoints(t, st)
	if _, err := st.ChangeStickers(bg, "", v.Clips[0].ID, app.PageStickerChange{}); app.KindOf(err) != app.KindUsage {
		t.Errorf("stickers in a keypoint file: %v", err)
	}
	if _, err := st.FollowStickers(bg, "", v.Clips[0].ID); app.KindOf(err) != app.KindUsage {
		t.Errorf("following in a keypoint file: %v", err)
	}
	if _, err := st.Stickers(bg, "00000000000000000000000000"); app.KindOf(err) != app.KindNotFound {
		t.Errorf("no such clip: %v", err)
	}
	_, other := consented(t, st)
	film := must[app.PageVisitClip](t)(takeIn(t, st, other.ID, "small.mp4", smallFilm(t, 12)))
	if _, err := st.FollowStickers(bg, "", film.ID); app.KindOf(err) != app.KindUsage {
		t.Errorf("following nothing: %v", err)
	}
	at := func(c ...app.StickerClick) []app.StickerPoint {
		return []app.StickerPoint{{Name: "left_psis", Clicks: c}}
	}
	for name, points := range map[string][]app.StickerPoint{
		"no name":          {{Clicks: []app.StickerClick{{X: 5, Y: 5}}}},
		"no click":         at(),
		"twice":            append(at(app.StickerClick{X: 5, Y: 5}), at(app.StickerClick{X: 9, Y: 9})...),
		"twice in a frame": at(app.StickerClick{X: 5, Y: 5}, app.StickerClick{X: 6, Y: 5}),
		"outside":          at(app.StickerClick{X: 1e6, Y: 5}),
		"not a number":     at(app.StickerClick{X: math.NaN(), Y: 5}),
		"no such frame":    at(app.StickerClick{Frame: 1e6, X: 5, Y: 5}),
		"shape":            {{Name: "a", Shape: "square", Clicks: []app.StickerClick{{X: 5, Y: 5}}}},
		"size":             {{Name: "a", DiameterPX: 1e9, Clicks: []app.StickerClick{{X: 5, Y: 5}}}},
		"too many":         make([]app.StickerPoint, 100),
	} {
		if _, err := st.ChangeStickers(bg, "", film.ID, app.PageStickerChange{Points: points}); app.KindOf(err) != app.KindUsage {
			t.Errorf("%s: %v", name, err)
		}
	}
	if got := must[app.PageStickers](t)(st.Stickers(bg, film.ID)); got.Version != 0 || len(got.Points) != 0 {
		t.Errorf("something was kept: %+v", got)
	}
}

// A click where there is nothing is told at once, and its film is not looked through; one
// that is moved onto the sticker is good again, and a correction where nothing is seen is
// none to be told of.
func TestAClickOnNothingIsToldAtOnce(t *testing.T) {
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("needs ffmpeg")
	}
	// A square on a plain wall; for one frame there is another.
	path := filepath.Join(t.TempDir(), "wall.mp4")
	square := "drawbox=x=94:y=94:w=13:h=13:color=white:t=fill,drawbox=x=97:y=98:w=4:h=5:color=black:t=fill"
	once := strings.ReplaceAll(strings.ReplaceAll(square, "x=9", "x=19"), ":t=fill", ":t=fill:enable='eq(n,20)'")
	out, err := exec.CommandContext(t.Context(), ffmpeg, "-v", "error", "-f", "lavfi", "-i", "color=c=gray:size=320x240:rate=30:duration=2", "-vf", square+","+once, "-crf", "12", "-pix_fmt", "yuv420p", path).CombinedOutput()
	if err != nil {
		t.Fatalf("ffmpeg: %v\n%s", err, out)
	}
	st := openStudio(t)
	_, v := consented(t, st)
	film := must[app.PageVisitClip](t)(takeIn(t, st, v.ID, "wall.mp4", fileOf(t, path)))
	kept := app.PageStickers{}
	click := func(clicks ...app.StickerClick) {
		t.Helper()
		kept = must[app.PageStickers](t)(st.ChangeStickers(bg, "", film.ID, app.PageStickerChange{Version: kept.Version, Points: []app.StickerPoint{{Name: "left_psis", Clicks: clicks}}}))
	}
	on, off := app.StickerClick{Frame: 20, X: 100.5, Y: 100.5}, app.StickerClick{Frame: 20, X: 250, Y: 60}
	click(off)
	if kept.Doubts["left_psis"] != "nothing" || len(kept.Points) != 1 {
		t.Errorf("on the plain wall: %+v", kept)
	}
	if again := must[app.PageStickers](t)(st.Stickers(bg, film.ID)); again.Doubts["left_psis"] != "nothing" {
		t.Errorf("opened again: %+v", again)
	}
	_, err = st.FollowStickers(bg, "", film.ID)
	if app.KindOf(err) != app.KindUsage || !strings.Contains(err.Error(), "wall.mp4: there is nothing to follow at the click for left psis in frame 20") {
		t.Errorf("followed from the plain wall: %v", err)
	}
	if said, ok := app.Told("de", withoutName(app.InOneLine(err))); !ok {
		t.Errorf("in German: %q", said)
	}
	click(app.StickerClick{Frame: 20, X: 200.5, Y: 100.5})
	if kept.Doubts["left_psis"] != "fleeting" {
		t.Errorf("on what is there in one frame alone: %+v", kept)
	}
	must[app.PageVisit](t)(st.Undo(bg, "", v.ID))
	if kept = must[app.PageStickers](t)(st.Stickers(bg, film.ID)); kept.Doubts["left_psis"] != "nothing" {
		t.Errorf("taken back: %+v", kept)
	}
	click(on)
	if len(kept.Doubts) != 0 {
		t.Errorf("on the sticker: %+v", kept)
	}
	// A correction may be where nothing is seen.
	click(on, app.StickerClick{Frame: 40, X: 250, Y: 60})
	if len(kept.Doubts) != 0 {
		t.Errorf("with a correction: %+v", kept)
	}
	work(t, st)
	if j := ended(t, st, must[app.PageJob](t)(st.FollowStickers(bg, "", film.ID)).ID); j.State != "done" {
		t.Errorf("followed: %+v", j)
	}
}
