import { z } from 'zod';
import { isPlainDate, isTimeZone, type PlainDate, plainDateAt } from '../../calendar.ts';
import { CAUTIONS } from '../../cautions.ts';
import {
  type Assumption,
  calculation,
  notComputable,
  type TradeFault,
  NotComputable,
  type WorkStep,
} from '../calculation.ts';
import {
  AppliedRule,
  knownValidity,
  LABEL_FIELDS,
  LABEL_OPTION_FIELDS,
  labelAssumptions,
  labelCautions,
  plainDate,
  showTerm,
} from '../safety/label-validity-calculation.ts';
import { LABEL_RULES } from '../safety/label-validity-rules.ts';
import type { AppliedTerm } from '../safety/label-validity-terms.ts';
import { DAMPER_USES, type DoneService, type Due, remainingOn, SERVICE_KINDS, serviceDue } from './service-due.ts';

const InstantText = z.iso.datetime({ offset: true });
const ToDate = InstantText.pipe(z.coerce.date());

const dayOrInstant = (what: string) =>
  z
    .string()
    .max(40)
    .refine((text) => isPlainDate(text) || InstantText.safeParse(text).success, {
      message: 'write a date as YYYY-MM-DD, or an instant as 2026-06-13T05:40:00Z',
    })
    .describe(`${what}: a date at the venue, or an instant together with timeZone`);

const months = (what: string) => z.number().int().min(1).max(600).optional().describe(`${what}, months`);

const Service = z.strictObject({
  kind: z.enum(SERVICE_KINDS).describe('What was serviced'),
  name: z.string().max(60).optional().describe('Which one'),
  doneOn: dayOrInstant('Last service'),
  everyMonths: months('Interval instead of the default'),
  makerMonths: months("The maker's own interval; the sooner one decides"),
  damperUse: z.enum(DAMPER_USES).optional().describe('Of dampers; professional when left out'),
  disposableMadeOn: plainDate('Of an extinguisher that cannot be refilled: made on').optional(),
});

const Input = z.strictObject({
  onDay: dayOrInstant('The day to count to: the last event day'),
  timeZone: z
    .string()
    .max(60)
    .refine(isTimeZone, { message: 'not a time zone with rules of its own, such as Europe/Paris' })
    .optional()
    .describe('Time zone of the venue; needed where an instant is given'),
  services: z.array(Service).max(50).optional().describe('Fluids, dampers, extinguishers'),
  labels: z.array(z.strictObject(LABEL_FIELDS)).max(50).optional().describe('Equipment with a label'),
  ...LABEL_OPTION_FIELDS,
});
type Input = z.infer<typeof Input>;

const Result = z.object({
  onDay: z.string().describe('The day at the venue that was counted to'),
  items: z
    .array(
      z.object({
        what: z.string().describe('Kind of service, or the equipment'),
        name: z.string().nullable().describe('As given, or the label'),
        lastDay: z.string().nullable().describe('Last good day, inclusive; null: no end date'),
        daysLeft: z.number().nullable().describe('Days to the last good day; 0 on it, negative when overdue'),
        overdue: z.boolean().describe('Whether the day is after the last good day'),
        advisedUntil: z.string().nullable().describe('From the day after this one it is recommended'),
        decidedBy: AppliedRule.describe('The rule that comes first'),
        rules: z.array(AppliedRule).describe('Every rule that was applied'),
      }),
    )
    .describe('Services, then labels, in the order given'),
  next: z.number().nullable().describe('Index of the item that is due first; null: none ends'),
});
type Item = z.infer<typeof Result>['items'][number];

/** The civil date at the venue that a text of the input means. */
function civilDay(text: string, timeZone: string | undefined, pointer: string): PlainDate {
  if (isPlainDate(text)) return text;
  if (timeZone === undefined)
    throw notComputable('/timeZone', 'missing', `${pointer} is an instant: its day needs the zone.`);
  return plainDateAt(ToDate.parse(text), timeZone);
}

interface Listed {
  item: Item;
  step: WorkStep;
}

function list(what: string, name: string | undefined, due: Omit<Due, 'lastDay'>, onDay: PlainDate): Listed {
  const { decidedBy, terms, advisedUntil } = due;
  const { lastDay } = decidedBy;
  const left = lastDay === null ? { daysLeft: null, overdue: false } : remainingOn(onDay, lastDay);
  const item = { what, name: name ?? null, lastDay, ...left, advisedUntil, decidedBy: showTerm(decidedBy) };
  return { item: { ...item, rules: terms.map(showTerm) }, step: stepOf(name ?? what, decidedBy) };
}

const stepOf = (what: string, { says, numbers, lastDay }: AppliedTerm): WorkStep => ({
  what: `${what}: last good day`,
  formula: says,
  numbers,
  result: lastDay ?? 'no end date',
});

/** Lists every item and moves refusals to their places in the input; all of them are named together. */
function listAll<T>(items: readonly T[], base: string, run: (item: T, at: string) => Listed): Listed[] {
  const faults: TradeFault[] = [];
  const listed = items.flatMap((item, index) => {
    const at = `${base}/${index}`;
    try {
      return [run(item, at)];
    } catch (error) {
      if (!(error instanceof NotComputable)) throw error;
      const move = (to: string): string => (to.startsWith(at) || to === '/timeZone' ? to : at + to);
      faults.push(...error.faults.map((fault) => ({ ...fault, pointer: move(fault.pointer) })));
      return [];
    }
  });
  if (faults.length > 0) throw new NotComputable(faults);
  return listed;
}

