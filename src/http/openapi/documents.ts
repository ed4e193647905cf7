import { MESSAGE_TYPES } from '../../domain/history/webhook-messages.ts';

type Json = Record<string, unknown>;

const text = (description: string): Json => ({ type: 'string', description });
const count = (description: string): Json => ({
  type: 'integer',
  minimum: 0,
  maximum: Number.MAX_SAFE_INTEGER,
  description,
});
const header = (name: string, description: string): Json => ({
  name,
  in: 'header',
  required: true,
  description,
  schema: { type: 'string' },
});

const HEADERS = [
  header('webhook-id', 'Names the message; the same over all attempts and replays'),
  header('webhook-timestamp', 'When this attempt was made, in Unix seconds'),
  header('webhook-signature', 'One signature for each secret in force, `v1,<base64>`, separated by spaces'),
];

/** The messages that webhooks send, for the part of the OpenAPI document that is about requests made by the server. */
export function webhookDocument(): Json {
  return Object.fromEntries([...MESSAGE_TYPES, 'webhook.test'].map((type) => [type, { post: operationOf(type) }]));
}

function operationOf(type: string): Json {
  const isTest = type === 'webhook.test';
  return {
    operationId: `tell-${type.replace('.', '-')}`,
    summary: isTest ? 'A test message' : `Tells ${type}`,
    description:
      'Signed as Standard Webhooks 1.0 says. Fields may be added. Of `format` `cloudevents` it is an event of CloudEvents 1.0 with the same `data`.',
    tags: ['Webhooks'],
    security: [],
    parameters: HEADERS,
    requestBody: {
      required: true,
      content: { 'application/json': { schema: messageSchema(type, isTest ? TEST_DATA : dataSchema(type)) } },
    },
    responses: {
      '2XX': { description: 'The message was taken' },
      '410': { description: 'Send nothing any more: the webhook is disabled' },
    },
  };
}

function messageSchema(type: string, data: Json): Json {
  return {
    type: 'object',
    required: ['type', 'timestamp', 'data'],
    properties: {
      type: { const: type, description: 'What happened' },
      timestamp: text('When it happened, RFC 3339 in UTC'),
      data,
    },
  };
}

const TEST_DATA: Json = {
  type: 'object',
  description: 'Nothing happened',
  required: ['webhookId'],
  properties: { webhookId: text('UUID') },
};

const FACTS: Readonly<Record<string, readonly string[]>> = {
  'inspection.submitted': ['inspectionId', 'revision', 'verdict'],
  'entry.signed-off': ['signOffId', 'decision'],
  'hold.placed': ['holdId'],
  'hold.lifted': ['holdId'],
  'condition.fell-due': ['conditionId'],
  'concession.granted': ['concessionId', 'ruleId'],
  'concession.revoked': ['concessionId', 'ruleId'],
  'clearance.changed': ['previousStatus'],
};

function dataSchema(type: string): Json {
  const facts = (FACTS[type] ?? []).map((name) => [name, name === 'revision' ? count(name) : text(name)]);
  return {
    type: 'object',
    description: 'Ids and states, no personal data',
    required: ['eventId', 'entryId', 'carNumber', 'status', 'admit', 'validUntil', 'history'],
    properties: {
      eventId: text('UUID'),
      entryId: text('UUID'),
      carNumber: text('Exact text; `7` and `07` are two cars'),
      status: text('What the gate said right after it'),
      admit: { type: 'boolean', description: 'Whether the gate let the car onto the track right after it' },
      validUntil: { type: ['string', 'null'], description: 'Until when that admission holds if nothing else happens' },
      ...Object.fromEntries(facts),
      history: {
        type: 'object',
        description: "The row's place in the event's history and the hash of its leaf there: note it down elsewhere",
        properties: { seq: count('Row of the event'), hash: text('SHA-256') },
      },
    },
  };
}

/** The documents that programs load, by file: a program of one trade loads one and need not read the others. */
export const DOCUMENTS = {
  openapi: { title: 'Gridworthy', about: 'a car at an event: entry, declaration, line, clearance, gate' },
  'openapi-office': {
    title: 'Gridworthy: race office',
    about: 'what an event is made of: venues, run groups, rule sets, tokens, messages, webhooks',
  },
  'openapi-calculations': { title: 'Gridworthy: calculations', about: "the trade's computations on their own" },
} as const;
export type DocumentName = keyof typeof DOCUMENTS;

// The keys are of that type by definition; Object.keys loses it.
export const DOCUMENT_NAMES = Object.keys(DOCUMENTS) as DocumentName[];

const CALCULATIONS = `The trade's computations on their own, each with its working and sources. Nothing is stored. A measured
value is a bare number in the unit that its description names, or \`{ "value": 30, "unit": "psi" }\` in any unit that
converts. The answer shows every formula with its numbers, what was assumed where the body says nothing, and how far each
value and source can be trusted. Values that cannot be are refused with their place, not worked out. Lists in the examples
are cut short.`;

/** What operations are filed under, and which document has them. */
export const TAGS: readonly { name: string; description: string; document: DocumentName }[] = [
  { name: 'Tokens', description: 'Who may call: mint, list, revoke.', document: 'openapi-office' },
  { name: 'Catalogue', description: 'Everything an inspection can ask.', document: 'openapi' },
  { name: 'Venues', description: 'Circuits and what rules need to know of them.', document: 'openapi-office' },
  { name: 'Events', description: 'Event days, declaration window, run groups.', document: 'openapi-office' },
  { name: 'Rule sets', description: "The organizer's rules: draft, check, publish.", document: 'openapi-office' },
  { name: 'Entries', description: 'Car numbers in run groups, their people and vehicles.', document: 'openapi' },
  {
    name: 'Declaration',
    description: 'The form, the draft, the submitted revisions and their verdicts.',
    document: 'openapi',
  },
  {
    name: 'Shops',
    description: 'Who prepares cars of many owners: links to entries, answers, signatures, work orders.',
    document: 'openapi',
  },
  { name: 'Sheets', description: 'What is printed, as JSON or PDF.', document: 'openapi-office' },
  { name: 'Photos', description: 'Evidence: what somebody photographed of a car.', document: 'openapi' },
  { name: 'Line', description: 'The tech line: tickets, claims, sign-off.', document: 'openapi' },
  {
    name: 'Clearance',
    description: 'Holds, lifts, conditions, concessions, withdrawal, history.',
    document: 'openapi',
  },
  {
    name: 'Personal data',
    description: 'What is on record about the people of an entry, and its erasure.',
    document: 'openapi-office',
  },
  { name: 'Gate', description: 'Car number in, one answer out.', document: 'openapi' },
  {
    name: 'Messages',
    description: 'Entrants are written to: links, receipts, reminders, stops.',
    document: 'openapi-office',
  },
  {
    name: 'Webhooks',
    description: 'Other programs are told what happens, signed and until they have it.',
    document: 'openapi-office',
  },
  { name: 'Calculations', description: CALCULATIONS, document: 'openapi-calculations' },
  { name: 'Service', description: 'Health and documentation.', document: 'openapi' },
];
