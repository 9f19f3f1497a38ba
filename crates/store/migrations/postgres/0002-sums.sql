-- Layout 2: what all entries of an outfit up to a position come to, reckoned when they were appended. One row an append.
CREATE TABLE outyard.sum (
    outfit TEXT NOT NULL CHECK (outfit <> ''),
    position BIGINT NOT NULL,
    entries BIGINT NOT NULL CHECK (entries > 0),
    digest BYTEA NOT NULL CHECK (octet_length(digest) = 32),
    PRIMARY KEY (outfit, position)
);

ALTER TABLE outyard.sum ENABLE ROW LEVEL SECURITY;
ALTER TABLE outyard.sum FORCE ROW LEVEL SECURITY;
CREATE POLICY own_outfit ON outyard.sum
    USING (outfit = current_setting('outyard.outfit', true))
    WITH CHECK (outfit = current_setting('outyard.outfit', true));

CREATE TRIGGER sum_never_changes BEFORE UPDATE OR DELETE OR TRUNCATE ON outyard.sum
    FOR EACH STATEMENT EXECUTE FUNCTION outyard.never_changes();

INSERT INTO outyard.layout (number) VALUES (2);
