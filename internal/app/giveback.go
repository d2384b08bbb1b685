package app

import "runtime/debug"

// GiveBack gives back to the machine what memory the program holds and does not need
// while nothing is asked of it: what is free of its own, and its hold on the pages of
// its own file. What is needed again of the file is in the system's cache, from which it
// is had without reading. The work itself is not touched; Rest gives up what is held
// ready of it.
func GiveBack() {
	debug.FreeOSMemory()
	leaveOwnFile()
}
