package folder

// syncDir does nothing: the system keeps the names in a folder by itself, and
// offers no way to ask for it.
func (f *Folder) syncDir(string) error { return nil }
