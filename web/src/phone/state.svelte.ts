import { type Answered, contested, fetchPack, fileFor, sendLines, whoAmI } from '../api/phone';
import type { Pack, Run, Stop, YardLine } from '../api/types';
import { localToday } from '../shared/days';
import { deviceName, entryId } from '../shared/ids';
import { type Language, type Say, type Words, languageOf, loadWords, sayCode, speaker } from '../words';
import { type Kept, type KeptPack, type Line, type Store, type Waiting, everything, keepEntry, onSmallShelf, openStore, settle } from './keep';
import { flush } from './outbox';
import { type Draft, boxOf, draftOf, emptyDraft, tallyOf } from './tally';

const TELL_AGAIN_MS = 5_000;
const ASK_AGAIN_MS = 2_500;

/** Everything the phone's screens share. */
class Phone {
  language = $state<Language>('en');
  words = $state<Words | null>(null);
  pack = $state<KeptPack | null>(null);
  entries = $state<Waiting[]>([]);
  small = $state<Set<string>>(new Set());
  drafts = $state<Record<string, Draft>>({});
  crew = $state(read('crew') ?? '');
  name = $state(read('name') ?? '');
  device = $state(read('device') ?? '');
  signal = $state(navigator.onLine);
  sending = $state(false);
  fetching = $state(false);
  shut_out = $state(false);
  trouble = $state('');
  ready = $state(false);
  #store: Store | null = null;

  readonly say: Say = (word, fill) => (this.words ? speaker(this.words, this.language)(word, fill) : '');

  /** A word for a code of the job book, in the helper's language. */
  code(prefix: string, code: string, otherwise: string): string {
    return this.words ? sayCode(this.words, prefix, code, otherwise) : otherwise;
  }

  waits = $derived(this.entries.filter((entry) => entry.state === 'waits'));
  refused = $derived(this.entries.filter((entry) => entry.state === 'refused'));

