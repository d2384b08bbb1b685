package app

import (
	"bytes"
	"image"
	"image/jpeg"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"gaitwright/gait/track"
)

// TestFramesFarAhead asks for frames all over a film at once, before the pass over it
// has come anywhere near: each is the one that was asked for.
func TestFramesFarAhead(t *testing.T) {
	if testing.Short() {
		t.Skip("makes a film; left out with -short")
	}
	t.Parallel()
	st, err := OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(st.Close)
	s := numberedResult(t, st, t.TempDir(), 2.2, 640, 360, 50)
	c := s.Clips[0]
	n := c.Raw.Frames()
	store := newFrameStore(c.Path, c.FirstFrame, c.FirstFrame+n)
	var all sync.WaitGroup
	// Far ahead, its neighbours as the page asks for them, backwards, and the beginning.
	for _, i := range []int{n - 1, 80, 81, 82, 79, 78, 60, 59, 58, 45, 0, 1, n / 2, 90, 100} {
		all.Go(func() {
			data, err := store.get(t.Context(), i)
			if err != nil {
				t.Errorf("frame %d: %v", i, err)
				return
			}
			img, err := jpeg.Decode(bytes.NewReader(data))
			if err != nil {
				t.Error(err)
				return
			}
			if got := numberAt(img, image.Point{}, float64(img.Bounds().Dx())/float64(c.Info.WidthPX)); got != c.FirstFrame+i {
				t.Errorf("frame %d shows %d", c.FirstFrame+i, got)
			}
		})
	}
	all.Wait()
	if len(store.far) > maxStretch {
		t.Errorf("%d stretches are held", len(store.far))
	}
	store.close()
	// One that has given way still answers whoever came before.
	if _, err := store.get(t.Context(), 7); err != nil {
		t.Errorf("after it was closed: %v", err)
	}
}

// TestPicturesOfAFilmThatIsGone: the bench says of a measured film whose file is gone
// which one it is and what to do, not where the studio kept it.
func TestPicturesOfAFilmThatIsGone(t *testing.T) {
	t.Parallel()
	st, err := OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(st.Close)
	gone := filepath.Join(st.dir, filesFolder, "5d", "gone")
	kept := &Clip{Path: gone, Name: "side.mp4", Hash: strings.Repeat("5d", 32), Model: "full", Track: &track.Track{TimeS: []float64{0, 0.01, 0.02}}}
	own := &Clip{Path: gone, Model: "full", Track: kept.Track}
	s := &Session{Created: time.Now(), Clips: []*Clip{kept, own}}
	if err := st.Save(s); err != nil {
		t.Fatal(err)
	}
	_, err = st.FrameJPEG(t.Context(), s.ID, 0, 1)
	if got, want := InOneLine(err), "side.mp4: the file of this clip is gone from the studio's folder. Take it in again at the station Film."; got != want || KindOf(err) != KindNoResult {
		t.Errorf("a film of the studio: %q, want %q", got, want)
	}
	_, err = st.FrameJPEG(t.Context(), s.ID, 1, 1)
	if got, want := InOneLine(err), gone+": there is no such file. Check the name and the folder."; got != want {
		t.Errorf("a film elsewhere: %q, want %q", got, want)
	}
}
