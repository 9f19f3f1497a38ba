// An office for the browser tests: it serves the built page and answers the page's questions by asking the real `outyard`
// on a made-up outfit. What phones send goes into a real book through `outyard book in`. It checks nobody's right to ask.
import { execFile } from 'node:child_process';
import { existsSync } from 'node:fs';
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { createServer } from 'node:http';
import { tmpdir } from 'node:os';
import { extname, join, resolve } from 'node:path';
import { promisify } from 'node:util';

const run = promisify(execFile);
const WEB = resolve(import.meta.dirname ?? '.', '../..');
const DIST = join(WEB, 'dist');
export const DAY = '2026-07-03';
const TYPES = {
  '.html': 'text/html; charset=utf-8', '.js': 'text/javascript', '.mjs': 'text/javascript', '.css': 'text/css', '.svg': 'image/svg+xml',
  '.png': 'image/png', '.json': 'application/json', '.webmanifest': 'application/manifest+json',
};

export function outyard() {
  const places = [process.env.OUTYARD_BIN, join(WEB, '../target/release/outyard'), join(WEB, '../target/debug/outyard')];
  const found = places.find((place) => place && existsSync(place));
  if (!found) throw new Error('outyard is not built: cargo build --release -p outyard-cli');
  return found;
}

export class Office {
  #server = null;
  #known = new Map();
  port = 0;

  static async open({ empty = false } = {}) {
    const office = new Office();
    office.folder = await mkdtemp(join(tmpdir(), 'outyard-e2e-'));
    office.outfit = join(office.folder, 'outfit');
    if (empty) {
      await run(outyard(), ['--on', DAY, 'new', office.outfit, '--name', 'Quillmoor Honey', '--latitude', '49.9', '--longitude', '-97.1', '--zone', 'America/Winnipeg']);
    } else {
      await run(outyard(), ['--on', DAY, 'demo', office.outfit, '--seed', '7']);
    }
    await office.start();
    return office;
  }

  /** What `outyard --json` answers; worked out once for each question until something is written. */
  async ask(...words) {
    const key = words.join(' ');
    if (!this.#known.has(key)) {
      const said = run(outyard(), ['--outfit', this.outfit, '--on', DAY, '--json', ...words], { maxBuffer: 64_000_000 });
      this.#known.set(key, said.then(({ stdout }) => JSON.parse(stdout).answer));
    }
    return this.#known.get(key);
  }

