import 'fake-indexeddb/auto';
import { beforeEach, expect, it } from 'vitest';
import { type Line, type SmallShelf, type Store, everything, keepEntry, openStore, waiting } from '../../src/phone/keep';
import { type Answer, BATCH, flush } from '../../src/phone/outbox';
import { entryId } from '../../src/shared/ids';

let store: Store;
let small: SmallShelf & { most: number };
let made = 0;

beforeEach(async () => {
  made += 1;
  store = await openStore(`test-${made}`);
  const shelf = new Map<string, string>();
  small = {
    most: Infinity,
    getItem: (key) => shelf.get(key) ?? null,
    setItem(key, value) {
      if (value.length > this.most) throw new DOMException('full', 'QuotaExceededError');
      shelf.set(key, value);
    },
    removeItem: (key) => void shelf.delete(key),
  };
});

const line = (yard: string): Line => ({
  format: 1, id: entryId(), device: 'phone-a', author: 'Ada', happened_on: '2026-07-03', recorded_at: new Date().toISOString(),
  fact: 'visit-closed', with: { yard },
});
const taken = (): Answer => ({ kind: 'taken', refused: [] });

/** A book that takes each name once, as the server does. */
function book() {
  const names = new Set<string>();
  let batches = 0;
  return {
    names,
    get batches() { return batches; },
    take(lines: Line[]): Answer {
      batches += 1;
      for (const one of lines) names.add(one.id);
      return taken();
    },
  };
}

it('sends oldest first, in batches, each once', async () => {
  const lines = Array.from({ length: BATCH * 2 + 3 }, (_, at) => line(String(at)));
  for (const one of lines) expect(await keepEntry(store, small, one)).toBe('kept');
  const office = book();
  expect(await flush(store, small, async (batch) => office.take(batch))).toEqual({ sent: lines.length, refused: 0, left: 0, shut_out: false });
  expect(office.batches).toBe(3);
  expect([...office.names]).toEqual(lines.map((one) => one.id));
  expect((await flush(store, small, async (batch) => office.take(batch))).sent).toBe(0);
});

it('keeps what is not answered, and a batch whose answer was lost is sent again under the same names', async () => {
  await keepEntry(store, small, line('7'));
  await keepEntry(store, small, line('12'));
  const office = book();
  const lost = await flush(store, small, async (batch) => {
    office.take(batch);
    return { kind: 'later' };
  });
  expect(lost).toEqual({ sent: 0, refused: 0, left: 2, shut_out: false });
  await flush(store, small, async (batch) => office.take(batch));
  expect(office.names.size).toBe(2);
  expect(await waiting(store, small)).toEqual([]);
});

it('keeps what is refused, with the reason, and does not send it again', async () => {
  const bad = line('nowhere');
  await keepEntry(store, small, bad);
  await keepEntry(store, small, line('7'));
  const sent = await flush(store, small, async () => ({ kind: 'taken', refused: [{ id: bad.id, why: 'no such yard' }] }));
  expect(sent).toMatchObject({ sent: 1, refused: 1 });
  expect((await everything(store, small)).find((one) => one.id === bad.id)).toMatchObject({ state: 'refused', why: 'no such yard' });
  expect(await waiting(store, small)).toEqual([]);
});

it('says when it is not let in, and loses nothing', async () => {
  await keepEntry(store, small, line('7'));
  expect(await flush(store, small, async () => ({ kind: 'shut out' }))).toEqual({ sent: 0, refused: 0, left: 1, shut_out: true });
});

/** A store whose disk is full. */
function full(): Store {
  const refuse = () => {
    throw new DOMException('full', 'QuotaExceededError');
  };
  return new Proxy(store, { get: (of, name) => (name === 'transaction' ? refuse : Reflect.get(of, name).bind?.(of) ?? Reflect.get(of, name)) });
}

it('a full store: the small shelf takes it, and it is sent from there', async () => {
  expect(await keepEntry(full(), small, line('7'))).toBe('kept-small');
  expect(await waiting(store, small)).toHaveLength(1);
  const office = book();
  expect((await flush(full(), small, async (batch) => office.take(batch))).sent).toBe(1);
  expect(office.names.size).toBe(1);
  expect(await waiting(store, small)).toEqual([]);
});

it('both full: it says so', async () => {
  small.most = 10;
  expect(await keepEntry(full(), small, line('7'))).toBe('lost');
});

it('survives being closed and opened again', async () => {
  await keepEntry(store, small, line('7'));
  store.close();
  expect(await waiting(await openStore(`test-${made}`), small)).toHaveLength(1);
});
