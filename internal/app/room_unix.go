//go:build !windows

package app

import "syscall"

// freeBytes is how much room the disk of a folder has left for this program.
func freeBytes(dir string) (int64, error) {
	var s syscall.Statfs_t
	if err := syscall.Statfs(dir, &s); err != nil {
		return 0, err
	}
	return int64(uint64(s.Bavail) * uint64(s.Bsize)), nil
}
