import type { Counts } from '../shared/kinds';
import type { Day } from '../shared/days';

/** What a phone holds before it drives off. Made from the server's answers by `fetchPack`; nothing here is worked out. */
export interface Pack {
  outfit: string;
  day: Day;
  /** When it was fetched, by this phone's clock. */
  fetched_at: string;
  runs: PackRun[];
  yards: PackYard[];
  jobs: PackJob[];
  signs: PackSignTable[];
}

export interface PackLoad {
  gear: string;
  said: string;
  needed: number;
  load: number;
  weight_kg: number;
  comes_home: boolean;
}

export interface PackStopJob {
  job: string;
  name: string;
  does: string;
  counts: Counts;
  reason: string;
}

export interface PackStop {
  visit: string;
  yard: string;
  arrive: string;
  start: string;
  end: string;
  work_min: number;
  jobs: PackStopJob[];
  gear: PackLoad[];
  open_from: string | null;
  open_to: string | null;
  weather: string;
  starts: string[];
}

export interface PackRun {
  date: Day;
  crew: string;
  hands: number;
  truck: string;
  leave: string;
  home: string;
  lunch: [string, string] | null;
  stops: PackStop[];
  load: PackLoad[];
  deck_places: number;
  deck_places_max: number;
  weight_kg: number;
  payload_kg: number;
  full_boxes_home_max: number;
  cautions: string[];
}

export interface PackYard {
  yard: string;
  name: string;
  counts: Counts;
  counted_on: Day | null;
  put_down_on: Day | null;
  gate: string;
  wet_road: boolean;
  landowner: string;
  latitude: number | null;
  longitude: number | null;
}

export interface PackJob {
  job: string;
  name: string;
  does: string;
  cautions: string[];
  kinds: string[];
}

/** What every comb means for one put-down, on the days this pack answers for. */
export interface PackSignTable {
  put_down_on: Day;
  signs: PackSign[];
}

export interface PackSign {
  sign: string;
  said: string;
  above: boolean;
  spans: PackSpan[];
}

export interface PackSpan {
  from: Day;
  to: Day;
  outcome: 'meaning' | 'refused';
  verdict: string | null;
  means: string;
  to_do: string[];
  cautions: string[];
  counts_from: Day | null;
}
