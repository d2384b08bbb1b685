package app

import (
	"path/filepath"
	"syscall"
)

// lockFile makes this program the one that works in a studio's folder: it opens
// a file that it shares with nobody. The system gives the claim up where the
// program breaks down.
func lockFile(dir string) (release func(), ok bool) {
	name, err := syscall.UTF16PtrFromString(filepath.Join(dir, lockName))
	if err != nil {
		return nil, false
	}
	h, err := syscall.CreateFile(name, syscall.GENERIC_READ|syscall.GENERIC_WRITE, 0, nil, syscall.OPEN_ALWAYS, syscall.FILE_ATTRIBUTE_NORMAL, 0)
	if err != nil {
		return nil, false
	}
	return func() { syscall.CloseHandle(h) }, true
}
