/** Civil days as `2026-07-03`; counted without any zone. */
export type Day = string;

const DAY_MS = 86_400_000;

function at(day: Day): number {
  return Date.parse(`${day}T00:00:00Z`);
}

export function plusDays(day: Day, days: number): Day {
  return new Date(at(day) + days * DAY_MS).toISOString().slice(0, 10);
}

/** Days from one to another; negative when the other lies before. */
export function daysFrom(from: Day, to: Day): number {
  return Math.round((at(to) - at(from)) / DAY_MS);
}

/** All days of a span, both ends in it. */
export function eachDay(from: Day, to: Day): Day[] {
  return Array.from({ length: Math.max(0, daysFrom(from, to) + 1) }, (_, index) => plusDays(from, index));
}

/** Today where the phone or computer stands. */
export function localToday(now: Date = new Date()): Day {
  const two = (number: number) => String(number).padStart(2, '0');
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}

const written = new Map<string, Intl.DateTimeFormat>();

function format(language: string, options: Intl.DateTimeFormatOptions): Intl.DateTimeFormat {
  const key = language + JSON.stringify(options);
  let known = written.get(key);
  if (!known) {
    known = new Intl.DateTimeFormat(language === 'en' ? 'en-GB' : language, { ...options, timeZone: 'UTC' });
    written.set(key, known);
  }
  return known;
}

/** `3 Jul`. */
export function dayMonth(day: Day, language = 'en'): string {
  return format(language, { day: 'numeric', month: 'short' }).format(at(day));
}

/** `Fri 3 Jul`. */
export function shortDay(day: Day, language = 'en'): string {
  return format(language, { weekday: 'short', day: 'numeric', month: 'short' }).format(at(day)).replace(',', '');
}

/** `Friday 3 July`. */
export function longDay(day: Day, language = 'en'): string {
  return format(language, { weekday: 'long', day: 'numeric', month: 'long' }).format(at(day)).replace(',', '');
}

/** Minutes since midnight of `07:45`; a run that ends after midnight may say `24:30`. */
export function minutesOf(clock: string): number {
  const [hours = '0', minutes = '0'] = clock.split(':');
  return Number(hours) * 60 + Number(minutes);
}

/** `2 h 39`, `45 min`. */
export function hoursMinutes(minutes: number): string {
  if (minutes < 60) return `${minutes} min`;
  return `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, '0')}`;
}
