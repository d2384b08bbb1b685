package app

import (
	"bytes"
	"encoding/json"
	"errors"
	"flag"
	"image"
	"image/color"
	"image/draw"
	"image/gif"
	"image/png"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"gaitwright/internal/store"
	"gaitwright/internal/video"
)

var updatePictures = flag.Bool("update-pictures", false, "write the golden pictures anew")

// graded is a picture whose every place has its own colour.
func graded(w, h int, warm bool) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			a, b := uint8(60+120*x/w), uint8(60+120*y/h)
			if warm {
				a, b = b, a
			}
			img.SetRGBA(x, y, color.RGBA{a, 110, b, 255})
		}
	}
	return img
}

// TestComposedPictures draws small pictures of the synthetic runner over a plain
// gradient and holds them against golden files.
func TestComposedPictures(t *testing.T) {
	t.Parallel()
	st, s := atBench(t)
	c := s.Clips[0]
	marks := []Drawing{{Kind: markAngle, Frame: 0, Stays: true, Points: [][2]float64{{330, 300}, {330, 640}, {560, 700}}, Text: "by hand"},
		{Kind: markLine, Frame: 0, Stays: true, Points: [][2]float64{{180, 1000}, {620, 1020}}}}
	if _, err := st.ChangeDrawings(t.Context(), "", s.ID, 0, PageDrawingsChange{Marks: marks}); err != nil {
		t.Fatal(err)
	}
	for name, show := range map[string]PageShow{
		"one":    {A: PageShown{s.ID, 0, 0}, Skeleton: true, Angles: true, Drawings: true, Step: 40, Whole: true},
		"beside": {A: PageShown{s.ID, 0, 0}, B: &PageShown{s.ID, 1, 1}, Foot: "left", Match: true, Skeleton: true, Step: 20},
		"over":   {A: PageShown{s.ID, 0, 0}, B: &PageShown{s.ID, 0, 2}, Foot: "left", Over: true, Opacity: 0.5, Match: true, Skeleton: true, Step: 30},
	} {
		t.Run(name, func(t *testing.T) {
			show.Format = "png"
			comp, err := st.compose(t.Context(), show)
			if err != nil {
				t.Fatal(err)
			}
			for _, p := range comp.parts {
				p.session = &Session{Runner: p.session.Runner, Created: time.Date(2026, 3, 27, 12, 0, 0, 0, time.UTC)}
			}
			comp.layOut(exportSize{400, 640})
			var pictures []filmed
			for i, p := range comp.parts {
				w, h := p.clip.Info.WidthPX/2, p.clip.Info.HeightPX/2
				pictures = append(pictures, filmed{graded(w, h, i == 1), 0.5})
			}
			got := image.NewRGBA(image.Rectangle{Max: comp.size})
			comp.draw(got, pictures, show.Step)
			path := filepath.Join("testdata", "export-"+name+".png")
			if *updatePictures {
				var b bytes.Buffer
				if err := png.Encode(&b, got); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			b, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			golden, err := png.Decode(bytes.NewReader(b))
			if err != nil {
				t.Fatal(err)
			}
			if golden.Bounds() != got.Rect {
				t.Fatalf("a picture of %v, the golden one has %v", got.Rect, golden.Bounds())
			}
			want := image.NewRGBA(got.Rect)
			draw.Draw(want, want.Rect, golden, image.Point{}, draw.Src)
			// Room for the last bit of floating point on other processors.
			far := 0
			for i := range want.Pix {
				if d := int(want.Pix[i]) - int(got.Pix[i]); d > 24 || d < -24 {
					far++
				}
			}
			if far > len(want.Pix)/2000 {
				t.Errorf("%d of %d values differ from the golden picture", far, len(want.Pix))
			}
		})
	}
	// The matched legs: the same length on the canvas, the hips in one place.
	comp, err := st.compose(t.Context(), PageShow{A: PageShown{s.ID, 0, 0}, B: &PageShown{s.ID, 1, 1}, Foot: "left", Over: true, Match: true, Format: "png"})
	if err != nil {
		t.Fatal(err)
	}
	a, b := comp.parts[0], comp.parts[1]
	legA, xA, yA, _ := a.clip.legOf(a.stride)
	legB, xB, yB, _ := b.clip.legOf(b.stride)
	if d := legA*a.at.scale - legB*b.at.scale; math.Abs(d) > 1e-6 {
		t.Errorf("the legs differ by %g px", d)
	}
	ax, ay := a.at.place(xA, yA)
	bx, by := b.at.place(xB, yB)
	if math.Hypot(ax-bx, ay-by) > 1e-6 {
		t.Errorf("the hips lie at %g, %g and %g, %g", ax, ay, bx, by)
	}
	if c.FirstFrame != 0 {
		t.Error("the marks are on no frame")
	}
}

// ffprobe asks the real ffprobe for the facts of a film.
func ffprobe(t *testing.T, path string) (w, h, frames int, seconds float64, codec string) {
	t.Helper()
	out, err := exec.CommandContext(t.Context(), "ffprobe", "-v", "error", "-count_frames", "-show_streams", "-show_format", "-of", "json", path).Output()
	if err != nil {
		t.Fatal(err)
	}
	var said struct {
		Streams []struct {
			Width, Height int
			CodecName     string `json:"codec_name"`
			Frames        string `json:"nb_read_frames"`
		}
		Format struct{ Duration string }
	}
	if err := json.Unmarshal(out, &said); err != nil || len(said.Streams) != 1 {
		t.Fatalf("%s %v", out, err)
	}
	frames, _ = strconv.Atoi(said.Streams[0].Frames)
	seconds, _ = strconv.ParseFloat(said.Format.Duration, 64)
	return said.Streams[0].Width, said.Streams[0].Height, frames, seconds, said.Streams[0].CodecName
}

// TestExports takes pictures and films from films that show their frame numbers:
// the frames are those asked for, the sizes and lengths what they should be.
func TestExports(t *testing.T) {
	if testing.Short() {
		t.Skip("makes films; left out with -short")
	}
	t.Parallel()
	if _, err := exec.LookPath("ffprobe"); err != nil {
		t.Skip("needs ffprobe")
	}
	st, err := OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(st.Close)
	s := numberedResult(t, st, t.TempDir(), 2.2, 640, 360, 50)
	if _, err := st.ChangeDrawings(t.Context(), "", s.ID, 0, PageDrawingsChange{Marks: []Drawing{{Kind: markLine, Frame: 37, Points: [][2]float64{{560, 100}, {560, 260}}}}}); err != nil {
		t.Fatal(err)
	}

	data, name, err := st.Picture(t.Context(), PageShow{A: PageShown{s.ID, 0, 0}, Whole: true, Drawings: true, Step: 37, Format: "png"})
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	if img.Bounds().Dx() != 1280 || img.Bounds().Dy() <= 720 || numberAt(img, image.Point{}, 2) != 37 {
		t.Errorf("a picture of %v of frame %d", img.Bounds(), numberAt(img, image.Point{}, 2))
	}
	if r, g, b, _ := img.At(1120, 300).RGBA(); min(r, g, b) < 0xd000 {
		t.Errorf("the line is not there: %x %x %x", r, g, b)
	}
	if !regexp.MustCompile(`^gait-Invented-Runner-\d{4}-\d\d-\d\d-left-frame-37\.png$`).MatchString(name) {
		t.Errorf("it is called %q", name)
	}
	other, _, err := st.Picture(t.Context(), PageShow{A: PageShown{s.ID, 0, 0}, Whole: true, Drawings: true, Step: 38, Format: "png"})
	if err != nil {
		t.Fatal(err)
	}
	if img, _ = png.Decode(bytes.NewReader(other)); numberAt(img, image.Point{}, 2) != 38 {
		t.Errorf("frame 38 shows %d", numberAt(img, image.Point{}, 2))
	}
	if r, g, b, _ := img.At(1120, 300).RGBA(); min(r, g, b) >= 0xd000 {
		t.Error("the line is on the frame after its own")
	}

	made := func(show PageShow) string { t.Helper(); return filmFor(t, st, show) }

	// One clip: 30 frames of 50 a second, four times slower: 2.4 s.
	path := made(PageShow{A: PageShown{s.ID, 0, 0}, Whole: true, Skeleton: true, From: 20, To: 50, Slow: 4, Format: "mp4"})
	w, h, frames, seconds, codec := ffprobe(t, path)
	if w != 1280 || h <= 720 || h%2 != 0 || frames != 30 || math.Abs(seconds-2.4) > 0.02 || codec == "" {
		t.Errorf("%d × %d, %d frames, %.3f s, %s", w, h, frames, seconds, codec)
	}
	facts, err := video.Probe(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range []int{0, 13, 29} {
		img, err := video.Still(t.Context(), facts, k, 0)
		if err != nil {
			t.Fatal(err)
		}
		if n := numberAt(img, image.Point{}, 2); n != 20+k {
			t.Errorf("picture %d shows frame %d, want %d", k, n, 20+k)
		}
	}

	// Two strides beside one another, from whole pictures.
	a, b := PageShown{s.ID, 0, 0}, PageShown{s.ID, 1, 1}
	pairing, err := st.Pairing(a, b, "left")
	if err != nil {
		t.Fatal(err)
	}
	n := len(pairing.Steps)
	path = made(PageShow{A: a, B: &b, Foot: "left", Whole: true, From: 0, To: n, Slow: 2, Format: "mp4"})
	stride := pairing.A.Strides[0]
	_, _, frames, seconds, _ = ffprobe(t, path)
	if want := 2 * (stride.ToS - stride.FromS); frames != n || math.Abs(seconds-want) > 0.05 {
		t.Errorf("%d frames, %.3f s; want %d, %.3f s", frames, seconds, n, want)
	}
	facts, err = video.Probe(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	comp, err := st.compose(t.Context(), PageShow{A: a, B: &b, Foot: "left", Whole: true, From: 0, To: n, Slow: 2, Format: "mp4"})
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range []int{0, n / 2, n - 1} {
		img, err := video.Still(t.Context(), facts, k, 0)
		if err != nil {
			t.Fatal(err)
		}
		for i, want := range []int{pairing.Steps[k].A, pairing.Steps[k].B} {
			p := comp.parts[i]
			if got := numberAt(img, p.panel.Min, p.at.scale); got != want {
				t.Errorf("step %d shows frame %d of clip %d, want %d", k, got, i, want)
			}
		}
	}

	// A GIF goes round and round at 20 pictures a second at the most.
	path = made(PageShow{A: a, B: &b, Foot: "left", Over: true, Opacity: 0.5, Match: true, Skeleton: true, From: 0, To: n, Slow: 4, Format: "gif"})
	w, h, frames, seconds, codec = ffprobe(t, path)
	want := 4 * (stride.ToS - stride.FromS)
	rate := math.Min(float64(n)/(stride.ToS-stride.FromS), 80) / 4
	if codec != "gif" || w > 800 || h > 520 || math.Abs(seconds-want) > 0.15 || math.Abs(float64(frames)-want*rate) > 1.5 {
		t.Errorf("%s of %d × %d, %d frames, %.3f s; want %.0f frames, %.3f s", codec, w, h, frames, seconds, want*rate, want)
	}
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if g, err := gif.DecodeAll(f); err != nil || g.LoopCount != 0 {
		t.Errorf("loop count %v, %v", g.LoopCount, err)
	}

	// What is refused, before anything is made.
	for name, show := range map[string]PageShow{
		"too long":      {A: a, From: 0, To: 100, Slow: 8, Format: "mp4"},
		"backwards":     {A: a, From: 50, To: 20, Slow: 1, Format: "mp4"},
		"past the end":  {A: a, From: 0, To: 9999, Slow: 1, Format: "gif"},
		"faster":        {A: a, From: 0, To: 20, Slow: 0.5, Format: "mp4"},
		"a format":      {A: a, From: 0, To: 20, Slow: 1, Format: "../../x"},
		"a still":       {A: a, From: 0, To: 20, Slow: 1, Format: "png"},
		"opacity":       {A: a, B: &b, Foot: "left", Opacity: math.NaN(), To: 5, Slow: 1, Format: "mp4"},
		"no such foot":  {A: a, B: &b, Foot: "third", To: 5, Slow: 1, Format: "mp4"},
		"no such frame": {A: a, Step: 9999, Format: "png"},
	} {
		var p *Problem
		if _, err := st.ExportFilm(t.Context(), show); !errors.As(err, &p) || p.Kind != KindUsage && p.Kind != KindTooLarge {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, _, err := st.Picture(t.Context(), PageShow{A: a, Step: 9999, Format: "png"}); err == nil {
		t.Error("a picture of a frame that is not there")
	}
	if _, _, err := st.Exported(t.Context(), s.ID); err == nil {
		t.Error("a film of no job")
	}
}

// numberAt reads the frame number that NumberedResult writes into its films, from a
// film scale times its size with its corner at a place of the picture.
func numberAt(img image.Image, corner image.Point, scale float64) (n int) {
	for bit := range 12 {
		r, _, b, _ := img.At(corner.X+int(scale*float64(16+bit*32+16)), corner.Y+int(scale*32)).RGBA()
		if r > b {
			n |= 1 << bit
		}
	}
	return n
}

func TestFileWord(t *testing.T) {
	for in, want := range map[string]string{
		"gait Invented  Runner 2026-03-27 left": "gait-Invented-Runner-2026-03-27-left",
		`../../etc/passwd\..`:                   "etc-passwd",
		"Zoë \"x\"\r\nH: 1":                     "Zoë-x-H-1",
	} {
		if got := fileWord(in); got != want {
			t.Errorf("%q became %q, want %q", in, got, want)
		}
	}
}

func TestOldExportsGiveWay(t *testing.T) {
	dir := t.TempDir()
	for _, n := range []string{"01C.mp4", "01A.mp4", "01B.gif"} {
		if err := os.WriteFile(filepath.Join(dir, n), nil, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	pruneExports(dir, 2)
	list, _ := os.ReadDir(dir)
	if len(list) != 2 || list[0].Name() != "01B.gif" {
		t.Errorf("left: %v", list)
	}
}

// filmFor makes a film and waits for it.
func filmFor(t *testing.T, st *Studio, show PageShow) (path string) {
	t.Helper()
	job, err := st.ExportFilm(t.Context(), show)
	if err != nil {
		t.Fatal(err)
	}
	st.StartWork(t.Context())
	for deadline := time.Now().Add(10 * time.Minute); ; time.Sleep(20 * time.Millisecond) {
		var now store.Job
		if err := st.readRecords(t.Context(), func(r store.Reader) (err error) { now, err = r.Job(job.ID); return err }); err != nil {
			t.Fatal(err)
		}
		if now.State == store.JobDone {
			break
		}
		if now.State == store.JobFailed || time.Now().After(deadline) {
			t.Fatalf("%s: %s", now.State, now.Message)
		}
	}
	path, name, err := st.Exported(t.Context(), job.ID)
	if err != nil {
		t.Fatal(err)
	}
	if filepath.Ext(name) != "."+show.Format {
		t.Errorf("it is called %q", name)
	}
	return path
}

// TestFilmsGoWithWhatTheyShow: a film made to be taken away is gone from the folder
// at once where what it shows is removed or the consent withdrawn, and no other is
// made.
func TestFilmsGoWithWhatTheyShow(t *testing.T) {
	if testing.Short() {
		t.Skip("makes films; left out with -short")
	}
	t.Parallel()
	st, err := OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(st.Close)
	visit, now, before := NumberedVisits(t, st, t.TempDir())
	folder := func() int {
		list, err := os.ReadDir(filepath.Join(st.dir, exportFolder))
		if err != nil && !errors.Is(err, os.ErrNotExist) {
			t.Fatal(err)
		}
		return len(list)
	}
	alone := PageShow{A: PageShown{now.ID, 0, 0}, Skeleton: true, From: 0, To: 3, Slow: 1, Format: "gif"}
	both := alone
	both.A, both.B, both.Foot = PageShown{before.ID, 0, 0}, &PageShown{now.ID, 0, 1}, "left"
	other := alone
	other.A.Result = before.ID
	made := func() {
		t.Helper()
		for _, show := range []PageShow{alone, both, other} {
			filmFor(t, st, show)
		}
		if n := folder(); n != 3 {
			t.Fatalf("%d films in the folder, want 3", n)
		}
	}
	refused := func(show PageShow, want Kind) {
		t.Helper()
		var p *Problem
		if _, err := st.ExportFilm(t.Context(), show); !errors.As(err, &p) || p.Kind != want {
			t.Errorf("a film is made: %v", err)
		}
	}

	// The later visit is removed: its film and the one that shows both go.
	made()
	ownersAlone(t, st)
	v, err := st.Visit(t.Context(), visit)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := st.RemoveVisit(t.Context(), "", visit, v.Version); err != nil {
		t.Fatal(err)
	}
	if n := folder(); n != 1 {
		t.Errorf("%d films are left of three, of which two show the removed visit", n)
	}
	refused(both, KindUsage) // "there is no result"
	if _, err := st.Undo(t.Context(), "", visit); err != nil {
		t.Fatal(err)
	}

	// A consent is withdrawn.
	pruneExports(filepath.Join(st.dir, exportFolder), 0)
	made()
	runner := v.Runner
	runner.Consent.Filming = nil
	if _, err := st.ChangeRunner(t.Context(), "", runner.ID, "", runner); err != nil {
		t.Fatal(err)
	}
	if n := folder(); n != 0 {
		t.Errorf("%d films are left of a runner who withdrew", n)
	}
	refused(alone, KindNotAllowed)
	alone.Format = "png"
	var p *Problem
	if _, _, err := st.Picture(t.Context(), alone); !errors.As(err, &p) || p.Kind != KindNotAllowed {
		t.Errorf("a picture is drawn: %v", err)
	}
}

// TestAFilmDoesNotWaitForMeasuring: each lane takes its own, in order.
func TestAFilmDoesNotWaitForMeasuring(t *testing.T) {
	st, err := OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(st.Close)
	kept, err := st.records()
	if err != nil {
		t.Fatal(err)
	}
	for _, kind := range []string{jobMeasure, jobFollow, jobExport, jobExport} {
		job := store.Job{Kind: kind, State: store.JobQueued, Request: rawJSON(struct{}{})}
		if err := kept.Change(t.Context(), store.Deed{}, func(w store.Writer) error { return w.PutJob(&job) }); err != nil {
			t.Fatal(err)
		}
	}
	for _, want := range []struct {
		l    lane
		kind string
	}{{st.queue.long, jobMeasure}, {st.queue.short, jobExport}, {st.queue.short, jobExport}, {st.queue.short, ""}, {st.queue.long, jobFollow}, {st.queue.long, ""}} {
		if job, ok := st.nextJob(t.Context(), want.l.takes); job.Kind != want.kind || ok != (want.kind != "") {
			t.Errorf("took %q, want %q", job.Kind, want.kind)
		}
	}
}

// NumberedVisits keeps the result of NumberedResult, filmed smaller, in two visits of
// one runner a month apart, and names the later one.
func NumberedVisits(tb testing.TB, st *Studio, dir string) (visitID string, now, before *Session) {
	tb.Helper()
	s := numberedResult(tb, st, dir, 3, 1280, 720, 50)
	kept, err := st.records()
	if err != nil {
		tb.Fatal(err)
	}
	runner := store.Runner{Name: s.Runner.Name, ConsentFilming: s.Created.AddDate(0, -2, 0), ConsentRecords: s.Created.AddDate(0, -2, 0)}
	var visits [2]store.Visit
	err = kept.Change(tb.Context(), store.Deed{What: "Took a runner in"}, func(w store.Writer) error {
		if err := w.PutRunner(&runner); err != nil {
			return err
		}
		for i := range visits {
			visits[i] = store.Visit{RunnerID: runner.ID, Date: s.Created.AddDate(0, i-1, 0)}
			if err := w.PutVisit(&visits[i]); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		tb.Fatal(err)
	}
	var results [2]*Session
	for i, v := range visits {
		one := *s
		one.Created = v.Date
		if err := st.saveResult(tb.Context(), store.Deed{What: "Measured"}, &one, resultPlace{visit: v.ID}, nil); err != nil {
			tb.Fatal(err)
		}
		results[i] = &one
	}
	return visits[1].ID, results[1], results[0]
}

// ownersAlone wants all that lies in a studio's folder to be told of in the handbook and
// to be read by nobody but its owner, whoever may look into the folder itself.
func ownersAlone(t *testing.T, st *Studio) {
	t.Helper()
	list, err := os.ReadDir(st.dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range list {
		told := slices.ContainsFunc(studioFiles, func(s [2]string) bool {
			return f.Name() == s[0] || s[0] == recordsFile && strings.HasPrefix(f.Name(), recordsFile+"-")
		})
		if !told {
			t.Errorf("%s is in the studio's folder, and the page of files does not say what it is", f.Name())
		}
		if i, err := f.Info(); err != nil || runtime.GOOS != "windows" && i.Mode().Perm()&0o077 != 0 {
			t.Errorf("others may look into %s: %v, %v", f.Name(), i.Mode(), err)
		}
	}
}
