//go:build unix

package folder

import "syscall"

var noSpace error = syscall.ENOSPC
