/** Texts of one page in one language, by key; `{name}` stands for a value. Counted texts end in `.one` and `.other`. */
export type Messages = Readonly<Record<string, string>>;
export type Values = Readonly<Record<string, string | number>>;

/** The languages that the pages speak. A third is a third file per page, and an entry here. */
export const LANGUAGES = ['en', 'de'] as const;
export type Language = (typeof LANGUAGES)[number];

const KEPT = 'gridworthy.language';

/** The language chosen on this device, else the first of the browser's that we speak, else English. */
export function currentLanguage(): Language {
  const wanted = [localStorage.getItem(KEPT) ?? '', ...navigator.languages].map((tag) => tag.slice(0, 2).toLowerCase());
  return wanted.find(isLanguage) ?? 'en';
}

const isLanguage = (tag: string): tag is Language => (LANGUAGES as readonly string[]).includes(tag);

/** Kept, and the page starts anew in it: everything that a page holds survives a reload anyway. */
export function chooseLanguage(language: Language): void {
  localStorage.setItem(KEPT, language);
  location.reload();
}

/** Scripts that are written from right to left. */
const FROM_RIGHT = /[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufeff]/u;

/**
 * A name that is written from right to left, set apart so that what stands around it keeps its order.
 *
 * @see Unicode Standard Annex 9, explicit directional isolates: U+2068 and U+2069
 */
const isolated = (value: string): string => (FROM_RIGHT.test(value) ? `\u2068${value}\u2069` : value);

type Key<M extends Messages> = keyof M extends infer K ? (K extends `${infer Base}.one` ? Base : K) : never;

/**
 * The texts of a page. `load` must have ended before `t` is asked.
 *
 * @param files one importer per language; only the one that is spoken is fetched
 */
export function defineText<M extends Messages>(files: Record<Language, () => Promise<{ default: M }>>) {
  let messages: Messages = {};
  let plural = new Intl.PluralRules('en');
  return {
    load: async (language: Language): Promise<void> => {
      messages = (await files[language]()).default;
      plural = new Intl.PluralRules(language);
    },
    t: (key: Key<M> & string, values: Values = {}): string => {
      const { count } = values;
      const counted = typeof count === 'number' ? messages[`${key}.${plural.select(count)}`] : undefined;
      const text = counted ?? messages[`${key}.other`] ?? messages[key] ?? key;
      return text.replace(/\{(\w+)\}/g, (whole, name: string) => isolated(String(values[name] ?? whole)));
    },
  };
}

/** Texts that every page needs. */
export const words = defineText({ en: () => import('./text/en.json'), de: () => import('./text/de.json') });
