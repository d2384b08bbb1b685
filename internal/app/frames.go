package app

import (
	"context"
	"fmt"
	"os"
	"slices"
	"sync"

	"gaitwright/internal/store"
	"gaitwright/internal/video"
)

const (
	frameHeightPX = 1080 // pictures for the browser are no higher
	frameQuality  = 85
	framesAhead   = 40 // a frame this close to what is ready is waited for
	maxFilms      = 4  // films whose pictures are kept ready
	// A frame farther ahead is decoded with its neighbours, in one go: so many
	// beyond it and so few before, or the other way round where frames before one
	// such stretch are asked for.
	farBeyond  = 44
	farBefore  = 4
	maxStretch = 3 // such stretches at a time
)

// frameStore holds the pictures of one clip as JPEGs in a temporary file. One
// pass over the film fills it in the background from the first time a picture
// is asked for; a frame far ahead of that pass is decoded with its neighbours. A pass
// that failed is gone on with when a picture is asked for that it had not come to.
type frameStore struct {
	path        string
	first, last int // frames of the file

	mu     sync.Mutex
	grown  *sync.Cond
	file   *os.File
	ends   []int64 // end of each picture in the file, by position
	facts  *video.Facts
	done   bool
	err    error
	ctx    context.Context // of all that is decoded
	cancel context.CancelFunc
	opened bool
	far    []*stretch // oldest first
}

// stretch is some frames far ahead of the pass, held in memory.
type stretch struct {
	from, to int // positions; to is not included
	pictures map[int][]byte
	done     bool
	gave     bool // way to another
	err      error
	cancel   context.CancelFunc
}

func newFrameStore(path string, first, last int) *frameStore {
	s := &frameStore{path: path, first: first, last: last}
	s.grown = sync.NewCond(&s.mu)
	return s
}

// frames returns the picture store of a film's frames first to last, made on
// first use; the one used longest ago gives way.
func (st *Studio) frames(key, path string, first, last int) *frameStore {
	st.mu.Lock()
	defer st.mu.Unlock()
	if s, ok := st.film[key]; ok {
		return s
	}
	for len(st.filmOrder) >= maxFilms {
		st.film[st.filmOrder[0]].close()
		delete(st.film, st.filmOrder[0])
		st.filmOrder = st.filmOrder[1:]
	}
	s := newFrameStore(path, first, last)
	st.film[key] = s
	st.filmOrder = append(st.filmOrder, key)
	return s
}

// dropFilms drops the pictures kept ready and ends the work on them.
func (st *Studio) dropFilms() {
	st.mu.Lock()
	defer st.mu.Unlock()
	for _, s := range st.film {
		s.close()
	}
	st.film, st.filmOrder = map[string]*frameStore{}, nil
}

// open probes the film and starts the pass; called with the lock held.
func (s *frameStore) open(ctx context.Context) error {
	if s.opened {
		return nil
	}
	facts, err := video.Probe(ctx, s.path)
	if err != nil {
		return videoProblem(s.path, err) // not kept: the file may come back
	}
	if s.last > facts.Frames() {
		return problem(KindNoResult, s.path, "Measure the clip again.", "the film has changed since it was measured: it has %d frames, %d were used", facts.Frames(), s.last)
	}
	f, err := os.CreateTemp("", "gaitwright-frames-*")
	if err != nil {
		return noPictures(err)
	}
	// Pictures of people: nameless they go with the program, however it ends. A system
	// that cannot have it so keeps the name until close.
	os.Remove(f.Name())
	s.opened, s.facts, s.file = true, facts, f
	s.ctx, s.cancel = context.WithCancel(context.Background())
	go s.fill(s.ctx)
	return nil
}

// noPictures says why pictures cannot be written into the temporary file.
func noPictures(err error) error {
	p := &Problem{Kind: KindUnexpected, What: "pictures of a film cannot be kept for a while in " + os.TempDir() + ": " + err.Error(), Mend: "Check that this folder is there and may be written to, and look at the frame again.", Err: err}
	if store.NoRoom(err) {
		p.Kind, p.What, p.Mend = KindFull, "there is no room for pictures of a film in "+os.TempDir(), "Make room on that disk, and look at the frame again."
	}
	return p
}

func (s *frameStore) fill(ctx context.Context) {
	s.mu.Lock()
	next := s.first + len(s.ends)
	s.mu.Unlock()
	// A frame that is asked for meanwhile, and a correction, come first.
	_, err := video.ExtractJPEG(video.Aside(ctx), s.facts, next, s.last, frameHeightPX, frameQuality, func(i int, jpg []byte) error {
		s.mu.Lock()
		defer s.mu.Unlock()
		end := int64(0)
		if n := len(s.ends); n > 0 {
			end = s.ends[n-1]
		}
		for ; next < i; next++ { // a frame that did not decode is an empty one
			s.ends = append(s.ends, end)
		}
		if s.file == nil {
			return context.Canceled
		}
		if _, err := s.file.WriteAt(jpg, end); err != nil {
			return noPictures(err)
		}
		s.ends = append(s.ends, end+int64(len(jpg)))
		next++
		s.grown.Broadcast()
		return nil
	})
	s.mu.Lock()
	defer s.mu.Unlock()
	s.done = true
	if ctx.Err() == nil {
		s.err = err
	}
	if err == nil {
		s.far = nil // all is in the file
	}
	s.grown.Broadcast()
}

