package app

import (
	"bytes"
	"image"
	"image/jpeg"
	"sync"
	"testing"
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
