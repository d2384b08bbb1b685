package video

import "syscall"

// endWithParent lets the system end the child where this program is ended at one
// blow and cannot do it itself.
func endWithParent(a *syscall.SysProcAttr) { a.Pdeathsig = syscall.SIGKILL }
