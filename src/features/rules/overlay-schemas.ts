import { z } from 'zod';
import { Overlay } from '../../domain/rules/overlay/overlay.ts';
import { Id, InstantOut } from '../../http/frame/common-schemas.ts';

export const VenueOverlayInput = Overlay.meta({ id: 'VenueOverlay' });
export type VenueOverlayInput = z.infer<typeof VenueOverlayInput>;

export const VenueOverlayView = z
  .object({
    venueId: Id,
    ruleSetId: Id,
    parameters: z.record(z.string(), z.record(z.string(), z.unknown())).describe('Limits that are different here'),
    effects: z.record(z.string(), z.record(z.string(), z.unknown())).describe('Changed effects by rule id'),
    rules: z.array(z.record(z.string(), z.unknown())).describe('Rules of this venue'),
    checkedAgainst: z.int().describe('The published version it was checked against'),
    updatedAt: InstantOut,
  })
  .meta({ id: 'VenueOverlayView' });
export type VenueOverlayView = z.infer<typeof VenueOverlayView>;

export const VenueOverlayList = z
  .object({ overlays: z.array(VenueOverlayView.omit({ checkedAgainst: true })).describe('One per rule set') })
  .meta({ id: 'VenueOverlayList' });

export const venueParams = z.strictObject({ venueId: Id });
export const overlayParams = z.strictObject({ venueId: Id, ruleSetId: Id });

export const OVERLAY_BODY = {
  parameters: { padThicknessMinimum: { value: 6, unit: 'mm' } },
  effects: {},
  rules: [],
};

export const OVERLAY_EXAMPLE: VenueOverlayView = {
  venueId: '019ab8f0-0000-7000-8000-0000000000d1',
  ruleSetId: '019ab8f0-0000-7000-8000-0000000000c1',
  ...OVERLAY_BODY,
  checkedAgainst: 3,
  updatedAt: '2026-05-02T09:20:00.000Z',
};
