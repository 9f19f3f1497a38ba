import type en from './en.json';

export type Words = Record<keyof typeof en, string>;
export type Word = keyof Words;

export const LANGUAGES = { en: 'English', es: 'Español', fr: 'Français' } as const;
export type Language = keyof typeof LANGUAGES;

/** One file a language; only the one asked for is fetched. */
export async function loadWords(language: Language): Promise<Words> {
  switch (language) {
    case 'es':
      return (await import('./es.json')).default;
    case 'fr':
      return (await import('./fr.json')).default;
    default:
      return (await import('./en.json')).default;
  }
}

/** A word that is not known is shown as it came, so that a new job is named and not hidden. */
export type Say = (word: Word, fill?: Record<string, string | number>) => string;

/** Fills `{n}` and picks `one|many` by `n`. */
export function speaker(words: Words, language: Language): Say {
  return (word, fill) => {
    let text = words[word] ?? String(word);
    if (text.includes('|')) {
      const n = Number(fill?.['n'] ?? 2);
      const one = language === 'fr' ? Math.abs(n) < 2 : Math.abs(n) === 1;
      text = text.split('|')[one ? 0 : 1] ?? text;
    }
    return text.replace(/\{(\w+)\}/g, (whole, name: string) => String(fill?.[name] ?? whole));
  };
}

/** A word made from a code, or what else is known of it when this face has no word of its own for it. */
export function sayCode(words: Words, prefix: string, code: string, otherwise: string): string {
  return (words as Record<string, string>)[`${prefix}.${code}`] ?? otherwise;
}

export function languageOf(wanted: readonly string[]): Language {
  for (const tag of wanted) {
    const short = tag.slice(0, 2).toLowerCase();
    if (short in LANGUAGES) return short as Language;
  }
  return 'en';
}
