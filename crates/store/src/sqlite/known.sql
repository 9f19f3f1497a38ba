-- ?1: a JSON array of entry names as hexadecimal digits.
SELECT entry.id, entry.line
FROM json_each(?1) AS wanted
JOIN entry ON entry.id = unhex(wanted.value)
