import { type Counts, without } from '../shared/kinds';
import type { Outfit, Run, Stop } from '../api/types';

export type GearRule = Outfit['gear'][number];

/** The box as the book counts it, where no rule says otherwise. */
const BOX = 'deep';

/** The box of the shed that the load list's own names stand for. */
export function boxOf(gear: readonly GearRule[]): string {
  return gear.find((rule) => rule.holds_deeps > 0)?.counts_as ?? BOX;
}

export interface JobDraft {
  job: string;
  planned: Counts;
  done: Counts;
}

export interface Odd {
  dead: number;
  queenless: number;
  swarmed: number;
  weak: number;
}

/** A tally while it is being written; kept on the phone with every tap. */
export interface Draft {
  key: string;
  /** The box of the shed, as the book spells it. */
  box: string;
  visit: string | null;
  yard: string;
  day: string;
  truck: string | null;
  jobs: JobDraft[];
  odd: Odd;
  boxes_on: number;
  boxes_off: number;
  boxes_left: number;
  loose_used: number;
  gear_put: Record<string, number>;
  gear_taken: Record<string, number>;
  fullness: number | null;
  minutes: number | null;
  hands: number;
  signs: string[];
  note: string;
  photos: string[];
  here_since: string | null;
}

export const NOTHING_ODD: Odd = { dead: 0, queenless: 0, swarmed: 0, weak: 0 };

/** The draft of a stop: everything as planned, so that closing it as it was planned is one tap. */
export function draftOf(run: Run, stop: Stop, gear: readonly GearRule[]): Draft {
  const box = boxOf(gear);
  const names = new Set(gear.filter((rule) => rule.counts_as === box).map((rule) => rule.gear).concat(box));
  const stays = stop.gear.filter((line) => !line.comes_home);
  const boxes = stays.filter((line) => names.has(line.gear));
  return {
    key: stop.visit,
    box,
    visit: stop.visit,
    yard: stop.yard,
    day: run.date,
    truck: run.truck,
    jobs: stop.jobs.map(({ job, counts }) => ({ job, planned: { ...counts }, done: { ...counts } })),
    odd: { ...NOTHING_ODD },
    boxes_on: boxes.reduce((sum, line) => sum + line.needed, 0),
    boxes_off: 0,
    boxes_left: 0,
    loose_used: 0,
    gear_put: Object.fromEntries(
      stays.filter((line) => !names.has(line.gear) && line.needed > 0).map((line) => [line.gear, line.needed]),
    ),
    gear_taken: {},
    fullness: null,
    minutes: null,
    hands: run.hands,
    signs: [],
    note: '',
    photos: [],
    here_since: null,
  };
}

/** A draft for a yard that no run names. */
export function emptyDraft(yard: string, day: string): Draft {
  return {
    key: `${yard}/${day}`,
    box: BOX,
    visit: null,
    yard,
    day,
    truck: null,
    jobs: [],
    odd: { ...NOTHING_ODD },
    boxes_on: 0,
    boxes_off: 0,
    boxes_left: 0,
    loose_used: 0,
    gear_put: {},
    gear_taken: {},
    fullness: null,
    minutes: null,
    hands: 2,
    signs: [],
    note: '',
    photos: [],
    here_since: null,
  };
}

/** The tally as the book's line writes it: what is empty is left out. */
export function tallyOf(draft: Draft): Record<string, unknown> {
  const tally: Record<string, unknown> = { yard: draft.yard };
  const put = (name: string, value: unknown, empty: boolean) => {
    if (!empty) tally[name] = value;
  };
  put('visit', draft.visit, draft.visit === null);
  const jobs = draft.jobs.map(({ job, planned, done }) => {
    const undone = without(planned, done);
    return {
      job,
      done: someOf(done),
      ...(Object.keys(undone).length > 0 ? { undone } : {}),
    };
  });
  put('jobs', jobs, jobs.length === 0);
  const odd = someOf({ ...draft.odd });
  put('odd', odd, Object.keys(odd).length === 0);
  for (const name of ['boxes_on', 'boxes_off', 'boxes_left', 'loose_used'] as const) {
    put(name, { [draft.box]: draft[name] }, draft[name] === 0);
  }
  for (const name of ['gear_put', 'gear_taken'] as const) {
    const gear = someOf(draft[name]);
    put(name, gear, Object.keys(gear).length === 0);
  }
  put('fullness', draft.fullness, draft.fullness === null);
  put('minutes', draft.minutes, draft.minutes === null);
  put('hands', draft.hands, draft.hands === 0);
  put('signs', draft.signs, draft.signs.length === 0);
  put('truck', draft.truck, draft.truck === null);
  const note = [draft.note.trim(), ...draft.photos.map((hash) => `photo ${hash}`)].filter(Boolean).join('; ');
  put('note', note, note === '');
  return tally;
}

function someOf(counts: Record<string, number | undefined>): Record<string, number> {
  return Object.fromEntries(
    Object.entries(counts).filter((pair): pair is [string, number] => pair[1] !== undefined && pair[1] > 0),
  );
}

/** Left undone (positive) or done over the plan (negative), all kinds of a job together. */
export function leftOf(job: JobDraft): number {
  const sum = (counts: Counts) => Object.values(counts).reduce((all, count) => all + (count ?? 0), 0);
  return sum(job.planned) - sum(job.done);
}
