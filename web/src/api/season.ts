import type { Day } from '../shared/days';
import type { ClockSort, Range } from './views';

/** The season drawn: yards against days. */
export interface Season {
  days: Day[];
  today: Day;
  yards: SeasonYard[];
  gain: { date: Day; kg: Range }[];
  /** Share of yards whose gate stands open, by job and day; empty where it is not known. */
  weather: { name: string; open: (number | null)[] }[];
  boxes: { date: Day; stock: number; short: number }[];
  first_short: Day | null;
}

export interface SeasonYard {
  yard: string;
  name: string;
  marks: Mark[];
}

/** One thing on a yard's line. */
export interface Mark {
  sort: 'planned' | 'due' | 'closed' | 'clock';
  clock: ClockSort;
  what: string;
  why: string;
  crew: string;
  from: Day;
  best: Day;
  to: Day | null;
  visit: string | null;
}
