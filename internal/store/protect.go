package store

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"

	"filippo.io/age"

	"benchleaf/internal/record"
)

// Protection is how a backup is encrypted: each of its files by itself, so that a
// spoilt byte takes no other with it, to a public key. A passphrase is never kept:
// it opens the secret key, which lies in the backup locked by it. So a backup is
// written without the passphrase, and read with it alone.
type Protection struct {
	// Recipient is the public key, as in "age1…"; empty: the backup is not encrypted.
	Recipient string
	// Locked is the secret key under the passphrase; nil when the person keeps the
	// secret key elsewhere.
	Locked []byte
}

// lockedKeyPath is where the data folder keeps a locked key for coming backups.
func (s *Store) lockedKeyPath(recipient string) string {
	return filepath.Join(s.dir, "backup-key-"+recipient[max(0, len(recipient)-16):]+sealedSuffix)
}

// scryptWork makes one guess at a passphrase cost about a second.
const scryptWork = 18

// NewProtection makes a key and locks it with a passphrase of at least 8 characters.
func NewProtection(passphrase string) (Protection, error) {
	return newProtection(passphrase, scryptWork)
}

func newProtection(passphrase string, work int) (p Protection, err error) {
	if utf8.RuneCountInString(passphrase) < 8 {
		return p, record.Invalidf("passphrase", "A passphrase of at least 8 characters is needed, better four or more words.")
	}
	id, err := age.GenerateX25519Identity()
	if err != nil {
		return p, fmt.Errorf("make a key: %w", err)
	}
	lock, err := age.NewScryptRecipient(passphrase)
	if err != nil {
		return p, fmt.Errorf("lock the key: %w", err)
	}
	lock.SetWorkFactor(work)
	var locked bytes.Buffer
	w, err := age.Encrypt(&locked, lock)
	if err == nil {
		_, err = io.WriteString(w, id.String()+"\n")
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		return p, fmt.Errorf("lock the key: %w", err)
	}
	return Protection{Recipient: id.Recipient().String(), Locked: locked.Bytes()}, nil
}

// CheckRecipient refuses what is no public key.
func CheckRecipient(text string) error {
	_, err := age.ParseX25519Recipient(text)
	if err != nil {
		return record.Invalidf("recipient", "%q is no public key: age1 and 58 letters and digits are expected.", text)
	}
	return nil
}

// KeepLockedKey puts the locked key into the data folder, for the backups to come.
func (s *Store) KeepLockedKey(p Protection) error {
	if s.lock == nil {
		return ErrClosed
	}
	return writeWhole(s.lockedKeyPath(p.Recipient), func(w io.Writer) error {
		_, err := w.Write(p.Locked)
		return err
	})
}

// ProtectionFor is the protection of backups to a public key, with the locked key
// where this folder has it.
func (s *Store) ProtectionFor(recipient string) (Protection, error) {
	if recipient == "" {
		return Protection{}, nil
	}
	locked, err := os.ReadFile(s.lockedKeyPath(recipient))
	if errors.Is(err, fs.ErrNotExist) {
		err = nil
	}
	return Protection{Recipient: recipient, Locked: locked}, err
}

// Opening opens an encrypted backup.
type Opening struct {
	Passphrase string
	// Keys are secret keys, one on a line, as in "AGE-SECRET-KEY-1…".
	Keys string
}

// ErrWrongKey says that a backup is encrypted and was not opened by what was given.
var ErrWrongKey = errors.New("the backup is encrypted, and this passphrase or key does not open it")

// ErrNeedsKey says that a backup is encrypted and nothing was given to open it.
var ErrNeedsKey = errors.New("the backup is encrypted: give its passphrase, or the secret key that it was made for")

// identities are the secret keys that the opening gives; locked are the copies of
// the locked key in the backup, of which one may be damaged.
func (o Opening) identities(locked [][]byte) ([]age.Identity, error) {
	var list []age.Identity
	if strings.TrimSpace(o.Keys) != "" {
		keys, err := age.ParseIdentities(strings.NewReader(o.Keys))
		if err != nil {
			return nil, record.Invalidf("key", "This is no secret key (%v): AGE-SECRET-KEY-1 and 58 letters are expected.", err)
		}
		list = keys
	}
	if o.Passphrase == "" {
		if list == nil {
			return nil, ErrNeedsKey
		}
		return list, nil
	}
	lock, err := age.NewScryptIdentity(o.Passphrase)
	if err != nil {
		return nil, ErrWrongKey
	}
	// What asks for more was not written here: each step doubles the memory and time.
	lock.SetMaxWorkFactor(scryptWork)
	for _, raw := range locked {
		r, err := age.Decrypt(bytes.NewReader(raw), lock)
		if err != nil {
			continue
		}
		if keys, err := age.ParseIdentities(r); err == nil {
			return append(list, keys...), nil
		}
	}
	return nil, ErrWrongKey
}
