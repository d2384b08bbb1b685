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
