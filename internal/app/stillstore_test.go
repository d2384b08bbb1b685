package app

import (
	"bytes"
	"image"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"gaitwright/gait/clip"
)

// Frames that reports show are decoded once and kept beside the film; a report has
// the same pixels whether they were, and a frame that was damaged is decoded again.
func TestStillsAreKept(t *testing.T) {
	ffmpeg, err := exec.LookPath("ffmpeg")
	if err != nil {
		t.Skip("needs ffmpeg")
	}
	st, err := OpenStudio(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	film := filepath.Join(t.TempDir(), "film.mp4")
	if out, err := exec.Command(ffmpeg, "-v", "error", "-f", "lavfi", "-i", "testsrc2=size=320x240:rate=30:duration=1", "-pix_fmt", "yuv420p", film).CombinedOutput(); err != nil {
		t.Fatalf("%v %s", err, out)
	}
	b, err := os.ReadFile(film)
	if err != nil {
		t.Fatal(err)
	}
	kept, err := st.records()
	if err != nil {
		t.Fatal(err)
	}
	hash, _, err := kept.files.Put(t.Context(), bytes.NewReader(b), 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	path, err := kept.files.Path(hash)
	if err != nil {
		t.Fatal(err)
	}
	c := &Clip{Path: path, Info: clip.Info{HeightPX: 240}}
	ask := []int{20, 3, 20}
	first, err := st.keptStills(t.Context(), c, ask)
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(st.dir, stillsFolder, hash)
	list, err := os.ReadDir(dir)
	if err != nil || len(list) != 2 {
		t.Fatalf("%d frames are kept, %v", len(list), err)
	}
	plain, err := decodedStills(t.Context(), c, ask)
	if err != nil {
		t.Fatal(err)
	}
	same := func(what string, got []*image.RGBA) {
		t.Helper()
		for i := range ask {
			if got[i].Rect != plain[i].Rect || !bytes.Equal(got[i].Pix, plain[i].Pix) {
				t.Errorf("%s: frame %d differs", what, ask[i])
			}
		}
	}
	same("kept now", first)
	if bytes.Equal(plain[0].Pix, plain[1].Pix) {
		t.Error("all frames are the same")
	}
	// Without the film what is kept serves.
	if err := os.Rename(path, path+".away"); err != nil {
		t.Fatal(err)
	}
	again, err := st.keptStills(t.Context(), c, ask)
	if err != nil {
		t.Fatal(err)
	}
	same("kept before", again)
	if err := os.Rename(path+".away", path); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, list[0].Name()), []byte("damaged"), 0o600); err != nil {
		t.Fatal(err)
	}
	mended, err := st.keptStills(t.Context(), c, ask)
	if err != nil {
		t.Fatal(err)
	}
	same("damaged", mended)
	// A film outside the studio leaves nothing in it.
	if st.stillsOf(film) != "" || st.stillsOf(filepath.Join(st.dir, "..", hash[:2], hash[2:])) != "" {
		t.Error("frames of a film elsewhere would be kept")
	}
	st.sweepStills(map[string]bool{hash: true})
	if _, err := os.Stat(dir); err != nil {
		t.Errorf("the frames of a film in use were swept: %v", err)
	}
	st.sweepStills(map[string]bool{})
	if _, err := os.Stat(dir); err == nil {
		t.Error("the frames of a film that no record names are still there")
	}
}