// get returns the picture of the track's frame i.
func (s *frameStore) get(ctx context.Context, i int) ([]byte, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.open(ctx); err != nil {
		return nil, err
	}
	stop := context.AfterFunc(ctx, func() { s.grown.Broadcast() })
	defer stop()
	if s.done && s.err != nil && s.file != nil && i >= len(s.ends) {
		s.done, s.err = false, nil
		go s.fill(s.ctx)
	}
	var far *stretch
	for i >= len(s.ends) && !s.done {
		if ctx.Err() != nil {
			return nil, ctx.Err()
		}
		if i >= len(s.ends)+framesAhead {
			if far == nil || far.gave {
				far = s.stretchOf(i)
			}
			if jpg := far.pictures[i]; jpg != nil {
				return jpg, nil
			}
			if far.done {
				if far.err != nil {
					return nil, videoProblem(s.path, far.err)
				}
				return nil, problem(KindNoResult, s.path, "", "frame %d could not be decoded", s.first+i)
			}
		}
		s.grown.Wait()
	}
	if i < len(s.ends) && s.file != nil {
		from := int64(0)
		if i > 0 {
			from = s.ends[i-1]
		}
		if s.ends[i] == from {
			return nil, problem(KindNoResult, s.path, "", "frame %d could not be decoded", s.first+i)
		}
		jpg := make([]byte, s.ends[i]-from)
		if _, err := s.file.ReadAt(jpg, from); err != nil {
			return nil, fmt.Errorf("reading back frame %d: %w", i, err)
		}
		return jpg, nil
	}
	if s.err != nil {
		return nil, videoProblem(s.path, s.err)
	}
	if s.file != nil {
		return nil, problem(KindNoResult, s.path, "", "frame %d could not be decoded", s.first+i)
	}
	// Other films have taken its place meanwhile.
	s.mu.Unlock()
	defer s.mu.Lock()
	return s.single(ctx, i)
}

// single decodes one picture by itself.
func (s *frameStore) single(ctx context.Context, i int) ([]byte, error) {
	var out []byte
	_, err := video.ExtractJPEG(ctx, s.facts, s.first+i, s.first+i+1, frameHeightPX, frameQuality, func(_ int, jpg []byte) error {
		out = jpg
		return nil
	})
	if err != nil {
		return nil, videoProblem(s.path, err)
	}
	if out == nil {
		return nil, problem(KindNoResult, s.path, "", "frame %d could not be decoded", s.first+i)
	}
	return out, nil
}

// stretchOf returns the stretch that has a frame, begun where there is none; called
// with the lock held.
func (s *frameStore) stretchOf(i int) *stretch {
	f := &stretch{from: i - farBefore, to: i + farBeyond, pictures: map[int][]byte{}}
	for _, other := range s.far {
		if other.from <= i && i < other.to {
			return other
		}
		if i < other.from && i >= other.from-farBeyond/2 { // someone goes backwards
			f.from, f.to = i-farBeyond, other.from
		}
	}
	f.from, f.to = max(0, f.from), min(f.to, s.last-s.first)
	if len(s.far) >= maxStretch {
		s.far[0].cancel()
		s.far = slices.Delete(s.far, 0, 1)
	}
	s.far = append(s.far, f)
	var ctx context.Context
	ctx, f.cancel = context.WithCancel(s.ctx)
	go func() {
		defer f.cancel()
		_, err := video.ExtractJPEG(ctx, s.facts, s.first+f.from, s.first+f.to, frameHeightPX, frameQuality, func(k int, jpg []byte) error {
			s.mu.Lock()
			defer s.mu.Unlock()
			f.pictures[k-s.first] = jpg
			s.grown.Broadcast()
			return nil
		})
		s.mu.Lock()
		defer s.mu.Unlock()
		if f.gave = ctx.Err() != nil; f.gave || err != nil { // what it has is still good
			s.far = slices.DeleteFunc(s.far, func(o *stretch) bool { return o == f })
		}
		f.done, f.err = true, err
		s.grown.Broadcast()
	}()
	return f
}

func (s *frameStore) close() {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.cancel != nil {
		s.cancel()
	}
	if s.file != nil {
		name := s.file.Name()
		s.file.Close()
		os.Remove(name)
		s.file = nil
	}
	s.done = true
	s.grown.Broadcast()
}
