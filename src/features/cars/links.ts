import type { Deps } from '../../deps.ts';
import type { Actor } from '../../domain/actor.ts';
import { hashToken, newToken } from '../../http/access/auth.ts';
import { notFound, ProblemError } from '../../http/frame/problem.ts';
import { inTransaction } from '../../platform/database/db.ts';
import { assertOwn } from './facts.ts';
import type { CarLink, MakeCarLink } from './schemas.ts';
import { endLinks, findCar, insertLink, listLinks } from './store.ts';

/** How long a link works: from one season into the one after the next. Whoever has it may make a new one before. */
const LINK_DAYS = 730;
const DAY_MS = 86_400_000;

const view = (row: { id: string; holder: string; createdAt: Date; expiresAt: Date | null }) => ({
  tokenId: row.id,
  holder: row.holder,
  createdAt: row.createdAt.toISOString(),
  // links always have an end: see `insertLink`
  expiresAt: (row.expiresAt ?? row.createdAt).toISOString(),
});

/**
 * Makes a link of the car. A holder has one at a time; `sold` ends those of everybody. An entrant makes one of the car of the
 * own entry, and only in the own name.
 *
 * @throws ProblemError `not-found`, `not-acceptable` (another's name)
 */
export async function makeLink(
  deps: Deps,
  actor: Actor,
  { vehicleId, holder, sold }: MakeCarLink & { vehicleId: string },
): Promise<CarLink> {
  const now = deps.clock.now();
  return inTransaction(deps.db.prisma, async (tx) => {
    await assertOwn(tx, actor, vehicleId);
    if (actor.role === 'entrant' && (holder !== actor.name || sold)) throw notYours(actor.name);
    if ((await findCar(tx, vehicleId)) === undefined) throw notFound('vehicle');
    await endLinks(tx, vehicleId, now, sold ? undefined : holder);
    const token = newToken();
    const expiresAt = new Date(now.getTime() + LINK_DAYS * DAY_MS);
    const made = await insertLink(tx, {
      vehicleId,
      holder,
      hash: hashToken(token),
      createdBy: actor.tokenId,
      at: now,
      expiresAt,
    });
    return { ...view(made), token };
  });
}

const notYours = (name: string): ProblemError =>
  new ProblemError(
    'not-acceptable',
    'Make it in your own name. A car that was sold gets its new link from its owner or the organizer.',
    { errors: [{ pointer: '/holder', code: 'not-yours', detail: `Your name here is ${name}.`, in: 'body' }] },
  );

/** @throws ProblemError `not-found` */
export async function listLinksOfCar(deps: Deps, vehicleId: string) {
  const db = deps.db.prisma;
  if ((await findCar(db, vehicleId)) === undefined) throw notFound('vehicle');
  return { links: (await listLinks(db, vehicleId, deps.clock.now())).map(view) };
}

/** Ends every link of the car; doing it again is the same as once. @throws ProblemError `not-found` */
export async function endLinksOfCar(deps: Deps, vehicleId: string): Promise<{ ended: number }> {
  const db = deps.db.prisma;
  if ((await findCar(db, vehicleId)) === undefined) throw notFound('vehicle');
  return { ended: await endLinks(db, vehicleId, deps.clock.now()) };
}
