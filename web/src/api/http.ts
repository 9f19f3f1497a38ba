/** What a request came to; a refusal carries the server's own words and code. */
export type Answered<T> = { ok: true; value: T } | Refused;

export interface Refused {
  ok: false;
  why: string;
  code: string;
  /** The server could not be reached, or could not answer now. */
  no_signal: boolean;
  /** This device is not let in. */
  shut_out: boolean;
}

/** Longest wait for an answer; working out a morning can take a while on a small machine (assumed). */
const PATIENCE_MS = 60_000;

const BASE = '/api/v1';

export async function ask<T>(path: string, options: RequestInit = {}): Promise<Answered<T>> {
  let response: Response;
  try {
    response = await fetch(BASE + path, {
      credentials: 'same-origin',
      signal: AbortSignal.timeout(PATIENCE_MS),
      ...options,
      headers: { Accept: 'application/json', ...options.headers },
    });
  } catch {
    return { ok: false, why: 'no answer from the office', code: '', no_signal: true, shut_out: false };
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
      return { ok: false, why: 'another program answered', code: '', no_signal: true, shut_out: false };
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

export function send<T>(path: string, body: unknown, method = 'POST'): Promise<Answered<T>> {
  return ask<T>(path, { method, headers: { 'Content-Type': 'application/json' }, body: JSON.stringify(body) });
}

/** Reads `application/problem+json` (RFC 9457) with the house's code in it. */
function problem(body: unknown, status: number): { why: string; code: string } {
  const at = (body ?? {}) as Record<string, unknown>;
  const words = [at['title'], at['detail'], at['remedy']].filter((word): word is string => typeof word === 'string');
  const text = [...new Set(words)].join('. ');
  return { why: text || `the office answered ${status}`, code: typeof at['code'] === 'string' ? at['code'] : '' };
}
