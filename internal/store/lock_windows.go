//go:build windows

package store

import (
	"errors"
	"os"

	"golang.org/x/sys/windows"
)

func lockFile(f *os.File) (taken bool, err error) {
	// A byte far behind the text, so that another process can still read it.
	const offset = 1 << 20
	o := windows.Overlapped{Offset: offset}
	err = windows.LockFileEx(
		windows.Handle(f.Fd()),
		windows.LOCKFILE_EXCLUSIVE_LOCK|windows.LOCKFILE_FAIL_IMMEDIATELY,
		0,
		1,
		0,
		&o,
	)
	if errors.Is(err, windows.ERROR_LOCK_VIOLATION) {
		return false, nil
	}
	return err == nil, err
}

// syncDir does nothing: Windows keeps names safe with the file itself.
func syncDir(string) error { return nil }
