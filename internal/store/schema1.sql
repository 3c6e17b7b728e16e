-- The journals. Nothing here is ever updated or deleted.
CREATE TABLE entries (
	case_id  TEXT    NOT NULL,
	seq      INTEGER NOT NULL,
	time     TEXT    NOT NULL, -- UTC, RFC 3339 with milliseconds
	zone     TEXT    NOT NULL,
	by       TEXT    NOT NULL,
	kind     TEXT    NOT NULL,
	version  INTEGER NOT NULL,
	corrects INTEGER NOT NULL, -- 0: nothing
	body     BLOB    NOT NULL, -- compact JSON
	prev     BLOB    NOT NULL, -- 32 bytes
	hash     BLOB    NOT NULL, -- 32 bytes
	PRIMARY KEY (case_id, seq)
) WITHOUT ROWID;

CREATE TRIGGER entries_stay_as_written BEFORE UPDATE ON entries
BEGIN SELECT RAISE(ABORT, 'entries are never changed'); END;

CREATE TRIGGER entries_stay BEFORE DELETE ON entries
BEGIN SELECT RAISE(ABORT, 'entries are never deleted'); END;

-- The index, made anew from the journals at will.
CREATE TABLE cases (
	case_id TEXT PRIMARY KEY,
	number  TEXT NOT NULL,
	updated TEXT NOT NULL,
	closed  INTEGER NOT NULL,
	busy    INTEGER NOT NULL, -- 1: something is wet, due or waited for
	words   TEXT NOT NULL,
	summary BLOB NOT NULL     -- JSON of record.Summary
) WITHOUT ROWID;

CREATE INDEX cases_by_update ON cases (closed, updated DESC);
CREATE INDEX cases_by_busy ON cases (busy, updated DESC);
