-- Whether there is a schema of our name, whether it is ours, and whether this role could see past the wall.
SELECT
    EXISTS (SELECT FROM pg_namespace WHERE nspname = 'outyard'),
    EXISTS (
        SELECT FROM pg_class JOIN pg_namespace ON pg_namespace.oid = pg_class.relnamespace
        WHERE nspname = 'outyard' AND relname = 'layout'
    ),
    (SELECT rolsuper OR rolbypassrls FROM pg_roles WHERE rolname = current_user)
