-- $1: the outfit; $2: names; $3: lines, in the same order. The sort comes before the numbers are drawn.
INSERT INTO outyard.entry (outfit, id, line)
SELECT $1, wanted.id::uuid, wanted.line
FROM unnest($2::text[], $3::text[]) WITH ORDINALITY AS wanted (id, line, place)
ORDER BY wanted.place
