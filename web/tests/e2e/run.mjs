// The faces in a real Chromium, on a real `outyard serve` with a made-up outfit: a phone that loses signal and is killed, a
// second phone, the morning and its replanning, paper, three languages, keyboard, axe-core on every screen, the weight and
// haste of the phone's first view, and pictures of every screen in two sizes.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { createHash } from 'node:crypto';
import { existsSync, readFileSync } from 'node:fs';
import { mkdir, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { gzipSync } from 'node:zlib';
import { chromium } from 'playwright-core';
import { OUTYARD, Served } from './served.mjs';

const CHROMIUM = ['/usr/bin/chromium', '/usr/bin/chromium-browser', '/usr/bin/google-chrome'].find((place) => existsSync(place));
if (!CHROMIUM || !OUTYARD) {
  console.error(CHROMIUM ? 'outyard is not built: cargo build --package outyard-cli' : 'chromium is missing: apt-get install chromium');
  process.exit(1);
}
const PICTURES = process.env.OUTYARD_PICTURES ?? new URL('../../pictures', import.meta.url).pathname;
const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const FLAGS = ['--no-sandbox', '--disable-gpu', '--disable-background-networking', '--disable-component-update', '--disable-sync'];
const SMALL = { width: 390, height: 844 };
const LARGE = { width: 1440, height: 900 };
const PHONE = { viewport: SMALL, hasTouch: true, isMobile: true, locale: 'en-US' };
const DESK = { viewport: LARGE, locale: 'en-US' };
/** Script of the phone's first view, compressed (the bar of the house). */
const SCRIPT_MOST_KB = 80;
/** Longest a test waits for a morning or a plan to be worked out. */
const SUM_MS = 60_000;

await mkdir(PICTURES, { recursive: true });
const folder = await mkdtemp(join(tmpdir(), 'outyard-chromium-'));
const faults = [];
const contexts = [];
const told = [];

/** A browser with a profile of its own, as one phone or one desk. */
async function open(name, options) {
  const context = await chromium.launchPersistentContext(join(folder, name), { executablePath: CHROMIUM, headless: true, args: FLAGS, ...options });
  contexts.push(context);
  const page = context.pages()[0] ?? (await context.newPage());
  page.setDefaultTimeout(20_000);
  page.on('pageerror', (error) => faults.push(`${name}: ${error.message}`));
  page.on('console', (message) => {
    if (/Content Security Policy/.test(message.text())) faults.push(`${name}: ${message.text()}`);
  });
  return { context, page };
}

async function axe(page, screen) {
  // By the protocol, so that the page's own policy against foreign script stands.
  const session = await page.context().newCDPSession(page);
  await session.send('Runtime.evaluate', { expression: AXE });
  const { result } = await session.send('Runtime.evaluate', {
    expression: `axe.run(document, { resultTypes: ['violations'] }).then((found) => JSON.stringify(found.violations.map((one) => one.id + ': ' + one.nodes.slice(0, 3).map((node) => node.html.slice(0, 140)).join(' | '))))`,
    awaitPromise: true, returnByValue: true,
  });
  await session.detach();
  for (const violation of JSON.parse(result.value)) faults.push(`axe, ${screen}: ${violation}`);
}

/** A screen in both sizes: no violation, nothing wider than the screen, a picture. */
async function look(page, screen, { sizes = [LARGE, SMALL], full = true } = {}) {
  const stands = page.viewportSize();
  for (const size of sizes) {
    const name = `${screen}-${size.width}`;
    await page.setViewportSize(size);
    await page.waitForTimeout(200);
    await axe(page, name);
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - window.innerWidth);
    if (wide > 1) faults.push(`${name}: ${wide} px wider than the screen`);
    await page.screenshot({ path: join(PICTURES, `${name}.png`), fullPage: full });
  }
  await page.setViewportSize(stands);
}

const only = process.argv[2];

async function test(name, work) {
  if (only && !name.includes(only)) return;
  const since = performance.now();
  try {
    await work();
    console.log(`ok    ${name} (${((performance.now() - since) / 1000).toFixed(1)} s)`);
  } catch (error) {
    faults.push(`${name}: ${error.stack ?? error}`);
    console.log(`WRONG ${name} (${((performance.now() - since) / 1000).toFixed(1)} s)`);
  } finally {
    for (const context of contexts.splice(0)) await context.close().catch(() => undefined);
  }
}

