-- $1: the outfit; $2: names of entries.
SELECT entry.id::text, entry.line
FROM outyard.entry
WHERE entry.outfit = $1 AND entry.id = ANY ($2::text[]::uuid[])
