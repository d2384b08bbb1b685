package store

import (
	"crypto/rand"
	"io"
	"sync"
	"time"
)

// idDigits are the 32 digits of Crockford's base 32: no I, L, O or U, so that an
// ID read aloud or typed is not mistaken.
const idDigits = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

// IDLength is the number of characters of an ID.
const IDLength = 26

// IDs makes the IDs of records: 26 digits of base 32, first 48 bits of
// milliseconds since 1970, then 80 bits that nobody can guess. IDs of one
// generator sort by the order in which they were made, also within a millisecond
// and where the clock goes back. Its methods may be called from several
// goroutines.
type IDs struct {
	now func() time.Time
	src io.Reader

	mu   sync.Mutex
	last [16]byte
}

// NewIDs makes a generator that reads the time from now; nil means time.Now.
func NewIDs(now func() time.Time) *IDs {
	if now == nil {
		now = time.Now
	}
	return &IDs{now: now, src: rand.Reader}
}

// Next returns a new ID.
func (g *IDs) Next() string {
	g.mu.Lock()
	defer g.mu.Unlock()
	ms := uint64(max(0, g.now().UnixMilli()))
	var id [16]byte
	for i := range 6 {
		id[i] = byte(ms >> (8 * (5 - i)))
	}
	if string(id[:6]) > string(g.last[:6]) {
		if _, err := io.ReadFull(g.src, id[6:]); err != nil {
			panic("store: the system gives no random numbers: " + err.Error())
		}
		id[6] &= 0x7f // room to count upwards within the millisecond
	} else {
		id = g.last
		g.step(&id)
	}
	g.last = id
	return encodeID(id)
}

// step counts an ID up by a random amount below 2³², so that the next cannot be
// told from the one before.
func (g *IDs) step(id *[16]byte) {
	var jump [4]byte
	if _, err := io.ReadFull(g.src, jump[:]); err != nil {
		panic("store: the system gives no random numbers: " + err.Error())
	}
	carry := uint(1)
	for i := 15; i >= 0; i-- {
		sum := uint(id[i]) + carry
		if j := i - 12; j >= 0 {
			sum += uint(jump[j])
		}
		id[i], carry = byte(sum), sum>>8
	}
}

func encodeID(id [16]byte) string {
	var out [IDLength]byte
	// 128 bits as 130 with two leading zeros, five at a time from the end.
	var acc, bits uint
	n := IDLength
	for i := 15; i >= 0; i-- {
		acc |= uint(id[i]) << bits
		for bits += 8; bits >= 5; bits -= 5 {
			n--
			out[n] = idDigits[acc&31]
			acc >>= 5
		}
	}
	out[0] = idDigits[acc&31]
	return string(out[:])
}

// ValidID tells whether s has the shape of an ID.
func ValidID(s string) bool {
	if len(s) != IDLength {
		return false
	}
	for i := range len(s) {
		if c := s[i]; !('0' <= c && c <= '9' || 'A' <= c && c <= 'Z' && c != 'I' && c != 'L' && c != 'O' && c != 'U') {
			return false
		}
	}
	return true
}
