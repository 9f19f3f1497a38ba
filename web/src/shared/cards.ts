/** Which pictures show a job, in the order it is done; every job begins and ends with what keeps people whole. */
const PUT_DOWN_ABOVE = ['excluder', 'back', 'third'];
const JOB_CARDS: Record<string, string[]> = {
  'single-down-blow': ['smoke', 'part', 'blow', ...PUT_DOWN_ABOVE],
  'single-down-shake': ['smoke', 'part', ...PUT_DOWN_ABOVE],
  'single-down-search': ['smoke', 'part', ...PUT_DOWN_ABOVE],
  'brood-lift': ['smoke', 'excluder', 'lift'],
  'egg-test': ['smoke', 'eggs'],
  'open-brood-test': ['smoke', 'eggs'],
  'split-check': ['smoke', 'eggs'],
  'unwanted-cells-check': ['smoke', 'cells'],
  'swarm-cells-check': ['smoke', 'cells'],
  'swarm-cells-check-clipped': ['smoke', 'cells'],
  'add-boxes': ['super'],
  pull: ['smoke', 'pull', 'lift_two'],
  'last-pull': ['smoke', 'pull', 'lift_two'],
};

export function cardsOf(job: string): string[] {
  return ['pair', ...(JOB_CARDS[job] ?? ['smoke']), 'stop', 'sting'];
}

export const CARD_JOBS = Object.keys(JOB_CARDS);
