import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { type Actor, STAFF } from '../../domain/actor.ts';
import { findItem } from '../../domain/catalogue/catalogue.ts';
import type { Item } from '../../domain/catalogue/item.ts';
import { itemTexts } from '../../domain/catalogue/texts.ts';
import { isBasisName } from '../../domain/declaration/basis.ts';
import { type Answers, parseAnswers, parseCellKey } from '../../domain/declaration/declaration.ts';
import { bestOuting, type OutingEntry } from '../../domain/log/best-outing.ts';
import { findingsIn, languagesOf } from '../../domain/rules/says/rule-words.ts';
import { AcceptLanguage, LANGUAGE_DOCUMENTED, languageHeaders, languageOf } from '../../http/frame/request-headers.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import type { Tx } from '../../platform/database/db.ts';
import { judgeEntry } from '../../records/judging/judge-entry.ts';
import { findJudgingContext } from '../../records/judging/judging-context.ts';
import { getRules } from '../../records/judging/rules.ts';
import { endingsOf, SERVICES } from './endings.ts';
import { RECORDS_EXAMPLE, vehicleParams, VehicleRecords } from './vehicle-schemas.ts';
import { findVehicleRecord, isVehicleOfEntry, listOutings, listRecords, type RecordRow } from './vehicle-store.ts';

type EventRecord = VehicleRecords['events'][number];
type Value = EventRecord['wear'][number];
type Accepts = { 'accept-language'?: string | undefined };

const WEAR: readonly string[] = ['pad.thickness', 'rotor.thickness', 'rotor.weight', 'tyre.tread'];
const isSetup = (key: string): boolean => key.startsWith('setup.');

/**
 * What is known of a car across events: what was declared, what the line measured, the services and the set-up, the outing
 * worth beginning with, and what ends when. An entrant sees the car of the own entry only.
 *
 * @throws ProblemError `not-found`
 */
async function readVehicleRecords(
  deps: Deps,
  actor: Actor,
  { vehicleId, accepts }: { vehicleId: string; accepts: Accepts },
): Promise<{ view: VehicleRecords; language: string }> {
  const db = deps.db.prisma;
  const vehicle = await findVehicleRecord(db, vehicleId);
  const { role, entryId } = actor;
  const isHidden = role === 'entrant' && !(entryId !== undefined && (await isVehicleOfEntry(db, vehicleId, entryId)));
  if (vehicle === undefined || isHidden) throw notFound('vehicle');
  const [rows, outings] = await Promise.all([listRecords(db, vehicleId), listOutings(db, vehicleId)]);
  const { ends, language } = await readEnds(db, rows[0], { now: deps.clock.now(), accepts });
  const events = rows.map((row) => {
    const log = outings.filter(({ eventId }) => eventId === row.eventId);
    return viewEvent(row, { log, actor, language });
  });
  return { view: { vehicleId, vehicle, events, ends }, language };
}

/** What ends when by the answers that were submitted last, as the rules of their run group are now. */
async function readEnds(
  db: Tx,
  newest: RecordRow | undefined,
  { now, accepts }: { now: Date; accepts: Accepts },
): Promise<{ ends: VehicleRecords['ends']; language: string }> {
  const context = newest === undefined ? undefined : await findJudgingContext(db, newest.entryId);
  if (newest === undefined || context === undefined) return { ends: [], language: languageOf(accepts) };
  const rules = await getRules(db, context);
  const { ruleSet } = rules.compiled;
  const language = languageOf(accepts, languagesOf(ruleSet));
  const judged = judgeEntry(rules, context, { answers: readAll(newest.answers), stage: 'declaration', now });
  const ends = endingsOf(findingsIn(judged.findings, ruleSet, language), ruleSet.rules, context);
  return { ends: ends.toSorted((a, b) => a.on.localeCompare(b.on)), language };
}

