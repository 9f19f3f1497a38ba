import type { Ahead, Range, SeasonShown } from '../api/types';
import { type Day, eachDay } from '../shared/days';

/** The season as the board draws it: yards against days. */
export interface Season {
  days: Day[];
  today: Day;
  yards: SeasonYard[];
  gain: { date: Day; kg: Range; flow_share: number }[];
  flow: SeasonShown['flow_begins'];
  /** Share of the courses in which a gate stands open, by job and day; empty where it is not known. */
  weather: { name: string; needs: string; open: (number | null)[]; yards_open: (string | null)[] }[];
  boxes: Ahead[];
}

export interface SeasonYard {
  yard: string;
  name: string;
  said: string;
  marks: Mark[];
}

/** One thing on a yard's line. */
export interface Mark {
  sort: 'planned' | 'due' | 'closed' | 'clock' | 'full';
  clock: string;
  /** Codes of its jobs, or the name of a clock. */
  jobs: string[];
  what: string;
  means: string;
  crew: string;
  from: Day;
  best: Day;
  to: Day | null;
  visit: string | null;
}

const plain = { means: '', crew: '', visit: null, jobs: [] as string[] };

export function drawn(answer: SeasonShown): Season {
  const days = eachDay(answer.from, answer.to);
  const gates = [...new Set(answer.work_weather.map((one) => one.needs))];
  const inside = (day: Day | null): day is Day => day !== null && day >= answer.from && day <= answer.to;
  return {
    today: answer.today,
    days,
    gain: answer.gain_by_day.filter((one) => inside(one.date)),
    flow: answer.flow_begins,
    weather: gates.map((needs) => {
      const of_gate = new Map(answer.work_weather.filter((one) => one.needs === needs).map((one) => [one.date, one]));
      return {
        name: [...of_gate.values()][0]?.jobs.join(', ') ?? needs,
        needs,
        open: days.map((day) => of_gate.get(day)?.share_open ?? null),
        yards_open: days.map((day) => (of_gate.has(day) ? `${of_gate.get(day)?.yards_open} / ${of_gate.get(day)?.yards}` : null)),
      };
    }),
    boxes: answer.boxes,
    yards: answer.yards.map((yard) => ({
      yard: yard.yard,
      name: yard.name,
      said: yard.said,
      marks: [
        ...yard.closed.map((closed): Mark => ({ ...plain, sort: 'closed', clock: 'season', jobs: closed.jobs, what: closed.jobs.join(', '), from: closed.on, best: closed.on, to: closed.on })),
        ...yard.brood.flatMap((running) =>
          running.clocks
            .filter((clock) => inside(clock.best))
            .map((clock): Mark => ({ ...plain, sort: 'clock', clock: 'brood', what: clock.name, means: clock.means, from: clock.from, best: clock.best, to: clock.to ?? clock.best })),
        ),
        ...yard.fill.flatMap((stack): Mark[] =>
          inside(stack.full.likely)
            ? [{ ...plain, sort: 'full', clock: 'fill', what: stack.colonies, means: stack.full.said, from: stack.full.early ?? stack.full.likely, best: stack.full.likely, to: stack.full.late }]
            : [],
        ),
        ...yard.windows.map((window): Mark => ({
          ...plain, sort: window.planned ? 'planned' : 'due', clock: window.clock, jobs: window.jobs, what: window.what, crew: window.crew ?? '',
          from: window.from, best: window.planned ?? window.best, to: window.to, visit: window.visit,
        })),
      ],
    })),
  };
}