  async start() {
    this.#server = createServer((request, response) => {
      this.#answer(request, response).catch((error) => {
        const text = String(error.stderr || error.stdout || error.message);
        response.writeHead(422, { 'Content-Type': 'application/problem+json' });
        response.end(JSON.stringify({ title: text.slice(0, 600) }));
      });
    });
    await new Promise((done) => this.#server.listen(this.port, '127.0.0.1', done));
    this.port = this.#server.address().port;
    this.url = `http://127.0.0.1:${this.port}`;
  }

  async stop() {
    this.#server.closeAllConnections();
    await new Promise((done) => this.#server.close(done));
  }

  async close() {
    await this.stop();
    await rm(this.folder, { recursive: true, force: true });
  }

  /** Lines of the book as `outyard book out` writes them. */
  async lines() {
    const file = join(this.folder, 'out.jsonl');
    await rm(file, { force: true });
    await run(outyard(), ['--outfit', this.outfit, '--on', DAY, 'book', 'out', file]);
    return (await readFile(file, 'utf8')).split('\n').filter(Boolean).map((line) => JSON.parse(line));
  }

  async #answer(request, response) {
    const { pathname } = new URL(request.url, 'http://office');
    if (!pathname.startsWith('/api/v1/')) return this.#file(pathname, response);
    const body = await text(request);
    const said = await this.#say(request.method, pathname.slice('/api/v1'.length), body ? JSON.parse(body) : {});
    response.writeHead(200, { 'Content-Type': 'application/json' });
    response.end(JSON.stringify(said));
  }

  async #file(pathname, response) {
    const wanted = resolve(DIST, `.${decodeURIComponent(pathname)}`);
    const file = wanted.startsWith(`${DIST}/`) && existsSync(wanted) ? wanted : join(DIST, 'index.html');
    response.writeHead(200, {
      'Content-Type': TYPES[extname(file)] ?? 'application/octet-stream',
      'Cache-Control': 'no-cache',
      'Content-Security-Policy':
        "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; worker-src 'self' blob:; connect-src 'self'; object-src 'none'; base-uri 'none'; frame-ancestors 'none'",
    });
    response.end(await readFile(file));
  }

  async #say(method, path, body) {
    const [, what, name] = path.split('/');
    switch (`${method} ${what}`) {
      case 'GET me': return { device: null };
      case 'GET morning': return this.ask('morning');
      case 'GET outlook': return this.ask('outlook');
      case 'GET book': return (await this.ask('book')).map((entry) => ({ corrects: null, corrected_by: [], ...entry }));
      case 'GET devices': return [];
      case 'GET pack': return this.#pack();
      case 'GET season': return this.#season();
      case 'GET yards': return name ? this.#yard(decodeURIComponent(name)) : this.#yards();
      case 'GET gear': {
        const gear = await this.ask('gear');
        return {
          balances: gear.balances,
          in_doubt: [],
          gear: gear.gear.map((line) => ({ ...line, ready: 0, unplaced: [], places: line.places.map((one) => ({ ...one, said: one.place })) })),
        };
      }
      case 'POST entries': {
        const file = join(this.folder, 'in.jsonl');
        await writeFile(file, body.entries.map((line) => `${JSON.stringify(line)}\n`).join(''));
        await run(outyard(), ['--outfit', this.outfit, '--on', DAY, 'book', 'in', file]);
        this.#known.clear();
        return { contested: [], refused: [] };
      }
      case 'POST replan': {
        if (body.moves?.length) throw new Error('this office of the tests cannot move a visit');
        const rain = (body.rain ?? []).flatMap((day) => ['--rain', day]);
        const home = (body.crews_home ?? []).flatMap(({ crew, on }) => ['--crew-home', `${crew}@${on}`]);
        const { stdout } = await run(outyard(), ['--outfit', this.outfit, '--on', DAY, '--json', 'replan', ...rain, ...home], { maxBuffer: 64_000_000 });
        return { fixed: [], bill_before_cents: 0, bill_cents: 0, ...JSON.parse(stdout).answer };
      }
      default: throw new Error(`${method} ${path} is not a question this office of the tests answers`);
    }
  }

  async #yards() {
    const morning = await this.ask('morning');
    const stops = new Map([...morning.today, ...morning.later].flatMap((one) => one.stops.map((stop) => [stop.yard, stop])));
    return (await this.ask('yards')).map((yard) => {
      const stop = stops.get(yard.yard);
      return { gate: stop?.gate ?? '', wet_road: stop?.wet_road ?? false, landowner: stop?.landowner ?? '', ...yard };
    });
  }

  async #yard(name) {
    const stands = (await this.#yards()).find((yard) => yard.yard === name);
    if (!stands) throw new Error(`no yard ${name}`);
    const sheet = await this.ask('yard', name);
    const put_down = sheet.put_down ? { hands: 2, ...sheet.put_down } : null;
    return { stands, put_down, running: [{ put_down_on: stands.put_down_on ?? DAY, clocks: sheet.running }], history: [] };
  }

  async #pack() {
    const morning = await this.ask('morning');
    return {
      outfit: morning.outfit,
      date: morning.date,
      runs: [...morning.today, ...morning.later].filter((one) => one.date <= '2026-07-06'),
      yards: (await this.#yards()).map((stands) => ({ stands, running: [] })),
      jobs: (await this.ask('jobs')).map((job) => ({ ...job, kinds: Object.keys(job.pair_minutes) })),
      signs: [await this.#signs('2026-06-28')],
    };
  }

  async #signs(put_down_on) {
    const signs = [];
    for (const [sign, said] of [['above-eggs', 'eggs above the excluder'], ['above-capped-only', 'only capped brood above the excluder'], ['below-eggs', 'eggs below the excluder']]) {
      const { reading } = { reading: await this.ask('sign', '--put-down', put_down_on, '--seen-on', DAY, '--seen', sign) };
      const meaning = reading.means !== undefined;
      signs.push({
        sign, said, above: sign.startsWith('above'),
        spans: [{
          from: DAY, to: DAY, outcome: meaning ? 'meaning' : 'refused', verdict: reading.verdict ?? null, means: reading.means ?? reading.why,
          to_do: reading.to_do ?? [reading.instead], cautions: reading.cautions ?? [], counts_from: reading.counts_from ?? null,
        }],
      });
    }
    return { put_down_on, signs };
  }

  async #season() {
    const morning = await this.ask('morning');
    const outlook = await this.ask('outlook');
    const ahead = await this.ask('gear', 'ahead');
    const runs = [...morning.today, ...morning.later];
    const yards = await this.#yards();
    return {
      today: DAY, from: '2026-06-19', to: '2026-08-02', work_weather: [],
      gain_by_day: outlook[0].gain_by_day,
      boxes: [{ gear: 'deep', owned: 0, ready: 0, cure: 'not-needed', boxes_to_get: 0, days_earlier: null, first_short: ahead.first_short, days: ahead.forecast }],
      yards: await Promise.all(yards.map(async (yard) => ({
        yard: yard.yard, name: yard.name, said: '', closed: yard.last_visit >= '2026-06-19' ? [{ entry: '', on: yard.last_visit, jobs: ['visit'] }] : [],
        brood: yard.put_down_on ? [{ put_down_on: yard.put_down_on, clocks: (await this.ask('yard', yard.yard)).running }] : [],
        windows: [
          ...runs.flatMap((one) => one.stops.filter((stop) => stop.yard === yard.yard).map((stop) => ({
            visit: stop.visit, what: stop.jobs.map((job) => `${job.name} (${job.colonies})`).join('; '), from: stop.visit.split('/').pop(), best: one.date, to: one.date,
            clock: stop.jobs[0].clock, planned: one.date, crew: one.crew,
          }))),
          ...morning.left_out.filter((due) => due.yard === yard.yard).map((due) => ({ ...due, clock: 'fill', planned: null })),
        ],
      }))),
    };
  }
}

async function text(request) {
  const parts = [];
  for await (const part of request) parts.push(part);
  return Buffer.concat(parts).toString();
}
