import type { Day } from '../shared/days';
import type { Sign, SignSpan, SignTable } from '../api/types';

/** The table of a put-down, if this pack has it. */
export function tableOf(tables: SignTable[], put_down: Day): SignTable | null {
  return tables.find((table) => table.put_down_on === put_down) ?? null;
}

/** What one comb means on a day; nothing when the pack does not answer for that day. */
export function readSign(sign: Sign, seen_on: Day): SignSpan | null {
  return sign.spans.find((span) => span.from <= seen_on && seen_on <= span.to) ?? null;
}
