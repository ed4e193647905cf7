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
