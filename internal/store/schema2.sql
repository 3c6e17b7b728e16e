-- The form of the rows of cases: the program makes them anew when its own form
-- is another.
CREATE TABLE index_form (form INTEGER NOT NULL);
INSERT INTO index_form VALUES (0);
