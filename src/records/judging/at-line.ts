import { comparePlainDates, epochMs, type Instant, plainDateAt, startOfNextDay } from '../../domain/calendar.ts';
import type { CarFacts } from '../../domain/clearance/car-happenings.ts';
import { type OpenCondition, standingBars } from '../../domain/clearance/clearance.ts';
import type { OtherAcceptance } from '../../domain/line/done-elsewhere.ts';
import {
  type ConditionKind,
  dueOfKind,
  knownTimes,
  type RecheckTimes,
  torqueRecheckTimes,
} from '../../domain/log/condition-due.ts';
import { dailyRechecks } from '../../domain/log/daily-recheck.ts';
import { TORQUE_RECHECK_TEXT } from '../../domain/log/condition-words.ts';
import type { Finding, Judgement } from '../../domain/rules/model/finding.ts';
import { ownList, ownSwitch } from '../../domain/rules/model/parameter-values.ts';
import type { Tx } from '../../platform/database/db.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import type { ReadWith } from '../../domain/line/instruments.ts';
import { CONCERNED, type Concerned, conflictOf, type Decider } from '../conflict-of-interest.ts';
import type { PhotoCounts } from '../evidence.ts';
import type { JudgingContext } from './judging-context.ts';
import { type JudgingRules, overridesOf, type RulesRef } from './rules.ts';
import { digestOfFindings, type StoredInspection } from './inspections.ts';
import { type SignedLists, unpackLists } from './signed-lists.ts';

type AskedCondition = Omit<OpenCondition, 'id'>;

/** A condition as the inspector names it. */
interface GivenCondition {
  text: string;
  kind?: ConditionKind | undefined;
  /** `null`: deliberately none; absent: by its kind, and none without one */
  dueAt?: Instant | null | undefined;
}

type Sessions = Pick<JudgingContext, 'firstSessionAt' | 'sessions' | 'venue' | 'event'>;

/** What an acceptance is given with, and what judged it. */
interface Accepting {
  /** the conditions that the inspector names */
  given: readonly GivenCondition[];
  judgement: Judgement;
  rules: JudgingRules;
  ref: Pick<RulesRef, 'resolvedHash' | 'parameters'>;
  context: Sessions;
  /** of its other entries too */
  car: CarFacts;
  entryId: string;
  now: Date;
}

/** All conditions of an acceptance: what the inspector, the concessions that carry it, and the rules ask for, each once. */
export function conditionsOfAcceptance(accepting: Accepting): AskedCondition[] {
  const { judgement, now, context } = accepting;
  const given = accepting.given.map((one) => timed(one, context, now));
  const conceded = new Set(standingBars(judgement.findings).flatMap(({ condition }) => condition ?? []));
  const recheck = torqueRecheck(accepting);
  const isGiven = given.some((one) => one.recheck !== undefined);
  const ofRules = recheck === undefined || isGiven ? [] : [recheck];
  const named = new Set(given.map(({ text }) => text));
  const asked = [...[...conceded].map((text) => ({ text })), ...ofRules, ...daily(accepting)];
  const ofInspector = recheck === undefined ? given : given.map((one) => noLaterThan(one, recheck));
  return [...ofInspector, ...asked.filter(({ text }) => !named.has(text))];
}

/** Its due time by its kind; a wheel torque that the inspector asks for can be settled by the log, like that of the rules. */
function timed({ text, kind, dueAt }: GivenCondition, context: Sessions, now: Date): AskedCondition {
  if (kind === 'torque') {
    const times = recheckTimes(context, now);
    const byTable = recheckOf(times);
    if (dueAt === undefined) return { text, ...byTable };
    const recheck = { of: 'torque', from: times.from.toISOString() } as const;
    return { text, ...(dueAt === null ? {} : { dueAt }), recheck };
  }
  if (kind === undefined || dueAt !== undefined) return { text, ...(dueAt == null ? {} : { dueAt }) };
  const times = timesAt(context, now);
  const due = dueOfKind(kind, times, context.sessions.length > 0);
  const at = due === undefined ? undefined : times[due];
  return at === undefined ? { text } : { text, dueAt: at };
}

function timesAt({ firstSessionAt, sessions, venue, event }: Sessions, now: Date) {
  const today = plainDateAt(now, venue.timeZone);
  const day = comparePlainDates(today, event.startsOn) < 0 ? event.startsOn : today;
  const endOfDay = new Date(startOfNextDay(day, venue.timeZone).getTime() - 60_000).toISOString();
  return knownTimes({ sessions, firstSessionAt: firstSessionAt.toISOString(), endOfDay, now: now.getTime() });
}

