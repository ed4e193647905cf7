import type { PlainDate } from '../../domain/calendar.ts';
import type { ClearanceFacts } from '../../domain/clearance/clearance.ts';
import { EMPTY_OVERLAY, type GroupOverlay, type Origins, Overlay } from '../../domain/rules/overlay/overlay.ts';
import type { Timetable } from '../../domain/log/timetable.ts';
import type { ParameterOverride } from '../../domain/rules/model/rule-set.ts';
import type { Tx } from '../../platform/database/db.ts';
import type { Prisma } from '../../platform/prisma-client/client.ts';

/** What a run group is set to. */
export interface RunGroupData {
  name: string;
  order: number;
  firstSessionAt: Date;
  /** the first starts at `firstSessionAt`; empty: no timetable is known */
  sessions: Timetable;
  ruleSetId: string;
  ruleSetVersion: number;
  parameters: Readonly<Record<string, ParameterOverride>>;
  /** effects and rules that this group changes */
  overlay: GroupOverlay;
  /** what the venue changed when the group's rules were set; null: nothing */
  venueOverlay: Overlay | null;
  /** the rules as they judge this group; null for groups from before overlays */
  resolvedHash: string | null;
}

export interface StoredRunGroup extends RunGroupData {
  runGroupId: string;
  /** whether the track is said to be wet for it; changed by a feature of its own, never with the rest */
  wet: boolean;
  eventId: string;
  createdAt: Date;
  rev: number;
}

/** What run groups need to know of their event. */
export interface EventFrame {
  venueId: string;
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
  sessions: Prisma.JsonValue;
  ruleSetId: string;
  ruleSetVersion: number;
  parameters: Prisma.JsonValue;
  overlay: Prisma.JsonValue;
  resolvedHash: string | null;
  wetSince: Date | null;
  wetBy: string | null;
  wetName: string | null;
  createdAt: Date;
  rev: number;
}

function toStored(stored: Row): StoredRunGroup {
  const { id, sortOrder, sessions, parameters, overlay, wetSince, wetBy: _by, wetName: _name, ...row } = stored;
  // The JSON columns are written by `toColumns` only, from checked values; groups from before overlays have `{}`.
  const { own, venue } = overlay as unknown as { own?: GroupOverlay; venue?: Overlay | null };
  return {
    ...row,
    runGroupId: id,
    wet: wetSince !== null,
    order: sortOrder,
    sessions: sessions as unknown as Timetable,
    parameters: parameters as Record<string, ParameterOverride>,
    overlay: own ?? { effects: {}, rules: [] },
    venueOverlay: venue ?? null,
  };
}

function toColumns({ order, sessions, parameters, overlay, venueOverlay, ...data }: RunGroupData) {
  return {
    ...data,
    sortOrder: order,
    sessions: sessions as unknown as Prisma.InputJsonArray,
    parameters: parameters as Prisma.InputJsonObject,
    overlay: { own: overlay, venue: venueOverlay } as unknown as Prisma.InputJsonObject,
  };
}

export async function findEventFrame(db: Tx, eventId: string): Promise<EventFrame | undefined> {
  const include = { venue: { select: { id: true, timeZone: true } } };
  const row = await db.event.findUnique({ where: { id: eventId }, include });
  if (row === null) return undefined;
  const toDay = (date: Date): PlainDate => date.toISOString().slice(0, 10);
  const { id: venueId, timeZone } = row.venue;
  return { venueId, startsOn: toDay(row.startsOn), endsOn: toDay(row.endsOn), timeZone };
}

/** A published version as its JSON. */
export async function findPublishedRuleSet(
  db: Tx,
  ruleSetId: string,
  version: number,
): Promise<{ document: string; retired: boolean } | undefined> {
  const rows = await db.$queryRaw<{ document: string; retired: boolean }[]>`
    SELECT v.document::text AS document, r.version IS NOT NULL AS retired
    FROM rule_set_versions v
    LEFT JOIN rule_set_retirements r ON r.rule_set_id = v.rule_set_id AND r.version = v.version
    WHERE v.rule_set_id = ${ruleSetId}::uuid AND v.version = ${version}`;
  return rows[0];
}

/** What the venue changes in this rule set today; null: nothing. */
export async function findVenueOverlay(db: Tx, venueId: string, ruleSetId: string): Promise<Overlay | null> {
  const row = await db.venueOverlay.findUnique({ where: { venueId_ruleSetId: { venueId, ruleSetId } } });
  return row === null ? null : { ...EMPTY_OVERLAY, ...Overlay.parse(row.overlay) };
}

/** Keeps resolved rules (JSON) by their hash. The same rules are kept once; they never change. */
export async function keepResolvedRules(
  db: Tx,
  of: { hash: string; ruleSetId: string; ruleSetVersion: number; document: string; origins: Origins },
): Promise<void> {
  const { hash, ruleSetId, ruleSetVersion, document, origins } = of;
  await db.$executeRaw`
    INSERT INTO resolved_rules (hash, rule_set_id, rule_set_version, document, origins)
    VALUES (${hash}, ${ruleSetId}::uuid, ${ruleSetVersion}, ${document}::jsonb, ${JSON.stringify(origins)}::jsonb)
    ON CONFLICT DO NOTHING`;
}

/** How many entries of the group have a declaration that counts. */
export async function countDeclared(db: Tx, runGroupId: string): Promise<number> {
  const rows = await db.$queryRaw<{ count: number }[]>`
    SELECT count(*)::int AS count FROM entries e JOIN clearances c ON c.entry_id = e.id
    WHERE e.run_group_id = ${runGroupId}::uuid AND c.facts ? 'declared'`;
  return rows[0]?.count ?? 0;
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

export interface GroupEntry {
  entryId: string;
  carNumber: string;
  facts: ClearanceFacts;
  /** the revision that counts and the rules that judged it; null without a declaration that counts */
  judged: {
    inspectionId: string;
    ruleSetId: string;
    ruleSetVersion: number;
    resolvedHash: string | null;
  } | null;
}

/** The entries of a run group with what the gate knows of them, by car number. */
export async function listGroupEntries(db: Tx, runGroupId: string): Promise<GroupEntry[]> {
  return db.$queryRaw<GroupEntry[]>`
    SELECT c.entry_id AS "entryId", c.car_number AS "carNumber", c.facts,
           CASE WHEN i.id IS NULL THEN NULL ELSE jsonb_build_object('inspectionId', i.id, 'ruleSetId', i.rule_set_id,
             'ruleSetVersion', i.rule_set_version, 'resolvedHash', i.resolved_hash)
           END AS judged
    FROM entries e
    JOIN clearances c ON c.entry_id = e.id
    LEFT JOIN inspections i ON i.id = (c.facts #>> '{declared,inspectionId}')::uuid
    WHERE e.run_group_id = ${runGroupId}::uuid
    ORDER BY c.car_number`;
}

/** What was declared with a revision. */
export async function findAnswers(db: Tx, inspectionId: string): Promise<unknown> {
  return (await db.inspection.findUniqueOrThrow({ where: { id: inspectionId }, select: { answers: true } })).answers;
}
