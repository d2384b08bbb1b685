package store

import (
	"bytes"
	"math/big"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestIDsSortByTheOrderMade(t *testing.T) {
	now := time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC)
	g := NewIDs(func() time.Time { return now })
	last, seen := "", map[string]bool{}
	for i := range 5000 {
		switch i % 100 {
		case 30:
			now = now.Add(time.Millisecond)
		case 60:
			now = now.Add(-time.Hour) // a clock set back
		case 90:
			now = now.Add(2 * time.Hour)
		}
		id := g.Next()
		if !ValidID(id) {
			t.Fatalf("%q has not the shape of an ID", id)
		}
		if id <= last {
			t.Fatalf("%s was made after %s and sorts before it", id, last)
		}
		if seen[id] {
			t.Fatalf("%s was made twice", id)
		}
		last, seen[id] = id, true
	}
}

func TestTwoGeneratorsMakeDifferentIDs(t *testing.T) {
	now := func() time.Time { return time.Unix(1, 0) }
	if a, b := NewIDs(now).Next(), NewIDs(now).Next(); a == b || a[:9] != b[:9] {
		t.Errorf("%s and %s: want the same time and different rests", a, b)
	}
}

// TestIDIsANumber checks the digits against big integers.
func TestIDIsANumber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var id [16]byte
		copy(id[:], rapid.SliceOfN(rapid.Byte(), 16, 16).Draw(t, "id"))
		got := new(big.Int)
		for _, c := range encodeID(id) {
			got.Mul(got, big.NewInt(32)).Add(got, big.NewInt(int64(strings.IndexRune(idDigits, c))))
		}
		if want := new(big.Int).SetBytes(id[:]); got.Cmp(want) != 0 {
			t.Fatalf("%x is written %s, which is %v", id, encodeID(id), got)
		}
	})
}

func TestStepCarries(t *testing.T) {
	g := &IDs{src: bytes.NewReader([]byte{0xff, 0xff, 0xff, 0xff})}
	id := [16]byte{15: 1, 14: 0, 12: 0xff, 11: 0xff}
	before := new(big.Int).SetBytes(id[:])
	g.step(&id)
	diff := new(big.Int).Sub(new(big.Int).SetBytes(id[:]), before)
	if want := new(big.Int).Lsh(big.NewInt(1), 32); diff.Cmp(want) != 0 {
		t.Errorf("stepped by %v, want %v", diff, want)
	}
}
