import { addressOf, ApiProblem, problemIn, Unreachable } from '../api/call.ts';
import { streamEvent } from '../api/operations.ts';

/** A change of one entry, as the stream tells it: what to read again, and nobody's name. */
export interface LiveChange {
  eventId: string;
  entryId: string;
  carNumber: string;
  /** as in the history, for example `entry.signed-off` */
  action: string;
  at: string;
  /** what the gate says now */
  status: string;
}

export interface LiveOptions {
  eventId: string;
  token: string;
  /** ends it */
  signal: AbortSignal;
  changed(change: LiveChange): void;
  /** changes may have been missed: read everything again; also called once at the start */
  missed(): void;
  /** whether the stream is open; without it the page reads every few seconds */
  connected?(open: boolean): void;
}

const FIRST_PAUSE_MS = 1000;
const LONGEST_PAUSE_MS = 30_000;
/** The server says something every 15 seconds; a line that is silent for longer is dead. */
const SILENCE_MS = 40_000;
/** A stream that lived this long was a good one: the next try need not wait. */
const GOOD_MS = 10_000;

/**
 * Follows the live stream of an event until the signal: connects again by itself, each time a little later, and goes on
 * where it was. Returns at once. It stops for good when the server refuses the token or does not know the event.
 */
export function followLive(options: LiveOptions): void {
  void follow(options);
}

async function follow({ eventId, token, signal, changed, missed, connected }: LiveOptions): Promise<void> {
  let lastId: string | undefined;
  let pauseMs = FIRST_PAUSE_MS;
  const told = (message: SseMessage): void => {
    lastId = message.lastId === '' ? lastId : message.lastId;
    if (message.event === 'entry-changed') changed(JSON.parse(message.data) as LiveChange);
    // A car may be in several entries, and the event is about all of them.
    else if (['hello', 'reset', 'car-changed', 'event-changed'].includes(message.event)) missed();
  };
  while (!signal.aborted) {
    const startedAt = performance.now();
    try {
      await readOnce({ eventId, token, lastId, signal }, told, () => connected?.(true));
    } catch (error) {
      if (error instanceof ApiProblem && [401, 403, 404].includes(error.status)) break;
    }
    connected?.(false);
    if (performance.now() - startedAt > GOOD_MS) pauseMs = FIRST_PAUSE_MS;
    await waitOrOnline(pauseMs, signal);
    pauseMs = Math.min(pauseMs * 2, LONGEST_PAUSE_MS);
  }
  connected?.(false);
}

/** Returns when the connection ends or has been silent for too long. */
async function readOnce(
  wanted: { eventId: string; token: string; lastId: string | undefined; signal: AbortSignal },
  told: (message: SseMessage) => void,
  opened: () => void,
): Promise<void> {
  const silent = new AbortController();
  const watch = () => setTimeout(() => silent.abort(), SILENCE_MS);
  let timer = watch();
  try {
    const stream = await openEventStream({ ...wanted, signal: AbortSignal.any([wanted.signal, silent.signal]) });
    opened();
    const parse = sseParser();
    const reader = stream.getReader();
    for (let piece = await reader.read(); !piece.done; piece = await reader.read()) {
      clearTimeout(timer);
      timer = watch();
      parse(piece.value).forEach(told);
    }
  } finally {
    clearTimeout(timer);
  }
}

/** A while, or until the device says that it has a network again. */
function waitOrOnline(milliseconds: number, signal: AbortSignal): Promise<void> {
  return new Promise((resolve) => {
    const timer = setTimeout(done, milliseconds);
    function done() {
      clearTimeout(timer);
      removeEventListener('online', done);
      signal.removeEventListener('abort', done);
      resolve();
    }
    addEventListener('online', done);
    signal.addEventListener('abort', done);
  });
}

/** One message of an event stream. */
interface SseMessage {
  event: string;
  data: string;
  /** id of the last message that had one, this one included; empty when there was none */
  lastId: string;
}

/**
 * Reads a stream of server-sent events piece by piece, wherever the pieces are cut (HTML standard, section 9.2.6).
 *
 * @returns a function that takes the next piece of text and gives the messages that are complete with it
 */
export function sseParser(): (piece: string) => SseMessage[] {
  let rest = '';
  let lastId = '';
  let event = '';
  let data: string[] = [];
  const take = (line: string): SseMessage | undefined => {
    if (line === '') {
      const message = { event: event === '' ? 'message' : event, data: data.join('\n'), lastId };
      const isEmpty = data.length === 0;
      event = '';
      data = [];
      return isEmpty ? undefined : message;
    }
    const [, field = '', value = ''] = /^([^:]*)(?:: ?(.*))?$/su.exec(line) ?? [];
    if (field === 'data') data.push(value);
    else if (field === 'event') event = value;
    else if (field === 'id' && !value.includes('\0')) lastId = value;
    return undefined;
  };
  return (piece) => {
    // A carriage return at the end may be half of a line break.
    const lines = `${rest}${piece}`.split(/\r\n|\n|\r(?!$)/u);
    rest = lines.pop() ?? '';
    return lines.flatMap((line) => take(line) ?? []);
  };
}

interface StreamOptions {
  eventId: string;
  token: string;
  /** id of the last message that was seen */
  lastId: string | undefined;
  signal: AbortSignal;
}

/**
 * Opens the live stream of an event. Read with `fetch`, because `EventSource` cannot send the token in a header.
 *
 * @returns the text as it comes; it ends when the connection does
 * @throws ApiProblem when the server refuses
 * @throws Unreachable without an answer
 */
async function openEventStream(options: StreamOptions): Promise<ReadableStream<string>> {
  const { eventId, token, lastId, signal } = options;
  const headers = new Headers({ authorization: `Bearer ${token}`, accept: 'text/event-stream' });
  if (lastId !== undefined) headers.set('last-event-id', lastId);
  const address = addressOf(streamEvent.path, { eventId }, undefined);
  const response = await fetch(address, { headers, cache: 'no-store', credentials: 'omit', signal }).catch(
    (error: unknown) => {
      throw new Unreachable(error);
    },
  );
  if (!response.ok) throw new ApiProblem(await problemIn(response), response);
  if (response.body === null) throw new Unreachable(new Error('no body'));
  return response.body.pipeThrough(new TextDecoderStream());
}
