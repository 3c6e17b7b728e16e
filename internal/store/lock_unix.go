//go:build unix

package store

import (
	"errors"
	"os"
	"syscall"

	"golang.org/x/sys/unix"
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

// lockFolder locks the folder itself; taken without a file where its file system
// knows no such locks.
func lockFolder(dir string) (folder *os.File, taken bool, err error) {
	d, err := os.Open(dir)
	if err != nil {
		return nil, false, err
	}
	taken, err = lockFile(d)
	if taken {
		return d, true, nil
	}
	d.Close()
	if errors.Is(err, syscall.EBADF) || errors.Is(err, syscall.ENOLCK) || errors.Is(err, syscall.EINVAL) ||
		errors.Is(err, syscall.ENOTSUP) {
		return nil, true, nil
	}
	return nil, false, err
}

// mayWrite says whether this process may write to a file or into a folder.
func mayWrite(path string) bool { return unix.Access(path, unix.W_OK) == nil }

// syncDir makes the names in a folder safe.
func syncDir(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// freeSpace is how many bytes this account may still write to the disk of a folder.
func freeSpace(dir string) (bytes uint64, known bool) {
	var fs unix.Statfs_t
	if unix.Statfs(dir, &fs) != nil {
		return 0, false
	}
	return uint64(fs.Bavail) * uint64(fs.Bsize), true
}
