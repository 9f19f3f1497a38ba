-- Layout 1 of a book in one SQLite file.
-- An entry is kept as its line; `position` is the order of arrival, in which readers read on.
CREATE TABLE entry (
    position INTEGER PRIMARY KEY AUTOINCREMENT,
    id BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
    line TEXT NOT NULL
) STRICT;

-- Raw imports and photos, by SHA-256 of their content.
CREATE TABLE file (
    position INTEGER PRIMARY KEY AUTOINCREMENT,
    hash BLOB NOT NULL UNIQUE CHECK (length(hash) = 32),
    bytes BLOB NOT NULL
) STRICT;

CREATE TRIGGER entry_never_changes BEFORE UPDATE ON entry
BEGIN SELECT RAISE(ABORT, 'an entry never changes: write a correction'); END;

CREATE TRIGGER entry_never_goes BEFORE DELETE ON entry
BEGIN SELECT RAISE(ABORT, 'an entry never goes: write a correction'); END;

-- REPLACE would take the old row away without asking the trigger above; so a name that is taken stays as it is.
CREATE TRIGGER entry_comes_once BEFORE INSERT ON entry
WHEN EXISTS (SELECT 1 FROM entry WHERE id = NEW.id OR position = NEW.position)
BEGIN SELECT RAISE(IGNORE); END;

CREATE TRIGGER file_never_changes BEFORE UPDATE ON file
BEGIN SELECT RAISE(ABORT, 'a kept file never changes'); END;

CREATE TRIGGER file_never_goes BEFORE DELETE ON file
BEGIN SELECT RAISE(ABORT, 'a kept file never goes'); END;

CREATE TRIGGER file_comes_once BEFORE INSERT ON file
WHEN EXISTS (SELECT 1 FROM file WHERE hash = NEW.hash OR position = NEW.position)
BEGIN SELECT RAISE(IGNORE); END;
