import { z } from 'zod';
import { daysBetween, isPlainDate } from '../../calendar.ts';
import { CAUTIONS } from '../../cautions.ts';
import {
  type Assumption,
  calculation,
  STANDINGS,
  type TradeFault,
  NotComputable,
  type WorkStep,
} from '../calculation.ts';
import { earliestLastDay, type Validity, validThrough } from './label-validity.ts';
import { ACCEPTANCES, type AppliedTerm, labelDate, type LabelOptions, MONTH_READINGS } from './label-validity-terms.ts';
import { LABEL_RULES, type LabelId, type LabelRule } from './label-validity-rules.ts';

// Object.keys loses the key type; the keys are label ids by definition
const LABEL_IDS = Object.keys(LABEL_RULES) as [LabelId, ...LabelId[]];

/** The fields of one label, for this computation and `service-due`. */
export const LABEL_FIELDS = {
  label: z.enum(LABEL_IDS).describe('Standard on the label'),
  name: z.string().max(60).optional().describe('What it is sewn to, for example shoulder-left'),
  madeOn: labelDate('Date of manufacture').optional(),
  notValidAfter: labelDate('Last date that the label itself names').optional(),
  recertifiedOn: z.array(labelDate('Recertified by the maker')).max(10).optional().describe('Recertifications'),
  years: z
    .number()
    .int()
    .min(1)
    .max(20)
    .optional()
    .describe('Years that the organizer counts, where sources disagree or the number is from memory'),
};

/** How labels are read, for this computation and `service-due`. */
export const LABEL_OPTION_FIELDS = {
  monthReading: z
    .enum(MONTH_READINGS)
    .optional()
    .describe('A punched month ends on its first-day (default), its last-day or the end-of-year'),
  acceptance: z
    .enum(ACCEPTANCES)
    .optional()
    .describe('Whose lists count besides the label: club (default), international or label-only'),
};

/** A calendar date in an input. YYYY-MM-DD, no unit. Never throws. Source: ISO 8601. */
export const plainDate = (what: string) =>
  z
    .string()
    .max(10)
    .refine(isPlainDate, { message: 'write a date that exists as YYYY-MM-DD' })
    .describe(`${what}, YYYY-MM-DD at the venue`);

const Label = z.strictObject(LABEL_FIELDS);
export type LabelInput = z.infer<typeof Label>;

const Input = z.strictObject({
  labels: z.array(Label).min(1).max(50).describe('One or more labels; of a set, each strap has its own'),
  ...LABEL_OPTION_FIELDS,
  onDay: plainDate('Last event day').optional(),
});
type Input = z.infer<typeof Input>;

/** A rule as the API shows it. */
export const AppliedRule = z.object({
  rule: z.string().describe('What the rule says'),
  lastDay: z.string().nullable().describe('Last good day, inclusive; null: no end date'),
  weight: z.enum(['limit', 'advice']).describe('limit ends the validity; advice is a recommendation'),
  standing: z.enum(STANDINGS).describe('How far the rule can be trusted'),
  source: z.string().describe('Where the rule comes from'),
});

/** An `AppliedTerm` as the API shows it. No units; never throws. Source: that of the term. */
export const showTerm = ({ says, lastDay, weight, standing, source }: AppliedTerm): z.infer<typeof AppliedRule> => ({
  rule: says,
  lastDay,
  weight,
  standing,
  source,
});

const Result = z.object({
  labels: z
    .array(
      z.object({
        label: z.string().describe('The label'),
        name: z.string().nullable().describe('As given'),
        lastDay: z.string().nullable().describe('Last good day, inclusive; null: no end date'),
        decidedBy: AppliedRule.describe('The rule that ends first'),
        advisedUntil: z.string().nullable().describe('Replacement is advised from the day after this one'),
        valid: z.boolean().nullable().describe('Whether it is good on the given day; null without a day'),
        daysLeft: z.number().nullable().describe('Days from the given day to the last good day; 0 on it'),
        rules: z.array(AppliedRule).describe('Every rule that was applied'),
      }),
    )
    .describe('Each label, in the order given'),
  lastDay: z.string().nullable().describe('Last good day of all together: the earliest governs; null: no end date'),
  governing: z.number().nullable().describe('Index of the label that ends first; null: none ends'),
});

type Known = Exclude<Validity, { ends: 'unknown' }>;

const fault = (index: number, field: string, code: string, detail: string): TradeFault => ({
  pointer: `/labels/${index}/${field}`,
  code,
  detail,
});

/**
 * The validity of one label at a place of the input. Dates are YYYY-MM-DD.
 *
 * @throws NotComputable with pointers below `at`: a date missing, contradictory dates, years where they are fixed
 * @see `validThrough`
 */
export function knownValidity(label: LabelInput, options: LabelOptions, at: string): Known {
  const faultAt = (field: string, code: string, detail: string) =>
    new NotComputable([{ pointer: `${at}${field}`, code, detail }]);
  const rule: LabelRule = LABEL_RULES[label.label];
  const adjustable = rule.terms.some((term) => term.kind === 'from-made' && term.adjustable === true);
  if (label.years !== undefined && !adjustable) {
    throw faultAt('/years', 'fixed', `The years of ${label.label} are fixed by its rule.`);
  }
  const validity = readValidity(rule, label, { ...options, years: label.years }, at);
  if (validity.ends !== 'unknown') return validity;
  const needed =
    validity.missing === 'madeOn'
      ? 'its date of manufacture, or the last date on the label'
      : 'the last date on the label: there is no rule that computes it';
  throw faultAt(`/${validity.missing}`, 'missing', `${label.label} needs ${needed}.`);
}

