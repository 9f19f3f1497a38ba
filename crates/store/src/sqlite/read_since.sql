SELECT position, id, line
FROM entry
WHERE position > ?1
ORDER BY position
LIMIT ?2
