//go:build unix && !linux

package video

import "syscall"

// endWithParent does nothing: the child ends when it finds nobody to read its output.
func endWithParent(*syscall.SysProcAttr) {}
