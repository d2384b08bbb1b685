package app

import (
	"os"
	"os/exec"
	"syscall"
)

// runningProgram is the file of the program that runs.
const runningProgram = "/proc/self/exe"

// apart puts an errand into a process group of its own, so that Ctrl-C reaches the
// program alone, which then ends it in order; where the program is gone at one blow,
// the system ends the errand too.
func apart(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true, Pdeathsig: syscall.SIGKILL}
}

// standAside gives way to whoever waits for a page, says in lists of processes what this one is, and lets the system, where
// memory runs out, end it before the program whose pages people look at. Where that
// cannot be written, nothing is lost.
func standAside() {
	giveWay()
	os.WriteFile("/proc/self/comm", []byte("gaitwright-aid"), 0)
	os.WriteFile("/proc/self/oom_score_adj", []byte("500"), 0)
}

func killed(s syscall.WaitStatus) bool { return s.Signaled() && s.Signal() == syscall.SIGKILL }
