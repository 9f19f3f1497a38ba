import { type Line, type SmallShelf, type Store, settle, waiting } from './keep';

/** What the server says of a batch. */
export type Answer =
  | { kind: 'taken'; refused: { id: string; why: string }[] }
  /** No way to the server, or it could not answer now: try again. */
  | { kind: 'later' }
  /** This phone is not let in. */
  | { kind: 'shut out' };

export type Send = (lines: Line[]) => Promise<Answer>;

/** Entries in one batch (assumed): a day's work of a crew fits, a slow line still answers in time. */
export const BATCH = 50;

export interface Sent {
  sent: number;
  refused: number;
  left: number;
  shut_out: boolean;
}

/**
 * Sends what waits, oldest first, in batches. An entry carries its name from the phone, so a batch whose answer was lost
 * can be sent again: the book takes each name once. Nothing is given up: what is not answered waits on.
 */
export async function flush(store: Store, small: SmallShelf, send: Send): Promise<Sent> {
  const result: Sent = { sent: 0, refused: 0, left: 0, shut_out: false };
  for (;;) {
    const batch = (await waiting(store, small)).slice(0, BATCH);
    if (batch.length === 0) return result;
    const answer = await send(batch.map((entry) => entry.line));
    if (answer.kind !== 'taken') {
      result.left = (await waiting(store, small)).length;
      result.shut_out = answer.kind === 'shut out';
      return result;
    }
    for (const entry of batch) {
      const refusal = answer.refused.find((one) => one.id === entry.id);
      if (refusal) {
        result.refused += 1;
        await settle(store, small, { ...entry, state: 'refused', why: refusal.why });
      } else {
        result.sent += 1;
        await settle(store, small, { ...entry, state: 'sent' });
      }
    }
    // A store so full that nothing could be settled would send the same batch for ever.
    const left = await waiting(store, small);
    if (left.length > 0 && left[0]?.id === batch[0]?.id) {
      result.left = left.length;
      return result;
    }
  }
}