  async start(): Promise<void> {
    const kept = read('language');
    this.language = kept && kept in { en: 1, es: 1, fr: 1 } ? (kept as Language) : languageOf(navigator.languages);
    this.words = await loadWords(this.language);
    document.documentElement.lang = this.language;
    if (!this.device) this.#setDevice(deviceName('phone'));
    this.#store = await openStore();
    this.pack = (await this.#store.get('pack', 'day')) ?? null;
    this.drafts = Object.fromEntries((await this.#store.getAll('drafts')).map((draft) => [draft.key, draft]));
    await this.look();
    this.ready = true;
    window.addEventListener('online', () => {
      this.signal = true;
      void this.send();
    });
    window.addEventListener('offline', () => (this.signal = false));
    document.addEventListener('visibilitychange', () => {
      if (document.visibilityState === 'visible') void this.send();
    });
    window.setInterval(() => {
      if (this.waits.length > 0) void this.send();
    }, TELL_AGAIN_MS);
    void this.send();
    if (!this.pack || this.pack.fetched_at.slice(0, 10) !== localToday()) void this.fetch();
  }

  async setLanguage(language: Language): Promise<void> {
    this.words = await loadWords(language);
    this.language = language;
    document.documentElement.lang = language;
    write('language', language);
  }

  setCrew(crew: string): void {
    this.crew = crew;
    write('crew', crew);
  }

  setName(name: string): void {
    this.name = name;
    write('name', name);
  }

  #setDevice(device: string): void {
    this.device = device;
    write('device', device);
  }

  /** Takes the day onto the phone. What is there stays until the new one is whole. */
  async fetch(): Promise<void> {
    if (this.fetching) return;
    this.fetching = true;
    this.trouble = '';
    try {
      const me = await whoAmI();
      if (me.device) this.#setDevice(me.device);
      const answer: Answered<Pack> = await fetchPack();
      if (answer.ok) {
        this.pack = { ...answer.value, fetched_at: new Date().toISOString() };
        await this.#store?.put('pack', $state.snapshot(this.pack) as KeptPack, 'day');
        this.shut_out = false;
        this.signal = true;
        await navigator.storage?.persist?.();
      } else {
        this.shut_out = answer.shut_out;
        if (!answer.no_signal) this.trouble = answer.why;
        else this.signal = false;
      }
    } catch (error) {
      this.trouble = String(error);
    } finally {
      this.fetching = false;
    }
  }

  get runs(): Run[] {
    return this.pack?.runs ?? [];
  }

  get day(): string {
    return this.pack?.date ?? localToday();
  }

  /** The run of this phone's crew: today's, or the next one there is. */
  get run(): Run | null {
    const mine = this.runs.filter((run) => run.crew === this.crew);
    return mine.find((run) => run.date >= this.day) ?? null;
  }

  get crews(): string[] {
    return [...new Set(this.runs.map((run) => run.crew))].sort();
  }

  get yards(): YardLine[] {
    return this.pack?.yards.map(({ stands }) => stands) ?? [];
  }

  yard(name: string): YardLine | null {
    return this.yards.find((yard) => yard.yard === name) ?? null;
  }

  stop(visit: string): { run: Run; stop: Stop } | null {
    for (const run of this.runs) {
      const stop = run.stops.find((one) => one.visit === visit);
      if (stop) return { run, stop };
    }
    return null;
  }

  stopAt(yard: string): { run: Run; stop: Stop } | null {
    const run = this.run;
    const stop = run?.stops.find((one) => one.yard === yard);
    return run && stop ? { run, stop } : null;
  }

  /** Whether a tally of this visit was written here and stands. */
  closed(visit: string): Waiting | null {
    const struck = new Set(
      this.entries.filter((entry) => entry.line.fact === 'correction').map((entry) => entry.line.with['of']),
    );
    return (
      this.entries
        .filter((entry) => entry.line.fact === 'visit-closed' && entry.line.with['visit'] === visit && !struck.has(entry.id))
        .pop() ?? null
    );
  }

  /** The draft of a visit as it was left, or as planned. */
  draft(key: string): Draft {
    const known = this.drafts[key];
    if (known) return known;
    const planned = this.stop(key);
    if (planned) return draftOf(planned.run, planned.stop, this.pack?.gear ?? []);
    return emptyDraft(key.split('/')[0] ?? key, this.day);
  }

  async keepDraft(draft: Draft): Promise<void> {
    const plain = $state.snapshot(draft) as Draft;
    this.drafts[draft.key] = plain;
    try {
      await this.#store?.put('drafts', plain);
    } catch {
      // A full phone loses the draft on a reload, not the tally: that is kept by `keepEntry`.
    }
  }

  /** Writes the tally of a visit; the answer says whether the phone holds it. */
  async close(draft: Draft): Promise<{ kept: Kept; id: string }> {
    // Gear comes off the truck only where the book knows that it was loaded; otherwise it comes from the shed.
    const run = this.runs.find((one) => one.date === draft.day && one.truck === draft.truck);
    const plain = { ...($state.snapshot(draft) as Draft), truck: run && this.told('truck-loaded', run) ? draft.truck : null };
    const line = this.#line('visit-closed', draft.day, tallyOf(plain));
    const kept = await this.#write(line);
    if (kept !== 'lost') {
      delete this.drafts[draft.key];
      await this.#store?.delete('drafts', draft.key).catch(() => undefined);
    }
    return { kept, id: line.id };
  }

  /** What stays in yards goes onto the truck in the book too, by the names the shed knows. */
  #shed(lines: { gear: string; comes_home: boolean }[], count: (gear: string) => number): Record<string, number> {
    const sum: Record<string, number> = {};
    for (const line of lines.filter((one) => !one.comes_home)) {
      const name = this.pack?.gear.find((rule) => rule.gear === line.gear)?.counts_as ?? line.gear;
      sum[name] = (sum[name] ?? 0) + count(line.gear);
    }
    return Object.fromEntries(Object.entries(sum).filter(([, n]) => n > 0));
  }

  /** Whether this phone wrote down that the truck of a run was loaded, or came home. */
  told(fact: 'truck-loaded' | 'truck-home', run: Run): Waiting | null {
    return this.entries.find((entry) => entry.line.fact === fact && entry.line.with['truck'] === run.truck && entry.line.happened_on === run.date) ?? null;
  }

  /** What should be left on the truck by this phone's own tallies. */
  leftOn(run: Run): Record<string, number> {
    const left = this.#shed(run.load, (gear) => run.load.find((line) => line.gear === gear)?.load ?? 0);
    const used = this.entries.filter((entry) => entry.line.fact === 'visit-closed' && entry.line.happened_on === run.date && entry.line.with['truck'] === run.truck);
    for (const entry of used) {
      for (const part of ['boxes_on', 'boxes_left', 'gear_put'] as const) {
        for (const [gear, count] of Object.entries((entry.line.with[part] ?? {}) as Record<string, number>)) if (gear in left) left[gear] = Math.max(0, (left[gear] ?? 0) - count);
      }
    }
    return left;
  }

  loadTruck(run: Run): Promise<Kept> {
    const gear = this.#shed(run.load, (code) => run.load.find((line) => line.gear === code)?.load ?? 0);
    return this.#write(this.#line('truck-loaded', run.date, { truck: run.truck, gear }));
  }

  truckHome(run: Run, to_shed: Record<string, number>, full_boxes: number): Promise<Kept> {
    const some = Object.fromEntries(Object.entries(to_shed).filter(([, count]) => count > 0));
    const box = boxOf(this.pack?.gear ?? []);
    return this.#write(this.#line('truck-home', run.date, { truck: run.truck, to_shed: some, ...(full_boxes > 0 && { to_hot_room: { [box]: full_boxes } }) }));
  }

  async strike(id: string): Promise<void> {
    const wrong = this.entries.find((entry) => entry.id === id);
    if (wrong) await this.#write(this.#line('correction', wrong.line.happened_on, { of: id }));
  }

  #line(fact: string, happened_on: string, content: Record<string, unknown>): Line {
    return {
      format: 1,
      id: entryId(),
      device: this.device,
      author: this.name || this.device,
      happened_on,
      recorded_at: new Date().toISOString(),
      fact,
      with: content,
    };
  }

