package app

import (
	"syscall"
	"unsafe"
)

var diskFree = syscall.NewLazyDLL("kernel32.dll").NewProc("GetDiskFreeSpaceExW")

// freeBytes is how much room the disk of a folder has left for this program.
func freeBytes(dir string) (int64, error) {
	name, err := syscall.UTF16PtrFromString(dir)
	if err != nil {
		return 0, err
	}
	var free uint64
	if ok, _, err := diskFree.Call(uintptr(unsafe.Pointer(name)), uintptr(unsafe.Pointer(&free)), 0, 0); ok == 0 {
		return 0, err
	}
	return int64(free), nil
}
