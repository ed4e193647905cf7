import { GENERAL_CAUTION } from '../../domain/cautions.ts';
import { IN_FORCE_EXAMPLE } from '../../http/views/clearance-view.ts';
import { FINDING_EXAMPLE } from '../../http/views/finding-view.ts';
import { PHOTO_REF_EXAMPLE, SESSIONS_EXAMPLE } from '../../http/views/small-views.ts';
import type { SentBackView } from './back-to-line.ts';
import type { ClaimView, LineTicket, SignOff, SignOffView } from './schemas.ts';

const ENTRY_ID = '019ab8f0-0000-7000-8000-0000000000e1';
const INSPECTION_ID = '019ab8f0-0000-7000-8000-0000000000f1';
const TICKET_ID = '019ab8f0-0000-7000-8000-000000000101';

const TICKET: LineTicket = {
  ticketId: TICKET_ID,
  place: 1,
  entryId: ENTRY_ID,
  inspectionId: INSPECTION_ID,
  carNumber: '42',
  runGroupId: '019ab8f0-0000-7000-8000-0000000000c1',
  runGroup: 'Novice',
  vehicle: 'Club coupé 2.0, 2014, white with a green stripe',
  verdict: 'to-inspect',
  state: 'waiting',
  queuedAt: '2026-06-09T18:20:00.000Z',
  concessions: [IN_FORCE_EXAMPLE],
  firstSessionAt: '2026-06-13T07:00:00.000Z',
  expectedAt: '2026-06-13T05:40:00.000Z',
};

export const LINE_EXAMPLE = { asOf: '2026-06-13T05:38:00.000Z', tickets: [TICKET] };

export const SENT_BACK_EXAMPLE: SentBackView = {
  entryId: ENTRY_ID,
  carNumber: '42',
  ticketId: TICKET_ID,
  place: 3,
  clearance: {
    admit: false,
    status: 'in-line',
    reason: 'Waiting for inspection at the tech line again (the leak was mended).',
    validUntil: null,
    conditions: [],
  },
};

const EVENT_INSTRUMENTS: ClaimView['instruments'] = [
  { name: 'Calliper 2', reads: 'pads', uncertainty: 0.1, unit: 'mm', source: 'Certificate 41, March 2026' },
];

export const CLAIM_EXAMPLE: ClaimView = {
  claimId: '019ab8f0-0000-7000-8000-000000000111',
  ticketId: TICKET_ID,
  entryId: ENTRY_ID,
  inspectionId: INSPECTION_ID,
  carNumber: '42',
  runGroup: 'Novice',
  vehicle: TICKET.vehicle,
  revision: 1,
  verdict: 'to-inspect',
  tally: { all: 260, met: 259, bar: 0, inspect: 1, advise: 0 },
  findings: [{ ...FINDING_EXAMPLE, result: 'not-met', effect: 'inspect', counts: 'inspect' }],
  pointsToCheck: [
    {
      item: 'pad.thickness',
      position: 'FL.in',
      label: 'Brake pad friction material',
      why: FINDING_EXAMPLE.message,
      asked: 'rule',
      ruleId: FINDING_EXAMPLE.ruleId,
      declared: { value: 3.5 },
      limits: [{ title: 'Brake pad friction material', unit: 'mm', atLeast: 4, decision: 'shared' }],
    },
  ],
  instruments: EVENT_INSTRUMENTS,
  refusals: [],
  photos: [PHOTO_REF_EXAMPLE],
  concessions: [IN_FORCE_EXAMPLE],
  sessions: SESSIONS_EXAMPLE,
  leaseMinutes: 15,
  expiresAt: '2026-06-13T05:55:00.000Z',
  caution: GENERAL_CAUTION,
};

export const SIGN_OFF_EXAMPLE: SignOff = {
  decision: 'accept-with-conditions',
  checks: [
    { item: 'pad.thickness', position: 'FL.in', value: { value: 5.5, unit: 'mm' }, readWith: { name: 'Calliper 2' } },
    { item: 'engine.leaks', position: 'engine-oil', result: 'ok' },
  ],
  conditions: [{ text: 'Wheel torque again after the first session', dueAt: '2026-06-13T08:30:00.000Z' }],
  stickerNumber: '117',
};

export const SIGN_OFF_VIEW_EXAMPLE: SignOffView = {
  signOffId: '019ab8f0-0000-7000-8000-000000000121',
  entryId: ENTRY_ID,
  inspectionId: INSPECTION_ID,
  carNumber: '42',
  decision: 'accept-with-conditions',
  verdict: 'clean',
  tally: { all: 260, met: 260, bar: 0, inspect: 0, advise: 0 },
  findings: [],
  conditions: [
    {
      id: '019ab8f0-0000-7000-8000-000000000131',
      text: 'Wheel torque again after the first session',
      dueAt: '2026-06-13T08:30:00.000Z',
    },
  ],
  stickerNumber: '117',
  validFrom: '2026-06-12T22:00:00.000Z',
  validUntil: '2026-06-14T22:00:00.000Z',
  signedBy: 'Mara Oyelaran',
  signedAt: '2026-06-13T05:46:00.000Z',
  clearance: {
    admit: true,
    status: 'clear-with-conditions',
    reason:
      'Signed off at the tech line, on condition: Wheel torque again after the first session (by 2026-06-13T08:30:00.000Z).',
  },
  caution: GENERAL_CAUTION,
};