/** Presses a key until something is so; for walking by keyboard alone. */
async function walkTo(page, key, there, most = 200) {
  for (let steps = 0; steps < most; steps += 1) {
    if (await page.evaluate(there)) return;
    await page.keyboard.press(key);
  }
  assert.fail(`not reached with ${key}: ${there}`);
}

const served = await Served.open();
console.log(`${OUTYARD}, ${served.by_proxy ? 'its page handed out by the test' : 'its own page'}`);
await served.morning();

const closeAt = async (page, at) => {
  await page.goto(`${served.url}/#/phone/run`);
  await page.locator('.stop a').nth(at).click();
  await page.locator('a.big-button').first().click();
  const since = performance.now();
  await page.getByRole('button', { name: 'Close yard' }).first().click();
  await page.getByText('Written on this phone').waitFor();
  return performance.now() - since;
};

await test('phone: three yards closed with no signal, killed, back, sent once; a second phone closes one of them; the desk settles it', async () => {
  // The desk is open meanwhile and hears of it by itself.
  const desk = await open('desk-live', DESK);
  await desk.page.goto(`${served.url}/#/morning`);
  await desk.page.locator('section[aria-label="Crew A"]').waitFor({ timeout: SUM_MS });

  let { context, page } = await open('phone-a', PHONE);
  const weights = new Map();
  page.on('response', async (response) => {
    if (/\.m?js$/.test(new URL(response.url()).pathname) && response.request().resourceType() === 'script') {
      weights.set(response.url(), gzipSync(await response.body().catch(() => Buffer.alloc(0))).length);
    }
  });
  await page.goto(`${served.url}/#/phone`);
  await page.getByRole('button', { name: 'A', exact: true }).click();
  await page.locator('.stop a').first().waitFor();
  const kb = [...weights.values()].reduce((sum, one) => sum + one, 0) / 1000;
  told.push(`script of the phone's first view: ${kb.toFixed(1)} kB gz in ${weights.size} files`);
  assert.ok(kb > 5 && kb <= SCRIPT_MOST_KB, `first view ${kb} kB`);
  assert.ok(![...weights.keys()].some((url) => /MapSheet|Chart/.test(url)), 'map or charts came along');
  await look(page, 'phone-run');
  for (const [screen, hash] of [['phone-load', 'load'], ['phone-signs', 'sign'], ['phone-more', 'more'], ['phone-unsent-none', 'unsent'], ['phone-cards', 'cards/single-down-blow'], ['phone-yard-unknown', 'yard/nowhere']]) {
    await page.goto(`${served.url}/#/phone/${hash}`);
    await look(page, screen);
  }
  await page.goto(`${served.url}/#/phone/sign`);
  await page.getByRole('button', { name: 'eggs', exact: true }).first().click();
  await page.locator('.answer').waitFor();
  await look(page, 'phone-sign-read');
  await page.goto(`${served.url}/#/phone/run`);
  await page.locator('.stop a').first().click();
  await page.locator('a.big-button').first().waitFor();
  await look(page, 'phone-yard');
  await page.locator('a.big-button').first().click();
  await page.getByRole('button', { name: 'Close yard' }).first().waitFor();
  await look(page, 'phone-close');
  const small = await page.evaluate(() => [...document.querySelectorAll('main button, main a, main input:not(.sr), nav a')].map((one) => ({ box: one.getBoundingClientRect(), what: one.outerHTML.slice(0, 80) })).filter(({ box }) => box.height > 0 && (box.height < 55.5 || box.width < 55.5)).map(({ what, box }) => `${Math.round(box.width)}x${Math.round(box.height)} ${what}`));
  assert.deepEqual(small, [], 'targets under 56 px');
  // A second phone of the same crew takes the day too, before anything is sent.
  const second = await open('phone-b', PHONE);
  await second.page.goto(`${served.url}/#/phone`);
  await second.page.getByRole('button', { name: 'A', exact: true }).click();
  await second.page.locator('.stop a').first().waitFor();
  await page.evaluate(() => navigator.serviceWorker.ready.then((ready) => new Promise((done) => (ready.active?.state === 'activated' ? done() : ready.active?.addEventListener('statechange', done)))));

  await context.setOffline(true);
  const taps = [];
  for (const at of [0, 1, 2]) taps.push(await closeAt(page, at));
  told.push(`from tap to "written on this phone", no signal: ${taps.map((one) => one.toFixed(0)).join(', ')} ms`);
  await page.goto(`${served.url}/#/phone/unsent`);
  await page.getByText('3 wait on this phone').waitFor();
  await look(page, 'phone-unsent');
  assert.equal((await served.tallies()).length, 0);
  const crash = await context.newCDPSession(page);
  await crash.send('Browser.crash').catch(() => undefined);
  await new Promise((done) => setTimeout(done, 1200));
  await context.close().catch(() => undefined);

  ({ context, page } = await open('phone-a', { ...PHONE, offline: true }));
  await page.goto(`${served.url}/#/phone/unsent`);
  await page.getByText('3 wait on this phone').waitFor();
  await context.setOffline(false);
  await page.getByText('Everything is sent.').waitFor();
  const tallies = await served.tallies();
  assert.equal(tallies.length, 3);
  assert.equal(new Set(tallies.map((one) => one.yard)).size, 3);
  await page.reload();
  await page.getByText('Everything is sent.').waitFor();
  assert.equal((await served.tallies()).length, 3, 'sent once');
  await page.goto(`${served.url}/#/phone/run`);
  await page.locator('.stop.closed').nth(2).waitFor();
  await look(page, 'phone-run-closed');

  // The second phone has the plan of the morning still, and closes one of the same yards otherwise.
  await second.page.locator('.stop a').first().click();
  await second.page.locator('a.big-button').first().click();
  await second.page.getByRole('button', { name: /one less: doubles/ }).click();
  await look(second.page, 'phone-close-differs');
  await second.page.getByRole('button', { name: 'Close yard' }).first().click();
  await second.page.getByText('and sent').waitFor();
  assert.equal((await served.tallies()).length, 4, 'both tallies stand in the book');
  assert.equal((await served.morning()).unsettled, 1, 'and the book says they are two');
  // The phone is told too, a while later.
  await second.page.getByText('Two tallies of this visit').waitFor({ timeout: 40_000 });
  await look(second.page, 'phone-closed-doubt');
  await second.context.close();

  // The desk heard of it without being asked.
  await desk.page.getByText('1 visit has two tallies').waitFor({ timeout: SUM_MS });
  await look(desk.page, 'desk-morning-doubt', { sizes: [LARGE] });
  await desk.page.getByText('1 visit has two tallies').click();
  await desk.page.locator('.doubts .differs').first().waitFor();
  await look(desk.page, 'desk-book-doubt');
  await desk.page.getByRole('button', { name: 'This one holds' }).first().click();
  await desk.page.getByText(/^Settled/).waitFor();
  assert.equal((await served.morning()).unsettled, 0);
  await desk.page.locator('.doubts').waitFor({ state: 'detached', timeout: SUM_MS });
  await desk.context.close();

  // 4 times slower, 320 px wide, as an old phone.
  await page.setViewportSize({ width: 320, height: 640 });
  const session = await context.newCDPSession(page);
  await session.send('Emulation.setCPUThrottlingRate', { rate: 4 });
  const since = performance.now();
  await page.reload();
  await page.locator('.stop a').first().waitFor();
  const first = performance.now() - since;
  await page.locator('.stop a').first().click();
  await page.locator('a.big-button').first().click();
  await page.getByRole('button', { name: /one more: doubles/ }).waitFor();
  const answer = await page.evaluate(async () => {
    const button = [...document.querySelectorAll('button')].find((one) => /one more: doubles/.test(one.getAttribute('aria-label') ?? ''));
    const since = performance.now();
    button.click();
    await new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
    return performance.now() - since;
  });
  told.push(`old phone (4 times slower): first view from the phone's own store ${first.toFixed(0)} ms, tap to answer ${answer.toFixed(0)} ms`);
  assert.ok(first < 2000 && answer < 100, `first view ${first} ms, tap ${answer} ms`);
  await session.send('Emulation.setCPUThrottlingRate', { rate: 1 });
  await look(page, 'phone-close-320', { sizes: [{ width: 320, height: 640 }] });
  await context.close();
});

