import { type Signal, signal } from '@preact/signals';
import { ApiProblem, call, isTransient } from '../../api/call.ts';
import { type EventView, getCatalogue, type LineView } from '../../api/operations.ts';
import { listUnsent, type Unsent } from '../../shared/outbox.ts';
import type { Session } from '../../shared/session.ts';
import { openStops, type Stops } from '../../shared/stops.ts';
import { noteServerTime } from '../format.ts';
import { deleteWorksheet, keep, kept, listWorksheets, type Worksheet, writeWorksheet } from './worksheet.ts';
import type { Items } from './points.ts';

/** The stickers of one inspector, on a roll: numbers that count up. */
interface Roll {
  /** as it is printed on the sticker that comes next */
  next: string;
}

const LONGEST = 12;

/** The number after this one: its last digits count up; what stands before and behind, and zeros in front, stay. */
export function numberAfter(number: string): string | undefined {
  const [, before, digits, behind] = /^(.*?)(\d+)(\D*)$/.exec(number.trim()) ?? [];
  if (before === undefined || digits === undefined || behind === undefined) return undefined;
  const next = String(BigInt(digits) + 1n).padStart(digits.length, '0');
  const whole = `${before}${next}${behind}`;
  return whole.length > LONGEST ? undefined : whole;
}

/** The worksheet with the next number of the roll where nobody typed another one. */
export function withSticker(worksheet: Worksheet, roll: Roll | undefined): Worksheet {
  if (worksheet.ownSticker === true || worksheet.sticker !== '' || roll === undefined) return worksheet;
  return { ...worksheet, sticker: roll.next };
}

const nameOf = ({ event }: Station): string => `roll:${event.eventId}`;

/** Sets the roll of this device, or takes it away. */
export function setRoll(station: Station, next: string | undefined): void {
  station.roll.value = next === undefined ? undefined : { next };
  void keep(nameOf(station), station.roll.value);
}

/** A sticker that is on a car, on another one, or damaged: the one after it comes next, if it was the next. */
export function passSticker(station: Station, used: string): void {
  if (station.roll.value?.next === used) setRoll(station, numberAfter(used));
}

export const QUEUE = 'line';

export interface LineState {
  view: LineView | undefined;
  /** the last try to read it failed: what is shown may be old */
  stale: boolean;
}

/** What all views of the page work with: one person, one event. */
export interface Station {
  session: Session;
  event: EventView;
  worksheets: Signal<readonly Worksheet[]>;
  unsent: Signal<readonly Unsent[]>;
  line: Signal<LineState>;
  live: Signal<boolean>;
  items: Signal<Items>;
  /** the server knows this device's access no longer; what was entered stays */
  locked: Signal<boolean>;
  /** cars that were stopped on this device, until the server knows */
  stops: Stops;
  /** what can be done about the car that could not be had */
  offer: Signal<Offer | undefined>;
  /** the roll of stickers at this device */
  roll: Signal<Roll | undefined>;
}

/** The way out of a refused claim. */
export type Offer =
  | { way: 'back'; entryId: string; carNumber: string }
  | { way: 'declare'; entryId: string; carNumber: string }
  | { way: 'release'; claimId: string; carNumber: string; holder: string };

/** What came of something that needs the server at once. */
export type Done<T = undefined> = { ok: true; value: T } | { ok: false; why: Why };
export type Why = { kind: 'offline' } | { kind: 'problem'; error: ApiProblem };

export async function openStation(session: Session, event: EventView): Promise<Station> {
  const unsent = await listUnsent(QUEUE);
  await forgetOld(unsent);
  const worksheets = (await listWorksheets()).filter(
    (one) => one.holder === session.holder && one.eventId === event.eventId,
  );
  const locked = signal(false);
  const stops = await openStops({
    queue: 'line-stops',
    token: session.token,
    locked: () => {
      locked.value = true;
    },
  });
  const station: Station = {
    session,
    event,
    worksheets: signal(worksheets),
    unsent: signal(unsent),
    line: signal({ view: await kept<LineView>(`line:${event.eventId}`), stale: true }),
    live: signal(false),
    items: signal((await keptItems()) ?? new Map()),
    locked,
    stops,
    offer: signal(undefined),
    roll: signal(await kept<Roll>(`roll:${event.eventId}`)),
  };
  void loadItems(station);
  return station;
}

/** As long as the server knows a key; names do not stay on a device for longer. */
const KEPT_MS = 14 * 24 * 3_600_000;

async function forgetOld(unsent: readonly Unsent[]): Promise<void> {
  for (const { claimId, expiresAt } of await listWorksheets()) {
    const isOld = Date.now() - Date.parse(expiresAt) > KEPT_MS;
    if (isOld && !unsent.some((item) => item.about === claimId)) await deleteWorksheet(claimId);
  }
}

interface KeptCatalogue {
  etag: string | undefined;
  items: Items;
}

const keptItems = async (): Promise<Items | undefined> => (await kept<KeptCatalogue>('catalogue'))?.items;

/** The catalogue as the server has it; what is kept serves until then. */
async function loadItems(station: Station): Promise<void> {
  const before = await kept<KeptCatalogue>('catalogue');
  const headers = before?.etag === undefined ? {} : { 'if-none-match': before.etag };
  const done = await ask(station, () => call(getCatalogue, { headers }, { token: station.session.token }));
  if (!done.ok || done.value.status === 304) return;
  const items = new Map(done.value.body.items.map((item) => [item.key, item]));
  station.items.value = items;
  await keep('catalogue', { etag: done.value.etag, items } satisfies KeptCatalogue);
}

/** Asks the server once; a refusal or a missing connection comes back as a value. */
export async function ask<T extends { date: Date | undefined }>(
  station: Station,
  send: () => Promise<T>,
): Promise<Done<T>> {
  try {
    const value = await send();
    noteServerTime(value.date);
    return { ok: true, value };
  } catch (error) {
    if (isTransient(error)) return { ok: false, why: { kind: 'offline' } };
    if (!(error instanceof ApiProblem)) throw error;
    if (error.status === 401) station.locked.value = true;
    return { ok: false, why: { kind: 'problem', error } };
  }
}

export const worksheetOf = (station: Station, claimId: string): Worksheet | undefined =>
  station.worksheets.value.find((worksheet) => worksheet.claimId === claimId);

/** Changes a worksheet on the screen at once and on the disk right after. */
export function changeWorksheet(
  station: Station,
  claimId: string,
  change: (worksheet: Worksheet) => Worksheet,
): Promise<void> {
  const before = worksheetOf(station, claimId);
  if (before === undefined) return Promise.resolve();
  return putWorksheet(station, change(before));
}

export function putWorksheet(station: Station, worksheet: Worksheet): Promise<void> {
  const others = station.worksheets.value.filter((one) => one.claimId !== worksheet.claimId);
  station.worksheets.value = [...others, worksheet];
  return writeWorksheet(worksheet);
}

export async function dropWorksheet(station: Station, claimId: string): Promise<void> {
  station.worksheets.value = station.worksheets.value.filter((one) => one.claimId !== claimId);
  await deleteWorksheet(claimId);
}

/** What a screen reader is to be told; the newest stands. */
export const polite = signal('');
export const urgent = signal('');

/** Says something that is not shown where the eye is. */
export function say(message: string, how: 'polite' | 'urgent' = 'polite'): void {
  const to = how === 'polite' ? polite : urgent;
  // The same words twice are told twice only when they were gone in between.
  to.value = '';
  setTimeout(() => {
    to.value = message;
  }, 50);
}
