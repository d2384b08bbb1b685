//go:build unix

package video

import (
	"errors"
	"os"
	"os/exec"
	"syscall"
)

// isolate puts the child into a process group of its own.
func isolate(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	endWithParent(cmd.SysProcAttr)
}

// niceness is how far a child gives way, of 19.
const niceness = 10

func askToGiveWay(*exec.Cmd) {}

// giveWay lowers the priority of a child and all its threads. Where the system does not
// let it, the child runs as any.
func giveWay(cmd *exec.Cmd) { syscall.Setpriority(syscall.PRIO_PGRP, cmd.Process.Pid, niceness) }

// killGroup ends the child and whatever it started.
func killGroup(cmd *exec.Cmd) error {
	err := syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL)
	if errors.Is(err, syscall.ESRCH) {
		return os.ErrProcessDone
	}
	return err
}
