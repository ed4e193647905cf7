import type { ReadinessView } from './schemas.ts';

const GROUP = { runGroupId: '019ab8f0-0000-7000-8000-0000000000a1', name: 'Novice' };
const CAR = {
  entryId: '019ab8f0-0000-7000-8000-0000000000e1',
  carNumber: '42',
  runGroupId: GROUP.runGroupId,
  runGroup: GROUP.name,
};
const STATUSES = {
  clear: 9,
  'clear-with-conditions': 1,
  'no-declaration': 2,
  barred: 1,
  'in-line': 6,
  refused: 0,
  held: 1,
  expired: 0,
  withdrawn: 0,
};

export const READINESS_EXAMPLE: ReadinessView = {
  eventId: '019ab8f0-0000-7000-8000-0000000000d1',
  asOf: '2026-06-13T05:40:00.000Z',
  entries: { total: 20, statuses: STATUSES, groups: [{ ...GROUP, total: 20, statuses: STATUSES }] },
  findings: [
    { ruleId: 'pad-thickness', title: 'Brake pad friction material', cars: 3, bars: 1, inspects: 2, advises: 0 },
  ],
  watched: [{ ruleId: 'tow-eye-marked', title: 'Mark at the tow eye', judged: 18, notMet: 5, unanswerable: 0 }],
  undeclared: {
    total: 2,
    closesAt: '2026-06-12T18:00:00.000Z',
    open: false,
    cars: [{ ...CAR, carNumber: '7' }],
  },
  holds: [{ holdId: '019ab8f0-0000-7000-8000-0000000000b1', ...CAR, reason: 'contact in session 2, left rear corner' }],
  conditions: [
    {
      conditionId: '019ab8f0-0000-7000-8000-0000000000c1',
      ...CAR,
      text: 'Wheel torque again after session 1',
      dueAt: '2026-06-13T08:00:00.000Z',
      pastDue: false,
    },
  ],
  concessions: { inForce: 1, awaitingApproval: 0, manyConcessions: [] },
  line: {
    waiting: 6,
    expected: 3,
    inspectors: 2,
    service: { minutes: 12, from: 'assumption', measured: 3 },
    waitingDoneAt: '2026-06-13T06:16:00.000Z',
    allDoneAt: '2026-06-13T06:40:00.000Z',
    inspectorsNeeded: 2,
    groups: [
      {
        ...GROUP,
        firstSessionAt: '2026-06-13T07:00:00.000Z',
        waiting: 6,
        expected: 3,
        doneAt: '2026-06-13T06:40:00.000Z',
        inTime: true,
        inspectorsNeeded: 2,
        inspectorsForWaits: 2,
      },
    ],
    assumptions: ['The line stays open without a break and nobody stands idle.'],
  },
};
