package runfile

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
)

// longestTag bounds a tag or a text between tags, bytes.
const longestTag = 1 << 18

// scanner reads the tags of an XML file one after another. Run files are flat and
// large, and for them it is ten times as fast as the general reader; it knows no
// entities beyond what such files need and refuses a document type, which is what
// entities are misused by.
type scanner struct {
	r *bufio.Reader
	// name is the local name of the tag, start whether it opens, leaf whether a
	// closing tag held text alone; text is that text.
	name  []byte
	start bool
	leaf  bool
	text  []byte
	attrs []byte
	// closing is true where the last tag closed itself.
	closing bool
	whole   []byte // the name of the start tag with its prefix
	held    []byte // room for the name of a tag that closes itself
	// open are the names of what is open, with their prefixes, to be closed in turn.
	open  [][]byte
	marks marks // of quick
}

var errForm = errors.New("it is no well-formed XML")

// next goes to the next tag; io.EOF at the end of the file.
func (x *scanner) next() error {
	if x.closing {
		x.open = x.open[:len(x.open)-1]
		x.closing, x.start, x.leaf, x.text = false, false, true, x.text[:0]
		x.name = x.held
		return nil
	}
	opened := x.start
	for {
		text, err := x.r.ReadSlice('<')
		if errors.Is(err, bufio.ErrBufferFull) {
			return fmt.Errorf("%w: a text longer than any in a run file", errForm)
		}
		if err != nil {
			return err
		}
		x.text = append(x.text[:0], bytes.TrimSpace(text[:len(text)-1])...)
		tag, err := x.tag()
		if err != nil {
			return err
		}
		switch {
		case len(tag) == 0:
			return errForm
		case tag[0] == '?':
			continue
		case bytes.HasPrefix(tag, []byte("!--")):
			continue
		case tag[0] == '!':
			return fmt.Errorf("%w of the plain kind that run files are", errForm)
		case tag[0] == '/':
			x.start, x.leaf = false, opened
			whole := bytes.TrimSpace(tag[1:])
			if n := len(x.open); n == 0 || !bytes.Equal(x.open[n-1], whole) {
				return fmt.Errorf("%w: <%s> closes what is not open", errForm, clean(whole))
			}
			x.open = x.open[:len(x.open)-1]
			x.name = local(whole)
		default:
			x.start, x.leaf = true, false
			if tag[len(tag)-1] == '/' {
				x.closing = true
				tag = tag[:len(tag)-1]
			}
			end := 0
			for end < len(tag) && !blankByte(tag[end]) {
				end++
			}
			x.attrs = tag[end:]
			x.whole = tag[:end]
			x.name = local(tag[:end])
			if bytes.IndexByte(x.whole, '<') >= 0 {
				return errForm
			}
			x.push(x.whole)
			if x.closing {
				x.held = append(x.held[:0], x.name...)
			}
		}
		if len(x.name) == 0 {
			return errForm
		}
		return nil
	}
}

// push notes that an element is open.
func (x *scanner) push(whole []byte) {
	n := len(x.open)
	if n < cap(x.open) {
		x.open = x.open[:n+1]
	} else {
		x.open = append(x.open, nil)
	}
	x.open[n] = append(x.open[n][:0], whole...)
}

// clean is a name as it may be shown.
func clean(name []byte) string { return kind(name) }

// tag reads to the end of a tag, over any > within quotes or a comment.
func (x *scanner) tag() ([]byte, error) {
	tag, err := x.r.ReadSlice('>')
	if err != nil {
		return nil, cut(err)
	}
	whole := func() bool {
		if bytes.HasPrefix(tag, []byte("!--")) {
			return len(tag) >= 6 && bytes.HasSuffix(tag, []byte("-->"))
		}
		return bytes.Count(tag, []byte{'"'})%2 == 0
	}
	if whole() {
		return tag[:len(tag)-1], nil
	}
	tag = bytes.Clone(tag)
	for !whole() {
		more, err := x.r.ReadSlice('>')
		if err != nil {
			return nil, cut(err)
		}
		if tag = append(tag, more...); len(tag) > longestTag {
			return nil, errForm
		}
	}
	return tag[:len(tag)-1], nil
}

func cut(err error) error {
	if errors.Is(err, bufio.ErrBufferFull) {
		return fmt.Errorf("%w: a tag longer than any in a run file", errForm)
	}
	return err
}

// local is a name without its prefix.
func local(name []byte) []byte {
	if i := bytes.LastIndexByte(name, ':'); i >= 0 {
		return name[i+1:]
	}
	return name
}

// blankByte tells whether a byte is white space in XML.
func blankByte(c byte) bool { return c == ' ' || c == '\n' || c == '\t' || c == '\r' }

func trimLeft(b []byte) []byte {
	for len(b) > 0 && blankByte(b[0]) {
		b = b[1:]
	}
	return b
}

// attributes calls f for each attribute of the start tag just read.
func (x *scanner) attributes(f func(name, value []byte) error) error {
	rest := x.attrs
	for {
		rest = trimLeft(rest)
		if len(rest) == 0 {
			return nil
		}
		eq := bytes.IndexByte(rest, '=')
		if eq < 0 {
			return nil
		}
		name := local(bytes.TrimSpace(rest[:eq]))
		rest = trimLeft(rest[eq+1:])
		if len(rest) == 0 || rest[0] != '"' && rest[0] != '\'' {
			return errForm
		}
		end := bytes.IndexByte(rest[1:], rest[0])
		if end < 0 {
			return errForm
		}
		if err := f(name, rest[1:1+end]); err != nil {
			return err
		}
		rest = rest[2+end:]
	}
}
