//go:build !linux

package store

import "os"

// syncData makes the bytes of a file safe.
func syncData(f *os.File) error { return f.Sync() }
