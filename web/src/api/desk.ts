import { deviceName, entryId } from '../shared/ids';
import type { Day } from '../shared/days';
import { eachDay } from '../shared/days';
import { type Answered, ask, send } from './http';
import type { Mark, Season } from './season';
import type { Ahead, EntryLine, Gear, Morning, Outlook, Replan, SeasonAnswer, WhatIf, YardLine, YardPage } from './views';

// The desk's questions; how the office spells them stands here and nowhere else.

export const getMorning = (): Promise<Answered<Morning>> => ask('/morning');
export const getYards = (): Promise<Answered<YardLine[]>> => ask('/yards');
export const getYard = (yard: string): Promise<Answered<YardPage>> => ask(`/yards/${encodeURIComponent(yard)}`);
export const getOutlook = (): Promise<Answered<Outlook[]>> => ask('/outlook');
export const getGear = (): Promise<Answered<Gear>> => ask('/gear');
export const getBook = (): Promise<Answered<EntryLine[]>> => ask('/book');

export interface Change {
  rain: Day[];
  crews_home: { crew: string; on: Day }[];
  moves: { visit: string; on: Day; crew: string }[];
}

export const replan = (change: Partial<Change>): Promise<Answered<Replan>> => send('/replan', change);

export interface WhatIfAsked {
  rain: Day[];
  hands_more: number;
  boxes_more: number;
  put_down_by: string | null;
}

export const whatIf = (asked: WhatIfAsked): Promise<Answered<WhatIf>> => send('/what-if', asked);

/** One entry of the desk, written as the phone writes its own. */
export function write(fact: string, happened_on: Day, content: Record<string, unknown>): Promise<Answered<unknown>> {
  const device = localStorage.getItem('outyard-desk') ?? deviceName('desk');
  localStorage.setItem('outyard-desk', device);
  const line = { format: 1, id: entryId(), device, author: 'office', happened_on, recorded_at: new Date().toISOString(), fact, with: content };
  return send('/entries', { entries: [line] });
}

export const settle = (yard: string, on: Day, entry: string | null): Promise<Answered<unknown>> => send('/settle', { yard, on, entry });

export interface Device {
  device: string;
  name: string;
  role: string;
  last_seen: string | null;
}

export const getDevices = (): Promise<Answered<Device[]>> => ask('/devices');
export const revoke = (device: string): Promise<Answered<unknown>> => send(`/devices/${encodeURIComponent(device)}`, {}, 'DELETE');
export const newCode = (role: string): Promise<Answered<{ code: string; svg: string; until: string }>> => send('/pair/codes', { role });
export const login = (passphrase: string): Promise<Answered<unknown>> => send('/login', { passphrase });

export async function getSeason(): Promise<Answered<Season>> {
  const answer = await ask<SeasonAnswer>('/season');
  return answer.ok ? { ok: true, value: drawn(answer.value) } : answer;
}

/** The season as the board draws it. */
export function drawn(answer: SeasonAnswer): Season {
  const days = eachDay(answer.from, answer.to);
  const gates = [...new Set(answer.work_weather.map((one) => one.needs))];
  const deep = answer.boxes.find((one) => one.gear === 'deep') ?? answer.boxes[0];
  return {
    today: answer.today,
    days,
    gain: answer.gain_by_day.filter((one) => one.date >= answer.from && one.date <= answer.to),
    weather: gates.map((needs) => {
      const of_gate = answer.work_weather.filter((one) => one.needs === needs);
      return {
        name: of_gate[0]?.jobs.map((job) => job.replaceAll('-', ' ')).join(', ') ?? needs,
        open: days.map((day) => of_gate.find((one) => one.date === day)?.share_open ?? null),
      };
    }),
    boxes: (deep?.days ?? []).map(({ date, stock, short }) => ({ date, stock, short })),
    first_short: deep?.first_short ?? null,
    yards: answer.yards.map((yard) => ({
      yard: yard.yard,
      name: yard.name,
      marks: [
        ...yard.closed.map((closed): Mark => ({
          sort: 'closed', clock: 'season', what: closed.jobs.map((job) => job.replaceAll('-', ' ')).join(', '), why: '', crew: '',
          from: closed.on, best: closed.on, to: closed.on, visit: null,
        })),
        ...yard.brood.flatMap((running) =>
          running.clocks
            .filter((clock) => clock.best >= answer.from && clock.best <= answer.to)
            .map((clock): Mark => ({
              sort: 'clock', clock: 'brood', what: clock.name, why: `Counted from the put-down of ${running.put_down_on}; no weather moves it.`, crew: '',
              from: clock.from, best: clock.best, to: clock.to ?? clock.best, visit: null,
            })),
        ),
        ...yard.windows.map((window): Mark => ({
          sort: window.planned ? 'planned' : 'due', clock: window.clock, what: window.what,
          why: window.clock === 'fill' ? 'Moves with the flow.' : window.clock === 'brood' ? 'Stands fixed.' : 'Time of year.',
          crew: window.crew ?? '', from: window.from, best: window.planned ?? window.best, to: window.to, visit: window.visit,
        })),
      ],
    })),
  };
}

export async function getSeasonBoxes(): Promise<Answered<Ahead[]>> {
  const answer = await ask<SeasonAnswer>('/season');
  return answer.ok ? { ok: true, value: answer.value.boxes } : answer;
}
