import { z } from 'zod';
import { Id, InstantOut, text } from '../../http/frame/common-schemas.ts';

export const TrackInput = z
  .strictObject({
    wet: z.boolean().describe('`true`: the track is wet for this group; `false`: it is dry again'),
    reason: text(300).optional().describe('Why, for the history of the event'),
  })
  .meta({ id: 'Track' });
export type TrackInput = z.infer<typeof TrackInput>;

export const TrackView = z
  .object({
    runGroupId: Id,
    runGroup: z.string().describe('Name of the run group'),
    wet: z.boolean().describe('Whether the track is wet for this group now'),
    since: InstantOut.nullable().describe('Since when it is wet; null: it is dry'),
    by: z.string().nullable().describe('Who said so; null: it is dry'),
    wouldGo: z.int().min(0).describe('Cars that may go onto a dry track now'),
    stayIn: z.int().min(0).describe('Of these, cars that may not while it is wet'),
    cars: z
      .array(
        z.object({
          entryId: Id,
          carNumber: z.string().describe('Exact text'),
          reason: z.string().describe('What the gate says of it while it is wet'),
        }),
      )
      .describe('Those that stay in, by car number'),
  })
  .meta({ id: 'TrackView' });
export type TrackView = z.infer<typeof TrackView>;

export const TRACK_EXAMPLE: TrackView = {
  runGroupId: '019ab8f0-0000-7000-8000-0000000000b1',
  runGroup: 'Intermediate',
  wet: true,
  since: '2026-06-13T08:12:00.000Z',
  by: 'Chief inspector',
  wouldGo: 23,
  stayIn: 1,
  cars: [
    {
      entryId: '019ab8f0-0000-7000-8000-0000000000e7',
      carNumber: '42',
      reason: 'Wet track: slicks on the car.',
    },
  ],
};
