-- Which folder this database belongs to: the same stands in the witness beside it.
CREATE TABLE folder (id TEXT NOT NULL);
INSERT INTO folder VALUES ('');
