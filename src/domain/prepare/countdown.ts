import { addDays, comparePlainDates, daysBetween, type Instant, type PlainDate } from '../calendar.ts';
import type { OpenCondition } from '../clearance/clearance.ts';
import type { Finding } from '../rules/model/finding.ts';
import { type FixOrder, orderFixes } from './fix-order.ts';
import type { Opening, Part } from './work-table.ts';
import type { Axle, LoggedParts, WearKind, WearOutlook } from './wear-outlook.ts';

/** From ordering parts to what is due before the next event. */
export const STAGES = ['two-weeks', 'one-week', 'night-before', 'morning', 'between-sessions', 'after'] as const;
export type Stage = (typeof STAGES)[number];

/** What a task is about; the other fields say of what. */
export const TASKS = [
  'order',
  'order-for-wear',
  'ends',
  'answer',
  'declare',
  'fix',
  'bed-in',
  'charge-and-fuel',
  'set-wrench',
  'pack',
  'cold-pressures',
  'walk-round',
  'to-line',
  'condition',
  'write-down',
  'watch-wear',
  'wore',
  'due',
  'kept',
] as const;
export type TaskKind = (typeof TASKS)[number];

/** One thing to do; fields that do not belong to its kind are absent. */
export interface Task {
  kind: TaskKind;
  /** what it is about, in the language of the rules */
  titles?: readonly string[];
  part?: Part;
  opening?: Opening;
  axle?: Axle;
  wear?: WearKind;
  minutes?: number;
  count?: number;
  /** N·m or mm, as the kind says */
  value?: number;
  /** mm, before `value` */
  before?: number;
  /** by this day */
  by?: PlainDate;
  /** by this instant; `to-line`: told, if `isTold` */
  at?: Instant;
  /** `to-line`: the time is told, and not that of the first session */
  isTold?: true;
  lane?: number;
  /** the day has passed: something else must be found */
  isLate?: true;
}

export interface StageOf {
  stage: Stage;
  /** first and last day */
  from: PlainDate;
  to: PlainDate;
  when: 'past' | 'now' | 'later';
  tasks: readonly Task[];
}

/** What goes along. */
export const PACKED = [
  'papers',
  'gear',
  'torque-wrench',
  'pressure-gauge',
  'pad-gauge',
  'spare-pads',
  'spare-tyres',
  'spare-rotors',
  'oil-and-cloth',
  'brake-fluid',
  'coolant',
  'tools-for-points',
] as const;
export interface Packed {
  what: (typeof PACKED)[number];
  /** why: titles of findings, or the axle whose parts may not last */
  titles?: readonly string[];
  axle?: Axle;
  /** N·m */
  value?: number;
}

/** A label, service or fluid whose time ends. */
export interface Ending {
  title: string;
  /** the last day on which it is accepted */
  on: PlainDate;
}

export interface CountdownInput {
  today: PlainDate;
  startsOn: PlainDate;
  endsOn: PlainDate;
  firstSessionAt: Instant;
  /** when the car is told to be at the line, if anybody has told it */
  told?: { at: Instant; lane?: number };
  closesAt: Instant;
  declared: boolean;
  findings: readonly Finding[];
  endings: readonly Ending[];
  outlooks: readonly WearOutlook[];
  logged: readonly LoggedParts[];
  conditions: readonly OpenCondition[];
  wheelTorqueNm: number | undefined;
}

export interface Countdown {
  stages: readonly StageOf[];
  pack: readonly Packed[];
}

/** Days before the event on which a part must be there: one to fit it, one to bed in or try. Common practice, no source. */
const FITTING_DAYS = 2;
/** What ends within so many days after the event is due before the next one. Common practice, no source. */
const DUE_DAYS = 120;

const PART_OF_WEAR: Readonly<Record<WearKind, Part>> = { pad: 'pads', rotor: 'rotors', tread: 'tyres' };
const titlesOf = (findings: readonly Finding[]): string[] => [...new Set(findings.map(({ title }) => title))];
const isPresent = (of: { findings: readonly unknown[] }): boolean => of.findings.length > 0;

