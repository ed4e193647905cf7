import { v7 as uuidV7 } from 'uuid';
import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import type { EntryHappening, OpenCondition } from '../../domain/clearance/clearance.ts';
import type { WetTyres } from '../../domain/clearance/wet-tyres.ts';
import type { Answers } from '../../domain/declaration/declaration.ts';
import { holdKindOf, holdReasonOf, logFaults, stopSymptoms, torqueUnsettled } from '../../domain/log/session-log.ts';
import { convert } from '../../domain/quantity.ts';
import { messageIn } from '../../domain/rules/says/rule-words.ts';
import { rememberPart, repeatable, replayKept } from '../../http/frame/idempotency.ts';
import { notAcceptable, notFound } from '../../http/frame/problem.ts';
import type { Answer } from '../../http/frame/route.ts';
import { viewClearance } from '../../http/views/clearance-view.ts';
import {
  inPlainTransaction,
  mustChange,
  type PlainTx,
  type Statement,
  writeAtOnce,
} from '../../platform/database/plain-transaction.ts';
import { Prisma } from '../../platform/prisma-client/client.ts';
import { OUTBOX_NOTIFY, outboxPart } from '../../platform/queue/outbox.ts';
import {
  appendToCar,
  appendToEntry,
  carHeadPart,
  entryHeadPart,
  historyNotify,
  historyPart,
  type HistoryRow,
} from '../../records/history/history.ts';
import { judgeWetTyres, readAnswers } from '../../records/judging/judge-entry.ts';
import { getRulesIn } from '../../records/judging/rules.ts';
import { entryWithdrawn, lockAndRead, type LockedEntry, stateOf, toEntry } from '../../records/locks/entry-lock.ts';
import { jobsAfterHold, newHold, recordHold } from './place-hold.ts';
import { holdPart, type HoldRow, readForHold, type StoredHold } from './hold-store.ts';
import { type LogInput, viewLog, type WrittenLog } from './log-schemas.ts';
import { conditionDonePart, logPart, readGroupRules, type StoredLog } from './store.ts';

interface Writing {
  entryId: string;
  key: string;
  body: LogInput;
  /** what it did is said in it; a request that comes again is answered as it was */
  language: string;
  requestId: string;
}

/** Clocks of telephones are a little apart. */
const AHEAD_MS = 5 * 60_000;

/**
 * Writes down what was measured or felt after a session. It is no part of the declaration and takes no clearance away by
 * itself; by the log's own rules a symptom with which nobody drives on stops the car, a torque settles the check that was
 * asked for, and a tread is what the gate goes by on a wet track.
 *
 * @throws ProblemError `not-found`, `state-moved-on` (withdrawn), `answers-not-acceptable`, `not-acceptable`,
 *   `idempotency-key-reused`
 */
export async function writeLog(deps: Deps, actor: Actor, writing: Writing): Promise<Answer> {
  const { entryId, key, body } = writing;
  const cells = readCells(body);
  const request = repeatable({ actor, route: `POST /v1/entries/${entryId}/log`, key, body });
  return inPlainTransaction(deps.db.pool, async (tx) => {
    // The car too: what is written may stop it, or close what is asked of it.
    const at = { entry: Prisma.sql`${entryId}::uuid`, level: 'change' } as const;
    const row = await lockAndRead(tx, at, () => readForHold(tx, { entryId, request, clock: deps.clock }));
    if (row === undefined) throw notFound('entry');
    const replayed = replayKept(row, request);
    if (replayed !== undefined) return replayed;
    const wet = body.kind === 'tread' ? await wetTyresOf(tx, entryId, cells) : undefined;
    const written = decide(row, actor, writing, { cells, wet });
    const answer = { status: 201, bodyText: JSON.stringify(written.view) };
    const told = Prisma.sql`${historyNotify(row.eventId)}, ${OUTBOX_NOTIFY}`;
    const parts = { remembered: rememberPart(request, answer), ...written.parts };
    await tx.commitWith(writeAtOnce(parts, Prisma.sql`${mustChange('remembered')}, ${told}`));
    return answer;
  });
}

