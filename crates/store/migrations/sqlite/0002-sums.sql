-- Layout 2: what all entries up to a position come to, reckoned when they were appended. One row an append.
CREATE TABLE sum (
    position INTEGER PRIMARY KEY,
    entries INTEGER NOT NULL CHECK (entries > 0),
    digest BLOB NOT NULL CHECK (length(digest) = 32)
) STRICT;

CREATE TRIGGER sum_never_changes BEFORE UPDATE ON sum
BEGIN SELECT RAISE(ABORT, 'a sum never changes'); END;

CREATE TRIGGER sum_never_goes BEFORE DELETE ON sum
BEGIN SELECT RAISE(ABORT, 'a sum never goes'); END;

CREATE TRIGGER sum_comes_once BEFORE INSERT ON sum
WHEN EXISTS (SELECT 1 FROM sum WHERE position = NEW.position)
BEGIN SELECT RAISE(IGNORE); END;
