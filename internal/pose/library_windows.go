package pose

import "syscall"

// openLibrary loads the shared library at path and returns the address of the
// named function in it. The library stays loaded.
func openLibrary(path, function string) (uintptr, error) {
	h, err := syscall.LoadLibrary(path)
	if err != nil {
		return 0, err
	}
	return syscall.GetProcAddress(h, function)
}

func trimMemory() {}