await test('full phone: the small shelf takes the tally, and it says so when nothing does; a photo, other gear, a sign kept', async () => {
  const { context, page } = await open('phone-full', PHONE);
  await page.goto(`${served.url}/#/phone`);
  await page.getByRole('button', { name: 'B', exact: true }).click();
  await page.locator('.stop a').first().waitFor();
  // What is loaded is in the book before it is put down, so the ledger stays even.
  await page.goto(`${served.url}/#/phone/load`);
  for (const line of await page.locator('input[type=checkbox]').all()) await line.check();
  await page.getByRole('button', { name: 'Loaded: write it down' }).click();
  await page.getByText('Written: the truck is loaded').waitFor();
  await page.goto(`${served.url}/#/phone/run`);
  await page.locator('.stop a').first().click();
  await page.locator('a.big-button').first().click();
  await page.getByRole('button', { name: 'One more kind of gear' }).click();
  await page.getByRole('button', { name: 'vented rims' }).click();
  await page.getByRole('button', { name: 'one more: vented rims off' }).click();
  const photo = await page.evaluate(() => new Promise((done) => {
    const canvas = document.createElement('canvas');
    canvas.width = canvas.height = 40;
    canvas.getContext('2d').fillRect(4, 4, 20, 20);
    canvas.toBlob(async (blob) => done([...new Uint8Array(await blob.arrayBuffer())]), 'image/png');
  }));
  const bytes = Buffer.from(photo);
  await page.locator('input[type=file]').setInputFiles({ name: 'lid.png', mimeType: 'image/png', buffer: bytes });
  await page.locator('.photo b').waitFor();
  await page.getByLabel('Note').fill('lid 7 is cracked');
  await look(page, 'phone-close-photo');
  await page.getByRole('button', { name: 'Close yard' }).first().click();
  await page.getByText('and sent').waitFor();
  const hash = createHash('sha256').update(bytes).digest('hex');
  const kept = await fetch(`http://127.0.0.1:${served.port}/api/v1/files/${hash}`);
  assert.ok(kept.ok && Buffer.from(await kept.arrayBuffer()).equals(bytes), 'the photo is in the book');

  const { truck } = (await served.morning(), (await served.get('/gear')).answer.gear.flatMap((line) => line.places.map((place) => ({ truck: place.place, count: place.count }))).find((place) => place.truck.startsWith('truck:')));
  assert.ok(truck, 'what was loaded and not put down is on the truck');
  await page.goto(`${served.url}/#/phone/load`);
  await page.getByRole('button', { name: 'The truck is home' }).click();
  await look(page, 'phone-truck-home');
  await page.getByRole('button', { name: 'Emptied: write it down' }).click();
  await page.getByText('Written: the truck is home and empty').waitFor();
  await page.goto(`${served.url}/#/phone/run`);
  await page.locator('.stop a').first().waitFor();

  // From now on the phone's large store takes nothing more; then the small one neither.
  await context.setOffline(true);
  await page.evaluate(() => {
    const put = IDBObjectStore.prototype.put;
    IDBObjectStore.prototype.put = function (value, key) {
      if (this.name === 'outbox') throw new DOMException('full', 'QuotaExceededError');
      return put.call(this, value, key);
    };
  });
  const next = async (at) => {
    await page.evaluate(() => (location.hash = '#/phone/run'));
    await page.locator('.stop a').nth(at).click();
    await page.locator('a.big-button').first().click();
    await page.getByRole('button', { name: 'Close yard' }).first().click();
  };
  await next(1);
  await page.getByText("small store: the large one is full").waitFor();
  await look(page, 'phone-closed-tight');
  await page.evaluate(() => {
    Storage.prototype.setItem = () => {
      throw new DOMException('full', 'QuotaExceededError');
    };
  });
  await next(2);
  await page.getByText('The phone is full and could not keep this').waitFor();
  await look(page, 'phone-close-lost');
  await page.evaluate(() => (location.hash = '#/phone/unsent'));
  await page.getByText('1 waits on this phone').waitFor();
  await context.close();
});

