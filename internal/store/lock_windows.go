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

// lockFolder locks nothing: a file that is open cannot be deleted here, and that is
// lock enough.
func lockFolder(string) (folder *os.File, taken bool, err error) { return nil, true, nil }

// mayWrite says whether this process may write to a file or into a folder.
func mayWrite(path string) bool {
	info, err := os.Stat(path)
	if err != nil {
		return false
	}
	if !info.IsDir() {
		return info.Mode().Perm()&0o200 != 0
	}
	f, err := os.CreateTemp(path, ".look-*")
	if err != nil {
		return false
	}
	return errors.Join(f.Close(), os.Remove(f.Name())) == nil
}

// syncDir does nothing: Windows keeps names safe with the file itself.
func syncDir(string) error { return nil }

// freeSpace is how many bytes this account may still write to the disk of a folder.
func freeSpace(dir string) (bytes uint64, known bool) {
	name, err := windows.UTF16PtrFromString(dir)
	if err != nil {
		return 0, false
	}
	return bytes, windows.GetDiskFreeSpaceEx(name, &bytes, nil, nil) == nil
}
