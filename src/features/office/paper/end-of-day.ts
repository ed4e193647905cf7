import type { Block, Say } from './sheet.ts';
import { tableOf } from './sheet.ts';
import type { Writing } from './event-sheets.ts';
import type { DayOfSheet, EntryOfSheet } from './store.ts';

const COUNTED = ['entered', 'withdrawn', 'undeclared', 'accepted', 'conditions', 'refused', 'notSeen', 'held'] as const;
type Counts = Record<(typeof COUNTED)[number], number>;

const nothing = (): Counts => Object.fromEntries(COUNTED.map((name) => [name, 0])) as Counts;

/** Where an entry stands by what happened to it, which stays true when the day is over; `held` besides. */
export function standOf({ facts }: Pick<EntryOfSheet, 'facts'>): Exclude<keyof Counts, 'entered' | 'held'> {
  if (facts.withdrawn) return 'withdrawn';
  const decision = facts.signOff?.decision;
  if (decision === 'refuse') return 'refused';
  if (decision === 'accept') return 'accepted';
  if (decision === 'accept-with-conditions') return 'conditions';
  return facts.declared === undefined ? 'undeclared' : 'notSeen';
}

/** Entries of each run group by where they stand; all but `held` add up to `entered`. */
export function countGroups(entries: readonly EntryOfSheet[]): Map<string, Counts> {
  const groups = new Map<string, Counts>();
  for (const entry of entries) {
    const counts = groups.get(entry.runGroup) ?? nothing();
    groups.set(entry.runGroup, counts);
    counts.entered += 1;
    counts[standOf(entry)] += 1;
    if (entry.facts.holds.length + entry.carFacts.holds.length > 0) counts.held += 1;
  }
  return groups;
}

function countsBlock(entries: readonly EntryOfSheet[], say: Say): Block {
  const groups = countGroups(entries);
  const all = nothing();
  for (const counts of groups.values()) for (const name of COUNTED) all[name] += counts[name];
  const row = (name: string, counts: Counts) => [name, ...COUNTED.map((one) => String(counts[one]))];
  const rows = [...[...groups].map(([name, counts]) => row(name, counts)), row(say('day.total'), all)];
  const columns = [['group', 2], ...COUNTED.map((name) => [name, 1.2] as const)] as const;
  return tableOf(say, columns, rows, { heading: say('day.counts') });
}

const NUMBER = ['number', 1.2] as const;
const GROUP = ['group', 1.8] as const;

/** @param titleOf the title of a rule in the language of the sheet */
export type TitleOf = (exception: DayOfSheet['exceptions'][number]) => string;

function exceptionsBlock(day: DayOfSheet, { say, times }: Writing, titleOf: TitleOf): Block {
  const rows = day.exceptions.map((one) => {
    const second = one.approvedBy;
    const unapproved = one.needsSecondPerson && second === null;
    const by = second === null ? one.by : say('day.approved', { by: one.by, second });
    const revoked = one.revokedBy !== null;
    return [
      one.carNumber,
      one.runGroup,
      titleOf(one),
      one.reason,
      unapproved ? say('day.unapproved', { by: one.by }) : by,
      times.at(one.expiresAt),
      revoked ? say('day.revoked', { by: one.revokedBy ?? '', reason: one.revokeReason ?? '' }) : say('day.stands'),
    ];
  });
  const columns = [NUMBER, GROUP, ['rule', 3], ['reason', 3], ['by', 2.4], ['until', 1.7], ['status', 2]] as const;
  return tableOf(say, columns, rows, { heading: say('day.exceptions'), empty: say('none') });
}

function holdsBlock(day: DayOfSheet, { say, times }: Writing): Block {
  const rows = day.holds.map(({ carNumber, runGroup, reason, at, by, liftedAt, liftedBy, liftReason }) => [
    carNumber,
    runGroup,
    times.at(at),
    by,
    reason,
    liftedAt === null
      ? say('day.stands')
      : say('day.lifted', { time: times.at(liftedAt), by: liftedBy ?? '', reason: liftReason ?? '' }),
  ]);
  const columns = [NUMBER, GROUP, ['at', 1.7], ['by', 2], ['reason', 3], ['lifted', 3]] as const;
  return tableOf(say, columns, rows, { heading: say('day.holds'), empty: say('none') });
}

/** The state of the history, which whoever holds the paper can hold the server to. */
function headBlock({ head, unsealed }: DayOfSheet, say: Say): Block {
  const lines = [
    say('day.size', { size: head?.size ?? 0 }),
    say('day.root', { root: head?.root ?? '–' }),
    ...(unsealed === 0 ? [] : [say('day.unsealed', { count: unsealed })]),
    say('day.compare'),
  ];
  return { heading: say('day.head'), lines, columns: [], rows: [] };
}

/** What the day came to, for the file: counts, what was refused, held, excepted, what is open, the head of the history. */
export function dayBlocks(
  entries: readonly EntryOfSheet[],
  day: DayOfSheet,
  writing: Writing,
  titleOf: TitleOf,
): Block[] {
  const { say, times } = writing;
  const empty = say('none');
  const refused = day.refusals.map(({ carNumber, runGroup, at, by, note }) => [
    carNumber,
    runGroup,
    times.at(at),
    by,
    note ?? '',
  ]);
  const open = day.conditions.map(({ carNumber, runGroup, text, dueAt }) => [
    carNumber,
    runGroup,
    text,
    dueAt === null ? '–' : times.at(dueAt),
  ]);
  const gate = day.contradictions.map(({ carNumber, at, by, status, contradicts }) => [
    carNumber,
    times.at(at),
    by,
    say(`status.${status}`),
    say(`status.${contradicts}`),
  ]);
  return [
    countsBlock(entries, say),
    tableOf(say, [NUMBER, GROUP, ['at', 1.7], ['by', 2], ['reason', 5]], refused, {
      heading: say('day.refusals'),
      empty,
    }),
    holdsBlock(day, writing),
    exceptionsBlock(day, writing, titleOf),
    tableOf(say, [NUMBER, GROUP, ['condition', 6], ['due', 1.7]], open, { heading: say('day.open'), empty }),
    tableOf(say, [NUMBER, ['at', 1.7], ['by', 2], ['gate', 3], ['history', 3]], gate, {
      heading: say('day.gate'),
      empty,
    }),
    headBlock(day, say),
    { heading: say('day.sign'), lines: [say('day.signLine')], columns: [], rows: [] },
  ];
}