await test('languages: the phone in Spanish and French, the desk in both', async () => {
  const { context, page } = await open('phone-es', { ...PHONE, locale: 'es-MX' });
  await page.goto(`${served.url}/#/phone`);
  await page.getByText('¿En qué equipo está usted?').waitFor();
  await page.getByRole('button', { name: 'B', exact: true }).click();
  await page.getByText('La ruta de hoy').or(page.getByText('Próxima ruta')).first().waitFor();
  await look(page, 'phone-run-es');
  await page.locator('.stop a').first().click();
  await page.getByText('Cerrar este apiario').or(page.getByText('Cerrado.')).first().click();
  await page.getByText('Colmenas raras').waitFor();
  await look(page, 'phone-close-es');
  await page.goto(`${served.url}/#/phone/more`);
  await page.getByRole('button', { name: 'Français' }).click();
  await page.getByText('Fiches avec images').first().waitFor();
  await page.goto(`${served.url}/#/phone/cards/brood-lift`);
  await look(page, 'phone-cards-fr');
  await context.close();

  const desk = await open('desk-es', { ...DESK, locale: 'es-MX' });
  await desk.page.goto(`${served.url}/#/morning`);
  await desk.page.getByRole('heading', { name: 'Se puede o no' }).waitFor({ timeout: SUM_MS });
  await look(desk.page, 'desk-morning-es');
  await desk.page.getByLabel('Idioma').selectOption('fr');
  await desk.page.getByRole('heading', { name: 'On y va ou non' }).waitFor();
  for (const [name, shown] of [['season', 'Saison'], ['book', 'Livre'], ['gear', 'Matériel']]) {
    await desk.page.goto(`${served.url}/#/${name}`);
    await desk.page.getByRole('heading', { name: shown, exact: true }).waitFor();
    await desk.page.locator('table').first().or(desk.page.locator('.board')).first().waitFor();
    await look(desk.page, `desk-${name}-fr`, { sizes: [LARGE] });
  }
  await desk.context.close();
});

