import { deviceName, entryId } from '../shared/ids';
import { type Answered, type Refused, type Told, address, ask, get, getInner, getTold, post, postInner, send, told } from './http';
import type {
  Begin, BookPage, Code, Device, Doubt, Gear, ImportShown, Me, Mended, Morning, Otherwise, Outfit, Outlook, SeasonShown, TallyTold, WhatIf, YardLine, YardPage,
} from './types';
import type { components } from './schema';

// The desk's questions; how the office spells them stands here and nowhere else.

export const getMorning = (on?: string): Promise<Answered<Told<Morning>>> => getTold('/api/v1/morning', { on });
export const getOutfit = (): Promise<Answered<Outfit>> => getInner('/api/v1/outfit');
export const getYards = (): Promise<Answered<YardLine[]>> => getInner('/api/v1/yards');
export const getYard = (yard: string): Promise<Answered<YardPage>> => getInner('/api/v1/yards/{yard}', { yard });
export const getOutlook = (yard: string): Promise<Answered<Outlook>> => getInner('/api/v1/outlook/{yard}', { yard });
export const getGear = (): Promise<Answered<Gear>> => getInner('/api/v1/gear');
export const getSeason = (): Promise<Answered<SeasonShown>> => getInner('/api/v1/season');
export const getDoubts = (): Promise<Answered<Doubt[]>> => getInner('/api/v1/doubts');

export interface BookAsked {
  search?: string;
  yard?: string;
  fact?: string;
  cursor?: string;
  limit?: string;
}

export const getBook = (asked: BookAsked): Promise<Answered<BookPage>> => get('/api/v1/book', { ...asked });

export type ReplanWords = components['schemas']['ReplanWords'];

export const replan = (words: ReplanWords): Promise<Answered<Mended>> => postInner('/api/v1/replan', words);
export const whatIf = (changes: Otherwise[]): Promise<Answered<WhatIf>> => postInner('/api/v1/what-if', { changes });
export const strike = (entry: string): Promise<Answered<unknown>> => post('/api/v1/corrections/strike', { entry });
export const tell = (tally: TallyTold): Promise<Answered<unknown>> => post('/api/v1/tally', tally);

/** Settles two tallies: by one of them, by the book's own proposal, or by gear counted since. */
export const settle = (yard: string, how: { entry?: string; gear?: Record<string, number> }): Promise<Answered<unknown>> =>
  post('/api/v1/doubts/{yard}/settle', how, { yard });

export const begin = (words: Begin): Promise<Answered<unknown>> => post('/api/v1/outfit', words);

export interface ImportAsked {
  what?: string;
  yard?: string;
  map?: string;
  write?: boolean;
}

/** A workbook looked at, or taken in. */
export const importFile = async (file: File, asked: ImportAsked): Promise<Answered<Told<ImportShown>>> => {
  const where = address('/api/v1/import', { name: file.name, what: asked.what, yard: asked.yard, map: asked.map, write: asked.write ? 'true' : undefined });
  return told(await ask(where, { method: 'POST', body: file, headers: { 'Content-Type': 'application/octet-stream' } }));
};

/** An entry of the desk, in the form of the book's lines, as the phone writes its own. */
export function line(fact: string, happened_on: string, content: Record<string, unknown>): object {
  const device = localStorage.getItem('outyard-desk') ?? deviceName('desk');
  localStorage.setItem('outyard-desk', device);
  return { format: 1, id: entryId(), device, author: 'office', happened_on, recorded_at: new Date().toISOString(), fact, with: content };
}

export async function write(lines: object[]): Promise<Answered<unknown>> {
  const answer = await post('/api/v1/entries', { entries: lines as Record<string, never>[] });
  const wrong = answer.ok ? answer.value.entries.find((one) => one.trouble)?.trouble : undefined;
  if (!wrong) return answer;
  const refused: Refused = { ok: false, why: `${wrong.cause}. ${wrong.remedy}`, code: wrong.code, troubles: [wrong], no_signal: false, shut_out: false };
  return refused;
}

export const getMe = (): Promise<Answered<Me>> => get('/api/v1/me');
export const getDevices = (): Promise<Answered<Device[]>> => get('/api/v1/devices');
export const revoke = (device: string): Promise<Answered<unknown>> => send(address('/api/v1/devices/{device}', { device }), {}, 'DELETE');
export const newCode = (role: string, name?: string, days?: number): Promise<Answered<Code>> =>
  post('/api/v1/pair/codes', { role, ...(name && { name }), ...(days && { days }) });
export const login = (passphrase: string): Promise<Answered<unknown>> => post('/api/v1/login', { passphrase });

/** Tells of every change until it is told to stop. */
export function listen(heard: (news: { book: number; morning: number; mornings: number }) => void, lost: (away: boolean) => void): () => void {
  const line = new EventSource('/api/v1/events');
  line.addEventListener('news', (event) => {
    lost(false);
    heard(JSON.parse((event as MessageEvent<string>).data) as { book: number; morning: number; mornings: number });
  });
  line.addEventListener('error', () => lost(true));
  return () => line.close();
}

/** A table of what is on the screen, for a spreadsheet. */
export const tableHref = (table: string, as: 'csv' | 'xlsx'): string => `/api/v1/tables/${table}.${as}`;
export const FEEDS = { calendar: '/api/v1/feeds/visits.ics', track: '/api/v1/feeds/runs.gpx', map: '/api/v1/feeds/map.geojson' } as const;