function orderTasks({ startsOn, today, outlooks }: CountdownInput, { order }: FixOrder<Finding>): Task[] {
  const by = (days: number): Pick<Task, 'by' | 'isLate'> => {
    const day = addDays(startsOn, -days - FITTING_DAYS);
    return comparePlainDates(day, today) < 0 ? { by: day, isLate: true } : { by: day };
  };
  const found = order.map(
    ({ part, days, findings }): Task => ({ kind: 'order', part, titles: titlesOf(findings), ...by(days) }),
  );
  const ordered = new Set(order.map(({ part }) => part));
  const worn = outlooks.filter(({ lasts, kind }) => !lasts && !ordered.has(PART_OF_WEAR[kind]));
  return [
    ...found,
    ...worn.map((one): Task => ({ kind: 'order-for-wear', wear: one.kind, axle: one.axle, count: one.safeSessions })),
  ];
}

/** Repairs by what is opened; answers and papers are no work on the car. */
function fixTasks({ steps }: FixOrder<Finding>): Task[] {
  return steps
    .filter(({ opening }) => opening !== 'answer' && opening !== 'papers')
    .map(({ opening, axle, minutes, jobs }): Task => {
      const titles = titlesOf(jobs.filter(isPresent).flatMap(({ findings }) => findings));
      return { kind: 'fix', opening, ...(axle === undefined ? {} : { axle }), minutes, titles };
    });
}

function weekTasks(input: CountdownInput, order: FixOrder<Finding>): Task[] {
  const open = input.findings.filter(({ result, counts }) => result === 'unanswerable' && counts === 'bar');
  const hasNewPads = order.steps.some(({ jobs }) => jobs.some(({ job }) => job === 'pads' || job === 'rotors'));
  return [
    ...fixTasks(order),
    ...(hasNewPads ? [{ kind: 'bed-in' } satisfies Task] : []),
    ...(open.length === 0 ? [] : [{ kind: 'answer', count: open.length } satisfies Task]),
    ...(input.declared ? [] : [{ kind: 'declare', at: input.closesAt } satisfies Task]),
  ];
}

function betweenTasks({ conditions, outlooks }: CountdownInput): Task[] {
  const asked = conditions.map(
    ({ text, dueAt }): Task => ({ kind: 'condition', titles: [text], ...(dueAt === undefined ? {} : { at: dueAt }) }),
  );
  const worn = outlooks.filter(({ lasts }) => !lasts);
  return [
    ...asked,
    { kind: 'write-down' },
    ...worn.map(
      ({ kind, axle, safeSessions, limitMm }): Task => ({
        kind: 'watch-wear',
        wear: kind,
        axle,
        count: safeSessions,
        value: limitMm,
      }),
    ),
  ];
}

/** What the pads and tyres of an axle lost from the first to the last reading of this event. */
function woreTasks(logged: readonly LoggedParts[]): Task[] {
  const parts = (['pad', 'tread'] as const).flatMap((wear) =>
    (['front', 'rear'] as const).map((axle) => [wear, axle] as const),
  );
  return parts.flatMap(([wear, axle]): Task[] => {
    const read = logged.flatMap(({ sessions, ...parts }) => {
      const mm = parts[wear]?.[axle];
      return mm === undefined ? [] : [{ sessions, mm }];
    });
    const [first, last] = [read[0], read.at(-1)];
    if (first === undefined || last === undefined || first === last) return [];
    return [{ kind: 'wore', wear, axle, before: first.mm, value: last.mm, count: last.sessions - first.sessions }];
  });
}

function afterTasks({ endsOn, endings, logged }: CountdownInput): Task[] {
  const due = endings
    .filter(({ on }) => on >= endsOn && daysBetween(endsOn, on) <= DUE_DAYS)
    .toSorted((a, b) => comparePlainDates(a.on, b.on))
    .map(({ title, on }): Task => ({ kind: 'due', titles: [title], by: on }));
  return [...woreTasks(logged), ...due, { kind: 'kept' }];
}