await test('desk: by keyboard alone: the morning, a move with its price, replanning after rain, every page', async () => {
  const { context, page } = await open('desk', DESK);
  await page.goto(`${served.url}/#/morning`);
  await page.locator('section[aria-label="Crew A"]').waitFor({ timeout: SUM_MS });
  await served.morning();
  await look(page, 'desk-morning');
  await walkTo(page, 'Tab', () => Boolean(document.activeElement?.closest('section[aria-label="Crew A"]')));
  if ((await page.locator('section[aria-label="Crew A"] li.stop').count()) > 1) await page.keyboard.press('ArrowDown');
  await page.keyboard.press('Enter');
  await page.getByText('A day later costs').waitFor();
  await look(page, 'desk-morning-stop');
  await walkTo(page, 'Tab', () => document.activeElement instanceof HTMLSelectElement && document.activeElement.closest('form') !== null);
  await page.keyboard.press('ArrowDown');
  await page.keyboard.press('ArrowDown');
  await page.locator('.cost b').first().waitFor({ timeout: SUM_MS });
  assert.match(await page.locator('.cost b').first().innerText(), /more|less|nothing/, 'a move says what it costs');
  await look(page, 'desk-moved', { sizes: [LARGE] });
  await page.keyboard.press('Escape');
  await walkTo(page, 'Tab', () => document.activeElement?.tagName === 'BUTTON' && /It rains today/.test(document.activeElement.textContent ?? ''));
  await page.keyboard.press('Enter');
  await page.getByText(/visits stay as they were/).waitFor({ timeout: SUM_MS });
  assert.ok((await page.locator('table', { hasText: 'had to' }).locator('tbody tr').count()) > 0, 'something slid');
  assert.match(await page.getByText('What did not move:').locator('..').innerText(), /brood clock/);
  await look(page, 'desk-replanned');
  for (const [key, name, shown] of [['2', 'season', '.board'], ['3', 'map', '.yard-mark'], ['4', 'yards', 'tbody tr a'], ['5', 'gear', 'tbody tr'], ['6', 'outlook', 'canvas'], ['7', 'book', 'tbody tr'], ['8', 'what-if', 'form'], ['9', 'take-in', 'input[type=file]'], ['0', 'phones', 'h1']]) {
    await page.evaluate(() => document.activeElement?.blur?.());
    await page.keyboard.press(key);
    await page.locator(shown).first().waitFor();
    if (name === 'season') {
      await walkTo(page, 'Tab', () => Boolean(document.activeElement?.closest('.rows')));
      await page.keyboard.press('ArrowDown');
      assert.match(await page.locator('.said').innerText(), /^Yard/);
    }
    if (name === 'map') {
      await walkTo(page, 'Tab', () => Boolean(document.activeElement?.closest('aside li')));
      await page.keyboard.press('Enter');
      await page.getByText('All of yard').waitFor();
      await page.waitForTimeout(600);
    }
    if (name === 'what-if') {
      await walkTo(page, 'Tab', () => document.activeElement instanceof HTMLInputElement && document.activeElement.type === 'checkbox');
      await page.keyboard.press('Space');
      await walkTo(page, 'Tab', () => /hands more/.test(document.activeElement?.closest('label')?.textContent ?? ''));
      await page.keyboard.type('1');
      await page.keyboard.press('Enter');
      await page.getByText('against the plan').waitFor({ timeout: SUM_MS });
    }
    if (name === 'gear') {
      await walkTo(page, 'Tab', () => Boolean(document.activeElement?.closest('.place')));
      await page.keyboard.press('Enter');
      await page.getByText('rests on').waitFor();
      await look(page, 'desk-gear-rests', { sizes: [LARGE] });
      await page.keyboard.press('Escape');
    }
    await look(page, `desk-${name}`);
  }
  await page.goto(`${served.url}/#/yards/7`);
  await page.getByText('If put down today').or(page.getByText('Clocks that run')).first().waitFor();
  await look(page, 'desk-yard');
  await page.goto(`${served.url}/#/yards/nowhere`);
  await page.getByText(/YRD-005/).waitFor();
  await look(page, 'desk-yard-unknown');
  // A wrong entry is struck out and stays in the book.
  await page.goto(`${served.url}/#/book`);
  await page.locator('tbody tr').first().waitFor();
  await page.getByRole('button', { name: /^Wrong\?/ }).first().click();
  await page.getByRole('button', { name: 'Strike it out' }).click();
  await page.getByText('Struck out. It stays in the book, struck.').waitFor();
  for (const [table, as] of [['runs', 'xlsx'], ['runs', 'csv'], ['season', 'xlsx'], ['boxes', 'csv']]) {
    const answer = await fetch(`http://127.0.0.1:${served.port}/api/v1/tables/${table}.${as}`);
    assert.ok(answer.ok && (await answer.arrayBuffer()).byteLength > 100, `${table}.${as}`);
  }
  await context.close();
});

