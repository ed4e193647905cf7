import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { type Actor, STAFF } from '../../domain/actor.ts';
import { findItem } from '../../domain/catalogue/catalogue.ts';
import type { Item } from '../../domain/catalogue/item.ts';
import { itemTexts } from '../../domain/catalogue/texts.ts';
import { isBasisName } from '../../domain/declaration/basis.ts';
import { type Answers, parseAnswers, parseCellKey } from '../../domain/declaration/declaration.ts';
import { bestOuting, type OutingEntry } from '../../domain/log/best-outing.ts';
import { findingsIn, languagesOf } from '../../domain/rules/says/rule-words.ts';
import { AcceptLanguage, LANGUAGE_DOCUMENTED, languageHeaders, languageOf } from '../../http/frame/headers.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import type { Tx } from '../../platform/database/db.ts';
import { judgeEntry } from '../../records/judging/judge-entry.ts';
import { findJudgingContext } from '../../records/judging/judging-context.ts';
import { getRules } from '../../records/judging/rules.ts';
import { Id, InstantOut, PlainDateOut } from '../../http/frame/common-schemas.ts';
import { endingsOf, SERVICES } from './countdown.ts';
import { findVehicleRecord, isVehicleOfEntry, listOutings, listRecords, type RecordRow } from './vehicle-store.ts';

const vehicleParams = z.strictObject({ vehicleId: Id });

const ValueView = z.object({
  item: z.string().describe('Catalogue key'),
  label: z.string().describe('Its question'),
  position: z.string().optional().describe('Where on the car'),
  field: z.string().optional().describe('Part of an answer that has parts'),
  part: z.string().optional().describe('Name of that part'),
  value: z.union([z.number(), z.string(), z.boolean()]).describe("In the item's unit"),
  unit: z.string().optional().describe('Unit of a number'),
  by: z
    .enum(['entrant', 'inspector'])
    .describe('Who gave it; what was measured at the line stands for what was declared'),
});

const Outing = z.object({
  session: z.string().describe('Its number or name'),
  at: InstantOut,
  laps: z.int().optional().describe('How many were driven'),
  bestLapSeconds: z.number().optional().describe('The quickest of them, s'),
  values: z.array(ValueView).describe('Pressures and torque'),
  notes: z.array(z.string()).describe('Your own'),
});

const VehicleRecords = z
  .object({
    vehicleId: Id.describe('The vehicle'),
    vehicle: z.looseObject({}).describe('The record of the car as it is now, with its baseline'),
    events: z
      .array(
        z.object({
          eventId: Id.describe('The event'),
          event: z.string().describe('Its name'),
          startsOn: PlainDateOut,
          endsOn: PlainDateOut,
          entryId: Id.describe('The entry that was declared last'),
          carNumber: z.string().describe('Exact text'),
          inspectionId: Id.describe('Its newest revision'),
          submittedAt: InstantOut,
          decision: z
            .enum(['accept', 'accept-with-conditions', 'refuse'])
            .nullable()
            .describe('What the line decided about it; null: nothing'),
          wear: z.array(ValueView).describe('Thicknesses and weights that wear: pads, rotors, tread'),
          services: z.array(ValueView).describe('Days on which something was last changed or serviced, as declared'),
          setup: z.array(ValueView).describe('Corner weights, alignment and ride height'),
          bestOuting: Outing.nullable().describe(
            'The session with the quickest lap, else the last with tyre pressures',
          ),
          baseline: z.looseObject({}).nullable().describe('The baseline of the vehicle record as it was then'),
        }),
      )
      .describe('Events for which the car was declared, newest first'),
    ends: z
      .array(
        z.object({
          title: z.string().describe('What ends'),
          of: z.enum(['service', 'label']).describe('What it is'),
          on: PlainDateOut.describe('Last day it is accepted'),
        }),
      )
      .describe('By the newest declaration, the first end first'),
  })
  .meta({ id: 'VehicleRecords' });
type VehicleRecords = z.infer<typeof VehicleRecords>;

const RECORDS_EXAMPLE: VehicleRecords = {
  vehicleId: '019ab8f0-0000-7000-8000-0000000000d1',
  vehicle: { description: 'Club coupé 2.0, 2014', massKg: 1210 },
  events: [
    {
      eventId: '019ab8f0-0000-7000-8000-0000000000b1',
      event: 'Spring track weekend',
      startsOn: '2026-04-18',
      endsOn: '2026-04-19',
      entryId: '019ab8f0-0000-7000-8000-0000000000e1',
      carNumber: '42',
      inspectionId: '019ab8f0-0000-7000-8000-0000000000f1',
      submittedAt: '2026-04-14T18:20:00.000Z',
      decision: 'accept',
      wear: [
        {
          item: 'pad.thickness',
          label: 'Friction material thickness',
          position: 'FL.in',
          value: 8.5,
          unit: 'mm',
          by: 'inspector',
        },
      ],
      services: [
        {
          item: 'brake-fluid.flushed-on',
          label: 'Brake fluid last flushed on',
          value: '2026-03-28',
          by: 'entrant',
        },
      ],
      setup: [],
      bestOuting: null,
      baseline: null,
    },
  ],
  ends: [{ title: 'Age of the brake fluid', of: 'service', on: '2027-03-28' }],
};

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
