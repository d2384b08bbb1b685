package app

import (
	"slices"
	"testing"
)

// Of a process's parts those alone are let go of that are a file's throughout and
// cannot be written.
func TestFilePages(t *testing.T) {
	const maps = `00400000-01711000 r-xp 00000000 fe:00 1234                               /opt/gait wright/bin
Size:              19524 kB
Private_Clean:      9000 kB
Anonymous:             0 kB
VmFlags: rd ex mr mw me sd
01711000-02a5c000 r--p 01311000 fe:00 1234                               /opt/gait wright/bin
Anonymous:             4 kB
02a5c000-02dad000 rw-p 0265c000 fe:00 1234                               /opt/gait wright/bin
Anonymous:             0 kB
03000000-03001000 r--s 00000000 fe:00 1234                               /opt/gait wright/bin
Anonymous:             0 kB
03001000-03002000 r--p 00000000 fe:00 1234                               /opt/gait wright/bin
04000000-04001000 r--p 00000000 fe:00 99                                 /usr/lib/x
Anonymous:             0 kB
05000000-05001000 r--p 00000000 00:00 0
Anonymous:             0 kB
nonsense r--p 00000000 fe:00 1234                               /opt/gait wright/bin
Anonymous:             0 kB
7ffd0000-7ffd2000 r-xp 00000000 00:00 0                                  [vdso]
Anonymous:             0 kB
06000000-06003000 r--p 00000000 fe:00 1234                               /opt/gait wright/bin
Anonymous:             0 kB
`
	want := []pagesOfFile{{0x400000, 0x1311000}, {0x6000000, 0x3000}}
	if got := filePages([]byte(maps), "/opt/gait wright/bin"); !slices.Equal(got, want) {
		t.Errorf("got %x, want %x", got, want)
	}
}
