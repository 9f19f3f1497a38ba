SELECT position, id::text, line
FROM outyard.entry
WHERE outfit = $1 AND position > $2
ORDER BY position
LIMIT $3