/** @throws ProblemError `answers-not-acceptable` (a value), `not-acceptable` (what its kind does not have) */
function readCells(body: LogInput): Answers {
  const cells = body.values === undefined ? new Map() : readAnswers(body.values, '/values');
  const errors = logFaults({ ...body, cells }).map((fault) => ({ ...fault, in: 'body' as const }));
  if (errors.length === 0) return cells;
  throw notAcceptable(errors);
}

async function wetTyresOf(tx: PlainTx, entryId: string, cells: Answers): Promise<WetTyres | undefined> {
  const ref = await readGroupRules(tx, entryId);
  return ref && judgeWetTyres(await getRulesIn(tx, ref), ref, { answers: cells });
}

interface Found {
  cells: Answers;
  wet: WetTyres | undefined;
}

function decide(
  row: HoldRow,
  actor: Actor,
  writing: Writing,
  found: Found,
): { view: WrittenLog; parts: Record<string, Statement> } {
  const { body, requestId } = writing;
  const { now } = row;
  const entry = toEntry(row);
  if (entry.facts.withdrawn) throw entryWithdrawn();
  const at = timeOf(body, now);
  const stop = stopOf(row, entry, actor, writing);
  const torque = torqueOf(row, entry, { body, cells: found.cells, at });
  const tread = treadOf(actor, body, found.wet);
  const log: StoredLog = {
    logId: uuidV7(),
    entryId: entry.entryId,
    kind: body.kind,
    session: body.session ?? null,
    at,
    content: contentOf(body, found.cells),
    effects: effectsOf(stop, torque),
    writtenBy: actor.tokenId,
    writtenRole: actor.role,
    writtenName: actor.name,
    writtenAt: now,
  };
  const closes = torque?.closes;
  const history = record(row, actor, { entry, log, stop, closes, wet: tread?.event, requestId });
  const says = [stop, torque, tread].flatMap((one) => one?.says ?? []).map((one) => messageIn(one, writing.language));
  const view = { ...viewLog(log), says, clearance: viewClearance(stateOf(entry), now) };
  return { view, parts: partsOf(row, { entry, log, stop, closes, history, requestId }) };
}

/** What the entry of the log did, as it is kept with it. */
function effectsOf(stop: Stop | undefined, torque: Torque | undefined): StoredLog['effects'] {
  return {
    ...(stop === undefined ? {} : { holdId: stop.hold.holdId }),
    ...(torque?.closes === undefined ? {} : { conditionId: torque.closes.id }),
  };
}

function timeOf({ at }: LogInput, now: Date): Date {
  const time = at === undefined ? now : new Date(at);
  if (time.getTime() <= now.getTime() + AHEAD_MS) return time;
  const detail = 'Lies ahead; write down what was measured when it was measured.';
  throw notAcceptable([{ pointer: '/at', code: 'in-the-future', detail, in: 'body' }]);
}

function contentOf(
  { values, laps, bestLapSeconds, temperatures, symptoms, wheelsCooled, renewed, note }: LogInput,
  cells: Answers,
) {
  const read = temperatures?.map((one) => ({ ...one, celsius: convert(one.value, one.unit, '°C') ?? one.value }));
  const content = { laps, bestLapSeconds, temperatures: read, symptoms, wheelsCooled, renewed, note };
  return values === undefined ? content : { values, cells: Object.fromEntries(cells), ...content };
}

interface Stop {
  hold: Pick<StoredHold, 'holdId'>;
  /** absent: it stood already */
  placed?: StoredHold;
  says: readonly string[];
}

/** The hold that a symptom places with which nobody drives on; one that says so already is enough. */
function stopOf(row: HoldRow, entry: LockedEntry, actor: Actor, { entryId, body }: Writing): Stop | undefined {
  const symptoms = stopSymptoms(body.symptoms ?? []);
  if (symptoms.length === 0) return undefined;
  const reason = holdReasonOf(symptoms);
  const lifts = 'Do not drive it before the cause is found and put right. Only the staff lifts this.';
  const standing = row.own ?? entry.car.facts.holds.find((hold) => hold.reason === reason);
  if (standing !== undefined) return { hold: standing, says: [`The car is stopped already. ${lifts}`] };
  const asked = { about: 'car', body: { reason, kind: holdKindOf(symptoms) }, entryId } as const;
  const placed = newHold(actor, asked, entry, row.now);
  return { hold: placed, placed, says: [`The car is stopped: ${reason}. ${lifts}`] };
}

