//go:build unix

package main

import (
	"syscall"
	"time"
)

// processors is the time that this process has had of the processors.
func processors() time.Duration {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
