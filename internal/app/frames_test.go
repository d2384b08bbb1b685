package app

import (
	"bytes"
	"errors"
	"image"
	"image/jpeg"
	"os"
	"path/filepath"
	"runtime"
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

// TestPicturesAfterAFailure: what once kept the pictures from being made, as a full disk
// or an ffmpeg that was killed, does so no longer when it is mended, and hides none of
// those that were made.
func TestPicturesAfterAFailure(t *testing.T) {
	if testing.Short() {
		t.Skip("makes a film; left out with -short")
	}
	full, err := os.OpenFile("/dev/full", os.O_RDWR, 0)
	if err != nil {
		t.Skip("needs a file that is always full: ", err)
	}
	defer full.Close()
	t.Parallel()
	st, err := OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(st.Close)
	c := numberedResult(t, st, t.TempDir(), 2.2, 640, 360, 50).Clips[0]
	s := newFrameStore(c.Path, c.FirstFrame, c.FirstFrame+c.Raw.Frames())
	t.Cleanup(s.close)
	shows := func(i int) {
		t.Helper()
		data, err := s.get(t.Context(), i)
		if err != nil {
			t.Fatalf("frame %d: %v", i, err)
		}
		img, err := jpeg.Decode(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		if got := numberAt(img, image.Point{}, float64(img.Bounds().Dx())/float64(c.Info.WidthPX)); got != c.FirstFrame+i {
			t.Errorf("frame %d shows %d", c.FirstFrame+i, got)
		}
	}
	// failed waits until the pass has failed.
	failed := func() {
		s.mu.Lock()
		defer s.mu.Unlock()
		for !s.done {
			s.grown.Wait()
		}
		if KindOf(s.err) != KindFull || !strings.Contains(s.err.Error(), os.TempDir()) {
			t.Errorf("on a full disk: %v", s.err)
		}
	}
	s.mu.Lock()
	if err := s.open(t.Context()); err != nil {
		t.Fatal(err)
	}
	if left, _ := os.Stat(s.file.Name()); left != nil && runtime.GOOS != "windows" {
		t.Errorf("the pictures lie in %s, and would stay there after a breakdown", s.file.Name())
	}
	real := s.file
	s.file = full
	s.mu.Unlock()
	failed()
	if _, err := s.get(t.Context(), 7); KindOf(err) != KindFull {
		t.Errorf("asked again on a full disk: %v", err)
	}
	s.mu.Lock()
	s.file = real
	s.mu.Unlock()
	shows(7)
	shows(0)
	// In the middle of the film too: what was made before is shown.
	n := c.Raw.Frames()
	shows(n - 1)
	s.mu.Lock()
	for !s.done {
		s.grown.Wait()
	}
	s.ends, s.err = s.ends[:n/2], errors.New("ffmpeg was killed")
	s.mu.Unlock()
	shows(n/2 - 1)
	if s.err == nil {
		t.Error("a picture that was there began the pass anew")
	}
	shows(n - 1)
	shows(n / 2)
	shows(3)
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
