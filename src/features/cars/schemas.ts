import { z } from 'zod';
import { ORIGINS } from '../../domain/car/car-facts.ts';
import { Id, InstantOut, line } from '../../http/frame/common-schemas.ts';

export const carParams = z.strictObject({ vehicleId: Id });

const Value = z.union([z.number(), z.string(), z.boolean()]);
const Path = z
  .string()
  .regex(/^[a-zA-Z]+(\.[a-zA-Z-]+){0,2}$/, 'a path such as `massKg` or `rotorMinimumThicknessMm.FL`')
  .describe('Where it stands in the record of the car: `massKg`, `rotorMinimumThicknessMm.FL`');

/** One fact as it is written. */
const FactChange = z.strictObject({
  path: Path,
  value: Value.nullable().describe('In the unit that the name says; null takes it away'),
  origin: z
    .enum(['stamped', 'handbook', 'entered'])
    .optional()
    .describe('From what: the part itself, the papers of its maker, or neither (`entered`); the staff confirms'),
  photoId: Id.optional().describe('A photo of it: one that was sent for an entry of this car'),
  again: z
    .literal(true)
    .optional()
    .describe('Needed with a number that such cars hardly have, after being asked whether it is meant'),
});

export const ChangeFacts = z
  .strictObject({ facts: z.array(FactChange).min(1).max(120).describe('Those that are not named stay as they are') })
  .meta({ id: 'ChangeFacts' });
export type ChangeFacts = z.infer<typeof ChangeFacts>;

export const CarFactsView = z
  .object({
    vehicleId: Id.describe('The car'),
    record: z.looseObject({}).describe('All facts as plain values, as an entry has them in `vehicle`'),
    facts: z
      .array(
        z.object({
          path: z.string().describe('Where it stands in `record`'),
          value: Value.describe('In the unit that the name says'),
          origin: z.enum(ORIGINS).describe('From what; `confirmed`: the staff stands for it'),
          isConfirmed: z
            .boolean()
            .describe('`false`: what rests on it is looked at once at the line, also where it is an unusual number'),
          by: z
            .object({
              as: z.enum(['owner', 'shop', 'staff']).describe('Who said it'),
              name: z.string().optional().describe('To the staff, and to whoever said it'),
            })
            .optional()
            .describe('Absent: an organizer, before this was kept'),
          at: InstantOut.optional().describe('When it was said'),
          photoId: Id.optional().describe('A photo of it, at `/v1/photos/{photoId}`'),
        }),
      )
      .describe('In the order of the record'),
  })
  .meta({ id: 'CarFacts' });
export type CarFactsView = z.infer<typeof CarFactsView>;

export const MakeCarLink = z
  .strictObject({
    holder: line(80).describe('Whose car it is'),
    sold: z.literal(true).optional().describe('The car has another owner now: every link from before ends'),
  })
  .meta({ id: 'MakeCarLink' });
export type MakeCarLink = z.infer<typeof MakeCarLink>;

const linkFields = {
  tokenId: Id.describe('Id of the link'),
  holder: z.string().describe('Whose car it is'),
  createdAt: InstantOut.describe('When it was made'),
  expiresAt: InstantOut.describe('From this instant on it no longer works; a new link may be made any time'),
};

export const CarLink = z
  .object({ ...linkFields, token: z.string().describe('The secret. It is shown this once and cannot be read again') })
  .meta({ id: 'CarLink' });
export type CarLink = z.infer<typeof CarLink>;

export const CarLinks = z
  .object({ links: z.array(z.object(linkFields)).describe('Links that work, newest first') })
  .meta({ id: 'CarLinks' });

export const EndedLinks = z.object({ ended: z.int().describe('How many worked until now') }).meta({ id: 'EndedLinks' });

const VEHICLE_ID = '019ab8f0-0000-7000-8000-0000000000d1';
const AT = '2026-05-02T18:20:00.000Z';

export const FACTS_EXAMPLE: CarFactsView = {
  vehicleId: VEHICLE_ID,
  record: { description: 'Hatchback 1.6, 2009', rotorMinimumThicknessMm: { FL: 20.4 } },
  facts: [
    {
      path: 'description',
      value: 'Hatchback 1.6, 2009',
      origin: 'confirmed',
      isConfirmed: true,
      by: { as: 'staff' },
      at: AT,
    },
    {
      path: 'rotorMinimumThicknessMm.FL',
      value: 20.4,
      origin: 'stamped',
      isConfirmed: false,
      by: { as: 'owner', name: 'Ines Haldorsen' },
      at: AT,
    },
  ],
};
export const CHANGE_EXAMPLE: ChangeFacts = {
  facts: [{ path: 'rotorMinimumThicknessMm.FL', value: 20.4, origin: 'stamped' }],
};
export const LINK_EXAMPLE: CarLink = {
  tokenId: '019ab8f0-0000-7000-8000-0000000000f1',
  holder: 'Ines Haldorsen',
  createdAt: AT,
  expiresAt: '2028-05-01T18:20:00.000Z',
  token: 'gw_example-of-a-token-that-does-not-work',
};
