// A real `outyard serve` on a real outfit, on a port of its own, that can be stopped and started again.
import { execFileSync, spawn } from 'node:child_process';
import { cpSync, existsSync, mkdtempSync, readFileSync, rmSync, statSync } from 'node:fs';
import { createServer, request } from 'node:http';
import { connect, createServer as listener } from 'node:net';
import { tmpdir } from 'node:os';
import { extname, join, normalize } from 'node:path';
import { fileURLToPath } from 'node:url';

const ROOT = fileURLToPath(new URL('../../..', import.meta.url));
const DIST = join(ROOT, 'web/dist');
export const DAY = '2026-07-03';
export const OUTYARD = process.env.OUTYARD ?? [join(ROOT, 'target/release/outyard'), join(ROOT, 'target/debug/outyard')].filter(existsSync).sort((one, other) => statSync(other).mtimeMs - statSync(one).mtimeMs)[0];
const SORTS = { '.html': 'text/html; charset=utf-8', '.js': 'text/javascript', '.mjs': 'text/javascript', '.css': 'text/css', '.svg': 'image/svg+xml', '.png': 'image/png', '.webmanifest': 'application/manifest+json' };
const POLICY = "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; worker-src 'self' blob:; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'";

let demo = null;

/** The demo outfit, made once and copied for each test. */
function demoFolder() {
  if (!demo) {
    demo = mkdtempSync(join(tmpdir(), 'outyard-demo-'));
    process.on('exit', () => rmSync(demo, { recursive: true, force: true }));
    execFileSync(OUTYARD, ['--on', DAY, 'demo', join(demo, 'outfit'), '--seed', '7']);
  }
  return join(demo, 'outfit');
}

async function freePort() {
  return new Promise((done) => {
    const one = listener().listen(0, '127.0.0.1', () => {
      const { port } = one.address();
      one.close(() => done(port));
    });
  });
}

export class Served {
  /** With a passphrase it is encrypted and asks everybody who he is. */
  static async open({ empty = false, passphrase = '' } = {}) {
    const served = new Served();
    served.folder = mkdtempSync(join(tmpdir(), 'outyard-served-'));
    if (!empty) cpSync(demoFolder(), served.folder, { recursive: true });
    if (passphrase) execFileSync(OUTYARD, ['--outfit', served.folder, 'serve', 'passphrase'], { input: `${passphrase}\n`, stdio: ['pipe', 'ignore', 'inherit'] });
    served.args = passphrase ? ['--own-authority'] : [];
    served.port = await freePort();
    await served.start();
    served.url = `${passphrase ? 'https' : 'http'}://127.0.0.1:${served.port}`;
    if (passphrase) return served;
    const page = await (await fetch(served.url)).text();
    // `OUTYARD_DIST=1` tries a page that was built since, without building the program anew.
    if (process.env.OUTYARD_DIST || !page.includes('id="page"')) await served.#stand_before();
    return served;
  }

  async start() {
    this.child = spawn(OUTYARD, ['--outfit', this.folder, '--on', DAY, 'serve', '--listen', `127.0.0.1:${this.port}`, ...this.args], { stdio: ['ignore', 'ignore', 'pipe'] });
    this.log = '';
    this.child.stderr.on('data', (part) => (this.log += part));
    this.ended = new Promise((done) => this.child.once('exit', done));
    const until = Date.now() + 60_000;
    for (;;) {
      const there = await new Promise((done) => connect(this.port, '127.0.0.1').once('connect', function () { this.destroy(); done(true); }).once('error', () => done(false)));
      if (there) return;
      if (this.child.exitCode !== null || Date.now() > until) throw new Error(`outyard serve did not come up:\n${this.log.slice(-2000)}`);
      await new Promise((done) => setTimeout(done, 50));
    }
  }

  async stop() {
    this.child.kill('SIGTERM');
    await Promise.race([this.ended, new Promise((done) => setTimeout(done, 8_000))]);
    this.child.kill('SIGKILL');
  }

  /** A binary built without its page: the page is handed out here and all else passed on, with the server's own policy. */
  async #stand_before() {
    const port = await freePort();
    this.proxy = createServer((asked, answer) => {
      if (asked.url.startsWith('/api/')) {
        const headers = { ...asked.headers, host: `127.0.0.1:${this.port}` };
        delete headers.origin;
        const on = request({ port: this.port, host: '127.0.0.1', method: asked.method, path: asked.url, headers }, (from) => {
          answer.writeHead(from.statusCode, from.headers);
          from.pipe(answer);
        });
        on.on('error', () => answer.destroy());
        answer.on('close', () => on.destroy());
        asked.pipe(on);
        return;
      }
      const path = normalize(decodeURIComponent(new URL(asked.url, 'http://x').pathname));
      const file = join(DIST, path === '/' ? 'index.html' : path);
      if (!file.startsWith(DIST) || !existsSync(file)) return answer.writeHead(404).end();
      answer.writeHead(200, { 'content-type': SORTS[extname(file)] ?? 'application/octet-stream', 'content-security-policy': POLICY, 'cache-control': 'no-cache' });
      answer.end(readFileSync(file));
    });
    await new Promise((done) => this.proxy.listen(port, '127.0.0.1', done));
    this.url = `http://127.0.0.1:${port}`;
    this.by_proxy = true;
  }

  async get(path) {
    const answer = await fetch(`http://127.0.0.1:${this.port}/api/v1${path}`);
    if (!answer.ok) throw new Error(`${path}: ${answer.status} ${await answer.text()}`);
    return answer.json();
  }

  /** What the morning says once it has caught up with the book. */
  async morning() {
    for (let tries = 0; tries < 200; tries += 1) {
      const morning = await this.get('/morning').catch(() => null);
      if (morning?.as_of.entries_behind === 0) return morning.answer;
      await new Promise((done) => setTimeout(done, 150));
    }
    throw new Error('the morning never caught up with the book');
  }

  /** Visits closed by phones, as the book has them. */
  async tallies() {
    const { entries } = await this.get('/book?fact=visit-closed&limit=500');
    return entries.filter((entry) => entry.device.startsWith('phone-'));
  }

  async close() {
    this.proxy?.closeAllConnections();
    this.proxy?.close();
    await this.stop();
    rmSync(this.folder, { recursive: true, force: true });
  }
}
