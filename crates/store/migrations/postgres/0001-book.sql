-- Layout 1 of a book in PostgreSQL. Several outfits share the tables and cannot see each other's rows.
CREATE SCHEMA outyard;

CREATE TABLE outyard.layout (
    number INTEGER NOT NULL PRIMARY KEY
);

-- An entry is kept as its line; `position` is the order of arrival, in which readers read on.
CREATE TABLE outyard.entry (
    outfit TEXT NOT NULL CHECK (outfit <> ''),
    position BIGINT NOT NULL GENERATED ALWAYS AS IDENTITY,
    id UUID NOT NULL,
    line TEXT NOT NULL,
    PRIMARY KEY (outfit, id)
);
CREATE UNIQUE INDEX entry_in_order ON outyard.entry (outfit, position);

-- Raw imports and photos, by SHA-256 of their content.
CREATE TABLE outyard.file (
    outfit TEXT NOT NULL CHECK (outfit <> ''),
    position BIGINT NOT NULL GENERATED ALWAYS AS IDENTITY,
    hash BYTEA NOT NULL CHECK (octet_length(hash) = 32),
    bytes BYTEA NOT NULL,
    PRIMARY KEY (outfit, hash)
);
CREATE UNIQUE INDEX file_in_order ON outyard.file (outfit, position);
-- What is kept is packed already, or is small.
ALTER TABLE outyard.file ALTER COLUMN bytes SET STORAGE EXTERNAL;

-- The wall between outfits: rows of the outfit the session has named, and no others; of none when it named none.
ALTER TABLE outyard.entry ENABLE ROW LEVEL SECURITY;
ALTER TABLE outyard.entry FORCE ROW LEVEL SECURITY;
CREATE POLICY own_outfit ON outyard.entry
    USING (outfit = current_setting('outyard.outfit', true))
    WITH CHECK (outfit = current_setting('outyard.outfit', true));
ALTER TABLE outyard.file ENABLE ROW LEVEL SECURITY;
ALTER TABLE outyard.file FORCE ROW LEVEL SECURITY;
CREATE POLICY own_outfit ON outyard.file
    USING (outfit = current_setting('outyard.outfit', true))
    WITH CHECK (outfit = current_setting('outyard.outfit', true));

CREATE FUNCTION outyard.never_changes() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'what is kept never changes and never goes: write a correction';
END
$$;

CREATE TRIGGER entry_never_changes BEFORE UPDATE OR DELETE OR TRUNCATE ON outyard.entry
    FOR EACH STATEMENT EXECUTE FUNCTION outyard.never_changes();
CREATE TRIGGER file_never_changes BEFORE UPDATE OR DELETE OR TRUNCATE ON outyard.file
    FOR EACH STATEMENT EXECUTE FUNCTION outyard.never_changes();

-- One writer of an outfit at a time, from before its first number is drawn until its rows can be seen. Otherwise a
-- lower number could be committed after a reader has gone past it, and that reader would miss it for ever.
CREATE FUNCTION outyard.one_writer() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM pg_advisory_xact_lock(hashtextextended('outyard ' || current_setting('outyard.outfit', true), 0));
    RETURN NULL;
END
$$;

CREATE TRIGGER entry_one_writer BEFORE INSERT ON outyard.entry
    FOR EACH STATEMENT EXECUTE FUNCTION outyard.one_writer();
CREATE TRIGGER file_one_writer BEFORE INSERT ON outyard.file
    FOR EACH STATEMENT EXECUTE FUNCTION outyard.one_writer();

-- Listeners of an outfit are woken when something new can be read. The channel's name gives no outfit away.
CREATE FUNCTION outyard.tell_listeners() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM pg_notify('outyard_' || md5(current_setting('outyard.outfit', true)), '');
    RETURN NULL;
END
$$;

CREATE TRIGGER entry_tells AFTER INSERT ON outyard.entry
    FOR EACH STATEMENT EXECUTE FUNCTION outyard.tell_listeners();

INSERT INTO outyard.layout (number) VALUES (1);
