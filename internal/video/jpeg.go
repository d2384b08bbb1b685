package video

import (
	"bufio"
	"context"
	"errors"
	"io"
)

// ExtractJPEG decodes the frames from, inclusive, to, exclusive, in one pass and
// calls fn with each as a JPEG of its own, no higher than maxHeightPX (0: as
// filmed). Quality runs from 1 to 100. The bytes belong to fn. An error of fn
// ends the pass and is returned.
func ExtractJPEG(ctx context.Context, f *Facts, from, to, maxHeightPX, quality int, fn func(i int, jpg []byte) error) (Tally, error) {
	p, err := newPass(ctx, f, from, to, maxHeightPX)
	if err != nil {
		return Tally{}, err
	}
	p.jpeg(quality)
	var s jpegSplitter
	tally, err := p.run(ctx, func(out io.Reader) (payload, error) {
		jpg, err := s.next(out)
		return payload{data: jpg}, err
	}, fn)
	tally.Wanted = to - from
	return tally, err
}

// maxJPEG bounds one picture.
const maxJPEG = 64 << 20

var errNotJPEG = errors.New("the stream of JPEG pictures is damaged")

// jpegSplitter cuts a stream of JPEG pictures, one after the other, into single
// ones by walking through their markers (ITU-T T.81, annex B).
type jpegSplitter struct {
	from io.Reader
	br   *bufio.Reader
	jpg  []byte // the picture so far
}

// The markers that matter here.
const (
	markTEM  = 0x01 // stands alone
	markRST0 = 0xd0 // restarts 0 to 7 stand alone, within a scan
	markRST7 = 0xd7
	markSOI  = 0xd8 // start of image
	markEOI  = 0xd9 // end of image
	markSOS  = 0xda // start of scan: entropy-coded data follow its header
)

// next returns the next picture, io.EOF where none follows, and
// io.ErrUnexpectedEOF where the stream ends within one.
func (s *jpegSplitter) next(r io.Reader) ([]byte, error) {
	if s.br == nil || s.from != r {
		s.from, s.br = r, bufio.NewReaderSize(r, 256<<10)
	}
	s.jpg = nil
	if _, err := s.br.Peek(1); err != nil {
		return nil, err
	}
	err := s.picture()
	if err == io.EOF {
		err = io.ErrUnexpectedEOF
	}
	if err != nil {
		return nil, err
	}
	return s.jpg, nil
}

func (s *jpegSplitter) picture() error {
	start, err := s.take(2)
	if err == nil && (start[0] != 0xff || start[1] != markSOI) {
		err = errNotJPEG
	}
	if err != nil {
		return err
	}
	for {
		m, err := s.marker()
		switch {
		case err != nil:
			return err
		case m == markEOI:
			return nil
		case m == markTEM, m >= markRST0 && m <= markRST7:
			continue
		case m == 0, m == markSOI:
			return errNotJPEG
		}
		if err := s.segment(); err != nil {
			return err
		}
		if m == markSOS {
			if err := s.scan(); err != nil {
				return err
			}
		}
	}
}

// take moves the next n bytes of the stream to the picture and returns them.
func (s *jpegSplitter) take(n int) ([]byte, error) {
	at := len(s.jpg)
	if at+n > maxJPEG {
		return nil, errNotJPEG
	}
	s.jpg = append(s.jpg, make([]byte, n)...)
	_, err := io.ReadFull(s.br, s.jpg[at:])
	return s.jpg[at:], err
}

// marker takes a marker, with any fill bytes before it.
func (s *jpegSplitter) marker() (byte, error) {
	b, err := s.take(1)
	if err == nil && b[0] != 0xff {
		err = errNotJPEG
	}
	for err == nil && b[0] == 0xff {
		b, err = s.take(1)
	}
	if err != nil {
		return 0, err
	}
	return b[0], nil
}

// segment takes the body of a marker, which starts with its own length.
func (s *jpegSplitter) segment() error {
	b, err := s.take(2)
	if err != nil {
		return err
	}
	n := int(b[0])<<8 | int(b[1])
	if n < 2 {
		return errNotJPEG
	}
	_, err = s.take(n - 2)
	return err
}

// scan takes entropy-coded data up to the marker that ends it, which is left in
// the stream. Within the data ff 00 is a plain ff, and restart markers stand
// between its parts.
func (s *jpegSplitter) scan() error {
	for {
		run, err := s.br.ReadSlice(0xff)
		if err != nil && err != bufio.ErrBufferFull {
			return err
		}
		s.jpg = append(s.jpg, run...)
		if len(s.jpg) > maxJPEG {
			return errNotJPEG
		}
		if err == bufio.ErrBufferFull {
			continue
		}
		if err := s.br.UnreadByte(); err != nil {
			return err
		}
		two, err := s.br.Peek(2)
		if err != nil {
			return err
		}
		s.jpg = s.jpg[:len(s.jpg)-1]
		switch m := two[1]; {
		case m == 0, m >= markRST0 && m <= markRST7:
			_, err = s.take(2)
		case m == 0xff:
			_, err = s.take(1)
		default:
			return nil
		}
		if err != nil {
			return err
		}
	}
}
