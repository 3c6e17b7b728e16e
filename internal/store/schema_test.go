package store

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A trigger, view or table that this program did not make can change what is
// written and read: such a database is neither opened, looked at nor restored.
func TestAForeignThingInTheDatabaseIsRefused(t *testing.T) {
	for what, statement := range map[string]string{
		`trigger of the name "quiet"`: "CREATE TRIGGER quiet AFTER INSERT ON entries BEGIN DELETE FROM cases; END",
		`view of the name "more"`:     "CREATE VIEW more AS SELECT * FROM entries",
		`table of the name "other"`:   "CREATE TABLE other (x)",
		`trigger "entries_stay"`: "DROP TRIGGER entries_stay; CREATE TRIGGER entries_stay BEFORE DELETE ON entries " +
			"BEGIN SELECT 1; END",
	} {
		s := opened(t)
		newCase(t, s)
		if _, err := s.write.Exec(statement); err != nil {
			t.Fatal(err)
		}
		file, to := filepath.Join(t.TempDir(), "b.zip"), filepath.Join(t.TempDir(), "to")
		if err := s.Backup(ctx, file); err != nil {
			t.Fatal(err)
		}
		s.Close()
		_, err := Restore(ctx, file, to, Opening{})
		tries := map[string]error{"restore": err}
		_, tries["open"] = Open(s.dir)
		_, tries["look"] = Look(s.dir)
		for name, err := range tries {
			if err == nil || !strings.Contains(err.Error(), what) {
				t.Errorf("%s: %s gives %v, want it refused by name", what, name, err)
			}
		}
		if _, err := os.Stat(to); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%s: a folder was left behind", what)
		}
	}
}

// What keeps entries from being changed is made anew where somebody took it away.
func TestAMissingTriggerIsMadeAnew(t *testing.T) {
	dir, _, _ := worked(t)
	sqlIn(t, dir, "DROP INDEX entries_by_key")
	s := mustOpen(t, dir)
	defer s.Close()
	if _, err := s.write.Exec("DELETE FROM entries"); err == nil || !strings.Contains(err.Error(), "never deleted") {
		t.Errorf("deleting gives %v, want that entries are never deleted", err)
	}
}
