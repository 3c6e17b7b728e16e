//go:build unix

package store

import (
	"errors"
	"os"
	"syscall"
)

// lockFile takes the lock that the system lets go of when the process ends,
// however it ends.
func lockFile(f *os.File) (taken bool, err error) {
	err = syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return false, nil
	}
	return err == nil, err
}

// syncDir makes the names in a folder safe.
func syncDir(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
