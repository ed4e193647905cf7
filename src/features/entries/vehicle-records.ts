import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { type Actor, STAFF } from '../../domain/actor.ts';
import { CATALOGUE, findItem } from '../../domain/catalogue/catalogue.ts';
import type { Item } from '../../domain/catalogue/item.ts';
import { isBasisName } from '../../domain/declaration/basis.ts';
import { type Answers, parseAnswers, parseCellKey } from '../../domain/declaration/declaration.ts';
import { Id, InstantOut, PlainDateOut } from '../../http/frame/common-schemas.ts';
import { notFound } from '../../http/frame/problem.ts';
import { addRoute } from '../../http/frame/route.ts';
import { findVehicleRecord, isVehicleOfEntry, listRecords, type RecordRow } from './vehicle-store.ts';

type EventRecord = VehicleRecords['events'][number];
type Value = EventRecord['wear'][number];

const WEAR: readonly string[] = ['pad.thickness', 'rotor.thickness', 'rotor.weight', 'tyre.tread'];
const isSetup = (key: string): boolean => key.startsWith('setup.');
/** Every item that asks for the day something was changed or serviced: its name says so. */
const SERVICES: ReadonlySet<string> = new Set(
  CATALOGUE.map(({ key }) => key).filter((key) => /\.(changed|flushed|serviced)-on$/u.test(key)),
);

/**
 * What is known of a car across events: what was declared, what the line measured, the services and the set-up. An
 * entrant sees the car of the own entry only.
 *
 * @throws ProblemError `not-found`
 */
async function readVehicleRecords(deps: Deps, actor: Actor, vehicleId: string): Promise<VehicleRecords> {
  const db = deps.db.prisma;
  const vehicle = await findVehicleRecord(db, vehicleId);
  const { role, entryId } = actor;
  const isHidden = role === 'entrant' && !(entryId !== undefined && (await isVehicleOfEntry(db, vehicleId, entryId)));
  if (vehicle === undefined || isHidden) throw notFound('vehicle');
  return { vehicleId, vehicle, events: (await listRecords(db, vehicleId)).map(viewEvent) };
}

function viewEvent({ answers, checks, submittedAt, decision, ...row }: RecordRow): EventRecord {
  const values = valuesOf(answers, checks ?? []);
  const of = (wanted: (key: string) => boolean): Value[] => values.filter(({ item }) => wanted(item));
  return {
    ...row,
    submittedAt: submittedAt.toISOString(),
    // a check of the table keeps it to these
    decision: decision as EventRecord['decision'],
    wear: of((key) => WEAR.includes(key)),
    services: of((key) => SERVICES.has(key)),
    setup: of(isSetup),
  };
}

/** Answers that a later catalogue cannot read are not known, one question at a time. */
function read(
  raw: Readonly<Record<string, unknown>>,
): Map<string, Answers extends ReadonlyMap<string, infer V> ? V : never> {
  return new Map(
    Object.entries(raw).flatMap(([key, answer]) => {
      const parsed = parseAnswers({ [key]: answer });
      return parsed.ok ? [...parsed.answers] : [];
    }),
  );
}

function valuesOf(answers: RecordRow['answers'], checks: NonNullable<RecordRow['checks']>): Value[] {
  const wanted = ([key]: [string, unknown]): boolean => WEAR.includes(key) || SERVICES.has(key) || isSetup(key);
  const cells = new Map<string, Value>();
  const note = (raw: Readonly<Record<string, unknown>>, by: Value['by']): void => {
    for (const [cell, value] of read(Object.fromEntries(Object.entries(raw).filter(wanted)))) {
      const { key, position, field } = parseCellKey(cell);
      const item = findItem(key);
      if (item === undefined || typeof value === 'object' || isBasisName(cell)) continue;
      cells.set(cell, {
        item: key,
        label: item.label,
        ...(position !== undefined && { position }),
        ...(field !== undefined && { field }),
        value,
        ...unitOf(item, field),
        by,
      });
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
    success: { 200: { description: 'Newest event first', schema: VehicleRecords, example: RECORDS_EXAMPLE } },
    problems: ['not-found'],
    handle: async ({ params, actor }) => ({
      status: 200,
      body: await readVehicleRecords(deps, actor, params.vehicleId),
    }),
  });
}

const vehicleParams = z.strictObject({ vehicleId: Id });

const ValueView = z.object({
  item: z.string().describe('Catalogue key'),
  label: z.string().describe('Its question'),
  position: z.string().optional().describe('Where on the car'),
  field: z.string().optional().describe('Part of an answer that has parts'),
  value: z.union([z.number(), z.string(), z.boolean()]).describe("In the item's unit"),
  unit: z.string().optional().describe('Unit of a number'),
  by: z
    .enum(['entrant', 'inspector'])
    .describe('Who gave it; what was measured at the line stands for what was declared'),
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
          baseline: z.looseObject({}).nullable().describe('The baseline of the vehicle record as it was then'),
        }),
      )
      .describe('Events for which the car was declared, newest first'),
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
      baseline: null,
    },
  ],
};
