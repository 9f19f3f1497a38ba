SELECT position, hash
FROM outyard.file
WHERE outfit = $1 AND position > $2
ORDER BY position
LIMIT $3
