/** Whole money, as the pages of the office say it: thousands apart, no cents. */
export function money(cents: number): string {
  const whole = Math.round(Math.abs(cents) / 100);
  const text = String(whole).replace(/\B(?=(\d{3})+$)/g, ' ');
  return cents < 0 && whole > 0 ? `−${text}` : text;
}

/** With its sign, for what a change costs or saves. */
export function change(cents: number): string {
  const text = money(cents);
  if (Math.round(Math.abs(cents) / 100) === 0) return 'nothing';
  return cents > 0 ? `${text} more` : `${money(-cents)} less`;
}

/** One decimal, no more than it is worth. */
export function kg(value: number): string {
  return value.toFixed(1);
}
