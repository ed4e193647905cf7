import type { Deps } from '../../deps.ts';
import { type Actor, INSPECTORS } from '../../domain/actor.ts';
import { plainDateAt } from '../../domain/calendar.ts';
import {
  changedFacts,
  type FactOrigin,
  isImplausible,
  listFacts,
  originOf,
  unconfirmedFacts,
  valueOf,
  withFact,
} from '../../domain/car/car-facts.ts';
import { numberFactOf } from '../../domain/car/fact-table.ts';
import { Vehicle } from '../../domain/vehicle.ts';
import { type FieldError, nameFaults, notFound, ProblemError } from '../../http/frame/problem.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import { CAR_CHANGED, confirmedBy, judgedOnChange, voidDeclarations } from '../../records/car-facts.ts';
import { assertNoInterest } from '../../records/conflict-of-interest.ts';
import { recordEntryHistory } from '../../records/history/history.ts';
import { lockEntries } from '../../records/locks/entry-lock.ts';
import type { CarFactsView, ChangeFacts } from './schemas.ts';
import {
  findCar,
  hasClaimOn,
  isCarOfEntry,
  listCurrentEntries,
  listPhotosOfCar,
  lockVehicle,
  type StoredCar,
  updateCar,
} from './store.ts';

/**
 * What is known of a car, each fact with who said it. An entrant sees the car of the own entry only, the link of a car that
 * car.
 *
 * @throws ProblemError `not-found`
 */
export async function readFactsOfCar(deps: Deps, actor: Actor, vehicleId: string): Promise<CarFactsView> {
  await assertOwn(deps.db.prisma, actor, vehicleId);
  const car = await findCar(deps.db.prisma, vehicleId);
  if (car === undefined) throw notFound('vehicle');
  return view(vehicleId, car, actor);
}

/** @throws ProblemError `not-found` for an entrant whose entry has another car */
export async function assertOwn(db: Tx, { role, entryId }: Actor, vehicleId: string): Promise<void> {
  if (role !== 'entrant') return;
  if (entryId === undefined || !(await isCarOfEntry(db, vehicleId, entryId))) throw notFound('vehicle');
}

function view(vehicleId: string, { record, origins }: StoredCar, actor: Actor): CarFactsView {
  const open = new Set(unconfirmedFacts(record, origins));
  return {
    vehicleId,
    record,
    facts: listFacts(record).map(([path, value]) => ({
      path,
      value,
      isConfirmed: !open.has(path),
      ...viewOrigin(originOf(origins, path), actor),
    })),
  };
}

function viewOrigin(from: FactOrigin | undefined, actor: Actor) {
  if (from === undefined) return { origin: 'confirmed' as const };
  const { origin, by, at, photoId } = from;
  const isShown = by.tokenId === actor.tokenId || by.name === actor.name || !['entrant', 'owner'].includes(actor.role);
  const shown = { as: by.as, ...(isShown && { name: by.name }) };
  return { origin, by: shown, at, ...(photoId !== undefined && { photoId }) };
}

interface Change {
  vehicleId: string;
  facts: ChangeFacts['facts'];
  requestId: string;
}

/**
 * Writes facts of a car one by one; what others wrote meanwhile of other facts stays. The owner says what he knows, the
 * staff stands for what it says. Where a rule used what changed, the declarations that were judged on it are void.
 *
 * @throws ProblemError `not-found`, `forbidden` (an inspector without the car), `conflict-of-interest`, `not-acceptable`
 *   naming every fault
 */
export async function changeFacts(deps: Deps, actor: Actor, change: Change): Promise<CarFactsView> {
  const { vehicleId, facts, requestId } = change;
  const at = deps.clock.now();
  return inTransaction(deps.db.prisma, async (tx) => {
    await assertMayChange(tx, actor, vehicleId);
    // The day where it begins last: an event is over when its last day has ended at its venue.
    const current = await listCurrentEntries(tx, vehicleId, plainDateAt(at, 'Etc/GMT+12'));
    const entries = await lockEntries(tx, current, 'change');
    if (INSPECTORS.includes(actor.role)) for (const { entryId } of entries) await assertNoInterest(tx, actor, entryId);
    const before = await lockVehicle(tx, vehicleId);
    if (before === undefined) throw notFound('vehicle');
    const photos = await listPhotosOfCar(
      tx,
      vehicleId,
      facts.flatMap(({ photoId }) => photoId ?? []),
    );
    const after = apply(before, facts, { actor, at, photos });
    await updateCar(tx, vehicleId, after);
    const changed = changedFacts(before.record, after.record);
    if (changed.length > 0) {
      const context = { actor, at, requestId };
      for (const entry of entries) {
        const data = { changed: ['vehicle'], facts: changed };
        await recordEntryHistory(tx, entry, { ...context, action: 'entry.updated', data });
      }
      const now = new Map([[vehicleId, after.record]]);
      await voidDeclarations(tx, await judgedOnChange(tx, entries, { now, at }), CAR_CHANGED, context);
    }
    return view(vehicleId, after, actor);
  });
}

