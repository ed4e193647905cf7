import { z } from 'zod';
import { Id, InstantOut, PlannedInstant } from '../../../http/frame/common-schemas.ts';
import { ToldView } from '../../../http/views/small-views.ts';

const Shifts = z
  .array(
    z.strictObject({
      from: PlannedInstant.describe('From when they inspect'),
      to: PlannedInstant.describe('Nobody begins a car after this'),
      inspectors: z.int().min(1).max(20).describe('People side by side: so many lanes'),
    }),
  )
  .max(31)
  .describe('One after the other, not overlapping');

export const LinePlanInput = z
  .strictObject({
    shifts: Shifts.describe('One after the other, not overlapping; none: all times are taken back'),
    minutesPerCar: z.number().min(1).max(60).optional().describe('For every car; absent: as was learned'),
  })
  .meta({ id: 'LinePlan' });
export type LinePlanInput = z.infer<typeof LinePlanInput>;

const Car = {
  entryId: Id,
  carNumber: z.string().describe('Exact text'),
  runGroup: z.string().describe('Name of the run group'),
  dueAt: InstantOut.describe('Its next session: it must be done by then'),
};
const Minutes = z
  .object({
    mean: z.number().describe('Of the cars here, minutes'),
    from: z.enum(['said', 'learned', 'usual']).describe('`usual`: nothing was measured yet; from memory'),
    measured: z.int().describe('Inspections that were learned from'),
  })
  .describe('What a car takes');
const Settings = z
  .object({
    shifts: z.array(z.object({ from: InstantOut, to: InstantOut, inspectors: z.int().describe('People') })),
    minutesPerCar: z.number().optional().describe('For every car'),
  })
  .describe('When the line is open');

export const LinePlanView = z
  .object({
    settings: Settings,
    isUsual: z.boolean().describe('Nobody has planned yet: from two hours before a first session, two people'),
    planned: z
      .object({ at: InstantOut, by: z.string().describe('Who planned') })
      .describe('The newest plan')
      .optional(),
    minutes: Minutes,
    cars: z
      .array(
        z.object({
          ...Car,
          told: ToldView.optional(),
          state: z.enum(['waiting', 'claimed', 'not-here', 'not-declared']).describe('`not-declared`: or barred'),
          isLate: z.boolean().describe('As it looks now it is not done by `dueAt`'),
        }),
      )
      .describe('Cars that are not accepted, in the order of their turns'),
    caution: z.string().describe('What it rests on'),
  })
  .meta({ id: 'LinePlanView' });
export type LinePlanView = z.infer<typeof LinePlanView>;

export const LinePlanned = z
  .object({
    cars: z
      .array(
        z.object({
          ...Car,
          told: ToldView,
          was: ToldView.optional().describe('What was told before, where that is another time'),
          missShare: z.number().describe('Share of imagined mornings on which it comes and is not done by `dueAt`'),
        }),
      )
      .describe('In the order of their turns'),
    withoutTime: z.array(z.object(Car)).describe('The line has closed before their turn'),
    roomKept: z
      .int()
      .describe('Cars that are not declared or are barred: room is kept, they are told once they are on the line'),
    meanWaitMinutes: z.number().describe('Expected wait of a car'),
    allInTimeShare: z.number().describe('Share of imagined mornings on which everybody who comes is done in time'),
    missing: z.number().describe('Cars not done in time, on average'),
    inspectorsMissing: z.int().nullable().describe('People more that it needs; 0: none; null: more than ten'),
    opensEarlier: z
      .int()
      .nullable()
      .describe('Minutes by which it would have to open earlier instead; null: over four hours'),
    minutes: Minutes,
    messages: z.int().describe('Entrants who are written to: a first time, or one that moves by 10 minutes or more'),
    caution: z.string().describe('What it rests on'),
  })
  .meta({ id: 'LinePlanned' });
export type LinePlanned = z.infer<typeof LinePlanned>;

export const LINE_PLAN_CAUTION =
  'Imagined mornings rest on common practice: 5 of 100 cars never come, 10 of 100 are late. A time is no promise and no clearance; the line decides on each car.';

const CAR = {
  entryId: '019ab8f0-0000-7000-8000-0000000000e1',
  carNumber: '42',
  runGroup: 'Novice',
  dueAt: '2026-06-13T07:00:00.000Z',
};
const MINUTES = { mean: 8.4, from: 'learned' as const, measured: 61 };
const TOLD = { at: '2026-06-13T05:40:00.000Z', lane: 2 };

export const LINE_PLAN_EXAMPLE: LinePlanInput = {
  shifts: [{ from: '2026-06-13T05:00:00.000Z', to: '2026-06-13T07:30:00.000Z', inspectors: 2 }],
};

export const LINE_PLAN_VIEW_EXAMPLE: LinePlanView = {
  settings: LINE_PLAN_EXAMPLE,
  isUsual: false,
  planned: { at: '2026-06-12T18:30:00.000Z', by: 'Race office' },
  minutes: MINUTES,
  cars: [{ ...CAR, told: TOLD, state: 'waiting', isLate: false }],
  caution: LINE_PLAN_CAUTION,
};

export const LINE_PLANNED_EXAMPLE: LinePlanned = {
  cars: [{ ...CAR, told: TOLD, missShare: 0.02 }],
  withoutTime: [],
  roomKept: 3,
  meanWaitMinutes: 2.4,
  allInTimeShare: 0.97,
  missing: 0.05,
  inspectorsMissing: 0,
  opensEarlier: 0,
  minutes: MINUTES,
  messages: 1,
  caution: LINE_PLAN_CAUTION,
};
