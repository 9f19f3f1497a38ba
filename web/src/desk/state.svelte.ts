import { getMe, getMorning, listen } from '../api/desk';
import type { Refused } from '../api/http';
import type { AsOf, Morning, Note, Run, Stop } from '../api/types';
import { dayMonth, longDay, shortDay } from '../shared/days';
import { type Language, type Say, type Words, languageOf, loadWords, sayCode, speaker } from '../words';

/** The office says so while it still works the first morning out. */
const NOT_YET = 'SRV-005';
const AGAIN_MS = 1_500;

/** What the desk's pages share: the morning as it stands, what is chosen on it, the language, and word of changes. */
class Desk {
  morning = $state<Morning | null>(null);
  as_of = $state<AsOf | null>(null);
  notes = $state<Note[]>([]);
  refused = $state<Refused | null>(null);
  loading = $state(false);
  chosen = $state<string | null>(null);
  language = $state<Language>('en');
  /** What whoever looks may do: `owner`, `crew`, `honey-house` or `reader`; nobody is known before the office said so. */
  role = $state('');
  outfit = $state('');
  words = $state<Words | null>(null);
  /** Grows with every morning worked out anew and with every entry: pages ask again when it does. */
  mornings = $state(0);
  book = $state(0);
  /** The line to the office is down. */
  away = $state(false);
  #heard = false;
  #hang_up: (() => void) | null = null;

  readonly say: Say = (word, fill) => (this.words ? speaker(this.words, this.language)(word, fill) : '');

  /** A word for a code of the job book, in the reader's language. */
  code(prefix: string, code: string, otherwise: string = code.replaceAll('-', ' ')): string {
    return this.words ? sayCode(this.words, prefix, code, otherwise) : otherwise;
  }

  short = (day: string): string => shortDay(day, this.language);
  day = (day: string): string => dayMonth(day, this.language);
  long = (day: string): string => longDay(day, this.language);

  /** `3 Jul to 9 Jul`, `3 Jul on`. */
  span(from: string, to: string | null): string {
    if (to === null) return this.say('d.on', { from: this.day(from) });
    return from === to ? this.day(from) : this.say('d.span', { from: this.day(from), to: this.day(to) });
  }

  async start(): Promise<void> {
    const kept = localStorage.getItem('outyard-language');
    await this.speak(kept && kept in { en: 1, es: 1, fr: 1 } ? (kept as Language) : languageOf(navigator.languages));
    await this.enter();
  }

  /** Asks who looks, and opens what he may see. */
  async enter(): Promise<void> {
    const me = await getMe();
    if (me.ok) {
      this.role = me.value.role;
      this.outfit = me.value.outfit;
      // Who only reads sees yards and book; the plan is not for him.
      if (this.role === 'reader') {
        this.refused = null;
        return;
      }
    } else if (me.shut_out) {
      this.refused = me;
      return;
    } else this.role = 'owner';
    await this.load();
    if (!this.refused?.shut_out) this.hear();
  }

  async speak(language: Language): Promise<void> {
    this.words = await loadWords(language);
    this.language = language;
    document.documentElement.lang = language;
    localStorage.setItem('outyard-language', language);
  }

  /** Listens for changes: a tally from a phone, a morning worked out anew. */
  hear(): void {
    this.#hang_up?.();
    this.#hang_up = listen(
      (news) => {
        this.book = news.book;
        if (this.#heard && news.mornings !== this.mornings) void this.load();
        this.mornings = news.mornings;
        this.#heard = true;
      },
      (away) => (this.away = away),
    );
  }

  hangUp(): void {
    this.#hang_up?.();
    this.#hang_up = null;
  }

  async load(): Promise<void> {
    if (this.loading) return;
    this.loading = true;
    for (;;) {
      const answer = await getMorning();
      if (!answer.ok && answer.code === NOT_YET) {
        await new Promise((done) => setTimeout(done, AGAIN_MS));
        continue;
      }
      this.loading = false;
      if (answer.ok) {
        this.morning = answer.value.value;
        this.as_of = answer.value.as_of;
        this.notes = answer.value.notes;
        this.refused = null;
      } else {
        this.refused = answer;
      }
      return;
    }
  }

  get today(): string {
    return this.morning?.date ?? '';
  }

  get runs(): Run[] {
    return this.morning ? [...this.morning.today, ...this.morning.later] : [];
  }

  get crews(): string[] {
    return [...new Set(this.runs.map((run) => run.crew))].sort();
  }

  /** The chosen stop with its run. */
  get stop(): { run: Run; stop: Stop } | null {
    for (const run of this.runs) {
      const stop = run.stops.find((one) => one.visit === this.chosen);
      if (stop) return { run, stop };
    }
    return null;
  }
}

export const desk = new Desk();
