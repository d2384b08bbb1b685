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

// belowNormal is the Windows process creation flag BELOW_NORMAL_PRIORITY_CLASS.
const belowNormal = 0x00004000

// askToGiveWay lets the child start with a lower priority.
func askToGiveWay(cmd *exec.Cmd) { cmd.SysProcAttr.CreationFlags |= belowNormal }

func giveWay(*exec.Cmd) {}

// killGroup ends the child; ffmpeg starts no children of its own.
func killGroup(cmd *exec.Cmd) error { return cmd.Process.Kill() }