  async #write(line: Line): Promise<Kept> {
    if (!this.#store) return 'lost';
    const kept = await keepEntry(this.#store, localStorage, line);
    await this.look();
    if (kept !== 'lost') void this.send();
    return kept;
  }

  /** Keeps a photo under the name of its bytes; `null` when there is no room. */
  async keepPhoto(bytes: Blob): Promise<string | null> {
    try {
      const hash = await nameOf(bytes);
      await this.#store?.put('photos', { hash, bytes, sent: false });
      return hash;
    } catch {
      return null;
    }
  }

  async look(): Promise<void> {
    if (!this.#store) return;
    this.entries = await everything(this.#store, localStorage);
    this.small = onSmallShelf(localStorage);
  }

  /** Sends what waits. One sending at a time, also when several pages of the phone are open. */
  async send(): Promise<void> {
    const store = this.#store;
    if (!store || this.sending) return;
    this.sending = true;
    try {
      await alone(async () => {
        const sent = await flush(store, localStorage, sendLines);
        this.shut_out = sent.shut_out;
        if (sent.sent + sent.refused > 0) this.signal = true;
        else if (sent.left > 0 && !sent.shut_out) this.signal = false;
        if (sent.left === 0) await this.#sendPhotos(store);
        if (sent.sent > 0) this.#lookForDoubts(store);
      });
    } finally {
      await this.look();
      this.sending = false;
    }
  }

  /** The office works out whether a visit has two tallies now; asked until it has, for a while. */
  #lookForDoubts(store: Store, tries = 12): void {
    window.setTimeout(async () => {
      const doubted = await contested();
      if (doubted === null) {
        if (tries > 0) this.#lookForDoubts(store, tries - 1);
        return;
      }
      for (const entry of this.entries.filter((one) => one.state === 'sent' && doubted.includes(one.id) !== (one.contested ?? false))) {
        await settle(store, localStorage, { ...($state.snapshot(entry) as Waiting), contested: doubted.includes(entry.id) });
      }
      await this.look();
    }, ASK_AGAIN_MS);
  }

  async #sendPhotos(store: Store): Promise<void> {
    for (const photo of await store.getAll('photos')) {
      if (photo.sent || !(await fileFor(photo.hash, photo.bytes))) continue;
      await store.put('photos', { ...photo, sent: true });
    }
  }
}

async function alone(work: () => Promise<void>): Promise<void> {
  if (navigator.locks) await navigator.locks.request('outyard-outbox', { ifAvailable: true }, (lock) => (lock ? work() : undefined));
  else await work();
}

/** The SHA-256 of the bytes; only a page served over HTTPS or from this machine may work it out. */
async function nameOf(bytes: Blob): Promise<string> {
  const digest = await crypto.subtle.digest('SHA-256', await bytes.arrayBuffer());
  return Array.from(new Uint8Array(digest), (byte) => byte.toString(16).padStart(2, '0')).join('');
}

function read(name: string): string | null {
  try {
    return localStorage.getItem(`outyard-${name}`);
  } catch {
    return null;
  }
}

function write(name: string, value: string): void {
  try {
    localStorage.setItem(`outyard-${name}`, value);
  } catch {
    // Said again next time.
  }
}

export const phone = new Phone();
