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

// killGroup ends the child and whatever it started.
func killGroup(cmd *exec.Cmd) error {
	err := syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL)
	if errors.Is(err, syscall.ESRCH) {
		return os.ErrProcessDone
	}
	return err
}