const recheckTimes = ({ firstSessionAt, sessions, venue, event }: Sessions, now: Date): RecheckTimes =>
  torqueRecheckTimes({ firstSessionAt, sessions, timeZone: venue.timeZone, endsOn: event.endsOn }, now);

/** A re-check whose times are those of the timetable. */
const recheckOf = ({ from, dueAt }: RecheckTimes): Pick<AskedCondition, 'dueAt' | 'recheck'> => ({
  ...(dueAt === undefined ? {} : { dueAt: dueAt.toISOString() }),
  recheck: { of: 'torque', from: from.toISOString(), byTimetable: true },
});

/** Where the rules ask for the torque too, an inspector can only ask for it earlier. */
function noLaterThan(one: AskedCondition, { dueAt, recheck }: AskedCondition): AskedCondition {
  if (one.recheck === undefined || dueAt === undefined) return one;
  if (one.dueAt !== undefined && epochMs(one.dueAt) <= epochMs(dueAt)) return one;
  return { ...one, dueAt, recheck };
}

/** Wheel torque again after the first session, where the rules ask for it: once for the car, whichever entry asks first. */
function torqueRecheck({ rules, ref, context, car, entryId, now }: Accepting): AskedCondition | undefined {
  if (!ownSwitch(rules.compiled.ruleSet, overridesOf(ref), 'torqueRecheck')) return undefined;
  const others = car.conditions.filter((one) => one.entryId !== entryId);
  if (others.some(({ recheck }) => recheck?.of === 'torque')) return undefined;
  return { text: TORQUE_RECHECK_TEXT, ...recheckOf(recheckTimes(context, now)) };
}

/** What the group has shown again on each later day: once for the car, whichever entry asks first. */
function daily({ rules, ref, context, car, entryId, now }: Accepting): AskedCondition[] {
  const { firstSessionAt, sessions, venue, event } = context;
  const points = ownList(rules.compiled.ruleSet, overridesOf(ref), 'dailyRecheck');
  const days = { firstSessionAt, sessions, timeZone: venue.timeZone, startsOn: event.startsOn, endsOn: event.endsOn };
  const others = new Set(car.conditions.filter((one) => one.entryId !== entryId).map(({ text }) => text));
  return dailyRechecks(points, days, now).filter(({ text }) => !others.has(text));
}

/** An acceptance with who gave it, and whom the entry concerns that it would count for. */
export type ReadAcceptance = OtherAcceptance & { signer: Decider; concerned: Concerned };

/** Left out are those by somebody who may not decide on this entry. */
export const byOthers = (read: readonly ReadAcceptance[]): OtherAcceptance[] =>
  read
    .filter(({ signer, concerned }) => conflictOf(signer, concerned) === undefined)
    .map(({ signer: _signer, concerned: _concerned, ...acceptance }) => acceptance);

/**
 * In SQL, the acceptances that stand at the other entries of a car, oldest first (`ReadAcceptance[]`: ask `byOthers` for those that count), given to it as it is
 * now: a swap of the vehicle, a recall, going back to the line and another declaration void them. Left out are those from
 * before a recall of the car at whichever entry. `c`, `k` and `e`
 * are clearance, car and entry of the statement around it.
 */