interface Torque {
  closes: OpenCondition | undefined;
  says: readonly string[];
}

/** Whether a torque settles the check that was asked for. */
function torqueOf(
  { vehicle }: HoldRow,
  { facts }: LockedEntry,
  { body, cells, at }: { body: LogInput; cells: Answers; at: Date },
): Torque | undefined {
  const asked = facts.conditions.find(({ recheck }) => recheck?.of === 'torque');
  if (body.kind !== 'torque' || asked?.recheck === undefined) return undefined;
  const why = torqueUnsettled({ cells, at, wheelsCooled: body.wheelsCooled === true }, asked.recheck, vehicle);
  if (why === undefined) return { closes: asked, says: [`Done: ${asked.text}.`] };
  return { closes: undefined, says: [`Still open: ${asked.text}. ${why}`] };
}

interface Tread {
  event: EntryHappening | undefined;
  says: readonly string[];
}

/** Staff who measure say how it is; an entrant by himself can only say that it is worse. */
function treadOf(actor: Actor, { kind }: LogInput, wet: WetTyres | undefined): Tread | undefined {
  if (kind !== 'tread') return undefined;
  const counts = wet !== undefined && (actor.role !== 'entrant' || !wet.fit);
  if (counts) return { event: { type: 'tread-measured', wet }, says: ['On a wet track the gate goes by this tread.'] };
  const says = 'On a wet track the gate goes by what was declared and measured before; the line measures it anew.';
  return { event: undefined, says: [says] };
}

interface Recorded {
  entry: LockedEntry;
  log: StoredLog;
  stop: Stop | undefined;
  closes: OpenCondition | undefined;
  requestId: string;
}

/** The rows of the history; car and entry are brought up to date, the car first. */
function record(
  row: HoldRow,
  actor: Actor,
  { entry, log, stop, closes, wet, requestId }: Recorded & { wet: EntryHappening | undefined },
): HistoryRow[] {
  const what = { actor, at: row.now, requestId };
  const data = { logId: log.logId, kind: log.kind };
  const placed = stop?.placed;
  const held =
    placed === undefined
      ? []
      : recordHold(actor, { about: 'car', requestId }, { entry, hold: placed, stickers: row.stickers });
  const ofCar =
    closes &&
    appendToCar(entry.car, {
      ...what,
      action: 'car.condition-done',
      happening: { type: 'car-condition-done', conditionId: closes.id },
    });
  const done =
    closes &&
    appendToEntry(entry, {
      ...what,
      action: 'condition.done',
      happening: { type: 'condition-done', conditionId: closes.id },
    });
  const written = appendToEntry(entry, {
    ...what,
    action: 'log.written',
    data,
    ...(wet === undefined ? {} : { happening: wet }),
  });
  return [...held, ...(ofCar === undefined ? [] : [ofCar]), ...(done === undefined ? [] : [done]), written];
}

function partsOf(
  row: HoldRow,
  { entry, log, stop, closes, history, requestId }: Recorded & { history: readonly HistoryRow[] },
): Record<string, Statement> {
  const placed = stop?.placed;
  const done = { by: log.writtenBy, name: log.writtenName, at: log.writtenAt, note: 'written down after the session' };
  return {
    logged: logPart(log),
    appended: historyPart(history),
    folded: entryHeadPart(entry),
    ...(history.some((one) => one.car_id !== null) ? { folded_car: carHeadPart(entry.car) } : {}),
    ...(closes === undefined ? {} : { closed: conditionDonePart({ conditionId: closes.id, ...done }) }),
    ...(placed === undefined
      ? {}
      : { held: holdPart(placed), ordered: outboxPart(jobsAfterHold(placed, row.stopped, requestId)) }),
  };
}
