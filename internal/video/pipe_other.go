//go:build !linux

package video

import "os"

// widen enlarges a pipe's buffer where the system can do so.
func widen(*os.File) {}
