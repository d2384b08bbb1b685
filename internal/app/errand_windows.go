package app

import (
	"os/exec"
	"syscall"
)

const runningProgram = ""

// createNoWindow keeps a console window from flashing up (Windows process creation
// flag CREATE_NO_WINDOW).
const createNoWindow = 0x08000000

// belowNormal lets a process give way to others (Windows process creation flag
// BELOW_NORMAL_PRIORITY_CLASS), and what it starts too.
const belowNormal = 0x00004000

// apart puts an errand into a process group of its own, so that Ctrl-C reaches the
// program alone, which then ends it in order, and lets it give way to whoever waits for
// a page.
func apart(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{HideWindow: true, CreationFlags: syscall.CREATE_NEW_PROCESS_GROUP | createNoWindow | belowNormal}
}

func standAside() {}

// killed tells a process that was ended by another: TerminateProcess gives it 1, and
// the program itself ends with other codes.
func killed(s syscall.WaitStatus) bool { return s.ExitStatus() == 1 }
