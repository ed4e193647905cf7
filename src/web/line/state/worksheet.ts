import type { DBSchema } from 'idb';
import type { ConditionKind } from '../../../domain/log/condition-due.ts';
import type { ClaimLimits, ClaimView, SignOffInput, SignOffView } from '../../api/operations.ts';
import { defineStore } from '../../shared/device-store.ts';

interface Schema extends DBSchema {
  drafts: { key: string; value: Worksheet };
  kept: { key: string; value: unknown };
}

const store = defineStore<Schema>('gridworthy-line', (db) => {
  db.createObjectStore('drafts', { keyPath: 'claimId' });
  db.createObjectStore('kept');
});

/** @throws on a device that keeps nothing: the page cannot work there */
export async function listWorksheets(): Promise<Worksheet[]> {
  return store.must((db) => db.getAll('drafts'));
}

/** Where the device cannot keep it the page goes on with what it has in memory, and says so. */
export async function writeWorksheet(worksheet: Worksheet): Promise<void> {
  await store.write((db) => db.put('drafts', worksheet));
}

export async function deleteWorksheet(claimId: string): Promise<void> {
  await store.write((db) => db.delete('drafts', claimId));
}

/** What the server said last, so that the page has it without a network too. */
export async function keep(name: string, value: unknown): Promise<void> {
  await store.write((db) => db.put('kept', value, name));
}

/** What `keep` kept under a name; the caller knows what it put there. */
export async function kept<T>(name: string): Promise<T | undefined> {
  return store.read(undefined, async (db) => (await db.get('kept', name)) as T | undefined);
}

/** What the inspector says of a point without a measurement. */
export type Mark = 'ok' | 'not-ok' | 'not-applicable';
export const MARKS: readonly Mark[] = ['ok', 'not-ok', 'not-applicable'];

/** What was entered at one place: texts as typed, by part (`value` where the answer has no parts). */
export interface PlaceEntry {
  mark?: Mark | undefined;
  typed?: Readonly<Record<string, string>> | undefined;
  /** what it was read with: an instrument of the event, `*` for another one with what was typed of it; absent: the usual */
  readWith?: { name: string; own?: string | undefined; uncertainty?: string | undefined } | undefined;
  note?: string | undefined;
}

export interface ConditionEntry {
  id: string;
  text: string;
  /** what it was chosen as; absent: kept before that was told */
  kind?: ConditionKind | undefined;
  /** `none`: without a time, the gate does not hold the car by itself; `first-session`: the group's next one */
  due: 'none' | 'first-session' | 'session-after' | 'end-of-day' | 'time';
  /** the instant of all but `none` and `time`, as it was when it was chosen */
  at?: string | undefined;
  /** with `time`: as a `datetime-local` field has it, on the clock of the device */
  time?: string;
}

export type Decision = SignOffInput['decision'];
export type Point = ClaimView['pointsToCheck'][number];

/** What the server refused, kept until something is changed. */
export interface Rejection {
  code: string;
  detail: string;
  errors: readonly { pointer: string; detail: string }[];
  standing: readonly Standing[];
}

/** A rule or a point that stands in the way, as the server names it. */
export interface Standing {
  ruleId?: string;
  title?: string;
  message?: string;
  items?: readonly string[];
  item?: string;
  position?: string;
}

/** Everything about one car that an inspector has, or had, in hand. It outlives the browser. */
export interface Worksheet {
  claimId: string;
  /** the person: another one on this device does not see it */
  holder: string;
  eventId: string;
  /** findings that count for nothing are left out */
  claim: ClaimView;
  /** what the rules ask, as sentences in the language of the page; absent where it could not be read */
  limits?: ClaimLimits['limits'] | undefined;
  driver?: string | undefined;
  colour?: string | undefined;
  firstSessionAt?: string | undefined;
  /** end of the lease, by the server's clock */
  expiresAt: string;
  leaseMinutes: number;
  places: Readonly<Record<string, PlaceEntry>>;
  conditions: readonly ConditionEntry[];
  note: string;
  /** as typed, or as it was when the car was decided on */
  sticker: string;
  /** somebody typed there, so that the roll of this device does not fill it in */
  ownSticker?: boolean | undefined;
  decision?: Decision | undefined;
  refusal?: Rejection | undefined;
  /** the claim is over otherwise than by this sign-off */
  ended?: { state: string; by?: string | undefined; detail: string } | undefined;
  /** the server's answer to the sign-off: nothing else makes a car accepted */
  outcome?: SignOffView | undefined;
}

/** Name of a place on the car, for the page. */
export const cellOf = ({ item, position }: { item: string; position?: string | undefined }): string =>
  position === undefined ? item : `${item}@${position}`;

/** A new worksheet for a claim; what was entered for the same declaration before goes on. */
export function newWorksheet(
  claim: ClaimView,
  about: Pick<Worksheet, 'holder' | 'eventId' | 'limits' | 'driver' | 'colour' | 'firstSessionAt'>,
  before: Worksheet | undefined,
): Worksheet {
  return {
    ...about,
    claimId: claim.claimId,
    claim: { ...claim, findings: claim.findings.filter((finding) => finding.counts !== 'no') },
    expiresAt: claim.expiresAt,
    leaseMinutes: claim.leaseMinutes,
    places: before?.places ?? {},
    conditions: before?.conditions ?? [],
    note: before?.note ?? '',
    sticker: before?.sticker ?? '',
    ownSticker: before?.ownSticker,
  };
}

/** The same worksheet with one place changed. An earlier refusal is out of date then. */
export function withPlace(worksheet: Worksheet, cell: string, change: PlaceEntry): Worksheet {
  const places = { ...worksheet.places, [cell]: { ...worksheet.places[cell], ...change } };
  return { ...worksheet, places, refusal: undefined };
}

/**
 * The same with what places were read with. One gauge goes round the car: places of the same thing that said the same as this one
 * follow it, a place with another one keeps that.
 */
export function withReadWith(
  worksheet: Worksheet,
  cells: readonly string[],
  cell: string,
  readWith: PlaceEntry['readWith'],
): Worksheet {
  const saidAt = (one: string): string => JSON.stringify(worksheet.places[one]?.readWith ?? null);
  const before = saidAt(cell);
  return cells
    .filter((one) => one === cell || saidAt(one) === before)
    .reduce((sheet, one) => withPlace(sheet, one, { readWith }), worksheet);
}

/** Whether anything was typed at a place. */
export const isTyped = (entry: PlaceEntry | undefined): boolean =>
  Object.values(entry?.typed ?? {}).some((text) => text.trim() !== '');

/** Whether a place was looked at: measured, or seen and applicable. */
export const isLookedAt = (entry: PlaceEntry | undefined): boolean =>
  isTyped(entry) || entry?.mark === 'ok' || entry?.mark === 'not-ok';
