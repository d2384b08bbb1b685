package store

import "syscall"

// noRoom are the words of the system: ERROR_HANDLE_DISK_FULL, ERROR_DISK_FULL
// and ERROR_DISK_QUOTA_EXCEEDED.
var noRoom = []error{syscall.Errno(39), syscall.Errno(112), syscall.Errno(1295)}
