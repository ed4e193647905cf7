import { z } from 'zod';
import { LOOK_ALIKE_KINDS } from '../domain/look-alikes.ts';

export const LookAlikeView = z
  .object({
    carNumber: z.string().describe('Number of the other car, exact text'),
    vehicle: z.string().optional().describe('Description of the other car'),
    colour: z.string().optional().describe('Its colour, as a marshal would say it'),
    kind: z
      .enum(LOOK_ALIKE_KINDS)
      .describe(
        '`zeros`: 7 and 07; `case`: 7a and 7A; `characters`: 6 and 9 (16 and 91 too), O and 0, I, l and 1, B and 8, S and 5; `swapped`: 12 and 21',
      ),
  })
  .meta({ id: 'LookAlike' });
