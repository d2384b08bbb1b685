//go:build unix

package app

import "syscall"

// niceness is how far an errand gives way, of 19.
const niceness = 10

// giveWay lowers the priority of this process with all its threads and of what it
// starts; only of one that has a process group of its own, so that nothing else's is
// lowered. Where the system does not let it, it runs as any.
func giveWay() {
	if syscall.Getpgrp() == syscall.Getpid() {
		syscall.Setpriority(syscall.PRIO_PGRP, 0, niceness)
	}
}
