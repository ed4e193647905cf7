import type { PlainDate } from '../../calendar.ts';
import type { Standing } from '../calculation.ts';

export const EQUIPMENT = ['harness', 'helmet', 'head-restraint', 'seat', 'fuel-cell', 'window-net', 'suit'] as const;
export type Equipment = (typeof EQUIPMENT)[number];

interface TermBase {
  /** in words, as shown where this rule decides */
  says: string;
  standing: Standing;
  source: string;
  /** `limit` (default) ends the validity; `advice` is a recommendation */
  weight?: 'limit' | 'advice';
  /** applies only to who goes by this acceptance: a club's own rule, or the international technical lists */
  scope?: 'club' | 'international';
}

/**
 * One rule that can end the validity of a label.
 *
 * - `printed`: the label itself says "not valid after"
 * - `from-made`: so many years after manufacture, to the same day, as the organizer reads a punched month, or to
 *   31 December; a recertification by the maker counts from its own date (`renews`) or adds years once (`extends`)
 * - `listed`: an acceptance list names the last day
 * - `open`: no end date at present
 */
export type LabelTerm = TermBase &
  (
    | { kind: 'printed' }
    | {
        kind: 'from-made';
        years: number;
        end: 'same-day' | 'punched-month' | 'end-of-year';
        /** sources disagree or nobody verified the number: the caller may give his own */
        adjustable?: true;
        recertified?: { how: 'renews' } | { how: 'extends'; years: number };
      }
    | { kind: 'listed'; lastDay: PlainDate }
    | { kind: 'open' }
  );

export interface LabelRule {
  equipment: Equipment;
  terms: readonly LabelTerm[];
  caution?: string;
}

const PRINTED: LabelTerm = {
  kind: 'printed',
  says: 'the date on the label, valid on that day and to the end of the month or year it names',
  standing: 'derived',
  source: 'the wording "not valid after"; FIA labels run to 31 December of the year (secondary sources)',
};

const TECHNICAL_LIST = 'FIA Technical List 25 of 2024-12-11, read in a copy';
const WEBBING = 'SFI presentation on seat belt webbing life';

const FIA_HARNESS: LabelTerm = {
  kind: 'from-made',
  years: 5,
  end: 'end-of-year',
  says: 'five years counted from 1 January after the year of manufacture',
  standing: 'secondary',
  source: 'FIA 8853/98 and 8854/98 as quoted by clubs',
};
const HARNESS_LIST: LabelTerm = {
  kind: 'listed',
  lastDay: '2022-12-31',
  scope: 'international',
  says: 'last day in cars of the international list',
  standing: 'secondary',
  source: 'notice of a historic racing club: FIA 8853-2016 is needed from 2023-01-01',
};
const SFI_HARNESS: LabelRule = {
  equipment: 'harness',
  terms: [
    PRINTED,
    {
      kind: 'from-made',
      years: 2,
      end: 'punched-month',
      recertified: { how: 'renews' },
      says: 'two years from the punched month; new webbing by the original maker starts again',
      standing: 'published',
      source: WEBBING,
    },
  ],
};

const USE_ADVICE: LabelTerm = {
  kind: 'from-made',
  years: 5,
  end: 'same-day',
  weight: 'advice',
  says: 'replace after five years; counted from manufacture, the strict reading of "of use"',
  standing: 'secondary',
  source: 'advice of the foundation behind the SA standards',
};
const snellYear = (year: number): LabelTerm => ({
  kind: 'listed',
  lastDay: `${year + 10}-12-31`,
  scope: 'club',
  says: 'ten years from the year of the standard, to its end',
  standing: 'secondary',
  source: 'usual club rule; organizers differ',
});
const snellListed = (lastDay: PlainDate): LabelTerm => ({
  kind: 'listed',
  lastDay,
  scope: 'international',
  says: 'last day on the international list',
  standing: 'secondary',
  source: TECHNICAL_LIST,
});
const helmet = (...terms: readonly LabelTerm[]): LabelRule => ({
  equipment: 'helmet',
  terms: [PRINTED, ...terms, USE_ADVICE],
});
const OPEN_LIST: LabelTerm = {
  kind: 'open',
  says: 'no end date on the international list at present',
  standing: 'secondary',
  source: TECHNICAL_LIST,
};

const seatYears = (years: number, standing: Standing, source: string, adjustable = false): LabelTerm => ({
  kind: 'from-made',
  years,
  end: 'end-of-year',
  ...(adjustable && { adjustable }),
  says: `${adjustable ? 'a number of' : years} years after the year of manufacture, to 31 December`,
  standing,
  source,
});
const seat = (...terms: readonly LabelTerm[]): LabelRule => ({ equipment: 'seat', terms: [PRINTED, ...terms] });

