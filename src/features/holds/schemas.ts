import { z } from 'zod';
import { ChangedClearance, CLEARANCE_EXAMPLE } from '../../http/clearance-view.ts';
import { Id, InstantOut, text } from '../../http/common-schemas.ts';

export const PlaceHold = z
  .strictObject({
    reason: text(300).describe('What the marshal and the driver read, for example "contact in session 2"'),
  })
  .meta({ id: 'PlaceHold' });
export type PlaceHold = z.infer<typeof PlaceHold>;

export const LiftHold = z
  .strictObject({
    reason: text(300).describe('Why the car may go again'),
    requireReinspection: z.boolean().optional().describe('Send the car through the line again; absent: no'),
  })
  .meta({ id: 'LiftHold' });
export type LiftHold = z.infer<typeof LiftHold>;

export const HoldView = z
  .object({
    holdId: Id,
    entryId: Id,
    carNumber: ChangedClearance.shape.carNumber,
    reason: z.string().describe('What the marshal and the driver read'),
    placedBy: z.string().describe('Who placed it'),
    placedAt: InstantOut,
    liftedBy: z.string().optional().describe('Who lifted it'),
    liftedAt: InstantOut.optional(),
    liftReason: z.string().optional().describe('Why the car may go again'),
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
  reason: 'contact in session 2, left rear corner',
  placedBy: 'Mara Oyelaran',
  placedAt: '2026-06-13T09:40:00.000Z',
  requiresReinspection: false,
  clearance: CLEARANCE_EXAMPLE,
};