await test('desk: the office is gone and comes back', async () => {
  const gone = await Served.open();
  try {
    const { context, page } = await open('desk-gone', DESK);
    await page.goto(`${gone.url}/#/morning`);
    await page.locator('section[aria-label="Crew A"]').waitFor({ timeout: SUM_MS });
    await gone.stop();
    await page.getByText('The office does not answer. What is shown').waitFor();
    await look(page, 'desk-away', { sizes: [LARGE] });
    await gone.start();
    await page.getByText('The office does not answer. What is shown').waitFor({ state: 'detached', timeout: SUM_MS });
    await context.close();
  } finally {
    await gone.close();
  }
});

await test('paper: run sheets, load lists, yard sheet, helper card as PDF', async () => {
  const { context, page } = await open('paper', DESK);
  for (const [name, hash, text] of [['run-sheets', 'runs', 'For the ambulance'], ['load-lists', 'load', 'on truck'], ['yard-sheet', 'yard/7', 'Yard 7'], ['helper-card', 'card/single-down-blow/es', 'Excluidor sobre la caja de abajo'], ['run-sheets-es', 'runs/all/es', 'Para la ambulancia']]) {
    await page.goto(`${served.url}/#/print/${hash}`);
    await page.getByText(text).first().waitFor({ timeout: SUM_MS });
    await look(page, `print-${name}`);
    const file = join(PICTURES, `${name}.pdf`);
    await page.pdf({ path: file, preferCSSPageSize: true, printBackground: true });
    const words = execFileSync('pdftotext', ['-layout', file, '-']).toString();
    assert.ok(words.includes(text), `${name}.pdf says "${text}"`);
    execFileSync('pdftoppm', ['-r', '60', '-png', file, join(PICTURES, `pdf-${name}`)]);
  }
  await context.close();
});

/** Daily weather of an invented station from 2019 to the day before the morning: warm in July, some rain. */
function weatherTable() {
  const rows = ['date,tmin_c,tmax_c,rain_mm,wind_km_h'];
  for (let day = Date.UTC(2019, 0, 1), at = 0; day < Date.UTC(2026, 6, 3); day += 86_400_000, at += 1) {
    const turn = ((day - Date.UTC(2019, 6, 20)) / 86_400_000 / 365.25) * 2 * Math.PI;
    const mean = 5 + 17 * Math.cos(turn) + 3 * Math.sin(at * 1.7);
    rows.push([new Date(day).toISOString().slice(0, 10), (mean - 6).toFixed(1), (mean + 6).toFixed(1), at % 6 === 0 ? 4.2 : 0, 9 + (at % 7)].join(','));
  }
  return rows.join('\n');
}

