package store

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"sync"
)

// thing is a row of sqlite_schema: a table, index, trigger or view.
type thing struct{ kind, name, sql string }

// things lists what a database is made of, by name.
func things(ctx context.Context, q querier) (map[string]thing, error) {
	rows, err := q.QueryContext(ctx,
		"SELECT type, name, coalesce(sql, '') FROM sqlite_schema WHERE name NOT LIKE 'sqlite\\_%' ESCAPE '\\'")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	all := map[string]thing{}
	for rows.Next() {
		var t thing
		if err := rows.Scan(&t.kind, &t.name, &t.sql); err != nil {
			return nil, err
		}
		all[t.name] = t
	}
	return all, rows.Err()
}

// made is what a database of each format is made of.
var made = sync.OnceValues(func() ([]map[string]thing, error) {
	db, err := sql.Open("sqlite", ":memory:")
	if err != nil {
		return nil, err
	}
	defer db.Close()
	db.SetMaxOpenConns(1) // each connection has a memory of its own
	list := []map[string]thing{{}}
	for version := range migrations {
		if err := step(db, version); err != nil {
			return nil, err
		}
		all, err := things(context.Background(), db)
		if err != nil {
			return nil, err
		}
		list = append(list, all)
	}
	return list, nil
})

// checkSchema refuses a database with a trigger, view or table that this program did
// not make, since such a thing can change what is read and written. Missing ones are
// returned.
func checkSchema(ctx context.Context, q querier, path string) (missing []thing, err error) {
	version, err := formatOf(q)
	if err != nil {
		return nil, err
	}
	all, err := made()
	if err != nil {
		return nil, fmt.Errorf("make a database to compare with: %w", err)
	}
	have, err := things(ctx, q)
	if err != nil {
		return nil, fmt.Errorf("the database %s cannot be read: %w", path, plain(err))
	}
	for name, t := range have {
		want, known := all[version][name]
		switch {
		case !known:
			return nil, fmt.Errorf("the database %s holds a %s of the name %q, which benchleaf did not make: it is not opened, "+
				"since such a thing can change what is read and written. Restore the last backup into a new folder",
				path, t.kind, strings.ToValidUTF8(name, "?"))
		case t.kind != want.kind || strings.Join(strings.Fields(t.sql), " ") != strings.Join(strings.Fields(want.sql), " "):
			return nil, fmt.Errorf("the %s %q of the database %s is not the one that benchleaf made: it is not opened. "+
				"Restore the last backup into a new folder", want.kind, name, path)
		}
	}
	for name, t := range all[version] {
		if _, there := have[name]; !there {
			missing = append(missing, t)
		}
	}
	return missing, nil
}

// mendSchema makes the indexes and triggers anew that are missing: they hold nothing.
func mendSchema(db *sql.DB, missing []thing) error {
	for _, t := range missing {
		if t.kind != "index" && t.kind != "trigger" {
			continue
		}
		if _, err := db.Exec(t.sql); err != nil {
			return fmt.Errorf("make the %s %s anew: %w", t.kind, t.name, plain(err))
		}
	}
	return nil
}
