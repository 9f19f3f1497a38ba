import { expect, it } from 'vitest';
import { daysFrom, eachDay, hoursMinutes, longDay, minutesOf, plusDays, shortDay } from '../../src/shared/days';
import { entryId } from '../../src/shared/ids';

it('counts civil days over months, leap days and clock changes', () => {
  expect(plusDays('2026-07-03', 21)).toBe('2026-07-24');
  expect(plusDays('2028-02-28', 1)).toBe('2028-02-29');
  expect(daysFrom('2026-03-28', '2026-03-30')).toBe(2);
  expect(eachDay('2026-06-30', '2026-07-02')).toEqual(['2026-06-30', '2026-07-01', '2026-07-02']);
});

it('says days and times as a sheet does', () => {
  expect(longDay('2026-07-03')).toBe('Friday 3 July');
  expect(shortDay('2026-07-03', 'es')).toMatch(/vie 3 jul/);
  expect(minutesOf('07:45')).toBe(465);
  expect(hoursMinutes(159)).toBe('2 h 39');
});

it('names entries as RFC 9562 wants a UUID of version 7, in the order they were written', () => {
  const chance = new Uint8Array([0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff]);
  const at = Date.parse('2026-07-03T05:40:00Z');
  const names = Array.from({ length: 2100 }, () => entryId(at, chance));
  expect(names[0]).toMatch(/^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
  expect(parseInt(names[0]!.replaceAll('-', '').slice(0, 12), 16)).toBe(at);
  expect(new Set(names).size).toBe(2100);
  expect([...names].sort()).toEqual(names);
  expect(entryId(at - 60_000) > names[0]!).toBe(true);
});