async function assertMayChange(tx: Tx, actor: Actor, vehicleId: string): Promise<void> {
  await assertOwn(tx, actor, vehicleId);
  if (!INSPECTORS.includes(actor.role) || actor.role === 'chief') return;
  if (await hasClaimOn(tx, vehicleId, actor.tokenId)) return;
  throw new ProblemError('forbidden', 'Claim the car at the line first: who confirms a fact has the car before him.');
}

const isStaff = ({ role }: Actor): boolean => role !== 'entrant' && role !== 'owner';

function apply(
  before: StoredCar,
  facts: ChangeFacts['facts'],
  by: { actor: Actor; at: Date; photos: ReadonlySet<string> },
): StoredCar {
  let record = before.record;
  const origins: Record<string, FactOrigin> = { ...before.origins };
  const errors: FieldError[] = [];
  for (const [index, fact] of facts.entries()) {
    const { path, value } = fact;
    errors.push(...faultsOf(fact, `/facts/${index}`, by.photos));
    const isSame = valueOf(record, path) === (value ?? undefined);
    record = withFact(record, path, value ?? undefined);
    if (value === null) delete origins[path];
    else if (!isSame || isNews(fact, originOf(before.origins, path), by.actor)) origins[path] = originFor(fact, by);
  }
  const parsed = Vehicle.safeParse(record);
  errors.push(...(parsed.error?.issues ?? []).map((issue) => recordFault(issue, facts)));
  if (errors.length > 0) throw new ProblemError('not-acceptable', nameFaults(errors), { errors });
  return { record: parsed.data ?? record, origins };
}

/** What the staff confirmed stays confirmed when its owner says the same once more; a photo of it is news. */
function isNews(fact: ChangeFacts['facts'][number], known: FactOrigin | undefined, actor: Actor): boolean {
  if (isStaff(actor)) return true;
  if (known === undefined || known.origin === 'confirmed') return false;
  const isShown = fact.photoId !== undefined && fact.photoId !== known.photoId;
  return isShown || fact.origin !== known.origin || fact.again === true;
}

function originFor(
  { origin, photoId, again }: ChangeFacts['facts'][number],
  { actor, at }: { actor: Actor; at: Date },
): FactOrigin {
  const photo = photoId === undefined ? {} : { photoId };
  if (isStaff(actor)) return { ...confirmedBy({ actor, at }), ...photo };
  const by = { tokenId: actor.tokenId, as: 'owner' as const, name: actor.name };
  return { origin: origin ?? 'entered', by, at: at.toISOString(), ...photo, ...(again && { again }) };
}

function faultsOf(
  { path, value, again, photoId }: ChangeFacts['facts'][number],
  place: string,
  photos: ReadonlySet<string>,
): FieldError[] {
  const faults: FieldError[] = [];
  const type = numberFactOf(path)?.type;
  if (value !== null && again !== true && isImplausible(path, value) && type?.plausible !== undefined) {
    const [from, to] = type.plausible;
    const detail = `${value} ${type.unit} is unusual: such cars have ${from} to ${to} ${type.unit}. Look once more; where it is so, send it with \`again\`.`;
    faults.push({ pointer: `${place}/value`, code: 'implausible', detail, in: 'body' });
  }
  if (photoId !== undefined && !photos.has(photoId)) {
    faults.push({
      pointer: `${place}/photoId`,
      code: 'unknown-photo',
      detail: 'No photo of this car has this id.',
      in: 'body',
    });
  }
  return faults;
}

/** Where in what was sent a fault of the whole record is; the car itself where it is none of it. */
function recordFault(
  issue: { code: string; path: readonly PropertyKey[]; message: string; keys?: readonly string[] },
  facts: ChangeFacts['facts'],
): FieldError {
  const path = [...issue.path, ...(issue.keys ?? []).slice(0, 1)].join('.');
  const index = facts.findIndex(
    (fact) => fact.path === path || path.startsWith(`${fact.path}.`) || fact.path.startsWith(`${path}.`),
  );
  const unknown = issue.code === 'unrecognized_keys';
  return {
    pointer: index < 0 ? '/facts' : `/facts/${index}/${unknown ? 'path' : 'value'}`,
    code: unknown ? 'unknown-fact' : issue.code.replaceAll('_', '-'),
    detail: unknown ? `The record of a car has no ${path}.` : `${path}: ${issue.message}`,
    in: 'body',
  };
}