/**
 * What is to be done for this car, from two weeks before the event to after it: from its own findings, the times that end, how
 * its parts wear, and what the line asked for. Pure.
 */
export function countdown(input: CountdownInput): Countdown {
  const { startsOn, endsOn, today, wheelTorqueNm } = input;
  const order = orderFixes(input.findings.filter(({ counts }) => counts === 'bar' || counts === 'inspect'));
  const ended: Task[] = input.endings
    .filter(({ on }) => on < endsOn)
    .map(({ title, on }) => ({ kind: 'ends', titles: [title], by: on }));
  const before = (days: number): PlainDate => addDays(startsOn, -days);
  const wrench: Task[] = wheelTorqueNm === undefined ? [] : [{ kind: 'set-wrench', value: wheelTorqueNm }];
  const planned: Omit<StageOf, 'when'>[] = [
    { stage: 'two-weeks', from: before(14), to: before(8), tasks: [...orderTasks(input, order), ...ended] },
    { stage: 'one-week', from: before(7), to: before(2), tasks: weekTasks(input, order) },
    {
      stage: 'night-before',
      from: before(1),
      to: before(1),
      tasks: [{ kind: 'pack' }, { kind: 'charge-and-fuel' }, ...wrench],
    },
    {
      stage: 'morning',
      from: startsOn,
      to: startsOn,
      tasks: [{ kind: 'cold-pressures' }, { kind: 'walk-round' }, toLine(input)],
    },
    { stage: 'between-sessions', from: startsOn, to: endsOn, tasks: betweenTasks(input) },
    { stage: 'after', from: addDays(endsOn, 1), to: addDays(endsOn, DUE_DAYS), tasks: afterTasks(input) },
  ];
  return {
    stages: planned.map((stage) => ({
      ...stage,
      when: stage.to < today ? 'past' : stage.from <= today ? 'now' : 'later',
    })),
    pack: packed(input, order),
  };
}

/** The told time; else the first session, before which it must be done. */
const toLine = ({ told, firstSessionAt }: CountdownInput): Task =>
  told === undefined ? { kind: 'to-line', at: firstSessionAt } : { kind: 'to-line', ...told, isTold: true };

const SPARE: Readonly<Record<WearKind, Packed['what']>> = {
  pad: 'spare-pads',
  rotor: 'spare-rotors',
  tread: 'spare-tyres',
};

/** What goes along: always the same few things, and what this car may need. */
function packed({ outlooks, findings, wheelTorqueNm }: CountdownInput, order: FixOrder<Finding>): Packed[] {
  const wrong = findings.filter(({ result, counts }) => result === 'not-met' && counts !== 'no');
  const about = (...starts: readonly string[]): string[] =>
    titlesOf(wrong.filter(({ items }) => starts.some((start) => items[0]?.startsWith(start))));
  const because = (what: Packed['what'], titles: readonly string[]): Packed[] =>
    titles.length === 0 ? [] : [{ what, titles }];
  const looked = titlesOf(wrong.filter(({ counts }) => counts === 'inspect'));
  return [
    { what: 'papers' },
    { what: 'gear' },
    { what: 'torque-wrench', ...(wheelTorqueNm === undefined ? {} : { value: wheelTorqueNm }) },
    { what: 'pressure-gauge' },
    { what: 'pad-gauge' },
    ...outlooks.filter(({ lasts }) => !lasts).map(({ kind, axle }): Packed => ({ what: SPARE[kind], axle })),
    ...because('oil-and-cloth', about('oil.', 'engine.leaks', 'engine.weep')),
    ...because('coolant', about('coolant.')),
    ...because(
      'brake-fluid',
      order.steps.some(({ opening }) => opening === 'bleed') ? about('brake', 'caliper', 'clutch') : [],
    ),
    ...because('tools-for-points', looked),
  ];
}
