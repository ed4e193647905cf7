import type { PlainDate } from '../../domain/calendar.ts';
import { type ParameterOverride, RuleSet } from '../../domain/rules/rule-set.ts';
import type { Tx } from '../../platform/db.ts';
import type { Prisma } from '../../platform/prisma-client/client.ts';

/** What a run group is set to. */
export interface RunGroupData {
  name: string;
  order: number;
  firstSessionAt: Date;
  ruleSetId: string;
  ruleSetVersion: number;
  parameters: Readonly<Record<string, ParameterOverride>>;
}

export interface StoredRunGroup extends RunGroupData {
  runGroupId: string;
  eventId: string;
  createdAt: Date;
  rev: number;
}

/** What run groups need to know of their event. */
export interface EventFrame {
  startsOn: PlainDate;
  endsOn: PlainDate;
  timeZone: string;
}

interface Row {
  id: string;
  eventId: string;
  name: string;
  sortOrder: number;
  firstSessionAt: Date;
  ruleSetId: string;
  ruleSetVersion: number;
  parameters: Prisma.JsonValue;
  createdAt: Date;
  rev: number;
}

function toStored({ id, sortOrder, parameters, ...row }: Row): StoredRunGroup {
  // `parameters` is written by `toColumns` only, from checked overrides.
  return { ...row, runGroupId: id, order: sortOrder, parameters: parameters as Record<string, ParameterOverride> };
}

function toColumns({ order, parameters, ...data }: RunGroupData) {
  return { ...data, sortOrder: order, parameters: parameters as Prisma.InputJsonObject };
}

export async function findEventFrame(db: Tx, eventId: string): Promise<EventFrame | undefined> {
  const row = await db.event.findUnique({ where: { id: eventId }, include: { venue: { select: { timeZone: true } } } });
  if (row === null) return undefined;
  const toDay = (date: Date): PlainDate => date.toISOString().slice(0, 10);
  return { startsOn: toDay(row.startsOn), endsOn: toDay(row.endsOn), timeZone: row.venue.timeZone };
}

export async function findPublishedRuleSet(db: Tx, ruleSetId: string, version: number): Promise<RuleSet | undefined> {
  const row = await db.ruleSetVersion.findUnique({ where: { ruleSetId_version: { ruleSetId, version } } });
  return row === null ? undefined : RuleSet.parse(row.document);
}

export async function insertRunGroup(db: Tx, eventId: string, data: RunGroupData): Promise<StoredRunGroup> {
  return toStored(await db.runGroup.create({ data: { eventId, ...toColumns(data) } }));
}

export async function listRunGroups(db: Tx, eventId: string): Promise<StoredRunGroup[]> {
  const orderBy = [{ sortOrder: 'asc' as const }, { name: 'asc' as const }];
  return (await db.runGroup.findMany({ where: { eventId }, orderBy })).map(toStored);
}

export async function findRunGroup(db: Tx, eventId: string, runGroupId: string): Promise<StoredRunGroup | undefined> {
  const row = await db.runGroup.findUnique({ where: { id: runGroupId, eventId } });
  return row === null ? undefined : toStored(row);
}

/** Changes the run group if it still has the version `rev`; undefined when it has moved on. */
export async function updateRunGroup(
  db: Tx,
  runGroupId: string,
  rev: number,
  data: RunGroupData,
): Promise<StoredRunGroup | undefined> {
  const rows = await db.runGroup.updateManyAndReturn({
    where: { id: runGroupId, rev },
    data: { ...toColumns(data), rev: { increment: 1 } },
  });
  return rows[0] === undefined ? undefined : toStored(rows[0]);
}
