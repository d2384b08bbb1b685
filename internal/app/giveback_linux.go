package app

import (
	"bytes"
	"os"
	"strconv"
	"strings"
	"syscall"
)

// leaveOwnFile lets go of the pages of the program's own file: its code and its
// constants, most of which a piece of work touches once. Where one is needed again, the
// system maps it anew from its cache. Left alone are parts that can be written, and
// those in which any page is not the file's any more, such as one that a debugger has
// written to: that would be lost. Where the system does not tell of its parts, nothing
// is done.
func leaveOwnFile() {
	program, err := os.Readlink(runningProgram)
	if err != nil {
		return
	}
	maps, err := os.ReadFile("/proc/self/smaps")
	if err != nil {
		return
	}
	for _, p := range filePages(maps, program) {
		// It cannot fail but for pages that are locked, which stay.
		syscall.Syscall(syscall.SYS_MADVISE, p.start, p.length, syscall.MADV_DONTNEED)
	}
}

// pagesOfFile is a part of the address space.
type pagesOfFile struct{ start, length uintptr }

// filePages finds, in the system's list of a process's parts with their sizes
// (proc(5), smaps), those of a file that cannot be written and are the file's
// throughout.
func filePages(maps []byte, path string) (out []pagesOfFile) {
	var part pagesOfFile // whose lines are read; of no length where it is not wanted
	for line := range bytes.Lines(maps) {
		fields := strings.Fields(string(line))
		switch {
		case len(fields) == 0:
		case !strings.HasSuffix(fields[0], ":"): // "start-end rights offset device inode path"
			part = pagesOfFile{}
			start, end, _ := strings.Cut(fields[0], "-")
			a, err1 := strconv.ParseUint(start, 16, strconv.IntSize)
			b, err2 := strconv.ParseUint(end, 16, strconv.IntSize)
			if err1 != nil || err2 != nil || b < a || len(fields) < 6 || strings.Contains(fields[1], "w") || !strings.HasSuffix(fields[1], "p") {
				continue
			}
			if _, name, _ := bytes.Cut(line, []byte(fields[4]+" ")); strings.TrimSpace(string(name)) == path {
				part = pagesOfFile{uintptr(a), uintptr(b - a)}
			}
		case fields[0] == "Anonymous:": // pages that are not the file's any more
			if part.length > 0 && len(fields) > 1 && fields[1] == "0" {
				out = append(out, part)
			}
			part = pagesOfFile{}
		}
	}
	return out
}
