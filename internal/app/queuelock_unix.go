//go:build !windows

package app

import (
	"os"
	"path/filepath"
	"syscall"
)

// lockFile makes this program the one that works in a studio's folder. The
// system gives the claim up where the program breaks down.
func lockFile(dir string) (release func(), ok bool) {
	f, err := os.OpenFile(filepath.Join(dir, lockName), os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return nil, false
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		f.Close()
		return nil, false
	}
	return func() { f.Close() }, true
}
