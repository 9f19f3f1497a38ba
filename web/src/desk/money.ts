import { desk } from './state.svelte';

/** Whole money, as the pages of the office say it: thousands apart, no cents. */
export function money(cents: number): string {
  const whole = Math.round(Math.abs(cents) / 100);
  const text = String(whole).replace(/\B(?=(\d{3})+$)/g, ' ');
  return cents < 0 && whole > 0 ? `−${text}` : text;
}

/** With its sign, for what a change costs or saves. */
export function change(cents: number): string {
  if (Math.round(Math.abs(cents) / 100) === 0) return desk.say('d.nothing');
  return cents > 0 ? desk.say('d.costs_more', { money: money(cents) }) : desk.say('d.costs_less', { money: money(-cents) });
}

/** One decimal, no more than it is worth. */
export function kg(value: number): string {
  return value.toFixed(1);
}
