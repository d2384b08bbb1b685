//go:build unix

package folder

import "errors"

// syncDir makes the names in a folder outlast a loss of power.
func (f *Folder) syncDir(name string) error {
	d, err := f.root.Open(name)
	if err != nil {
		return said("the file cannot be kept", err)
	}
	if err := errors.Join(d.Sync(), d.Close()); err != nil {
		return said("the file cannot be kept", err)
	}
	return nil
}
