package folder

import "syscall"

var noSpace error = syscall.Errno(112) // ERROR_DISK_FULL