function listServices(input: Input, onDay: PlainDate): Listed[] {
  return listAll(input.services ?? [], '/services', (service, at) => {
    const doneOn = civilDay(service.doneOn, input.timeZone, `${at}/doneOn`);
    if (doneOn > onDay) throw notComputable('/doneOn', 'in-future', 'The last service is after the day to count to.');
    refuseStray(service);
    if (service.disposableMadeOn !== undefined && service.disposableMadeOn > doneOn) {
      throw notComputable('/disposableMadeOn', 'after-service', 'It was made after its last service.');
    }
    return list(service.kind, service.name, serviceDue({ ...service, doneOn }), onDay);
  });
}

function refuseStray({ kind, damperUse, disposableMadeOn }: Omit<DoneService, 'doneOn'>): void {
  if (damperUse !== undefined && kind !== 'damper')
    throw notComputable('/damperUse', 'stray', 'Only dampers have a use.');
  if (disposableMadeOn === undefined || kind === 'extinguisher') return;
  throw notComputable('/disposableMadeOn', 'stray', 'Only an extinguisher can be one that is not refilled.');
}

function listLabels(input: Input, onDay: PlainDate): Listed[] {
  return listAll(input.labels ?? [], '/labels', (label, at) => {
    if (label.madeOn !== undefined && label.madeOn > onDay) {
      throw notComputable('/madeOn', 'in-future', 'This is after the day to count to.');
    }
    const validity = knownValidity(label, input, at);
    const advisedUntil = validity.advice?.lastDay ?? null;
    return list(LABEL_RULES[label.label].equipment, label.name ?? label.label, { ...validity, advisedUntil }, onDay);
  });
}

function nextOf(items: readonly Item[]): number | null {
  let next: number | null = null;
  for (const [index, { lastDay }] of items.entries()) {
    const least = next === null ? null : (items[next]?.lastDay ?? null);
    if (lastDay !== null && (least === null || lastDay < least)) next = index;
  }
  return next;
}

function assumptionsOf(input: Input, items: readonly Item[]): Assumption[] {
  const unstated = (input.services ?? []).some(({ kind, damperUse, everyMonths }) => {
    return kind === 'damper' && damperUse === undefined && everyMonths === undefined;
  });
  const intervals = items
    .slice(0, input.services?.length ?? 0)
    .filter((_, index) => input.services?.[index]?.everyMonths === undefined)
    .map(({ what, decidedBy }): Assumption => ({ name: what, value: decidedBy.rule, standing: decidedBy.standing }));
  return [
    ...intervals,
    ...(unstated ? [{ name: 'Damper use', value: 'professional', standing: 'common-practice' } as const] : []),
    ...(input.labels?.length ? labelAssumptions(input) : []),
  ];
}

const FLUID_CAUTIONS = {
  'brake-fluid': CAUTIONS['brake-fluid'].text,
  'clutch-fluid': CAUTIONS['brake-fluid'].text,
  coolant: CAUTIONS['radiator-cap'].text,
} as const;

function cautionsOf(input: Input): string[] {
  const fluids = (input.services ?? []).flatMap(({ kind }) => {
    const texts: Readonly<Record<string, string>> = FLUID_CAUTIONS;
    return texts[kind] ?? [];
  });
  return [...new Set([...fluids, ...(input.labels ?? []).flatMap(({ label }) => labelCautions(label))])];
}

/** `service-due`: when fluids, dampers, extinguishers and labelled equipment are due, and which rule decides. */
export const SERVICE_DUE = calculation({
  name: 'service-due',
  title: 'What is due, and when',
  summary:
    'Last good day and days left of fluids, dampers, extinguishers and labelled equipment; the earliest rule decides.',
  input: Input,
  result: Result,
  sources: [
    { title: 'Service intervals of fluids and dampers', standing: 'common-practice' },
    { title: 'UK national rules: extinguishers, 24 months or the maker’s interval', standing: 'secondary' },
    { title: 'NFPA 10: extinguishers that cannot be refilled, 12 years', standing: 'secondary' },
    { title: 'Label rules: see label-validity', standing: 'secondary' },
  ],
  example: {
    onDay: '2026-06-14',
    services: [
      { kind: 'brake-fluid', doneOn: '2026-03-01' },
      { kind: 'damper', doneOn: '2024-01-20', damperUse: 'club' },
      { kind: 'extinguisher', doneOn: '2025-02-10', makerMonths: 12 },
    ],
    labels: [{ label: 'FIA FT3-1999', madeOn: '2022-05-02' }],
  },
  compute(input) {
    const onDay = civilDay(input.onDay, input.timeZone, '/onDay');
    const listed = [...listServices(input, onDay), ...listLabels(input, onDay)];
    if (listed.length === 0) throw notComputable('', 'empty', 'Give at least one of /services and /labels.');
    const items = listed.map(({ item }) => item);
    return {
      result: { onDay, items, next: nextOf(items) },
      steps: listed.map(({ step }) => step),
      assumptions: assumptionsOf(input, items),
      cautions: cautionsOf(input),
    };
  },
});
