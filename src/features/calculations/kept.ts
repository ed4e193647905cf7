import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { type Actor, reachesEvent } from '../../domain/actor.ts';
import { CAUTIONS } from '../../domain/cautions.ts';
import { parseAnswers } from '../../domain/declaration/declaration.ts';
import { calculationInputs, type KnownInputs } from '../../domain/prepare/calculation-inputs.ts';
import type { KnownCar } from '../../domain/prepare/known-brakes.ts';
import { sessionsAhead } from '../../domain/prepare/wear-outlook.ts';
import type { Calculation } from '../../domain/trade/calculation.ts';
import { CALCULATIONS } from '../../domain/trade/calculations.ts';
import { hashToken, newToken, unauthenticated } from '../../http/access/auth.ts';
import { Id, InstantOut } from '../../http/frame/common-schemas.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { findJudgingContext } from '../../records/judging/judging-context.ts';
import { calculate, viewWorked } from './calculate.ts';
import {
  deleteKept,
  findAnswers,
  findRecord,
  findShared,
  insertKept,
  isCarOf,
  listKept,
  setLink,
  type StoredKept,
} from './kept-store.ts';

/** Of one car: a season of questions. Common practice, no source. */
export const MOST_KEPT = 60;

/** A body is small; what is larger is none that a person typed. */
const MOST_BODY_CHARACTERS = 20_000;

const findCalculation = (name: string): Calculation | undefined => CALCULATIONS.find((one) => one.name === name);

async function assertCar(deps: Deps, actor: Actor, vehicleId: string): Promise<void> {
  if (!(await isCarOf(deps.db.prisma, actor, vehicleId))) throw notFound('vehicle');
}

/**
 * What of each computation is known of a car: its record, and with an entry the venue, the saved answers and earlier readings.
 *
 * @throws ProblemError `not-found`
 */
export async function readInputs(
  deps: Deps,
  actor: Actor,
  { vehicleId, entryId }: { vehicleId: string; entryId?: string | undefined },
): Promise<{ inputs: KnownInputs }> {
  const db = deps.db.prisma;
  await assertCar(deps, actor, vehicleId);
  const vehicle = await findRecord(db, vehicleId);
  if (vehicle === undefined) throw notFound('vehicle');
  if (entryId === undefined) return { inputs: calculationInputs({ vehicle }) };
  const [answers, context] = await Promise.all([findAnswers(db, vehicleId, entryId), findJudgingContext(db, entryId)]);
  if (answers === undefined || context === undefined) throw notFound('entry');
  if (!mayRead(actor, entryId, context.event.eventId)) throw notFound('entry');
  const { perDay, count } = sessionsAhead({ ...context, now: deps.clock.now() });
  const parsed = parseAnswers(answers);
  const car: KnownCar = {
    vehicle,
    venue: context.venue,
    event: context.event,
    earlier: context.earlier,
    sessions: { perDay, toCome: Math.max(1, Math.ceil(count)) },
    ...(parsed.ok && { answers: parsed.answers }),
  };
  return { inputs: calculationInputs(car) };
}

/** An entrant reads the own entry, the staff those of its events; the link of a car knows nothing of its entries. */
function mayRead(actor: Actor, entryId: string, eventId: string): boolean {
  if (actor.role === 'owner') return false;
  return actor.role === 'entrant' ? actor.entryId === entryId : reachesEvent(actor, eventId);
}

const view = ({ id, name, body, keptBy, keptAt, linkHash }: StoredKept): KeptView => ({
  keptId: id,
  name,
  // written by us, from a body that its schema had read
  body: body as Record<string, unknown>,
  keptBy: keptBy === 'owner' || keptBy === 'entrant' ? 'owner' : 'staff',
  keptAt: keptAt.toISOString(),
  isShared: linkHash !== null,
});

/** @throws ProblemError `not-found` */
export async function listKeptOf(deps: Deps, actor: Actor, vehicleId: string): Promise<{ kept: KeptView[] }> {
  await assertCar(deps, actor, vehicleId);
  return { kept: (await listKept(deps.db.prisma, vehicleId)).map(view) };
}

/**
 * Keeps what was asked of a computation with a car. It must be one that can be worked out: nothing is kept that shows no result.
 *
 * @throws ProblemError `not-found`, `calculation-refused`, `not-acceptable` (no such computation, no room)
 */
