package main

import (
	"bufio"
	"fmt"
	"io"
	"strings"

	"benchleaf/internal/record"
	"benchleaf/internal/store"
)

// backupCmd keeps everything in a folder, or writes it into one file.
type backupCmd struct {
	To        string `arg:"" type:"path" help:"A backup folder, which is made and then added to; or a new file whose name ends in .zip."`
	Encrypt   bool   `help:"Encrypt a new backup with a passphrase, which is asked for twice."`
	Recipient string `placeholder:"KEY" help:"Encrypt a new backup to this public key (age1...), whose secret key you keep."`
}

// Run writes the backup whole or not at all. A backup folder that is encrypted
// stays so and needs no passphrase to be added to.
func (c *backupCmd) Run(g *globals) error {
	s, err := existingStore(g)
	if err != nil {
		return err
	}
	p, err := c.protection(g)
	if err != nil {
		return err
	}
	var kept store.Kept
	switch file := strings.HasSuffix(strings.ToLower(c.To), ".zip"); {
	case !file:
		kept, err = s.BackupInto(g.Context, c.To, p)
	case p.Recipient != "":
		kept, err = s.BackupSealed(g.Context, c.To, p)
	default:
		err = s.Backup(g.Context, c.To)
		if err == nil && !g.JSON {
			_, err = fmt.Fprintf(g.Stdout, "Everything in %s is in %s. Keep it on another disk.\n", s.Dir(), c.To)
			return err
		}
	}
	if err != nil {
		return err
	}
	return c.tell(g, s.Dir(), kept)
}

// tell says what was added.
func (c *backupCmd) tell(g *globals, dir string, kept store.Kept) error {
	if g.JSON {
		return g.writeJSON(map[string]any{
			"to": c.To, "new_entries": kept.Entries, "new_files": kept.Files, "bytes": kept.Bytes,
			"problems": append([]string{}, kept.Problems...),
		})
	}
	for _, p := range kept.Problems {
		if _, err := fmt.Fprintln(g.Stdout, p); err != nil {
			return err
		}
	}
	_, err := fmt.Fprintf(g.Stdout, "Everything in %s is in %s; new were entries %d, files %d. Keep it on another disk.\n",
		dir, c.To, kept.Entries, kept.Files)
	if err == nil && len(kept.Problems) > 0 {
		err = fmt.Errorf("not all of %s could be kept as it should", dir)
	}
	return err
}

func (c *backupCmd) protection(g *globals) (p store.Protection, err error) {
	have, err := store.RecipientOf(c.To)
	switch {
	case err != nil:
		return p, err
	case have != "" && (c.Encrypt || c.Recipient != "" && c.Recipient != have):
		return p, badUse("the backup folder %s is encrypted already: leave --encrypt and --recipient out", c.To)
	case have != "":
		return store.Protection{Recipient: have}, nil
	case c.Encrypt && c.Recipient != "":
		return p, badUse("--encrypt asks for a passphrase and --recipient takes a key: give one of them")
	case c.Recipient != "":
		return store.Protection{Recipient: c.Recipient}, store.CheckRecipient(c.Recipient)
	case !c.Encrypt:
		return p, nil
	}
	in := bufio.NewReader(g.Stdin)
	first, err := ask(g, in, "Passphrase for the backup: ")
	if err != nil {
		return p, err
	}
	again, err := ask(g, in, "The same again: ")
	if err == nil && first != again {
		err = record.Invalidf("passphrase", "The two passphrases are not the same: nothing was written.")
	}
	if err != nil {
		return p, err
	}
	return store.NewProtection(first)
}

// ask reads one line from the person.
func ask(g *globals, in *bufio.Reader, question string) (string, error) {
	fmt.Fprint(g.Stderr, question)
	line, err := in.ReadString('\n')
	if err != nil && err != io.EOF {
		return "", fmt.Errorf("the passphrase cannot be read: %w", err)
	}
	return strings.TrimRight(line, "\r\n"), nil
}
