import { getMorning } from '../api/desk';
import type { Refused } from '../api/http';
import type { Morning, Run, Stop } from '../api/views';

/** What the desk's pages share: the morning as it stands, and what is chosen on it. */
class Desk {
  morning = $state<Morning | null>(null);
  refused = $state<Refused | null>(null);
  loading = $state(false);
  chosen = $state<string | null>(null);

  async load(): Promise<void> {
    if (this.loading) return;
    this.loading = true;
    const answer = await getMorning();
    this.loading = false;
    if (answer.ok) {
      this.morning = answer.value;
      this.refused = null;
    } else {
      this.refused = answer;
    }
  }

  get runs(): Run[] {
    return this.morning ? [...this.morning.today, ...this.morning.later] : [];
  }

  /** The chosen stop with its run. */
  get stop(): { run: Run; stop: Stop } | null {
    for (const run of this.runs) {
      const stop = run.stops.find((one) => one.visit === this.chosen);
      if (stop) return { run, stop };
    }
    return null;
  }
}

export const desk = new Desk();
