import { call } from '../../api/call.ts';
import {
  backToLine,
  claimTicket,
  type ClaimTicketInput,
  type ClaimView,
  type EntryView,
  getClaim,
  getClaimLimits,
  getEntry,
  type Problem,
  putBackClaim,
  renewClaim,
} from '../../api/operations.ts';
import { text } from '../text.ts';
import { serverNow } from '../format.ts';
import {
  ask,
  changeWorksheet,
  type Done,
  dropWorksheet,
  type Offer,
  putWorksheet,
  say,
  type Station,
  worksheetOf,
} from './station.ts';
import { type Worksheet, newWorksheet } from './worksheet.ts';
import { readLine } from './feed.ts';
import { endOf } from './rejection.ts';

const LOOK_MS = 1000;
/** Between two tries to renew. */
const PAUSE_MS = 5000;
const WARN_MS = 120_000;
const WORK = ['pointerdown', 'keydown', 'input', 'change'] as const;

/**
 * Renews the lease of a claim at half time while the page is in sight and somebody works, and says once when two minutes
 * are left.
 *
 * @returns ends it
 */
export function keepLease(station: Station, claimId: string): () => void {
  // Opening the car is work.
  let workedAt = serverNow();
  let triedAt = 0;
  let warnedFor = '';
  const worked = () => {
    workedAt = serverNow();
  };
  const look = () => {
    const worksheet = worksheetOf(station, claimId);
    if (worksheet === undefined || document.visibilityState === 'hidden') return;
    const now = serverNow();
    if (wantsRenewal(worksheet, { now, workedAt }) && now - triedAt >= PAUSE_MS) {
      triedAt = now;
      void renew(station, claimId);
    }
    const isLittle = Date.parse(worksheet.expiresAt) - now < WARN_MS;
    if (!isLittle || warnedFor === worksheet.expiresAt) return;
    warnedFor = worksheet.expiresAt;
    say(t('lease.two-minutes', { number: worksheet.claim.carNumber }), 'urgent');
  };
  for (const kind of WORK) addEventListener(kind, worked);
  const timer = setInterval(look, LOOK_MS);
  return () => {
    clearInterval(timer);
    for (const kind of WORK) removeEventListener(kind, worked);
  };
}

const { t } = text;

/** The server's clock is known to about a second. */
const SLACK_MS = 2000;

/** Whether a lease is to be renewed now: half of it is over, and somebody has worked since it began. */
export function wantsRenewal(
  { expiresAt, leaseMinutes }: Pick<Worksheet, 'expiresAt' | 'leaseMinutes'>,
  { now, workedAt }: { now: number; workedAt: number },
): boolean {
  const lengthMs = leaseMinutes * 60_000;
  const endMs = Date.parse(expiresAt);
  return now >= endMs - lengthMs / 2 && workedAt > endMs - lengthMs - SLACK_MS;
}

/** Takes a car. @returns its claim, or undefined when nobody waits */
export async function claim(station: Station, body: ClaimTicketInput): Promise<Done<string | undefined>> {
  const { eventId } = station.event;
  const { token } = station.session;
  const done = await ask(station, () => call(claimTicket, { params: { eventId }, body }, { token }));
  if (!done.ok) return done;
  if (done.value.status === 204) return { ok: true, value: undefined };
  await open(station, done.value.body);
  return { ok: true, value: done.value.body.claimId };
}

/** Opens a claim of one's own that another device, or another browser, made with the same access. */
export async function takeUp(station: Station, claimId: string): Promise<Done<string>> {
  if (worksheetOf(station, claimId) !== undefined) return { ok: true, value: claimId };
  const done = await ask(station, () => call(getClaim, { params: { claimId } }, { token: station.session.token }));
  if (!done.ok) return done;
  await open(station, done.value.body);
  return { ok: true, value: claimId };
}

function carAndDriver({ people, entrant, vehicle }: EntryView): Pick<Worksheet, 'driver' | 'colour'> {
  const colour = vehicle['colour'];
  return {
    driver: people.find((person) => person.role === 'driver')?.name ?? entrant.name,
    colour: typeof colour === 'string' ? colour : undefined,
  };
}

