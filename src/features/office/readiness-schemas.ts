import { z } from 'zod';
import { CLEARANCE_STATUSES } from '../../domain/clearance/clearance.ts';
import { Id, InstantOut } from '../../http/frame/common-schemas.ts';

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
  cancelled: 0,
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
    options: [
      { inspectors: 2, allDoneAt: '2026-06-13T06:40:00.000Z', lateGroups: [], startBy: '2026-06-13T06:00:00.000Z' },
    ],
    assumptions: ['The line stays open without a break and nobody stands idle.'],
  },
  calls: {
    total: 3,
    cars: [
      {
        ...CAR,
        carNumber: '7',
        why: 'not-declared',
        firstSessionAt: '2026-06-13T07:00:00.000Z',
        name: 'Ines Haldorsen',
        phone: '+49 000 0000',
      },
    ],
  },
};

const Count = z.int().min(0);
const Car = {
  entryId: Id,
  carNumber: z.string().describe('Exact text'),
  runGroupId: Id,
  runGroup: z.string().describe('Name of the run group'),
};

const Statuses = z
  .object(
    Object.fromEntries(
      CLEARANCE_STATUSES.map((status) => [status, Count.describe(`Entries of which the gate says ${status}`)]),
    ) as Record<(typeof CLEARANCE_STATUSES)[number], typeof Count>,
  )
  .describe('Every entry is counted once, so they add up to the total');

const GroupCounts = z.object({
  runGroupId: Id,
  name: z.string().describe('Name of the run group'),
  total: Count.describe('Entries of the group'),
  statuses: Statuses,
});

const FoundRule = z.object({
  ruleId: z.string().describe('Id of the rule'),
  title: z.string().describe('What was judged'),
  cars: Count.describe('Cars on which it is not met or not known'),
  bars: Count.describe('Of these, kept off the track by it'),
  inspects: Count.describe('Of these, looked at for it'),
  advises: Count.describe('Of these, advised'),
});

const WatchedRule = z.object({
  ruleId: z.string().describe('Id of the rule'),
  title: z.string().describe('What was judged'),
  judged: Count.describe('Cars it was tried on'),
  notMet: Count.describe('Of these, cars on which it is not met'),
  unanswerable: Count.describe('Of these, cars on which it is not known'),
});

const ServiceTime = z.object({
  minutes: z.number().describe('Mean time for one car, minutes'),
  from: z
    .enum(['measured', 'assumption'])
    .describe('`measured` from claim to sign-off at this event; `assumption` while fewer than 5 were measured'),
  measured: Count.describe('Inspections that were measured'),
});

const GroupForecast = z.object({
  runGroupId: Id,
  name: z.string().describe('Name of the run group'),
  firstSessionAt: InstantOut,
  waiting: Count.describe('Cars on the line'),
  expected: Count.describe('Cars that must still come to it'),
  doneAt: InstantOut.nullable().describe('When its last car is through at best; null: nobody inspects'),
  inTime: z.boolean().nullable().describe('Whether that is before its first session; null: nobody inspects'),
  inspectorsNeeded: Count.nullable().describe(
    'Fewest with whom it can be in time; null: it is too late for any number',
  ),
  inspectorsForWaits: Count.nullable().describe(
    'The same if the expected cars come at random and 9 of 10 are to wait at most 15 minutes; null: too late to tell',
  ),
});

const LineForecast = z.object({
  waiting: Count.describe('Cars on the line'),
  expected: Count.describe('Cars that must still come to it'),
  inspectors: Count.describe('People who held a claim within the last 15 minutes'),
  service: ServiceTime,
  waitingDoneAt: InstantOut.nullable().describe('When the cars on the line are through; null: nobody inspects'),
  allDoneAt: InstantOut.nullable().describe('The same with all that must still come; null: nobody inspects'),
  inspectorsNeeded: Count.nullable().describe('Fewest with whom every group can be in time; null: too late for one'),
  groups: z.array(GroupForecast).describe('By first session: the line takes them in this order'),
  options: z
    .array(
      z.object({
        inspectors: Count.describe('People from now on'),
        allDoneAt: InstantOut.describe('When the last car is through at best'),
        lateGroups: z.array(z.string()).describe('Names of the run groups that are late all the same'),
        startBy: InstantOut.nullable().describe('When so many must begin at the latest; null: no cars are left'),
      }),
    )
    .describe('With the people there (at least one), with one more and with two more'),
  assumptions: z.array(z.string()).describe('What the forecast rests on'),
});

const Calls = z
  .object({
    total: Count.describe('Entries that will not start as they are'),
    cars: z
      .array(
        z.object({
          ...Car,
          why: z.enum(['not-declared', 'barred']).describe('What is the matter'),
          firstSessionAt: InstantOut.describe('Of its run group'),
          name: z.string().describe('The entrant'),
          phone: z.string().optional().describe('Only for organizers'),
          email: z.string().optional().describe('Only for organizers'),
        }),
      )
      .describe('First sessions first, at most 50; empty for marshals'),
  })
  .describe('Whom to call now');

export const ReadinessView = z
  .object({
    eventId: Id,
    asOf: InstantOut.describe('Instant for which it was decided'),
    entries: z
      .object({
        total: Count.describe('All entries of the event, also withdrawn ones'),
        statuses: Statuses,
        groups: z.array(GroupCounts).describe('In the order of the event'),
      })
      .describe('What the gate says now'),
    findings: z.array(FoundRule).describe('The 20 most common findings, of the newest revision of each entry'),
    watched: z.array(WatchedRule).describe('Rules on watch: counted, judge nobody'),
    undeclared: z
      .object({
        total: Count.describe('Entries without a declaration that counts'),
        closesAt: InstantOut.describe('When declarations close'),
        open: z.boolean().describe('Whether they can be submitted now'),
        cars: z
          .array(z.object({ ...Car, reason: z.string().optional().describe('Why an earlier one no longer counts') }))
          .describe('By car number, at most 1000'),
      })
      .describe('Who has not declared'),
    holds: z
      .array(z.object({ holdId: Id, ...Car, reason: z.string().describe('Why the car is held') }))
      .describe('Holds that stand, at most 1000'),
    conditions: z
      .array(
        z.object({
          conditionId: Id,
          ...Car,
          text: z.string().describe('What must be done'),
          dueAt: InstantOut.optional(),
          pastDue: z.boolean().describe('The gate holds the car for it'),
        }),
      )
      .describe('Conditions that are not done, the earliest due first, at most 1000'),
    concessions: z
      .object({
        inForce: Count.describe('Exceptions that count now'),
        awaitingApproval: Count.describe('Exceptions that wait for a second person and count nothing yet'),
        manyConcessions: z
          .array(z.object({ ...Car, inForce: Count.describe('Exceptions in force') }))
          .describe('Cars with 3 or more in force'),
      })
      .describe('Exceptions to rules'),
    calls: Calls,
    line: LineForecast.describe('Forecast of the line: the best case, not a promise'),
  })
  .meta({ id: 'ReadinessView' });
export type ReadinessView = z.infer<typeof ReadinessView>;