await test('the crews are told: after rain the mended plan stands, at the desk and on the phone', async () => {
  const { context, page } = await open('teller', DESK);
  await page.goto(`${served.url}/#/morning`);
  await page.locator('section[aria-label="Crew A"]').waitFor({ timeout: SUM_MS });
  await page.getByRole('button', { name: 'It rains today' }).click();
  await page.getByRole('button', { name: 'Tell the crews this plan' }).click({ timeout: SUM_MS });
  await page.getByText(/^Told on .* visits stand as told, 0 do not/).waitFor({ timeout: 2 * SUM_MS });
  await page.getByText(/Nobody out: /).waitFor();
  assert.equal(await page.locator('section[aria-label="Crew A"]').count(), 0, 'nobody goes out today');
  await look(page, 'desk-told');
  const morning = await served.morning();
  assert.deepEqual([morning.today.length, morning.told.nobody_out.length], [0, 1]);
  await context.close();
  const phone = await open('told', PHONE);
  await phone.page.goto(`${served.url}/#/phone/run`);
  await phone.page.getByRole('button', { name: 'A', exact: true }).click();
  await phone.page.getByText('Next run').first().waitFor({ timeout: SUM_MS });
  assert.equal(await phone.page.getByText("Today's run").count(), 0, 'nobody goes out today');
  await look(phone.page, 'phone-no-run');
  await phone.context.close();
});

await test('newcomer: an empty folder leads to the first run sheet in under five minutes', async () => {
  const empty = await Served.open({ empty: true });
  try {
    const { context, page } = await open('newcomer', DESK);
    const since = performance.now();
    await page.goto(`${empty.url}/#/morning`);
    await page.getByText('Begin here').waitFor({ timeout: 30_000 });
    await look(page, 'desk-first-1');
    await page.getByLabel('As its papers carry it').fill('Two Creeks Bees');
    await page.getByLabel('Degrees north').fill('45.05');
    await page.getByLabel('Degrees east').fill('-96.4');
    await page.getByLabel('Clock, as region').fill('America/Chicago');
    await page.getByRole('button', { name: 'Make the outfit' }).click();
    await page.getByText('You keep a list?').waitFor({ timeout: SUM_MS });
    await look(page, 'desk-first-2');
    const list = 'Apiary,Owner,Lat,Long,Gate,Doubles,Splits,Forage\nMill,O. Brand,45.08,-96.42,key under the stone,24,6,basswood;white-sweet-clover\nCreek,,45.02,-96.35,,18,4,white-sweet-clover;alfalfa\nHill,,44.99,-96.45,dog,30,0,basswood;alfalfa\n';
    await page.locator('input[type=file]').setInputFiles({ name: 'yards.csv', mimeType: 'text/csv', buffer: Buffer.from(list) });
    await page.getByText('3 yards').waitFor({ timeout: SUM_MS });
    await look(page, 'desk-first-import');
    await page.getByRole('button', { name: 'That is right: take it in' }).click();
    await page.getByText('What is in the shed?').waitFor({ timeout: SUM_MS });
    await look(page, 'desk-first-3');
    await page.getByLabel('empty boxes').fill('200');
    await page.getByLabel('excluders').fill('120');
    await page.getByRole('button', { name: 'Keep that' }).click();
    await page.getByText('What was the weather?').waitFor({ timeout: SUM_MS });
    await look(page, 'desk-first-4');
    await page.locator('input[type=file]').setInputFiles({ name: 'station.csv', mimeType: 'text/csv', buffer: Buffer.from(weatherTable()) });
    await page.getByRole('button', { name: 'That is right: take it in' }).click({ timeout: SUM_MS });
    await page.getByRole('heading', { name: 'Go or not' }).waitFor({ timeout: 120_000 });
    await look(page, 'desk-first-morning');
    const runs = (await empty.morning()).today.concat((await empty.morning()).later);
    assert.ok(runs.length > 0, 'runs are planned');
    await page.goto(`${empty.url}/#/print/runs`);
    await page.locator('main').waitFor();
    if ((await empty.morning()).today.length > 0) await page.getByText('For the ambulance').first().waitFor();
    const seconds = (performance.now() - since) / 1000;
    told.push(`newcomer: from an empty folder to the first run sheet in ${seconds.toFixed(0)} s of a machine's typing, ${runs.length} runs planned, ${(await empty.morning()).today.length} today`);
    assert.ok(seconds < 300);
    await look(page, 'desk-first-run-sheet');
    await context.close();
  } finally {
    await empty.close();
  }
});

