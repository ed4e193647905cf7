import { randomBytes } from 'node:crypto';

/** What a hostile request is about. */
export interface HostileTargets {
  eventId: string;
  entryId: string;
}

/** A request of one caller, made to keep the server busy. Each is new every time. */
export interface HostileRequest {
  name: string;
  as: 'organizer' | 'entrant' | 'marshal';
  make(of: HostileTargets): {
    method: 'GET' | 'POST' | 'PUT' | 'PATCH';
    path: string;
    headers?: Record<string, string>;
    body?: string;
  };
}

const salt = () => randomBytes(4).toString('hex');
const JSON_TYPE = { 'content-type': 'application/json' };

const venue = (body: string) => ({ method: 'POST', path: '/v1/venues', headers: JSON_TYPE, body }) as const;
const named = (name: string) => venue(JSON.stringify({ name: `${salt()}${name}`, timeZone: 'Europe/Berlin' }));
const yaml = (body: string) =>
  ({ method: 'POST', path: '/v1/rule-set-checks', headers: { 'content-type': 'application/yaml' }, body }) as const;
const csv = (eventId: string, body: string) =>
  ({
    method: 'POST',
    path: `/v1/events/${eventId}/entries/import?dryRun=true`,
    headers: { 'content-type': 'text/csv' },
    body,
  }) as const;

const HEAD = 'carNumber,runGroup,entrantName,vehicle.description';

function manyParts(count: number): { headers: Record<string, string>; body: string } {
  const mark = salt();
  const part = `--${mark}\r\nContent-Disposition: form-data; name="x"\r\n\r\n1\r\n`;
  return {
    headers: { 'content-type': `multipart/form-data; boundary=${mark}` },
    body: `${part.repeat(count)}--${mark}--\r\n`,
  };
}

/** Nine levels of ten aliases each: a billion values, if they were all made. */
const aliases = () =>
  [
    `a0: &a0 [${salt()}]`,
    ...Array.from({ length: 9 }, (_, at) => `a${at + 1}: &a${at + 1} [${`*a${at},`.repeat(10)}]`),
  ].join('\n');

export const HOSTILE_REQUESTS: readonly HostileRequest[] = [
  {
    name: 'JSON of 64 kB, nested',
    as: 'organizer',
    make: () => venue(`{"a":${'['.repeat(30_000)}${']'.repeat(30_000)}}`),
  },
  { name: 'JSON number of 300 kB', as: 'organizer', make: () => venue(`{"name":1${'7'.repeat(300_000)}}`) },
  { name: '1e400 as JSON, 9,000 times', as: 'organizer', make: () => venue(`{"a":[${'1e400,'.repeat(9000)}1]}`) },
  { name: '480 kB of spaces as a name', as: 'organizer', make: () => named(' '.repeat(480_000)) },
  { name: '450 kB of combining marks as a name', as: 'organizer', make: () => named('\u0301'.repeat(225_000)) },
  { name: '450 kB of invisible characters as a name', as: 'organizer', make: () => named('\u200b'.repeat(150_000)) },
  { name: '450 kB of letters that normalize to 18 each', as: 'organizer', make: () => named('\ufdfa'.repeat(150_000)) },
  {
    name: '480 kB of an address',
    as: 'organizer',
    make: ({ eventId }) => ({
      method: 'POST',
      path: `/v1/events/${eventId}/entries`,
      headers: JSON_TYPE,
      body: JSON.stringify({
        carNumber: '5',
        runGroupId: eventId,
        entrant: { name: 'A', email: `${'a.'.repeat(240_000)}@` },
      }),
    }),
  },
  {
    name: '5,000 people without a name',
    as: 'organizer',
    make: ({ eventId }) => ({
      method: 'POST',
      path: `/v1/events/${eventId}/entries`,
      headers: JSON_TYPE,
      body: JSON.stringify({
        carNumber: '5',
        runGroupId: eventId,
        entrant: { name: 'A' },
        people: Array.from({ length: 4999 }, () => ({ role: salt() })),
      }),
    }),
  },
  {
    name: '1,999 answers that are none',
    as: 'entrant',
    make: ({ entryId }) => ({
      method: 'PUT',
      path: `/v1/entries/${entryId}/declaration`,
      headers: { ...JSON_TYPE, 'if-match': '*' },
      body: JSON.stringify({
        answers: Object.fromEntries(Array.from({ length: 1999 }, () => [salt(), { a: [1, 2, 3] }])),
      }),
    }),
  },
  {
    name: 'CSV of 100,000 quotes in one line',
    as: 'organizer',
    make: ({ eventId }) => csv(eventId, `${HEAD}\n${'"'.repeat(100_000)}\n`),
  },
  {
    name: 'CSV of 100,000 quotes in one cell',
    as: 'organizer',
    make: ({ eventId }) => csv(eventId, `${HEAD}\n1,Novice,"${'""'.repeat(50_000)}",Coupé\n`),
  },
  {
    name: 'CSV of 2,000 bad rows',
    as: 'organizer',
    make: ({ eventId }) => csv(eventId, `${HEAD}\n${'?,,,\n'.repeat(2000)}`),
  },
  {
    name: 'CSV of 900 kB of people in one cell',
    as: 'organizer',
    make: ({ eventId }) => csv(eventId, `${HEAD},people\n1,Novice,A,Coupé,"${'driver:B;'.repeat(100_000)}"\n`),
  },
  {
    name: '10,000 parts of a form',
    as: 'entrant',
    make: ({ entryId }) => ({ method: 'POST', path: `/v1/entries/${entryId}/photos`, ...manyParts(10_000) }),
  },
  {
    name: 'a query of 14 kB',
    as: 'marshal',
    make: ({ eventId }) => ({ method: 'GET', path: `/v1/events/${eventId}/gate?${'q=1&'.repeat(3500)}` }),
  },
  {
    name: '1,000 filters',
    as: 'organizer',
    make: ({ eventId }) => ({ method: 'GET', path: `/v1/events/${eventId}/entries?${'status=in-line&'.repeat(1000)}` }),
  },
  {
    name: '3,500 tags in If-None-Match',
    as: 'marshal',
    make: ({ eventId }) => ({
      method: 'GET',
      path: `/v1/events/${eventId}/gate`,
      headers: { 'if-none-match': '"a",'.repeat(3500) },
    }),
  },
  {
    name: 'an open quote of 14 kB in If-None-Match',
    as: 'marshal',
    make: ({ eventId }) => ({
      method: 'GET',
      path: `/v1/events/${eventId}/gate`,
      headers: { 'if-none-match': 'W/"'.repeat(4600) },
    }),
  },
  { name: 'YAML aliases of aliases', as: 'organizer', make: () => yaml(aliases()) },
  {
    name: 'YAML of 40,000 anchors',
    as: 'organizer',
    make: () => yaml(`# ${salt()}\n${Array.from({ length: 40_000 }, (_, at) => `- &a${at} 1`).join('\n')}`),
  },
  { name: 'YAML number of 400 kB', as: 'organizer', make: () => yaml(`name: ${salt()}\na: ${'9'.repeat(400_000)}`) },
];
