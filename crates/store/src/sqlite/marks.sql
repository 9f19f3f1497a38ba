-- Whose file this is, of which layout, and whether anything is in it.
SELECT
    (SELECT application_id FROM pragma_application_id),
    (SELECT user_version FROM pragma_user_version),
    (SELECT count(*) FROM sqlite_schema)
