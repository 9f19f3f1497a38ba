import type { Line } from '../phone/keep';
import type { Pack, PackJob, PackRun, PackSignTable, PackYard } from '../phone/model';
import type { Answer } from '../phone/outbox';
import type { Counts } from '../shared/kinds';
import { type Answered, ask, send } from './http';

export type { Answered } from './http';

// The phone's few questions; how the office spells them stands here and nowhere else.

/** A yard as `pages::yards::YardLine` tells of it. */
interface YardLine extends Omit<PackYard, 'counts'> {
  colonies: Counts;
}

interface PackAnswer {
  outfit: string;
  date: string;
  runs: PackRun[];
  yards: { stands: YardLine }[];
  jobs: PackJob[];
  signs: PackSignTable[];
}

export async function whoAmI(): Promise<{ device: string | null }> {
  const answer = await ask<{ device?: string | null }>('/me');
  return { device: answer.ok ? (answer.value?.device ?? null) : null };
}

export async function fetchPack(): Promise<Answered<Pack>> {
  const answer = await ask<PackAnswer>('/pack');
  if (!answer.ok) return answer;
  const { outfit, date, runs, yards, jobs, signs } = answer.value;
  const stands = yards.map(({ stands: { colonies, ...yard } }): PackYard => ({ ...yard, counts: colonies }));
  return { ok: true, value: { outfit, day: date, fetched_at: new Date().toISOString(), runs, yards: stands, jobs, signs } };
}

export async function sendLines(lines: Line[]): Promise<Answer> {
  const answer = await send<{ contested?: string[]; refused?: { id: string; why: string }[] }>('/entries', { entries: lines });
  if (answer.ok) return { kind: 'taken', contested: answer.value?.contested ?? [], refused: answer.value?.refused ?? [] };
  if (answer.shut_out) return { kind: 'shut out' };
  // One entry alone that is not taken is at fault itself; of several, none is blamed: they go one by one.
  if (answer.no_signal) return { kind: 'later' };
  if (lines.length === 1 && lines[0]) return { kind: 'taken', contested: [], refused: [{ id: lines[0].id, why: answer.why }] };
  const each: Answer = { kind: 'taken', contested: [], refused: [] };
  for (const line of lines) {
    const one = await sendLines([line]);
    if (one.kind !== 'taken') return one;
    each.contested.push(...one.contested);
    each.refused.push(...one.refused);
  }
  return each;
}

export async function fileFor(hash: string, bytes: Blob): Promise<boolean> {
  return (await ask(`/files/${hash}`, { method: 'PUT', body: bytes })).ok;
}

export async function pair(code: string, name: string): Promise<Answered<string>> {
  const answer = await send<{ device: string }>('/pair', { code, name });
  return answer.ok ? { ok: true, value: answer.value.device } : answer;
}
