import { call } from '../../api/call.ts';
import {
  backToLine,
  type ClaimTicketInput,
  type ClaimView,
  claimTicket,
  getClaim,
  getEntry,
  type Problem,
  putBackClaim,
  renewClaim,
} from '../../api/operations.ts';
import { ask, changeDraft, type Desk, type Done, draftOf, dropDraft, type Offer, putDraft } from './desk.ts';
import { type Draft, newDraft } from './draft.ts';
import { readLine } from './feed.ts';
import { endOf } from './refusal.ts';

/** Takes a car. @returns its claim, or undefined when nobody waits */
export async function claim(desk: Desk, body: ClaimTicketInput): Promise<Done<string | undefined>> {
  const { eventId } = desk.event;
  const { token } = desk.session;
  const done = await ask(desk, () => call(claimTicket, { params: { eventId }, body }, { token }));
  if (!done.ok) return done;
  if (done.value.status === 204) return { ok: true, value: undefined };
  await open(desk, done.value.body);
  return { ok: true, value: done.value.body.claimId };
}

/** Opens a claim of one's own that another device, or another browser, made with the same access. */
export async function takeUp(desk: Desk, claimId: string): Promise<Done<string>> {
  if (draftOf(desk, claimId) !== undefined) return { ok: true, value: claimId };
  const done = await ask(desk, () => call(getClaim, { params: { claimId } }, { token: desk.session.token }));
  if (!done.ok) return done;
  await open(desk, done.value.body);
  return { ok: true, value: claimId };
}

async function open(desk: Desk, view: ClaimView): Promise<void> {
  const { entryId, inspectionId } = view;
  const entry = await ask(desk, () => call(getEntry, { params: { entryId } }, { token: desk.session.token }));
  const ticket = desk.line.value.view?.tickets.find((one) => one.ticketId === view.ticketId);
  const before = desk.drafts.value.find((one) => one.claim.inspectionId === inspectionId && one.outcome === undefined);
  const body = entry.ok ? entry.value.body : undefined;
  const about = {
    holder: desk.session.holder,
    eventId: desk.event.eventId,
    driver: body?.people.find((person) => person.role === 'driver')?.name ?? body?.entrant.name,
    colour: typeof body?.vehicle['colour'] === 'string' ? body.vehicle['colour'] : undefined,
    firstSessionAt: ticket?.firstSessionAt,
  };
  await putDraft(desk, newDraft(view, about, before));
  // The new one has all of it and is on the disk.
  if (before !== undefined && before.claimId !== view.claimId) await dropDraft(desk, before.claimId);
  void readLine(desk);
}

/** Starts the lease anew. A claim that is over is marked so; what was entered stays. */
export async function renew(desk: Desk, claimId: string): Promise<Done> {
  const done = await ask(desk, () => call(renewClaim, { params: { claimId } }, { token: desk.session.token }));
  if (done.ok) {
    const { expiresAt, leaseMinutes } = done.value.body;
    await changeDraft(desk, claimId, (draft) => ({ ...draft, expiresAt, leaseMinutes, ended: undefined }));
    return { ok: true, value: undefined };
  }
  if (done.why.kind === 'problem') await markEnded(desk, claimId, endOf(done.why.error.problem));
  return done;
}

export async function markEnded(desk: Desk, claimId: string, ended: Draft['ended']): Promise<void> {
  if (ended === undefined) return;
  await changeDraft(desk, claimId, (draft) => (draft.outcome === undefined ? { ...draft, ended } : draft));
}

/** Gives the car back: it keeps its place. What was entered goes on when this person takes the car again. */
export async function putBack(desk: Desk, claimId: string): Promise<Done> {
  const done = await ask(desk, () => call(putBackClaim, { params: { claimId } }, { token: desk.session.token }));
  if (done.ok) {
    await putAside(desk, claimId);
    return { ok: true, value: undefined };
  }
  if (done.why.kind === 'problem') await markEnded(desk, claimId, endOf(done.why.error.problem));
  return done;
}

/**
 * Takes a car from whoever has it: it keeps its place, and what was entered stays on that device.
 *
 * @returns whether the claim is over, also where it was already
 */
export async function release(desk: Desk, claimId: string): Promise<Done> {
  const done = await ask(desk, () => call(putBackClaim, { params: { claimId } }, { token: desk.session.token }));
  void readLine(desk);
  const isOver = !done.ok && done.why.kind === 'problem' && done.why.error.problem.code === 'state-moved-on';
  return done.ok || isOver ? { ok: true, value: undefined } : done;
}

/** Puts a car that was through the line on it again. @returns its place */
export async function sendBack(desk: Desk, entryId: string, reason: string): Promise<Done<number>> {
  const done = await ask(desk, () =>
    call(backToLine, { params: { entryId }, body: { reason } }, { token: desk.session.token }),
  );
  void readLine(desk);
  return done.ok ? { ok: true, value: done.value.body.place } : done;
}

/**
 * What can be done about a car that could not be had, by the refusal of its claim; undefined where nothing can, or not by
 * this person.
 */
export function offerIn(
  { session }: Desk,
  problem: Problem & { claimId?: string; claimedBy?: string },
  carNumber: string,
): Offer | undefined {
  const { claimId, claimedBy: holder = '', wayOut } = problem;
  if (claimId !== undefined) {
    return session.role === 'chief' && holder !== session.holder
      ? { way: 'release', claimId, carNumber, holder }
      : undefined;
  }
  const [, entryId, operation] =
    /^POST \/v1\/entries\/([^/]+)\/(back-to-line|inspections)$/.exec(wayOut?.operation ?? '') ?? [];
  if (entryId === undefined || wayOut?.roles.includes(session.role) !== true) return undefined;
  return { way: operation === 'back-to-line' ? 'back' : 'declare', entryId, carNumber };
}

const isEmpty = ({ places, conditions, note, sticker }: Draft): boolean =>
  Object.keys(places).length + conditions.length === 0 && note === '' && sticker === '';

async function putAside(desk: Desk, claimId: string): Promise<void> {
  const draft = draftOf(desk, claimId);
  if (draft === undefined || isEmpty(draft)) await dropDraft(desk, claimId);
  else await changeDraft(desk, claimId, (one) => ({ ...one, ended: { state: 'put-back', detail: '' } }));
}
