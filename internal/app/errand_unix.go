//go:build unix && !linux

package app

import (
	"os/exec"
	"syscall"
)

const runningProgram = ""

// apart puts an errand into a process group of its own, so that Ctrl-C reaches the
// program alone, which then ends it in order.
func apart(cmd *exec.Cmd) { cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} }

// standAside gives way to whoever waits for a page.
func standAside() { giveWay() }

func killed(s syscall.WaitStatus) bool { return s.Signaled() && s.Signal() == syscall.SIGKILL }