const cell = (says: string, source: string, extendsYears?: number): LabelRule => ({
  equipment: 'fuel-cell',
  terms: [
    PRINTED,
    {
      kind: 'from-made',
      years: 5,
      end: 'same-day',
      ...(extendsYears !== undefined && { recertified: { how: 'extends', years: extendsYears } }),
      says,
      standing: 'secondary',
      source,
    },
  ],
});

/**
 * Validity rules by label, as data. A label without a rule that computes an end must say it itself: what cannot be
 * known is never "valid".
 */
export const LABEL_RULES = {
  'FIA 8853/98': { equipment: 'harness', terms: [PRINTED, FIA_HARNESS, HARNESS_LIST] },
  'FIA 8854/98': { equipment: 'harness', terms: [PRINTED, FIA_HARNESS] },
  'FIA 8853-2016': { equipment: 'harness', terms: [PRINTED] },
  'SFI 16.1': SFI_HARNESS,
  'SFI 16.2': SFI_HARNESS,
  'SFI 16.5': SFI_HARNESS,
  'SFI 16.6': SFI_HARNESS,
  'Snell SA2025': helmet(snellYear(2025)),
  'Snell SA2020': helmet(snellYear(2020)),
  'Snell SA2015': helmet(snellYear(2015), snellListed('2023-12-31')),
  'Snell SA2010': helmet(snellYear(2010), snellListed('2023-12-31')),
  'Snell M2020': helmet(),
  'Snell M2015': helmet(),
  'FIA 8859-2024': helmet(OPEN_LIST),
  'FIA 8859-2015': helmet(OPEN_LIST),
  'FIA 8860-2018-ABP': helmet(OPEN_LIST),
  'FIA 8860-2018': helmet(OPEN_LIST),
  'FIA 8860-2010': helmet({ ...snellListed('2028-12-31'), scope: undefined }),
  'ECE 22.06': helmet(),
  'ECE 22.05': helmet(),
  'FIA 8858-2010': {
    equipment: 'head-restraint',
    terms: [PRINTED, { kind: 'open', says: 'no expiry', standing: 'secondary', source: 'FIA 8858-2010 as quoted' }],
  },
  'SFI 38.1': {
    equipment: 'head-restraint',
    terms: [
      PRINTED,
      {
        kind: 'from-made',
        years: 5,
        end: 'punched-month',
        recertified: { how: 'renews' },
        says: 'five years from the punched month; a new label by the maker gives five more',
        standing: 'secondary',
        source: 'letter and table of the SFI foundation, quoted',
      },
    ],
  },
  'FIA 8855-1999': seat(seatYears(5, 'secondary', 'FIA 8855-1999 as quoted')),
  'FIA 8855-2021': seat(seatYears(10, 'from-memory', 'FIA 8855-2021, from memory', true)),
  'FIA 8862-2009': {
    ...seat(seatYears(10, 'secondary', 'a page whose text says ten years and whose example counts nine', true)),
    caution: 'Published pages count nine or ten years for FIA 8862-2009 seats: use what your organizer uses.',
  },
  'SFI 39.1': seat(),
  'SFI 39.2': seat(),
  factory: seat({
    kind: 'open',
    says: "a car maker's own seat has no end date; its condition decides",
    standing: 'common-practice',
    source: 'common practice',
  }),
  'FIA FT3-1999': {
    ...cell('five years from manufacture; one recertification by the maker adds two', 'FIA FT3-1999 as quoted', 2),
    caution: 'Some national rules do not end the life of FT3 cells at all; your organizer decides.',
  },
  'FIA FT5': cell('five years from manufacture, no extension', 'FIA FT5 in the rule of a single-seater series'),
  'SFI 27.1': {
    equipment: 'window-net',
    terms: [
      PRINTED,
      {
        kind: 'from-made',
        years: 2,
        end: 'punched-month',
        adjustable: true,
        says: 'two years from the punched month',
        standing: 'from-memory',
        source: 'SFI 27.1, from memory',
      },
    ],
  },
  'FIA 8856-2018': { equipment: 'suit', terms: [PRINTED] },
} as const satisfies Readonly<Record<string, LabelRule>>;

export type LabelId = keyof typeof LABEL_RULES;

/**
 * The rule of a label; `undefined` for a text that is none of ours. No units of its own: terms are in years. Never
 * throws. Source: that of each rule in `LABEL_RULES`.
 */
export function findLabelRule(label: string): LabelRule | undefined {
  return Object.hasOwn(LABEL_RULES, label) ? LABEL_RULES[label as LabelId] : undefined;
}
