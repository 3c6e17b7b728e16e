package store

import (
	"os"
	"syscall"
)

// syncData makes the bytes of a file safe, whose size did not change.
func syncData(f *os.File) error { return syscall.Fdatasync(int(f.Fd())) }
