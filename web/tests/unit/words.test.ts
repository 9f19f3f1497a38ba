import { describe, expect, it } from 'vitest';
import en from '../../src/words/en.json';
import es from '../../src/words/es.json';
import fr from '../../src/words/fr.json';
import { languageOf, sayCode, speaker } from '../../src/words';

const places = (text: string) => [...new Set(text.match(/\{\w+\}/g) ?? [])].sort();

describe.each([
  ['es', es],
  ['fr', fr],
])('%s', (_, other) => {
  it('says all that English says, with the same places to fill', () => {
    expect(Object.keys(other).sort()).toEqual(Object.keys(en).sort());
    for (const [key, text] of Object.entries(other)) {
      const english = en[key as keyof typeof en];
      expect(text.trim(), key).not.toBe('');
      expect(places(text), key).toEqual(places(english));
      expect(text.split('|').length, key).toBe(english.split('|').length);
    }
  });
});

it('fills places and tells one from many', () => {
  const say = speaker(en, 'en');
  expect(say('kind.double', { n: 1 })).toBe('double');
  expect(say('kind.double', { n: 26 })).toBe('doubles');
  expect(say('yard.put_down', { day: '3 Jul', n: 5 })).toBe('put down 3 Jul, day 5');
  expect(speaker(fr, 'fr')('run.hands', { n: 0 })).toBe('0 personne');
});

it('shows a code it has no word for as the book says it', () => {
  expect(sayCode(es, 'job', 'pull', 'Pull honey')).toBe('Sacar miel');
  expect(sayCode(es, 'job', 'paint-lids', 'Paint lids')).toBe('Paint lids');
});

it('takes the first language it knows', () => {
  expect(languageOf(['pl-PL', 'es-MX', 'en'])).toBe('es');
  expect(languageOf(['pl'])).toBe('en');
});
