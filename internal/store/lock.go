package store

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"
)

const lockName = "open-by.json"

// lock is what keeps other processes out: the system's lock on the folder itself,
// which nobody can take away, and on a file in it, which says who has it. Where the
// system locks no folders, as on Windows, it lets nobody delete the file.
type lock struct {
	file   *os.File
	folder *os.File // nil where the system locks no folders
}

// takeLock takes the folder for this process, or says who has it.
func takeLock(dir string) (*lock, error) {
	folder, taken, err := lockFolder(dir)
	if err != nil {
		return nil, fmt.Errorf("the data folder %s cannot be locked: %w", dir, err)
	}
	if !taken {
		return nil, inUse(dir)
	}
	f, err := takeFile(dir)
	if err != nil && folder != nil {
		folder.Close()
	}
	return &lock{f, folder}, err
}

// inUse says who has the folder, as far as the file tells it.
func inUse(dir string) error {
	in := &InUse{Dir: dir}
	if f, err := os.Open(filepath.Join(dir, lockName)); err == nil {
		defer f.Close()
		// Who has it is a help, no more: the lock itself is the system's.
		_ = json.NewDecoder(f).Decode(&in.Owner)
	}
	return in
}

func takeFile(dir string) (*os.File, error) {
	f, err := os.OpenFile(filepath.Join(dir, lockName), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, fmt.Errorf("the data folder %s cannot be used: %w", dir, plain(err))
	}
	taken, err := lockFile(f)
	if err != nil {
		f.Close()
		return nil, fmt.Errorf("the data folder %s cannot be locked: %w", dir, err)
	}
	if !taken {
		return nil, errors.Join(f.Close(), inUse(dir))
	}
	if err := sayWho(f, ""); err != nil {
		f.Close()
		return nil, fmt.Errorf("the data folder %s cannot be written: %w", dir, plain(err))
	}
	return f, nil
}

func sayWho(f *os.File, address string) error {
	host, err := os.Hostname()
	if err != nil {
		host = "this machine"
	}
	raw, err := json.Marshal(Owner{
		PID: os.Getpid(), Host: host, Since: time.Now().UTC().Truncate(time.Second), Address: address,
	})
	if err != nil {
		return err
	}
	if err := f.Truncate(0); err != nil {
		return err
	}
	_, err = f.WriteAt(raw, 0)
	return err
}

// Announce says at which address the program that has the folder answers, for one
// that is started beside it.
func (s *Store) Announce(address string) error {
	if s.lock == nil {
		return ErrClosed
	}
	return plain(sayWho(s.lock.file, address))
}

// release lets go; the file stays, since removing it would race with the next
// process that opens it.
func (l *lock) release() error {
	err := errors.Join(l.file.Truncate(0), l.file.Close())
	if l.folder != nil {
		err = errors.Join(err, l.folder.Close())
	}
	return err
}
