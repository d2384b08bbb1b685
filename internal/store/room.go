package store

import (
	"errors"
	"io/fs"
)

// NoRoom tells whether an error of the system says that a disk or an allowance
// of it is full.
func NoRoom(err error) bool {
	var fault *fs.PathError
	if errors.As(err, &fault) {
		err = fault.Err
	}
	for _, e := range noRoom {
		if errors.Is(err, e) {
			return true
		}
	}
	return false
}
