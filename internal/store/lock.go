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

// takeLock takes the folder for this process, or says who has it.
func takeLock(dir string) (*os.File, error) {
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
		defer f.Close()
		in := &InUse{Dir: dir}
		// Who has it is a help, no more: the lock itself is the system's.
		_ = json.NewDecoder(f).Decode(&in.Owner)
		return nil, in
	}
	host, err := os.Hostname()
	if err != nil {
		host = "this machine"
	}
	raw, err := json.Marshal(Owner{PID: os.Getpid(), Host: host, Since: time.Now().UTC().Truncate(time.Second)})
	if err == nil {
		err = errors.Join(f.Truncate(0), writeAt(f, raw))
	}
	if err != nil {
		f.Close()
		return nil, fmt.Errorf("the data folder %s cannot be written: %w", dir, plain(err))
	}
	return f, nil
}

func writeAt(f *os.File, raw []byte) error {
	_, err := f.WriteAt(raw, 0)
	return err
}

// releaseLock lets go; the file stays, since removing it would race with the
// next process that opens it.
func releaseLock(f *os.File) error { return errors.Join(f.Truncate(0), f.Close()) }
