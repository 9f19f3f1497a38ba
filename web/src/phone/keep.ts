import { type DBSchema, type IDBPDatabase, openDB } from 'idb';
import type { Pack } from '../api/types';
import type { Draft } from './tally';

/** An entry as the book writes it in a line; see `book::wire`. */
export interface Line {
  format: 1;
  id: string;
  device: string;
  author: string;
  happened_on: string;
  recorded_at: string;
  fact: string;
  with: Record<string, unknown>;
}

export interface Waiting {
  id: string;
  line: Line;
  /** `waits` is to be sent, `sent` the book has, `refused` the book will not have. */
  state: 'waits' | 'sent' | 'refused';
  why?: string;
  contested?: boolean;
  at: string;
}

interface Shelves extends DBSchema {
  pack: { key: string; value: KeptPack };
  outbox: { key: string; value: Waiting; indexes: { state: string } };
  drafts: { key: string; value: Draft };
  photos: { key: string; value: { hash: string; bytes: Blob; sent: boolean } };
}

/** What a phone holds before it drives off, and when it was fetched by this phone's clock. */
export type KeptPack = Pack & { fetched_at: string };

/** The phone's store: the pack, what waits to be sent, drafts and photos. */
export type Store = IDBPDatabase<Shelves>;

export async function openStore(name = 'outyard'): Promise<Store> {
  return openDB<Shelves>(name, 1, {
    upgrade(shelves) {
      shelves.createObjectStore('pack');
      shelves.createObjectStore('outbox', { keyPath: 'id' }).createIndex('state', 'state');
      shelves.createObjectStore('drafts', { keyPath: 'key' });
      shelves.createObjectStore('photos', { keyPath: 'hash' });
    },
  });
}

/** A second, small shelf of the browser with room of its own: used when the large one is full. */
export interface SmallShelf {
  getItem(key: string): string | null;
  setItem(key: string, value: string): void;
  removeItem(key: string): void;
}

const SPARE = 'outyard-spare';

export type Kept = 'kept' | 'kept-small' | 'lost';

/**
 * Keeps one entry. When the store is full, makes room by dropping what the book already has; failing that, the small
 * shelf takes it. Never says `kept` of something that would not survive the phone going dark.
 */
export async function keepEntry(store: Store, small: SmallShelf, line: Line): Promise<Kept> {
  const entry: Waiting = { id: line.id, line, state: 'waits', at: line.recorded_at };
  try {
    await put(store, entry);
    return 'kept';
  } catch {
    try {
      await dropSent(store);
      await put(store, entry);
      return 'kept';
    } catch {
      return keepSmall(small, line) ? 'kept-small' : 'lost';
    }
  }
}

async function put(store: Store, entry: Waiting): Promise<void> {
  const change = store.transaction('outbox', 'readwrite', { durability: 'strict' });
  await Promise.all([change.store.put(entry), change.done]);
}

async function dropSent(store: Store): Promise<void> {
  const change = store.transaction(['outbox', 'photos'], 'readwrite');
  const outbox = change.objectStore('outbox');
  for (const key of await outbox.index('state').getAllKeys('sent')) await outbox.delete(key);
  const photos = change.objectStore('photos');
  for (const photo of await photos.getAll()) if (photo.sent) await photos.delete(photo.hash);
  await change.done;
}

function keepSmall(small: SmallShelf, line: Line): boolean {
  try {
    const lines = smallLines(small);
    small.setItem(SPARE, JSON.stringify([...lines, line]));
    return true;
  } catch {
    return false;
  }
}

function smallLines(small: SmallShelf): Line[] {
  try {
    return JSON.parse(small.getItem(SPARE) ?? '[]') as Line[];
  } catch {
    return [];
  }
}

/** Everything that is not yet in the book, oldest first, from both shelves. */
export async function waiting(store: Store, small: SmallShelf): Promise<Waiting[]> {
  const large = (await store.getAllFromIndex('outbox', 'state', 'waits')).sort(older);
  const known = new Set(large.map((entry) => entry.id));
  const spare = smallLines(small)
    .filter((line) => !known.has(line.id))
    .map((line): Waiting => ({ id: line.id, line, state: 'waits', at: line.recorded_at }));
  return [...large, ...spare].sort(older);
}

/** Names that stand on the small shelf only. */
export function onSmallShelf(small: SmallShelf): Set<string> {
  return new Set(smallLines(small).map((line) => line.id));
}

export async function everything(store: Store, small: SmallShelf): Promise<Waiting[]> {
  const large = await store.getAll('outbox');
  const known = new Set(large.map((entry) => entry.id));
  const spare = (await waiting(store, small)).filter((entry) => !known.has(entry.id));
  return [...large, ...spare].sort(older);
}

function older(one: Waiting, other: Waiting): number {
  return one.id < other.id ? -1 : 1;
}

/** Writes down what became of an entry, and clears it from the small shelf. */
export async function settle(store: Store, small: SmallShelf, entry: Waiting): Promise<void> {
  try {
    await put(store, entry);
  } catch {
    // The store is still full: the book has the entry, so all that is lost is the line on the screen.
    if (entry.state !== 'sent') return;
  }
  const left = smallLines(small).filter((line) => line.id !== entry.id);
  if (left.length > 0) small.setItem(SPARE, JSON.stringify(left));
  else small.removeItem(SPARE);
}
