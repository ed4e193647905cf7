import { z } from 'zod';
import { HOLD_SUBJECTS } from '../../domain/clearance/car-happenings.ts';
import { HOLD_KINDS, itemsToInspectAgain } from '../../domain/clearance/inspect-again.ts';
import type { Vehicle } from '../../domain/vehicle.ts';
import { Id, InstantOut, text } from '../../http/frame/common-schemas.ts';
import { ChangedClearance, CLEARANCE_EXAMPLE, viewClearance } from '../../http/views/clearance-view.ts';
import { type LockedEntry, stateOf } from '../../records/locks/entry-lock.ts';
import type { StoredHold } from './hold-store.ts';

const About = z
  .enum(HOLD_SUBJECTS)
  .describe(
    'What it is about: the car, with every entry it has at the event; a driver, with every entry that names him; or this entry alone',
  );
const Kind = z.enum(HOLD_KINDS).describe('Decides what must be looked at before it is lifted, and who may lift it');

export const PlaceHold = z
  .strictObject({
    reason: text(300).describe('What the marshal and the driver read, for example "contact in session 2"'),
    about: About.optional().describe('Absent: the car'),
    kind: Kind.optional().describe('Absent: other'),
    personId: text(60)
      .optional()
      .describe('The driver, by the id given at entry or import; needed where it is about a driver'),
  })
  .refine((hold) => (hold.about === 'driver') === (hold.personId !== undefined), {
    message: 'give personId exactly for a hold about a driver',
    path: ['personId'],
  })
  .meta({ id: 'PlaceHold' });
export type PlaceHold = z.infer<typeof PlaceHold>;

export const LiftHold = z
  .strictObject({
    reason: text(300).describe('What was found, and why the car may go again'),
    checks: z
      .array(
        z.strictObject({
          item: z.string().max(80).describe('Key of a catalogue item'),
          result: z.enum(['ok', 'not-ok']).describe('What it was like'),
          note: text(300).optional().describe('What was seen'),
        }),
      )
      .max(60)
      .optional()
      .describe('What was looked at; the kind of the hold says what is needed'),
    requireReinspection: z.boolean().optional().describe('Send the car through the line again instead; absent: no'),
    exception: text(300)
      .optional()
      .describe('Why it is lifted without those points: the chief inspector answers for it'),
  })
  .meta({ id: 'LiftHold' });
export type LiftHold = z.infer<typeof LiftHold>;

export const HoldView = z
  .object({
    holdId: Id,
    entryId: Id.describe('Where it was placed'),
    carNumber: ChangedClearance.shape.carNumber,
    about: About,
    kind: Kind,
    personId: z.string().optional().describe('The driver it is about'),
    byEntrant: z.boolean().describe('Whether the entrant stopped his own car'),
    reason: z.string().describe('What the marshal and the driver read'),
    placedBy: z.string().describe('Who placed it'),
    placedAt: InstantOut,
    inspectAgain: z
      .array(z.object({ item: z.string().describe('Key of a catalogue item'), label: z.string().describe('Its name') }))
      .describe('What must be looked at before it is lifted'),
    alsoStopped: z
      .array(
        z.object({
          entryId: Id,
          carNumber: z.string().describe('Exact text'),
          runGroup: z.string().describe('Name of its run group'),
        }),
      )
      .describe('Other entries that it stops'),
    warnings: z.array(z.string()).describe('What it does not stop although it may look like it'),
    liftedBy: z.string().optional().describe('Who lifted it'),
    liftedAt: InstantOut.optional(),
    liftReason: z.string().optional().describe('What was found, and why the car may go again'),
    liftException: z.string().optional().describe('Why it was lifted without looking at those points'),
    requiresReinspection: z.boolean().describe('Whether the lift sent the car through the line again'),
    clearance: ChangedClearance.shape.clearance,
  })
  .meta({ id: 'HoldView' });
export type HoldView = z.infer<typeof HoldView>;

export const holdParams = z.strictObject({ holdId: Id });

export const HOLD_EXAMPLE: HoldView = {
  holdId: '019ab8f0-0000-7000-8000-000000000141',
  entryId: '019ab8f0-0000-7000-8000-0000000000e1',
  carNumber: '42',
  about: 'car',
  kind: 'contact',
  byEntrant: false,
  reason: 'contact in session 2, left rear corner',
  placedBy: 'Mara Oyelaran',
  placedAt: '2026-06-13T09:40:00.000Z',
  inspectAgain: [{ item: 'wheel.bent', label: 'Wheel bent' }],
  alsoStopped: [],
  warnings: [],
  requiresReinspection: false,
  clearance: CLEARANCE_EXAMPLE,
};

/** A hold with what the gate says of the entry it was placed at. */
export function viewHold(
  hold: StoredHold,
  placed: {
    entry: LockedEntry;
    stopped: readonly { entryId: string; carNumber: string; runGroup: string }[];
    warnings?: readonly string[];
    /** needed where the hold is about the car */
    vehicle?: Vehicle | undefined;
  },
  now: Date,
): HoldView {
  const { entry, stopped, vehicle, warnings = [] } = placed;
  const { holdId, entryId, about, kind, personId, byEntrant, reason, placedBy, placedAt, lifted } = hold;
  return {
    holdId,
    entryId,
    carNumber: entry.carNumber,
    about,
    kind,
    ...(personId === null ? {} : { personId }),
    byEntrant,
    reason,
    placedBy,
    placedAt: placedAt.toISOString(),
    inspectAgain: about === 'car' && vehicle !== undefined ? itemsToInspectAgain(kind, vehicle) : [],
    alsoStopped: stopped
      .filter((other) => other.entryId !== entry.entryId)
      .map((other) => ({ entryId: other.entryId, carNumber: other.carNumber, runGroup: other.runGroup })),
    warnings: [...warnings],
    ...(lifted === undefined
      ? {}
      : {
          liftedBy: lifted.by,
          liftedAt: lifted.at.toISOString(),
          liftReason: lifted.reason,
          ...(lifted.exception === null ? {} : { liftException: lifted.exception }),
        }),
    requiresReinspection: hold.requiresReinspection,
    clearance: viewClearance(stateOf(entry), now),
  };
}
