import { computed, type ReadonlySignal } from '@preact/signals';
import { v7 as newId } from 'uuid';
import { ApiProblem, call, isTransient } from '../api/call.ts';
import {
  type GateAnswer,
  type HoldView,
  lookUpCar,
  placeHold,
  type PlaceHoldInput,
  withdrawEntry,
} from '../api/operations.ts';
import { keepUnsent, type Refused, type Sending, type Settled, type Unsent } from './outbox.ts';
import { openQueue } from './waiting-queue.ts';
import { words } from './text.ts';

/** Why a car is stopped, in the order of how often. */
export const KINDS = ['contact', 'leak', 'smoke', 'noise', 'driving', 'papers', 'other'] as const;
export type StopKind = (typeof KINDS)[number] & NonNullable<PlaceHoldInput['kind']>;

/** A car that was stopped on this device, and of which the server does not know yet. */
export interface Stop {
  /** its Idempotency-Key */
  key: string;
  /** a withdrawal takes the entry out for good */
  what: 'hold' | 'withdrawal';
  eventId: string;
  carNumber: string;
  /** absent: every entry of the number */
  entryId: string | undefined;
  reason: string;
  /** why the server does not take it: nobody else knows of it, and it is for people to go on */
  refused: string | undefined;
}

export interface StopOrder {
  eventId: string;
  carNumber: string;
  /** absent: whatever is entered under the number when the server hears of it */
  entryId?: string | undefined;
  hold: Pick<PlaceHoldInput, 'kind' | 'reason' | 'about' | 'personId'>;
}

/** What came of the first try to tell the server; a refusal with the server's own words where there are some. */
export type SendResult = 'sent' | 'kept' | (Refused & { problem?: ApiProblem | undefined });

export interface Stopping {
  stop: Stop;
  sent: Promise<SendResult>;
}

export interface Stops {
  /** of which the server does not know, oldest first */
  waiting: ReadonlySignal<readonly Stop[]>;
  /** Stops a car: it is in `waiting` when this returns, and on its way to the disk and to the server. */
  hold(order: StopOrder): Stopping;
  withdraw(entry: Required<About>, reason: string | undefined): Stopping;
  /** again and again, until the signal */
  keepSending(signal: AbortSignal): void;
  /** a person has read why it was refused */
  forget(key: string): Promise<void>;
}

interface Options {
  /** of the outbox; each page has its own */
  queue: string;
  token: string;
  /** What the gate says of a number that was stopped as a whole, before the stop leaves the device. */
  heard?(answer: GateAnswer): Promise<void>;
  /** the server knows this device's access no longer */
  locked?(): void;
}

/** The cars that were stopped on this device, kept until the server knows. */
export async function openStops(options: Options): Promise<Stops> {
  const { queue, token } = options;
  const problems = new Map<string, ApiProblem>();
  const sending: Sending = {
    token,
    complete: (item) => completed(item, token),
    settled: (item, answer) => {
      if (!answer.ok) problems.set(item.key, answer.problem);
      return settle(item, answer, options);
    },
  };
  const unsent = openQueue(queue, () => sending);
  const waiting = computed(() => unsent.items.value.map(stopOf));
  const resultOf = (key: string): SendResult => {
    const still = waiting.value.find((one) => one.key === key);
    if (still === undefined) return 'sent';
    return still.refused === undefined ? 'kept' : { refused: still.refused, problem: problems.get(key) };
  };
  // On the screen before anything else.
  const begin = (item: Unsent): Stopping => {
    const tried = unsent.put([item]);
    return { stop: stopOf(item), sent: tried.then(() => resultOf(item.key)) };
  };
  await unsent.reread();
  return {
    waiting,
    hold: (order) => begin(holdItem(queue, order)),
    withdraw: (entry, reason) => begin(withdrawalItem(queue, entry, reason)),
    keepSending: unsent.keepSending,
    forget: unsent.forget,
  };
}

/**
 * For a form that shows what the server refuses: what is refused at the first try is not kept.
 *
 * @throws ApiProblem, Error with the reason
 */
export async function sentOrThrow(stops: Stops, { stop, sent }: Stopping): Promise<'sent' | 'kept'> {
  const result = await sent;
  if (typeof result === 'string') return result;
  await stops.forget(stop.key);
  throw result.problem ?? new Error(result.refused);
}