async function open(station: Station, view: ClaimView): Promise<void> {
  const { claimId, entryId, inspectionId } = view;
  const { token } = station.session;
  const [entry, limits] = await Promise.all([
    ask(station, () => call(getEntry, { params: { entryId } }, { token })),
    ask(station, () => call(getClaimLimits, { params: { claimId } }, { token })),
  ]);
  const ticket = station.line.value.view?.tickets.find((one) => one.ticketId === view.ticketId);
  const before = station.worksheets.value.find(
    (one) => one.claim.inspectionId === inspectionId && one.outcome === undefined,
  );
  const about = {
    holder: station.session.holder,
    eventId: station.event.eventId,
    limits: limits.ok ? limits.value.body.limits : undefined,
    ...(entry.ok && carAndDriver(entry.value.body)),
    firstSessionAt: ticket?.firstSessionAt,
  };
  await putWorksheet(station, newWorksheet(view, about, before));
  // The new one has all of it and is on the disk.
  if (before !== undefined && before.claimId !== view.claimId) await dropWorksheet(station, before.claimId);
  void readLine(station);
}

/** Starts the lease anew. A claim that is over is marked so; what was entered stays. */
export async function renew(station: Station, claimId: string): Promise<Done> {
  const done = await ask(station, () => call(renewClaim, { params: { claimId } }, { token: station.session.token }));
  if (done.ok) {
    const { expiresAt, leaseMinutes } = done.value.body;
    await changeWorksheet(station, claimId, (worksheet) => ({
      ...worksheet,
      expiresAt,
      leaseMinutes,
      ended: undefined,
    }));
    return { ok: true, value: undefined };
  }
  if (done.why.kind === 'problem') await markEnded(station, claimId, endOf(done.why.error.problem));
  return done;
}

export async function markEnded(station: Station, claimId: string, ended: Worksheet['ended']): Promise<void> {
  if (ended === undefined) return;
  await changeWorksheet(station, claimId, (worksheet) =>
    worksheet.outcome === undefined ? { ...worksheet, ended } : worksheet,
  );
}

/**
 * Gives the car back: it keeps its place, or lets others go first where it is not there. What was entered goes on when this
 * person takes the car again.
 */
export async function putBack(station: Station, claimId: string, { notHere = false } = {}): Promise<Done> {
  const query = notHere ? { notHere: 'true' as const } : {};
  const { token } = station.session;
  const done = await ask(station, () => call(putBackClaim, { params: { claimId }, query }, { token }));
  void readLine(station);
  if (done.ok) {
    await putAside(station, claimId);
    return { ok: true, value: undefined };
  }
  if (done.why.kind === 'problem') await markEnded(station, claimId, endOf(done.why.error.problem));
  return done;
}

/**
 * Takes a car from whoever has it: it keeps its place, and what was entered stays on that device.
 *
 * @returns whether the claim is over, also where it was already
 */
export async function release(station: Station, claimId: string): Promise<Done> {
  const done = await ask(station, () => call(putBackClaim, { params: { claimId } }, { token: station.session.token }));
  void readLine(station);
  const isOver = !done.ok && done.why.kind === 'problem' && done.why.error.problem.code === 'state-moved-on';
  return done.ok || isOver ? { ok: true, value: undefined } : done;
}

/** Puts a car that was through the line on it again. @returns its place */
export async function sendBack(station: Station, entryId: string, reason: string): Promise<Done<number>> {
  const done = await ask(station, () =>
    call(backToLine, { params: { entryId }, body: { reason } }, { token: station.session.token }),
  );
  void readLine(station);
  return done.ok ? { ok: true, value: done.value.body.place } : done;
}

/**
 * What can be done about a car that could not be had, by the refusal of its claim; undefined where nothing can, or not by
 * this person.
 */
export function offerIn(
  { session }: Station,
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

const isEmpty = ({ places, conditions, note, sticker }: Worksheet): boolean =>
  Object.keys(places).length + conditions.length === 0 && note === '' && sticker === '';

async function putAside(station: Station, claimId: string): Promise<void> {
  const worksheet = worksheetOf(station, claimId);
  if (worksheet === undefined || isEmpty(worksheet)) await dropWorksheet(station, claimId);
  else await changeWorksheet(station, claimId, (one) => ({ ...one, ended: { state: 'put-back', detail: '' } }));
}
