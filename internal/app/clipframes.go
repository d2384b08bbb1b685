package app

import (
	"context"
	"fmt"
	"slices"
	"sync"

	"gaitwright/internal/store"
	"gaitwright/internal/video"
)

// framesAtOnce is how many frames of a clip that was not measured yet are made
// ready together; a minute at 240 frames a second would fill gigabytes.
const framesAtOnce = 900

// posterHeightPX is the height of the small picture that stands for a film.
const posterHeightPX = 360

// maxClipFilms is how many films' frame times are held in memory.
const maxClipFilms = 8

// clipFilms holds what films say of themselves, by path, and their posters, so
// that stepping through one does not read it anew.
type clipFilms struct {
	mu      sync.Mutex
	order   []string
	facts   map[string]*video.Facts
	posters map[string][]byte
}

// film finds a clip's film.
func (st *Studio) clipFilm(ctx context.Context, id string) (clipRecord, *video.Facts, error) {
	kept, err := st.records()
	if err != nil {
		return clipRecord{}, nil, err
	}
	var c clipRecord
	err = kept.Read(ctx, func(r store.Reader) error {
		one, err := r.Clip(id)
		if err != nil {
			return missingRecord(err, "clip")
		}
		c, err = parseClip(one)
		return err
	})
	if err != nil {
		return c, nil, recordProblem(err, "")
	}
	if !c.isFilm() {
		return c, nil, problem(KindNotFound, c.Name, "", "a file of %s has no pictures", c.Kind)
	}
	path, err := c.path(kept.files)
	if err != nil {
		return c, nil, err
	}
	facts, err := st.clipFilms.of(ctx, path)
	return c, facts, nameIn(err, path, c.Name)
}

func (m *clipFilms) of(ctx context.Context, path string) (*video.Facts, error) {
	m.mu.Lock()
	f := m.facts[path]
	m.mu.Unlock()
	if f != nil {
		return f, nil
	}
	f, err := video.Probe(ctx, path)
	if err != nil {
		return nil, videoProblem(path, err)
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.facts == nil {
		m.facts, m.posters = map[string]*video.Facts{}, map[string][]byte{}
	}
	if m.facts[path] == nil {
		m.order = append(m.order, path)
	}
	m.facts[path] = f
	if len(m.order) > maxClipFilms {
		delete(m.facts, m.order[0])
		delete(m.posters, m.order[0])
		m.order = slices.Delete(m.order, 0, 1)
	}
	return f, nil
}

// ClipFrame returns the picture of one frame of a clip's film, counted from 0 in
// the file, upright.
func (st *Studio) ClipFrame(ctx context.Context, id string, n int) ([]byte, error) {
	c, facts, err := st.clipFilm(ctx, id)
	if err != nil {
		return nil, err
	}
	if n < 0 || n >= facts.Frames() {
		return nil, problem(KindNotFound, c.Name, "", "the film has %d frames, counted from 0; there is no frame %d", facts.Frames(), n)
	}
	first := n / framesAtOnce * framesAtOnce
	last := min(first+framesAtOnce, facts.Frames())
	jpg, err := st.frames(fmt.Sprintf("clip %s/%d", id, first), facts.Path, first, last).get(ctx, n-first)
	return jpg, nameIn(err, facts.Path, c.Name)
}

// PageClipTimes is when each frame of a film was taken.
type PageClipTimes struct {
	TimeS []float64 `json:"time_s"` // on the file's own clock
	TrueS []float64 `json:"true_s"` // with the slowing taken out
}

// ClipTimes returns the times of a clip's frames.
func (st *Studio) ClipTimes(ctx context.Context, id string) (PageClipTimes, error) {
	c, facts, err := st.clipFilm(ctx, id)
	if err != nil {
		return PageClipTimes{}, err
	}
	slow := c.slowdown(&c.facts.PageClipFacts)
	p := PageClipTimes{TimeS: make([]float64, facts.Frames()), TrueS: make([]float64, facts.Frames())}
	for i, t := range facts.TimeS {
		p.TimeS[i], p.TrueS[i] = *number(t, 6), *number(t/slow, 6)
	}
	return p, nil
}

// ClipPoster returns a small picture that stands for a clip's film.
func (st *Studio) ClipPoster(ctx context.Context, id string) ([]byte, error) {
	c, facts, err := st.clipFilm(ctx, id)
	if err != nil {
		return nil, err
	}
	m := &st.clipFilms
	m.mu.Lock()
	jpg := m.posters[facts.Path]
	m.mu.Unlock()
	if jpg != nil {
		return jpg, nil
	}
	at := facts.Frames() / 3
	_, err = video.ExtractJPEG(ctx, facts, at, at+1, posterHeightPX, frameQuality, func(_ int, b []byte) error {
		jpg = slices.Clone(b)
		return nil
	})
	if err == nil && jpg == nil {
		err = problem(KindNoResult, c.Name, "", "frame %d could not be decoded", at)
	}
	if err != nil {
		return nil, nameIn(videoProblem(facts.Path, err), facts.Path, c.Name)
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.facts[facts.Path] != nil {
		m.posters[facts.Path] = jpg
	}
	return jpg, nil
}

func (m *clipFilms) drop() {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.order, m.facts, m.posters = nil, nil, nil
}