function holdItem(queue: string, { eventId, carNumber, entryId, hold }: StopOrder): Unsent {
  const key = newId();
  return {
    key,
    queue,
    about: aboutOf({ eventId, carNumber, entryId }),
    operation: { method: placeHold.method, path: placeHold.path },
    input: {
      ...(entryId === undefined ? {} : { params: { entryId } }),
      headers: { 'idempotency-key': key },
      body: hold,
    },
    queuedAt: Date.now(),
    attempts: 0,
  };
}

function withdrawalItem(queue: string, entry: Required<About>, reason: string | undefined): Unsent {
  const key = newId();
  return {
    key,
    queue,
    about: aboutOf(entry),
    operation: { method: withdrawEntry.method, path: withdrawEntry.path },
    input: {
      params: { entryId: entry.entryId },
      headers: { 'idempotency-key': key },
      body: reason === undefined ? {} : { reason },
    },
    queuedAt: Date.now(),
    attempts: 0,
  };
}

interface About {
  eventId: string;
  carNumber: string;
  entryId?: string | undefined;
}

// Neither ids nor numbers have spaces.
const aboutOf = ({ eventId, carNumber, entryId }: About): string =>
  [eventId, carNumber, ...(entryId === undefined ? [] : [entryId])].join(' ');

function readAbout(about: string): About & Pick<Stop, 'entryId'> {
  const [eventId = '', carNumber = '', entryId] = about.split(' ');
  return { eventId, carNumber, entryId };
}

function stopOf({ key, about, operation, input, refused }: Unsent): Stop {
  const { reason = '' } = input.body as { reason?: string };
  const what = operation.path === withdrawEntry.path ? 'withdrawal' : 'hold';
  return { key, what, ...readAbout(about), reason, refused };
}

async function lookUp({ about }: Unsent, token: string): Promise<GateAnswer> {
  const { eventId, carNumber } = readAbout(about);
  return (await call(lookUpCar, { params: { eventId, carNumber }, query: {} }, { token })).body;
}

/** A hold is placed at an entry: which one is looked up when there is a connection. */
async function completed(item: Unsent, token: string): Promise<Unsent | Refused> {
  if (item.input.params !== undefined) return item;
  const { carNumber, entries } = await lookUp(item, token);
  const entry = entries.find(({ status }) => status !== 'withdrawn') ?? entries[0];
  if (entry === undefined) return { refused: words.t('stops.unknown', { number: carNumber }) };
  return { ...item, input: { ...item.input, params: { entryId: entry.entryId } } };
}

async function settle(item: Unsent, answer: Settled, options: Options): Promise<'done' | 'again' | Refused> {
  if (!answer.ok) return refusal(item, answer.problem, options);
  if (readAbout(item.about).entryId !== undefined) return 'done';
  try {
    const said = await lookUp(item, options.token);
    await holdOthers(item, answer.reply.body as HoldView, said);
    await options.heard?.(said);
    return 'done';
  } catch (error) {
    // The hold stands. Sent again it is the same one, and the rest is done then.
    return isTransient(error) || !(error instanceof ApiProblem) ? 'again' : 'done';
  }
}

function refusal(
  { operation }: Unsent,
  { status, problem }: ApiProblem,
  { locked }: Options,
): 'done' | 'again' | Refused {
  if (status === 401) locked?.();
  // Access may be given anew: until then the stop stays, and stays told to nobody.
  if (status === 401 || status === 403) return 'again';
  // Somebody else withdrew it meanwhile, which is what was wanted here.
  if (operation.path === withdrawEntry.path && problem.currentState === 'withdrawn') return 'done';
  return { refused: problem.detail };
}

/** A number that two cars run under: whoever stopped it by its number meant the one before him, so both stop. */
async function holdOthers(item: Unsent, { entryId, alsoStopped }: HoldView, { entries }: GateAnswer): Promise<void> {
  const stopped = new Set([entryId, ...alsoStopped.map((other) => other.entryId)]);
  for (const other of entries) {
    if (stopped.has(other.entryId) || other.status === 'withdrawn') continue;
    // The same name each time, so that a repeat is the same hold.
    const key = `${item.key}-${other.entryId}`;
    const { eventId, carNumber } = readAbout(item.about);
    const input = { ...item.input, params: { entryId: other.entryId }, headers: { 'idempotency-key': key } };
    await keepUnsent({ ...item, key, about: aboutOf({ eventId, carNumber, entryId: other.entryId }), input });
  }
}
