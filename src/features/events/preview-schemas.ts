import { z } from 'zod';
import { MOVED_CARS, MOVED_CARS_EXAMPLE } from '../../http/moved-cars-view.ts';

/** What a change of an event's days would do, before anybody does it. */
export const EventPreview = z
  .object({
    preview: z.string().describe('Names this change of the days, from what to what; send it with the change'),
    sameDays: z.boolean().describe('The days stay as they are, and so does every clearance'),
    ...MOVED_CARS,
  })
  .meta({ id: 'EventPreview' });
export type EventPreview = z.infer<typeof EventPreview>;

export const EVENT_PREVIEW_EXAMPLE: EventPreview = {
  preview: '5d0b2a7c9e1f40d38b6a5c4e3f2d1b0a9c8e7f6d5b4a39281706f5e4d3c2b1a0',
  sameDays: false,
  ...MOVED_CARS_EXAMPLE,
};
