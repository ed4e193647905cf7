import { type ClientRequest, get, type IncomingMessage } from 'node:http';
import type { AddressInfo } from 'node:net';
import { HISTORY_CHANNEL } from '../../src/records/history/history.ts';
import type { TestApp } from './app.ts';

export interface StreamMessage {
  id: string;
  event: string;
  data: Record<string, unknown>;
}

/** A reader of server-sent events, made from the HTML standard (section 9.2.6) and not from what the server writes. */
export interface EventReader {
  status: number;
  headers: IncomingMessage['headers'];
  messages: StreamMessage[];
  comments: number;
  /** the id to resume from: it changes when a message is complete, not before */
  lastId: string;
  retryMs: number | undefined;
  /** whole body where the answer is no stream */
  text: string;
  ended: boolean;
  /** cuts the connection */
  cut(): void;
  /** called after each chunk that arrived */
  onChunk?: (bytes: number) => void;
  response: IncomingMessage;
}

/** Opens a stream on a connection of its own. */
export function openReader(
  t: TestApp,
  path: string,
  options: { token?: string; lastId?: string | undefined; onMessage?(message: StreamMessage): void },
): Promise<EventReader> {
  const { port } = t.app.server.address() as AddressInfo;
  const headers = {
    ...(options.token === undefined ? {} : { authorization: `Bearer ${options.token}` }),
    ...(options.lastId === undefined ? {} : { 'last-event-id': options.lastId }),
  };
  return new Promise((resolve, reject) => {
    const request = get({ host: '127.0.0.1', port, path, headers, agent: false }, (response) =>
      resolve(read(request, response, options)),
    );
    request.once('error', reject);
  });
}

function read(
  request: ClientRequest,
  response: IncomingMessage,
  { lastId = '', onMessage }: { lastId?: string | undefined; onMessage?(message: StreamMessage): void },
): EventReader {
  const reader: EventReader = {
    status: response.statusCode ?? 0,
    headers: response.headers,
    messages: [],
    comments: 0,
    lastId,
    retryMs: undefined,
    text: '',
    ended: false,
    cut: () => response.destroy(),
    response,
  };
  const isStream = String(response.headers['content-type']).startsWith('text/event-stream');
  const parse = lineParser(reader, onMessage);
  response.setEncoding('utf8');
  response.on('data', (chunk: string) => {
    if (isStream) parse(chunk);
    else reader.text += chunk;
    reader.onChunk?.(chunk.length);
  });
  const end = () => {
    reader.ended = true;
  };
  // Also when it was cut, which is an error for the client.
  response.on('error', end);
  response.on('close', end);
  request.on('error', end);
  return reader;
}

function lineParser(reader: EventReader, onMessage?: (message: StreamMessage) => void): (chunk: string) => void {
  let rest = '';
  let pending = fresh(reader);
  const field = (name: string, value: string) => {
    if (name === 'id') pending.id = value;
    else if (name === 'event') pending.event = value;
    else if (name === 'data') pending.data.push(value);
    else if (name === 'retry' && /^\d+$/.test(value)) reader.retryMs = Number(value);
  };
  const dispatch = () => {
    reader.lastId = pending.id;
    const { id, event, data } = pending;
    pending = fresh(reader);
    if (data.length === 0) return;
    const message = { id, event: event || 'message', data: JSON.parse(data.join('\n')) as Record<string, unknown> };
    reader.messages.push(message);
    onMessage?.(message);
  };
  return (chunk) => {
    const lines = (rest + chunk).split(/\r\n|\r|\n/);
    rest = lines.pop() ?? '';
    for (const line of lines) {
      const colon = line.indexOf(':');
      if (line === '') dispatch();
      else if (colon === 0) reader.comments += 1;
      else if (colon === -1) field(line, '');
      else field(line.slice(0, colon), line.slice(colon + 1).replace(/^ /, ''));
    }
  };
}

function fresh({ lastId }: EventReader): { id: string; event: string; data: string[] } {
  return { id: lastId, event: '', data: [] };
}

/** Appends rows in bulk, past `recordEntryHistory`: for tests of how many there are. */
export async function fillHistory(
  t: TestApp,
  { eventId }: { eventId: string },
  { entryId }: { entryId: string },
  rows: number,
  { announced = true } = {},
): Promise<void> {
  const { pool } = t.deps.db;
  await pool.query(
    `INSERT INTO history (id, entry_id, seq, action, actor_id, actor_role, actor_name, at, data, prev_hash, hash, event_id)
     SELECT gen_random_uuid(), $2, 1000 + last.seq + i, 'test.written', gen_random_uuid(), 'marshal', 'Test', now(), '{}',
            '', encode(sha256(i::text::bytea), 'hex'), $1
     FROM (SELECT max(seq) AS seq FROM history WHERE entry_id = $2) last, generate_series(1, $3) i`,
    [eventId, entryId, rows],
  );
  if (announced) await pool.query('SELECT pg_notify($1, $2)', [HISTORY_CHANNEL, eventId]);
}
