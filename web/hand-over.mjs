// Hands the built page to the server's room, where the next build of outyard takes it into the program.
import { cpSync, readdirSync, rmSync } from 'node:fs';
import { join } from 'node:path';

const from = join(import.meta.dirname, 'dist');
const to = join(import.meta.dirname, '../crates/server/page');
for (const name of readdirSync(to)) {
  if (name !== '.gitignore') rmSync(join(to, name), { recursive: true });
}
for (const name of readdirSync(from)) {
  // The list of parts is for the tests of the page's weight.
  if (name !== 'parts.json') cpSync(join(from, name), join(to, name), { recursive: true });
}
