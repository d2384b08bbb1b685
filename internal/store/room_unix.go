//go:build unix

package store

import "syscall"

// noRoom are the words of the system: the disk, the user's share of it, or the
// size of one file is used up.
var noRoom = []error{syscall.ENOSPC, syscall.EDQUOT, syscall.EFBIG}
