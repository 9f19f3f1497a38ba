import type { Counts } from '../shared/kinds';
import type { Day } from '../shared/days';

// What the desk shows, in the words of `app::views`.

export interface Dates {
  early: Day | null;
  likely: Day | null;
  late: Day | null;
  said: string;
}

export interface Range {
  low: number;
  likely: number;
  high: number;
}

export interface Load {
  gear: string;
  said: string;
  needed: number;
  load: number;
  weight_kg: number;
  comes_home: boolean;
}

export type ClockSort = 'brood' | 'fill' | 'season';

export interface Job {
  job: string;
  name: string;
  does: string;
  colonies: string;
  counts: Counts;
  clock: ClockSort;
  reason: string;
}

export interface Stop {
  visit: string;
  yard: string;
  name: string;
  gate: string;
  wet_road: boolean;
  landowner: string;
  latitude: number | null;
  longitude: number | null;
  arrive: string;
  start: string;
  end: string;
  work_min: number;
  jobs: Job[];
  gear: Load[];
  open_from: string | null;
  open_to: string | null;
  weather: string;
  a_day_more_cents: number;
  starts: string[];
}

export interface Run {
  date: Day;
  crew: string;
  hands: number;
  truck: string;
  leave: string;
  home: string;
  away_min: number;
  drive_min: number;
  road_km: number;
  lunch: [string, string] | null;
  gate_left_min: number | null;
  stops: Stop[];
  load: Load[];
  home_load: Load[];
  deck_places: number;
  deck_places_max: number;
  weight_kg: number;
  payload_kg: number;
  full_boxes_home_max: number;
  cautions: string[];
}

export interface Due {
  visit: string;
  yard: string;
  what: string;
  from: Day;
  best: Day;
  to: Day | null;
  planned: Day | null;
  crew: string | null;
  waiting_cents: number[];
  waiting_last_day_cents: [number, number, number];
  pair_minutes: number;
  reasons: string[];
}

export interface Gate {
  jobs: string[];
  words: string;
  yards_open: number;
  yards: number;
  hours: [string, string] | null;
  deciding: string;
  instead: string;
}

export interface Stock {
  gear: string;
  ready: number;
  wanted: number;
  left: number;
}

export interface Bill {
  waiting_cents: number;
  left_out_cents: number;
  wages_cents: number;
  road_cents: number;
}

export interface Morning {
  outfit: string;
  date: Day;
  said: string;
  colonies: string;
  yards: number;
  flow: Dates;
  gain_today_kg: Range | null;
  gates: Gate[];
  today: Run[];
  later: Run[];
  left_out: Due[];
  stock: Stock[];
  bill: Bill;
  unsettled: number;
  oldest_count: Day | null;
}

export interface Slide {
  visit: string;
  yard: string;
  from: Day | null;
  from_crew: string | null;
  to: Day | null;
  to_crew: string | null;
  forced: boolean;
  cost_cents: number;
}

export interface Replan {
  runs: Run[];
  runs_before: Run[];
  slid: Slide[];
  stayed: number;
  cost_cents: number;
  bill_before_cents: number;
  bill_cents: number;
  fixed: { yard: string; put_down_on: Day }[];
}

export interface YardLine {
  yard: string;
  name: string;
  group: string;
  latitude: number | null;
  longitude: number | null;
  gate: string;
  wet_road: boolean;
  landowner: string;
  colonies: Counts;
  counted_on: Day | null;
  put_down_on: Day | null;
  last_visit: Day | null;
}

export interface Clock {
  code: string;
  name: string;
  from: Day;
  best: Day;
  to: Day | null;
}

export interface Running {
  put_down_on: Day;
  clocks: Clock[];
}

export interface YardPage {
  stands: YardLine;
  running: Running[];
  put_down: { minutes: number; hands: number; jobs: { job: string; colonies: string }[]; load: Load[]; clocks: Clock[]; cautions: string[] } | null;
  history: EntryLine[];
}

export interface Gear {
  gear: { gear: string; owned: number; ready: number; places: { place: string; said: string; count: number }[]; unplaced: { count: number; said: string; settle: string }[] }[];
  in_doubt: Doubt[];
  balances: boolean;
}

export interface Doubt {
  yard: string;
  on: Day;
  tallies: { entry: string; author: string; device: string; recorded_at: string; tally: TallyView }[];
  proposal: string;
  can_accept: boolean;
}

export interface TallyView {
  jobs: { job: string; done: Counts; undone: Counts }[];
  boxes_on: Record<string, number>;
  boxes_off: Record<string, number>;
  boxes_left: Record<string, number>;
  gear_put: Record<string, number>;
  gear_taken: Record<string, number>;
  minutes: number | null;
  hands: number | null;
  odd: Record<string, number>;
  note: string;
}

export interface Ahead {
  gear: string;
  owned: number;
  ready: number;
  days: { date: Day; need: number; returns: number; stock: number; short: number }[];
  first_short: Day | null;
  cure: 'not-needed' | 'wet-supers-earlier' | 'get-boxes';
  boxes_to_get: number;
  days_earlier: number | null;
}

export interface WhatIf {
  columns: { said: string; bill: Bill; total_cents: number; against_cents: number; visits: number; left_out: number; runs: number; last_run: Day | null }[];
  rests_on: string[];
}

export interface SeasonAnswer {
  today: Day;
  from: Day;
  to: Day;
  yards: {
    yard: string;
    name: string;
    said: string;
    windows: { visit: string; what: string; from: Day; best: Day; to: Day | null; clock: ClockSort; planned: Day | null; crew: string | null }[];
    closed: { entry: string; on: Day; jobs: string[] }[];
    brood: Running[];
  }[];
  gain_by_day: { date: Day; kg: Range }[];
  work_weather: { date: Day; needs: string; jobs: string[]; share_open: number }[];
  boxes: Ahead[];
}

export interface Outlook {
  yard: string;
  based_on: string[];
  bloom: { plant: string; first: Dates; end: Dates; records: number; seen: Day | null }[];
  flow_begins: Dates;
  flow_ends: Dates;
  gain_by_day: { date: Day; kg: Range }[];
  scale_factor: Range | null;
  stacks: unknown[];
}

export interface EntryLine {
  entry: string;
  corrects: string | null;
  corrected_by: string[];
  fact: string;
  said: string;
  yard: string | null;
  happened_on: Day;
  recorded_at: string;
  author: string;
  device: string;
}
