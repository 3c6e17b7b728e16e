-- The key of the form that brought an entry; empty for those written before keys were kept.
ALTER TABLE entries ADD COLUMN key TEXT NOT NULL DEFAULT '';

CREATE INDEX entries_by_key ON entries (key) WHERE key <> '';
