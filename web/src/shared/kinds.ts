/** Kinds of colony, in the order of a tally. */
export const KINDS = ['double', 'single', 'split', 'weak', 'queenless'] as const;
export type Kind = (typeof KINDS)[number];
export type Counts = Partial<Record<Kind, number>>;

/** The kinds present, in the order of a tally. */
export function present(counts: Counts): [Kind, number][] {
  return KINDS.flatMap((kind) => {
    const count = counts[kind] ?? 0;
    return count > 0 ? [[kind, count] as [Kind, number]] : [];
  });
}

export function total(counts: Counts): number {
  return KINDS.reduce((sum, kind) => sum + (counts[kind] ?? 0), 0);
}

export function add(one: Counts, other: Counts): Counts {
  const sum: Counts = { ...one };
  for (const [kind, count] of present(other)) sum[kind] = (sum[kind] ?? 0) + count;
  return sum;
}

/** What of `planned` is not in `done`; never below nought. */
export function without(planned: Counts, done: Counts): Counts {
  const left: Counts = {};
  for (const [kind, count] of present(planned)) {
    const more = count - (done[kind] ?? 0);
    if (more > 0) left[kind] = more;
  }
  return left;
}
