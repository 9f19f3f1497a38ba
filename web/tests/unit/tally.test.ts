import { expect, it } from 'vitest';
import { draftOf, leftOf, tallyOf } from '../../src/phone/tally';
import type { Run, Stop } from '../../src/api/types';

const line = (gear: string, needed: number, comes_home = false) => ({ gear, said: gear, needed, load: needed, weight_kg: 0, comes_home });
const gear = ['deep', 'third', 'box'].map((one) => ({ gear: one, counts_as: 'deep', holds_deeps: 1, said: one, weight_kg: 0 }));
const stop: Stop = {
  visit: '7/single-down-blow/2026-06-29', yard: '7', name: '', gate: '', wet_road: false, landowner: '', latitude: null, longitude: null, a_day_more_cents: 0, arrive: '09:00', start: '09:00', end: '11:39', work_min: 159,
  jobs: [
    { job: 'single-down-blow', name: '', does: '', colonies: '', counts: { double: 26 }, clock: 'season', reason: '' },
    { job: 'brood-lift', name: '', does: '', colonies: '', counts: { split: 6 }, clock: 'season', reason: '' },
  ],
  gear: [line('excluder', 32), line('third', 32), line('blower', 1, true)],
  open_from: null, open_to: null, weather: '', starts: [],
};
const run: Run = {
  date: '2026-07-03', crew: 'A', hands: 2, truck: 'red', leave: '08:35', home: '18:40', lunch: null, away_min: 0, drive_min: 0, road_km: 0, gate_left_min: null, home_load: [], stops: [stop], load: [],
  deck_places: 0, deck_places_max: 120, weight_kg: 0, payload_kg: 0, full_boxes_home_max: 62, cautions: [],
};

it('closes a visit as planned without a tap (scene S1: 26 doubles, 6 splits, 32 thirds, 32 excluders)', () => {
  expect(tallyOf(draftOf(run, stop, gear))).toEqual({
    yard: '7',
    visit: '7/single-down-blow/2026-06-29',
    jobs: [
      { job: 'single-down-blow', done: { double: 26 } },
      { job: 'brood-lift', done: { split: 6 } },
    ],
    boxes_on: { deep: 32 },
    gear_put: { excluder: 32 },
    hands: 2,
    truck: 'red',
  });
});

it('says what was left undone and what was odd', () => {
  const draft = draftOf(run, stop, gear);
  draft.jobs[0]!.done.double = 24;
  draft.odd.dead = 1;
  draft.boxes_on = 30;
  draft.minutes = 150;
  draft.note = ' gate was open ';
  draft.photos = ['ab12'];
  expect(leftOf(draft.jobs[0]!)).toBe(2);
  const tally = tallyOf(draft);
  expect(tally['jobs']).toContainEqual({ job: 'single-down-blow', done: { double: 24 }, undone: { double: 2 } });
  expect(tally['odd']).toEqual({ dead: 1 });
  expect(tally['boxes_on']).toEqual({ deep: 30 });
  expect(tally['minutes']).toBe(150);
  expect(tally['note']).toBe('gate was open; photo ab12');
});

it('leaves the plan alone when the draft is changed', () => {
  const draft = draftOf(run, stop, gear);
  draft.jobs[0]!.done.double = 0;
  expect(stop.jobs[0]!.counts.double).toBe(26);
  expect(tallyOf(draft)['jobs']).toContainEqual({ job: 'single-down-blow', done: {}, undone: { double: 26 } });
});