await test('pairing: the owner comes in, a phone by a code, a reader by a link; let out, the phone is told', async () => {
  const passphrase = 'four words that stand apart';
  const shut = await Served.open({ passphrase });
  try {
    const door = { ignoreHTTPSErrors: true };
    const { page } = await open('owner', { ...DESK, ...door });
    await page.goto(`${shut.url}/#/morning`);
    await page.getByLabel('Passphrase').fill('not the right one at all');
    await page.getByRole('button', { name: 'Come in' }).click();
    await page.getByText('SRV-018').waitFor();
    await look(page, 'desk-login');
    await page.getByLabel('Passphrase').fill(passphrase);
    await page.getByRole('button', { name: 'Come in' }).click();
    await page.locator('section[aria-label="Crew A"]').waitFor({ timeout: SUM_MS });
    await page.goto(`${shut.url}/#/phones`);
    await page.getByRole('button', { name: 'Make a code' }).click();
    const way = await page.locator('.code a').getAttribute('href');
    await page.locator('.code img').evaluate((image) => image.decode());
    await look(page, 'desk-phones-code');

    const phone = await open('paired', { ...PHONE, ...door });
    await phone.page.goto(way);
    await phone.page.locator('#name').fill('Ana');
    await phone.page.locator('#pair button').click();
    await phone.page.getByRole('button', { name: 'A', exact: true }).click();
    await phone.page.locator('.stop a').first().waitFor();
    await phone.page.locator('.stop a').first().click();
    await phone.page.locator('a.big-button').first().click();
    await phone.page.getByRole('button', { name: 'Close yard' }).first().click();
    await phone.page.getByText('and sent').waitFor();

    await page.getByLabel('The phone of').selectOption('reader');
    await page.getByLabel('whom the link is for').fill('Inspector');
    await page.getByRole('button', { name: 'Make a code' }).click();
    await page.getByText('and nothing else').waitFor();
    const link = await page.locator('.code a').getAttribute('href');
    const reader = await open('reader', { ...DESK, ...door });
    await reader.page.goto(link);
    await reader.page.locator('#name').fill('Inspector');
    await reader.page.locator('#pair button').click();
    await reader.page.locator('tbody tr a').first().waitFor();
    assert.equal(await reader.page.locator('nav a').count(), 2, 'yards and book, nothing else');
    await look(reader.page, 'desk-reader');
    await reader.page.getByRole('link', { name: 'Book' }).click();
    await reader.page.locator('tbody tr').nth(3).waitFor();
    assert.equal(await reader.page.getByRole('button', { name: /Wrong/ }).count(), 0, 'a reader strikes nothing out');

    await page.reload();
    const row = page.locator('tr', { hasText: 'Ana' });
    await row.waitFor();
    await look(page, 'desk-phones');
    await row.getByRole('button', { name: 'Let out' }).click();
    await row.getByRole('button', { name: 'For good' }).click();
    await row.waitFor({ state: 'detached' });
    await phone.page.evaluate(() => (location.hash = '#/phone/run'));
    await phone.page.getByRole('button', { name: 'Fetch the day' }).click();
    await phone.page.evaluate(() => (location.hash = '#/phone/unsent'));
    await phone.page.getByText('This phone is not let in any more').waitFor();
    await look(phone.page, 'phone-let-out');
  } finally {
    await shut.close();
  }
});

await served.close();
await rm(folder, { recursive: true, force: true });
for (const line of told) console.log(line);
await writeFile(join(PICTURES, 'told.txt'), `${told.join('\n')}\n`);
console.log(`pictures in ${resolve(PICTURES)}`);
if (faults.length > 0) {
  console.error(`\n${faults.length} faults:\n${faults.join('\n')}`);
}
// Whatever a failed test left open ends with it.
process.exit(faults.length > 0 ? 1 : 0);
