CREATE TABLE IF NOT EXISTS owner (
    one INTEGER PRIMARY KEY CHECK (one = 1),
    passphrase TEXT NOT NULL,
    set_at INTEGER NOT NULL
) STRICT;
CREATE TABLE IF NOT EXISTS devices (
    device TEXT PRIMARY KEY,
    sort TEXT NOT NULL CHECK (sort IN ('phone', 'login', 'link')),
    name TEXT NOT NULL,
    role TEXT NOT NULL,
    token BLOB NOT NULL UNIQUE,
    made_at INTEGER NOT NULL,
    until INTEGER,
    last_seen INTEGER,
    came_by TEXT REFERENCES devices (device) ON DELETE CASCADE
) STRICT, WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS codes (
    code BLOB PRIMARY KEY,
    role TEXT NOT NULL,
    until INTEGER NOT NULL
) STRICT, WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS feeds (
    feed_link TEXT PRIMARY KEY,
    token BLOB NOT NULL UNIQUE,
    feed TEXT NOT NULL,
    name TEXT NOT NULL,
    made_at INTEGER NOT NULL,
    last_read INTEGER
) STRICT, WITHOUT ROWID;
