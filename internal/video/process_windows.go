package video

import (
	"os/exec"
	"syscall"
)

// createNoWindow keeps a console window from flashing up (Windows process
// creation flag CREATE_NO_WINDOW).
const createNoWindow = 0x08000000

// isolate puts the child into a process group of its own, without a window.
func isolate(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{HideWindow: true, CreationFlags: syscall.CREATE_NEW_PROCESS_GROUP | createNoWindow}
}

// killGroup ends the child; ffmpeg starts no children of its own.
func killGroup(cmd *exec.Cmd) error { return cmd.Process.Kill() }
