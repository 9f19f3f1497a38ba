import type { Line } from '../phone/keep';
import type { Answer } from '../phone/outbox';
import { type Answered, address, ask, get, getInner, post } from './http';
import type { Pack } from './types';

export type { Answered } from './http';

// The phone's few questions; how the office spells them stands here and nowhere else.

export async function whoAmI(): Promise<{ device: string | null }> {
  const answer = await get('/api/v1/me');
  return { device: answer.ok ? answer.value.device : null };
}

export function fetchPack(): Promise<Answered<Pack>> {
  return getInner('/api/v1/phone/pack');
}

export async function sendLines(lines: Line[]): Promise<Answer> {
  const answer = await post('/api/v1/entries', { entries: lines as unknown as Record<string, never>[] });
  if (answer.ok) {
    const refused = answer.value.entries.flatMap(({ place, outcome, trouble }) => {
      const line = lines[place];
      return outcome === 'refused' && line ? [{ id: line.id, why: trouble ? `${trouble.cause}. ${trouble.remedy}` : '' }] : [];
    });
    return { kind: 'taken', refused };
  }
  if (answer.shut_out) return { kind: 'shut out' };
  // One entry alone that is not taken is at fault itself; of several, none is blamed: they go one by one.
  if (answer.no_signal) return { kind: 'later' };
  if (lines.length === 1 && lines[0]) return { kind: 'taken', refused: [{ id: lines[0].id, why: answer.why }] };
  const each: Answer = { kind: 'taken', refused: [] };
  for (const line of lines) {
    const one = await sendLines([line]);
    if (one.kind !== 'taken') return one;
    each.refused.push(...one.refused);
  }
  return each;
}

/** Entries that stand beside another tally of the same visit; nothing when it cannot be asked now. */
export async function contested(): Promise<string[] | null> {
  const answer = await get('/api/v1/doubts');
  if (!answer.ok || answer.value.as_of.entries_behind > 0) return null;
  return answer.value.answer.flatMap((doubt) => doubt.tallies.map((tally) => tally.entry));
}

export async function fileFor(hash: string, bytes: Blob): Promise<boolean> {
  return (await ask(address('/api/v1/files/{hash}', { hash }), { method: 'PUT', body: bytes, headers: { 'Content-Type': 'application/octet-stream' } })).ok;
}

export async function pair(code: string, name: string): Promise<Answered<string>> {
  const answer = await post('/api/v1/pair', { code, name });
  return answer.ok ? { ok: true, value: answer.value.device ?? name } : answer;
}
