import { signal } from '@preact/signals';
import type { Language } from '../shared/text.ts';

/** All computations, by what one has before one. Their names are those of the API. */
export const GROUPS = [
  {
    id: 'brakes',
    names: [
      'brake-margin',
      'brake-heat',
      'pad-forecast',
      'last-safe-session',
      'rotor-check',
      'stop-distance',
      'fluid-class',
    ],
  },
  { id: 'tyres', names: ['tyre-pressure', 'tyre-age', 'tyre-rating', 'treadwear-grade', 'fastener-torque'] },
  { id: 'fluids', names: ['engine-oil-grade', 'gear-oil-grade', 'oil-level', 'coolant', 'coolant-mix', 'service-due'] },
  {
    id: 'chassis',
    names: ['corner-weights', 'alignment-compare', 'cg-height', 'play-diagnosis', 'steering-play', 'symptom-triage'],
  },
  {
    id: 'safety',
    names: ['label-validity', 'suit-protection', 'roll-clearance', 'hv-isolation', 'sound-level', 'sound-average'],
  },
  { id: 'line', names: ['line-staffing'] },
] as const satisfies readonly { id: string; names: readonly string[] }[];

/** One place of a body or of a result, as it was made from the schemas of the computation. */
export interface Field {
  key: string;
  kind: 'measure' | 'number' | 'text' | 'date' | 'choice' | 'flag' | 'group' | 'list' | 'either';
  what?: string;
  unit?: string;
  min?: number;
  max?: number;
  whole?: true;
  difference?: true;
  optional?: true;
  options?: string[];
  fields?: Field[];
}

/** What a computation asks and shows. */
export interface Form {
  title: string;
  summary: string;
  form: Field[];
  result: Field[];
  example: Record<string, unknown>;
}

interface FieldTexts {
  what: Readonly<Record<string, string>>;
  options: Readonly<Record<string, string>>;
}

const TEXTS: Record<Language, () => Promise<{ default: FieldTexts }>> = {
  en: () => import('./fields/en.json'),
  de: () => import('./fields/de.json'),
};
/** Options that the catalogue has too have its words. */
const CATALOGUE: Record<Language, () => Promise<{ default: Readonly<Record<string, string>> }>> = {
  en: () => import('../../domain/catalogue/text/en/options.json'),
  de: () => import('../../domain/catalogue/text/de/options.json'),
};

const loaded = signal<{ forms: Readonly<Record<string, Form>>; texts: FieldTexts } | undefined>(undefined);

/** Fetches what all forms ask, with its words in a language; once. */
export async function loadForms(language: Language): Promise<void> {
  if (loaded.value !== undefined) return;
  const [forms, texts, catalogue] = await Promise.all([
    import('../api/calculation-forms.json'),
    TEXTS[language](),
    CATALOGUE[language](),
  ]);
  const { what, options } = texts.default;
  // made by us, from the schemas
  const known = forms.default as unknown as Record<string, Form>;
  loaded.value = { forms: known, texts: { what, options: { ...catalogue.default, ...options } } };
}

/** The form of a computation; undefined when there is no such computation, or before they are loaded. */
export const formOf = (name: string): Form | undefined => loaded.value?.forms[name];

/** A sentence of a form in the language of the page. */
export const say = (what: string): string => loaded.value?.texts.what[what] ?? what;

/** What a place is called: its sentence, else its name. */
export const labelOf = ({ what, key }: Field): string => say(what ?? key);

/** An option in words; names of standards stay as they are. */
export const optionText = (option: string): string => loaded.value?.texts.options[option] ?? option;
