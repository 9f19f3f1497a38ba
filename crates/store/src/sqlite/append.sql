-- ?1: a JSON array of pairs: name as hexadecimal digits, line.
INSERT INTO entry (id, line)
SELECT unhex(wanted.value ->> 0), wanted.value ->> 1
FROM json_each(?1) AS wanted
ORDER BY wanted.key
