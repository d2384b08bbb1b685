package body

import "fmt"

// Side is a side of the runner's body. The zero value means both or neither.
type Side uint8

// The sides.
const (
	NoSide Side = iota
	Left
	Right
)

// Sides lists left and right, in the order in which they are always printed.
var Sides = [2]Side{Left, Right}

// Other returns the opposite side; NoSide is its own opposite.
func (s Side) Other() Side {
	switch s {
	case Left:
		return Right
	case Right:
		return Left
	}
	return NoSide
}

// String returns "left", "right" or "both".
func (s Side) String() string {
	switch s {
	case Left:
		return "left"
	case Right:
		return "right"
	}
	return "both"
}

// Sign returns -1 for left, +1 for right and 0 for NoSide: the sign of the
// side's direction on the runner's rightward axis.
func (s Side) Sign() float64 {
	switch s {
	case Left:
		return -1
	case Right:
		return 1
	}
	return 0
}

// MarshalText writes the side as its name.
func (s Side) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads "left", "right" or "both".
func (s *Side) UnmarshalText(b []byte) error {
	v, err := ParseSide(string(b))
	if err != nil {
		return err
	}
	*s = v
	return nil
}

// ParseSide reads a side's name: left, l, right, r, both.
func ParseSide(text string) (Side, error) {
	switch text {
	case "left", "Left", "l", "L":
		return Left, nil
	case "right", "Right", "r", "R":
		return Right, nil
	case "both", "":
		return NoSide, nil
	}
	return NoSide, fmt.Errorf("side %q is not known: write left, right or both", text)
}
