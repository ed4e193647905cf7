import type { Sent } from './build-request.ts';
import type { Answer } from './checks.ts';
import { parseJson } from './checks.ts';
import type { Send } from './fuzz.ts';

/** A fault put on purpose around the application, as a careless change would make it: one place, one case. */
export interface SeededFault {
  name: string;
  /** the kind of finding that must report it, and the operation it is in; absent: any */
  finds: { kind: string; operation?: string };
  around(send: Send, masterToken: string): Send;
}

const at = ({ method, operation }: Sent, place: string) => `${method} ${operation.path}` === place;

/** Changes the answers of one operation. */
const answers =
  (place: string, change: (answer: Answer) => Answer): SeededFault['around'] =>
  (send) =>
  async (sent) => {
    const answer = await send(sent);
    return at(sent, place) ? change(answer) : answer;
  };

/** Changes the requests of one operation before the application sees them. */
const requests =
  (place: string, change: (sent: Sent, masterToken: string) => Sent): SeededFault['around'] =>
  (send, masterToken) =>
  (sent) =>
    send(at(sent, place) ? change(sent, masterToken) : sent);

/** Changes a JSON body; other bodies stay. */
function withBody(answer: Answer, change: (body: Record<string, unknown>) => unknown): Answer {
  const body = parseJson(answer.text);
  if (typeof body !== 'object' || body === null) return answer;
  return { ...answer, text: JSON.stringify(change({ ...body })) };
}

const without = (key: string) => (body: Record<string, unknown>) => {
  delete body[key];
  return body;
};

const asMaster = (sent: Sent, token: string): Sent => ({
  ...sent,
  headers: { ...sent.headers, authorization: `Bearer ${token}` },
});

function failed(answer: Answer): Answer {
  const body = { title: 'x', status: 500, detail: 'x', instance: 'x', code: 'internal-error', requestId: 'x' };
  const text = JSON.stringify({ type: '/problems/internal-error', ...body });
  return { ...answer, status: 500, headers: { ...answer.headers, 'content-type': 'application/problem+json' }, text };
}

/** A schema that lets unknown keys through, as `z.object` does where `z.strictObject` was meant. */
function letThrough(sent: Sent): Sent {
  const body = parseJson(String(sent.payload));
  const known = sent.operation.bodies.get('application/json')?.example;
  if (typeof body !== 'object' || body === null || Array.isArray(body) || typeof known !== 'object') return sent;
  const kept = Object.entries(body).filter(([key]) => Object.hasOwn(known ?? {}, key));
  return { ...sent, payload: JSON.stringify(Object.fromEntries(kept)) };
}

const STACK = 'TypeError: x is undefined\n    at createEvent (/app/src/features/events/create.ts:31:9)';

export const SEEDED_FAULTS: readonly SeededFault[] = [
  {
    name: 'a 500 on text that is written from right to left',
    finds: { kind: '5xx' },
    around: (send) => async (sent) => {
      const answer = await send(sent);
      const isRead = ![401, 403, 404, 413, 415].includes(answer.status);
      return isRead && String(sent.payload).includes('\u202e') ? failed(answer) : answer;
    },
  },
  {
    name: 'a status that the document does not name',
    finds: { kind: 'undeclared status', operation: 'GET /v1/venues/{venueId}' },
    around: answers('GET /v1/venues/{venueId}', (answer) =>
      answer.status === 404 ? withBody({ ...answer, status: 410 }, (body) => ({ ...body, status: 410 })) : answer,
    ),
  },
  {
    name: 'a field that is missing in an answer',
    finds: { kind: 'schema', operation: 'GET /v1/events/{eventId}' },
    around: answers('GET /v1/events/{eventId}', (answer) =>
      answer.status === 200 ? withBody(answer, without('venueId')) : answer,
    ),
  },
  {
    name: 'unknown keys that are let through',
    finds: { kind: 'accepted', operation: 'POST /v1/venues' },
    around: requests('POST /v1/venues', letThrough),
  },
  {
    name: 'a stack trace in a body',
    finds: { kind: 'leak', operation: 'POST /v1/events' },
    around: answers('POST /v1/events', (answer) =>
      answer.status === 400 || answer.status === 422
        ? withBody(answer, (body) => ({ ...body, detail: STACK }))
        : answer,
    ),
  },
  {
    name: 'a problem without a type',
    finds: { kind: 'schema' },
    around: (send) => async (sent) => {
      const answer = await send(sent);
      return answer.status === 412 ? withBody(answer, without('type')) : answer;
    },
  },
  {
    name: 'a wrong content type',
    finds: { kind: 'content type', operation: 'GET /v1/rule-sets/{ruleSetId}/versions' },
    around: answers('GET /v1/rule-sets/{ruleSetId}/versions', (answer) =>
      answer.status === 200 ? { ...answer, headers: { ...answer.headers, 'content-type': 'text/html' } } : answer,
    ),
  },
  {
    name: 'an operation that does not check the role',
    finds: { kind: 'access', operation: 'GET /v1/tokens' },
    around: requests('GET /v1/tokens', (sent, token) =>
      sent.caller.role === undefined ? sent : asMaster(sent, token),
    ),
  },
  {
    name: "a 200 for another entrant's entry",
    finds: { kind: 'other tenant', operation: 'GET /v1/entries/{entryId}/form' },
    around: requests('GET /v1/entries/{entryId}/form', (sent, token) =>
      sent.caller.role === 'entrant' ? asMaster(sent, token) : sent,
    ),
  },
  {
    name: 'a cell that starts with an equals sign',
    finds: { kind: 'formula', operation: 'GET /v1/events/{eventId}/entries/export' },
    around: answers('GET /v1/events/{eventId}/entries/export', (answer) => ({
      ...answer,
      text: answer.text.replaceAll("'=", '='),
    })),
  },
];
