//go:build !windows

package pose

import "github.com/ebitengine/purego"

// openLibrary loads the shared library at path and returns the address of the
// named function in it. The library stays loaded.
func openLibrary(path, function string) (uintptr, error) {
	h, err := purego.Dlopen(path, purego.RTLD_NOW|purego.RTLD_LOCAL)
	if err != nil {
		return 0, err
	}
	return purego.Dlsym(h, function)
}

// trimMemory gives back what the library's threads have freed; glibc keeps it for each
// of them, about 90 MB after a film. Other systems lack the function and need it less.
func trimMemory() {
	if trim, err := purego.Dlsym(purego.RTLD_DEFAULT, "malloc_trim"); err == nil {
		purego.SyscallN(trim, 0)
	}
}