export async function keepCalculation(
  deps: Deps,
  actor: Actor,
  { vehicleId, name, body }: { vehicleId: string } & KeepCalculation,
): Promise<KeptView> {
  await assertCar(deps, actor, vehicleId);
  const calculation = findCalculation(name);
  if (calculation === undefined) throw refused('/name', 'unknown-calculation', 'There is no such computation.');
  calculate(calculation, read(calculation, body));
  const at = deps.clock.now();
  const stored = await inTransaction(deps.db.prisma, (tx) =>
    insertKept(tx, { vehicleId, name, body, keptBy: actor.role, at, most: MOST_KEPT }),
  );
  if (stored === undefined) {
    throw refused('/body', 'no-room', `A car keeps ${MOST_KEPT} of them. Take one away that is no longer of use.`);
  }
  return view(stored);
}

function read(calculation: Calculation, body: unknown): unknown {
  const parsed = calculation.input.safeParse(body);
  if (parsed.success && JSON.stringify(body).length <= MOST_BODY_CHARACTERS) return parsed.data;
  const [issue] = parsed.error?.issues ?? [];
  const pointer = ['', 'body', ...(issue?.path ?? []).map(String)].join('/');
  throw refused(pointer, 'not-acceptable', issue?.message ?? 'It is too long to be kept.');
}

const refused = (pointer: string, code: string, detail: string): ProblemError =>
  new ProblemError('not-acceptable', detail, { errors: [{ pointer, code, detail, in: 'body' }] });

interface KeptOf {
  vehicleId: string;
  keptId: string;
}

/** @throws ProblemError `not-found` */
export async function dropKept(deps: Deps, actor: Actor, { vehicleId, keptId }: KeptOf): Promise<void> {
  await assertCar(deps, actor, vehicleId);
  if (!(await deleteKept(deps.db.prisma, vehicleId, keptId))) throw notFound('kept calculation');
}

/** Makes the link of a kept one; the link from before ends. @throws ProblemError `not-found` */
export async function shareKept(deps: Deps, actor: Actor, { vehicleId, keptId }: KeptOf): Promise<{ secret: string }> {
  await assertCar(deps, actor, vehicleId);
  const secret = newToken();
  if (!(await setLink(deps.db.prisma, { vehicleId, keptId, hash: hashToken(secret) }))) {
    throw notFound('kept calculation');
  }
  return { secret };
}

/** Ends the link; doing it again is the same as once. @throws ProblemError `not-found` */
export async function endShare(deps: Deps, actor: Actor, { vehicleId, keptId }: KeptOf): Promise<void> {
  await assertCar(deps, actor, vehicleId);
  if (!(await setLink(deps.db.prisma, { vehicleId, keptId, hash: null }))) throw notFound('kept calculation');
}

/**
 * What a link shows: what was asked and what comes out now. Nothing of the car, nor of who kept it.
 *
 * @throws ProblemError `unauthenticated` (no such link, or it ended; counted like any failed sign-in)
 */
export async function readShared(deps: Deps, secret: string): Promise<SharedView> {
  const row = await findShared(deps.db.prisma, hashToken(secret));
  const calculation = row === null ? undefined : findCalculation(row.name);
  const parsed = calculation?.input.safeParse(row?.body);
  if (row === null || calculation === undefined || parsed?.success !== true) throw unauthenticated(true);
  return {
    name: row.name,
    keptAt: row.keptAt.toISOString(),
    body: row.body as Record<string, unknown>,
    worked: { ...viewWorked(calculation, calculate(calculation, parsed.data)) },
    caution: CAUTIONS.general.text,
  };
}

export const KeepCalculation = z
  .strictObject({
    name: z.string().max(60).describe('Name of the computation'),
    body: z.record(z.string(), z.unknown()).describe('As the computation takes it'),
  })
  .meta({ id: 'KeepCalculation' });
export type KeepCalculation = z.infer<typeof KeepCalculation>;

export const KeptView = z
  .object({
    keptId: Id.describe('Id of what was kept'),
    name: z.string().describe('Name of the computation'),
    body: z.record(z.string(), z.unknown()).describe('What was asked'),
    keptBy: z.enum(['owner', 'staff']).describe('Who kept it'),
    keptAt: InstantOut.describe('When'),
    isShared: z.boolean().describe('Whether a link shows it'),
  })
  .meta({ id: 'KeptCalculation' });
export type KeptView = z.infer<typeof KeptView>;

export const SharedView = z
  .object({
    name: z.string().describe('Name of the computation'),
    keptAt: InstantOut.describe('When it was kept'),
    body: z.record(z.string(), z.unknown()).describe('What was asked'),
    worked: z.looseObject({}).describe('What the computation answers to that now'),
    caution: z.string().describe('Belongs on everything that shows a result'),
  })
  .meta({ id: 'SharedCalculation' });
export type SharedView = z.infer<typeof SharedView>;