function viewEvent(
  { answers, checks, submittedAt, decision, ...row }: RecordRow,
  { log, actor, language }: { log: readonly OutingEntry[]; actor: Actor; language: string },
): EventRecord {
  const values = valuesOf(answers, checks ?? [], language);
  const of = (wanted: (key: string) => boolean): Value[] => values.filter(({ item }) => wanted(item));
  return {
    ...row,
    submittedAt: submittedAt.toISOString(),
    // a check of the table keeps it to these
    decision: decision as EventRecord['decision'],
    wear: of((key) => WEAR.includes(key)),
    services: of((key) => SERVICES.has(key)),
    setup: of(isSetup),
    bestOuting: viewOuting(log, actor, language),
  };
}

function viewOuting(log: readonly OutingEntry[], { name }: Actor, language: string): EventRecord['bestOuting'] {
  const best = bestOuting(log);
  if (best === undefined) return null;
  const { cells, notes, ...outing } = best;
  const values = Object.entries(cells).flatMap(([cell, value]) => viewValue(cell, value, { by: 'entrant', language }));
  return { ...outing, values, notes: notes.filter(({ by }) => by === name).map(({ text }) => text) };
}

/** Answers that a later catalogue cannot read are not known, one question at a time. */
function readAll(raw: Readonly<Record<string, unknown>>): Answers {
  return new Map(
    Object.entries(raw).flatMap(([key, answer]) => {
      const parsed = parseAnswers({ [key]: answer });
      return parsed.ok ? [...parsed.answers] : [];
    }),
  );
}

function viewValue(cell: string, value: unknown, { by, language }: { by: Value['by']; language: string }): Value[] {
  const { key, position, field } = parseCellKey(cell);
  const item = findItem(key);
  const isPlain = typeof value === 'number' || typeof value === 'string' || typeof value === 'boolean';
  if (item === undefined || !isPlain || isBasisName(cell)) return [];
  const { label, fields } = itemTexts(item, language);
  const part = field === undefined ? undefined : fields?.[field];
  const where = { ...(position !== undefined && { position }), ...(field !== undefined && { field }) };
  return [{ item: key, label, ...where, ...(part !== undefined && { part }), value, ...unitOf(item, field), by }];
}

function valuesOf(answers: RecordRow['answers'], checks: NonNullable<RecordRow['checks']>, language: string): Value[] {
  const wanted = ([key]: [string, unknown]): boolean => WEAR.includes(key) || SERVICES.has(key) || isSetup(key);
  const cells = new Map<string, Value>();
  const note = (raw: Readonly<Record<string, unknown>>, by: Value['by']): void => {
    for (const [cell, value] of readAll(Object.fromEntries(Object.entries(raw).filter(wanted)))) {
      for (const one of viewValue(cell, value, { by, language })) cells.set(cell, one);
    }
  };
  note(answers, 'entrant');
  for (const { item, position, value } of checks) {
    if (value !== undefined) note({ [item]: position === undefined ? value : { [position]: value } }, 'inspector');
  }
  return [...cells.values()];
}

function unitOf({ answer }: Item, field: string | undefined): { unit?: string } {
  const type = answer.kind === 'fields' ? answer.fields[field ?? '']?.type : answer;
  return type?.kind === 'number' && type.unit !== '1' ? { unit: type.unit } : {};
}

/** Vehicles: what is known of a car across events. */
export async function vehicleRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'GET',
    path: '/vehicles/:vehicleId/records',
    operationId: 'getVehicleRecords',
    summary: 'Read what was measured and serviced on a car, event by event',
    description:
      'A car keeps its records across events when it is entered again with its `vehicleId`. An entrant reads the records of the car of the own entry, the link of a car those of that car.',
    tag: 'Entries',
    access: [...STAFF, 'entrant', 'owner'],
    params: vehicleParams,
    headers: AcceptLanguage,
    success: {
      200: {
        description: 'Newest event first',
        schema: VehicleRecords,
        headers: LANGUAGE_DOCUMENTED,
        example: RECORDS_EXAMPLE,
      },
    },
    problems: ['not-found'],
    handle: async ({ params, headers, actor }) => {
      const { view, language } = await readVehicleRecords(deps, actor, { ...params, accepts: headers });
      return { status: 200, body: view, headers: languageHeaders(language) };
    },
  });
}