export const otherAcceptances = (now: Prisma.Sql): Prisma.Sql => Prisma.sql`
  COALESCE((
    SELECT jsonb_agg(jsonb_build_object('signOffId', os.id, 'runGroup', og.name, 'by', os.signed_name,
      'at', to_char(os.signed_at AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS.MS"Z"'), 'checks', os.checks,
      'findings', os.findings, 'concerned', ${CONCERNED},
      'signer', jsonb_build_object('tokenId', os.signed_by, 'name', ok.holder, 'personId', ok.person_id),
      'holds', COALESCE((SELECT jsonb_agg(oh.kind) FROM holds oh JOIN clearances hc ON hc.entry_id = oh.entry_id
        WHERE hc.car_id = k.id AND oh.placed_at >= os.signed_at), '[]'::jsonb),
      'refusals', COALESCE((SELECT jsonb_agg(jsonb_build_object('checks', orf.checks, 'findings', orf.findings))
        FROM sign_offs orf JOIN clearances rc ON rc.entry_id = orf.entry_id
        WHERE rc.car_id = k.id AND orf.decision = 'refuse' AND orf.signed_at >= os.signed_at), '[]'::jsonb)
      ) ORDER BY os.signed_at, os.id)
    FROM clearances oc
    JOIN entries oe ON oe.id = oc.entry_id
    JOIN run_groups og ON og.id = oe.run_group_id
    JOIN sign_offs os ON os.id = (oc.facts #>> '{signOff,signOffId}')::uuid
    JOIN tokens ok ON ok.id = os.signed_by
    JOIN history ow ON ow.entry_id = oc.entry_id AND ow.action = 'entry.signed-off'
      AND ow.data #>> '{event,signOffId}' = os.id::text
    WHERE oc.car_id = k.id AND oc.entry_id <> c.entry_id AND os.decision <> 'refuse'
      AND oc.facts ->> 'withdrawn' = 'false' AND (oc.facts #>> '{signOff,validUntil}')::timestamptz > ${now}
      AND NOT EXISTS (SELECT 1 FROM history r WHERE r.car_id = k.id
        AND r.data #>> '{event,type}' = 'car-recalled' AND r.seq > COALESCE((ow.data ->> 'carSeq')::int, 0))
  ), '[]'::jsonb)`;

/** The same for an entry that is only looked at. */
export async function listOtherAcceptances(db: Tx, entryId: string, now: Date): Promise<OtherAcceptance[]> {
  // `checks` and `findings` are written by the sign-off only, from typed values
  const rows = await db.$queryRaw<{ others: ReadAcceptance[] }[]>`
    SELECT ${otherAcceptances(Prisma.sql`${now}::timestamptz`)} AS others
    FROM clearances c JOIN car_clearances k ON k.id = c.car_id JOIN entries e ON e.id = c.entry_id
    WHERE c.entry_id = ${entryId}::uuid`;
  return byOthers(rows[0]?.others ?? []);
}

/** One check of a sign-off as it was stored: a measurement or what was seen. */
export interface StoredCheck {
  item: string;
  position?: string;
  value?: unknown;
  readWith?: ReadWith;
  result?: 'ok' | 'not-ok';
  note?: string;
}

/** The newest decision of the line about an inspection. */
export interface StoredSignOff {
  signOffId: string;
  decision: string;
  checks: readonly StoredCheck[];
  /** those that count; all of them where there are no lists */
  findings: readonly Finding[];
  /** undefined in what was decided before they were kept */
  lists: SignedLists | undefined;
  /** the photos that counted when it was decided */
  photos: PhotoCounts;
  signedName: string;
  signedAt: Date;
}

export async function findNewestSignOff(db: Tx, inspectionId: string): Promise<StoredSignOff | undefined> {
  const row = await db.signOff.findFirst({ where: { inspectionId }, orderBy: [{ signedAt: 'desc' }, { id: 'desc' }] });
  if (row === null) return undefined;
  return {
    signOffId: row.id,
    decision: row.decision,
    // both are written by the sign-off only, from typed values, and a trigger keeps them as they are
    checks: row.checks as unknown as readonly StoredCheck[],
    findings: row.findings as unknown as readonly Finding[],
    lists: row.lists === null ? undefined : unpackLists(row.lists).lists,
    photos: await findPhotosOf(db, row),
    signedName: row.signedName,
    signedAt: row.signedAt,
  };
}

/** The history row of a sign-off tells the photos, where there were some. */
async function findPhotosOf(db: Tx, signOff: { id: string; entryId: string }): Promise<PhotoCounts> {
  const rows = await db.$queryRaw<{ photos: PhotoCounts | null }[]>`
    SELECT data->'photos' AS photos FROM history
    WHERE entry_id = ${signOff.entryId}::uuid AND action = 'entry.signed-off' AND data->'event'->>'signOffId' = ${signOff.id}`;
  return rows[0]?.photos ?? {};
}

/** All that was told of an inspection, as the first decision about it kept it; undefined where none did. */
export async function findSignedList(
  db: Tx,
  { inspectionId, kept }: Pick<StoredInspection, 'inspectionId' | 'kept'>,
): Promise<readonly Finding[] | undefined> {
  const row = await db.signOff.findFirst({
    where: { inspectionId, lists: { not: null } },
    orderBy: [{ signedAt: 'asc' }, { id: 'asc' }],
    select: { lists: true },
  });
  if (row === null || row.lists === null) return undefined;
  const { shown, told = shown } = unpackLists(row.lists).lists;
  return digestOfFindings(told) === kept?.findingsSha256 ? told : undefined;
}
