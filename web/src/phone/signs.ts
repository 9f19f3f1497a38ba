import type { Day } from '../shared/days';
import type { PackSign, PackSignTable, PackSpan } from './model';

/** The table of a put-down, if this pack has it. */
export function tableOf(tables: PackSignTable[], put_down: Day): PackSignTable | null {
  return tables.find((table) => table.put_down_on === put_down) ?? null;
}

/** What one comb means on a day; nothing when the pack does not answer for that day. */
export function readSign(sign: PackSign, seen_on: Day): PackSpan | null {
  return sign.spans.find((span) => span.from <= seen_on && seen_on <= span.to) ?? null;
}
