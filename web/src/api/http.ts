import type { AsOf, GetPath, Got, Inner, Note, PostPath, Posted, Words } from './types';

/** What a request came to; a refusal carries the server's own words and code. */
export type Answered<T> = { ok: true; value: T } | Refused;

export interface Refused {
  ok: false;
  why: string;
  code: string;
  /** All that is wrong, told at once. */
  troubles: { code: string; cause: string; remedy: string }[];
  /** The server could not be reached, or could not answer now. */
  no_signal: boolean;
  /** This device is not let in. */
  shut_out: boolean;
}

/** Longest wait for an answer; working out a morning can take a while on a small machine (assumed). */
const PATIENCE_MS = 60_000;

/** What an address is filled with: `{yard}` by its name, the rest behind the question mark. */
export type Fill = Record<string, string | undefined>;

export function address(path: string, fill: Fill = {}): string {
  const rest = new URLSearchParams();
  for (const [name, value] of Object.entries(fill)) if (value !== undefined && !path.includes(`{${name}}`)) rest.set(name, value);
  const filled = path.replace(/\{(\w+)\}/g, (_, name: string) => encodeURIComponent(fill[name] ?? ''));
  return rest.size > 0 ? `${filled}?${rest.toString()}` : filled;
}

export async function ask<T>(path: string, options: RequestInit = {}): Promise<Answered<T>> {
  let response: Response;
  try {
    response = await fetch(path, {
      credentials: 'same-origin',
      signal: AbortSignal.timeout(PATIENCE_MS),
      ...options,
      headers: { Accept: 'application/json', ...options.headers },
    });
  } catch {
    return { ok: false, why: 'no answer from the office', code: '', troubles: [], no_signal: true, shut_out: false };
  }
  const text = await response.text().catch(() => '');
  let body: unknown = null;
  try {
    body = text ? JSON.parse(text) : null;
  } catch {
    // Not JSON: a page of something between here and the office.
  }
  if (response.ok) {
    if (body === null && text !== '') {
      return { ok: false, why: 'another program answered', code: '', troubles: [], no_signal: true, shut_out: false };
    }
    return { ok: true, value: body as T };
  }
  return {
    ok: false,
    ...problem(body, response.status),
    no_signal: response.status >= 500 || response.status === 429 || response.status === 408,
    shut_out: response.status === 401 || response.status === 403,
  };
}

export function get<P extends GetPath>(path: P, fill?: Fill): Promise<Answered<Got<P>>> {
  return ask<Got<P>>(address(path, fill));
}

export function post<P extends PostPath>(path: P, words: Words<P>, fill?: Fill): Promise<Answered<Posted<P>>> {
  return send<Posted<P>>(address(path, fill), words);
}

export function send<T>(path: string, body: unknown, method = 'POST'): Promise<Answered<T>> {
  return ask<T>(path, { method, headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(body) });
}

/** What an answer rests on, kept beside it. */
export interface Told<T> {
  value: T;
  as_of: AsOf;
  notes: Note[];
}

type Wrapped = { answer: unknown; as_of: AsOf; notes: Note[] };

/** Takes an answer out of its wrapping, with what it rests on. */
export function told<T>(answered: Answered<unknown>): Answered<Told<T>> {
  if (!answered.ok) return answered;
  const { answer, as_of, notes } = answered.value as Wrapped;
  return { ok: true, value: { value: answer as T, as_of, notes } };
}

/** The answer an address gives, out of its wrapping. */
export async function getInner<P extends GetPath>(path: P, fill?: Fill): Promise<Answered<Inner<Got<P>>>> {
  const answer = told<Inner<Got<P>>>(await ask(address(path, fill)));
  return answer.ok ? { ok: true, value: answer.value.value } : answer;
}

/** As [`getInner`], with what the answer rests on. */
export async function getTold<P extends GetPath>(path: P, fill?: Fill): Promise<Answered<Told<Inner<Got<P>>>>> {
  return told(await ask(address(path, fill)));
}

/** What an address answers to what it is told, out of its wrapping. */
export async function postInner<P extends PostPath>(path: P, words: Words<P>): Promise<Answered<Inner<Posted<P>>>> {
  const answer = told<Inner<Posted<P>>>(await send(path, words));
  return answer.ok ? { ok: true, value: answer.value.value } : answer;
}

/** Reads `application/problem+json` (RFC 9457) with the house's codes in it. */
function problem(body: unknown, status: number): Pick<Refused, 'why' | 'code' | 'troubles'> {
  const at = (body ?? {}) as { title?: string; detail?: string; troubles?: Refused['troubles'] };
  const troubles = at.troubles ?? [];
  const words = [at.title, at.detail].filter((word): word is string => typeof word === 'string' && word !== '');
  return { why: [...new Set(words)].join('. ') || `the office answered ${status}`, code: troubles[0]?.code ?? '', troubles };
}
