package video

import (
	"os"
	"syscall"
)

// setPipeSize is fcntl's F_SETPIPE_SZ (Linux 2.6.35 and later).
const setPipeSize = 1031

// widen enlarges a pipe's buffer to a megabyte, the most an ordinary user may
// have, so that a frame crosses it in fewer pieces. A refusal does no harm.
func widen(f *os.File) {
	c, err := f.SyscallConn()
	if err != nil {
		return
	}
	_ = c.Control(func(fd uintptr) { _, _, _ = syscall.Syscall(syscall.SYS_FCNTL, fd, setPipeSize, 1<<20) })
}