function readValidity(rule: LabelRule, label: LabelInput, options: LabelOptions, at: string): Validity {
  try {
    return validThrough(rule, label, options);
  } catch (error) {
    if (!(error instanceof NotComputable)) throw error;
    throw new NotComputable(error.faults.map((each) => ({ ...each, pointer: `${at}${each.pointer}` })));
  }
}

function allKnown({ labels, monthReading, acceptance, onDay }: Input): Known[] {
  const faults: TradeFault[] = [];
  const known = labels.flatMap((label, index) => {
    const madeOn = label.madeOn;
    if (onDay !== undefined && madeOn !== undefined && madeOn > onDay) {
      faults.push(fault(index, 'madeOn', 'in-future', 'This is after the given day.'));
    }
    try {
      return knownValidity(label, { monthReading, acceptance }, `/labels/${index}`);
    } catch (error) {
      if (!(error instanceof NotComputable)) throw error;
      faults.push(...error.faults);
      return [];
    }
  });
  if (faults.length > 0) throw new NotComputable(faults);
  return known;
}

/**
 * The defaults and untested numbers behind a validity, for `assumptions`. No units. Never throws. Source: that of each
 * rule in `LABEL_RULES`.
 */
export function labelAssumptions(options: LabelOptions): Assumption[] {
  return [
    ...(options.monthReading === undefined
      ? [
          {
            name: 'Punched month',
            value: 'its first day, the strict reading; labels give no day',
            standing: 'common-practice',
          } as const,
        ]
      : []),
    ...(options.acceptance === undefined
      ? [{ name: 'Acceptance', value: 'as clubs do; organizers differ', standing: 'common-practice' } as const]
      : []),
  ];
}

/**
 * How the last day of a label was worked out, for `steps`. Dates are YYYY-MM-DD. Never throws. Source: that of the
 * deciding rule.
 */
export const validityStep = (what: string, { decidedBy }: Known): WorkStep => ({
  what: `${what}: last good day`,
  formula: decidedBy.says,
  numbers: decidedBy.numbers,
  result: decidedBy.lastDay ?? 'no end date',
});

/**
 * What the rule of a label warns of, and the caution of its equipment. No units. Never throws. Source: that of each
 * rule in `LABEL_RULES`.
 */
export function labelCautions(label: LabelId): string[] {
  const rule: LabelRule = LABEL_RULES[label];
  const general = { harness: CAUTIONS.harness.text, helmet: CAUTIONS.helmet.text } as const;
  const { equipment } = rule;
  return [
    ...(equipment === 'harness' || equipment === 'helmet' ? [general[equipment]] : []),
    ...(rule.caution === undefined ? [] : [rule.caution]),
  ];
}

/** `label-validity`: the last day on which equipment with a label may be used, and the rule that decides. */
export const LABEL_VALIDITY = calculation({
  name: 'label-validity',
  title: 'How long safety equipment is valid',
  summary: 'The last good day by the rules of each label; of several labels the earliest governs.',
  input: Input,
  result: Result,
  sources: [
    { title: 'SFI presentation on webbing life: two years', standing: 'published' },
    { title: 'FIA and SFI label rules as quoted by clubs', standing: 'secondary' },
    { title: 'FIA Technical List 25 of 2024-12-11, read in a copy', standing: 'secondary' },
  ],
  example: {
    labels: [
      { label: 'FIA 8853/98', name: 'lap-left', madeOn: '2021-03' },
      { label: 'FIA 8853/98', name: 'shoulder-left', notValidAfter: '2025' },
    ],
    onDay: '2025-06-15',
  },
  compute(input) {
    const known = allKnown(input);
    const lastDay = earliestLastDay(known.flatMap((each) => (each.ends === 'on' ? each.lastDay : [])));
    const index = known.findIndex((each) => each.ends === 'on' && each.lastDay === lastDay);
    return {
      result: {
        labels: known.map((validity, at) => showValidity(validity, input, at)),
        lastDay: lastDay ?? null,
        governing: index < 0 ? null : index,
      },
      steps: known.map((validity, at) => validityStep(nameOf(input, at), validity)),
      assumptions: labelAssumptions(input),
      cautions: [...new Set(input.labels.flatMap(({ label }) => labelCautions(label)))],
    };
  },
});

const nameOf = ({ labels }: Input, at: number): string => labels[at]?.name ?? labels[at]?.label ?? `label ${at + 1}`;

function showValidity(validity: Known, { labels, onDay }: Input, at: number) {
  const lastDay = validity.ends === 'on' ? validity.lastDay : null;
  return {
    label: labels[at]?.label ?? '',
    name: labels[at]?.name ?? null,
    lastDay,
    decidedBy: showTerm(validity.decidedBy),
    advisedUntil: validity.advice?.lastDay ?? null,
    valid: onDay === undefined ? null : lastDay === null || onDay <= lastDay,
    daysLeft: onDay === undefined || lastDay === null ? null : daysBetween(onDay, lastDay),
    rules: validity.terms.map(showTerm),
  };
}
