import { z } from 'zod';
import { personKey } from '../../domain/actor.ts';
import { CLEARANCE_STATUSES } from '../../domain/clearance/clearance.ts';
import { HOLD_SUBJECTS } from '../../domain/clearance/car-happenings.ts';
import { HOLD_KINDS } from '../../domain/clearance/inspect-again.ts';
import { Vehicle } from '../../domain/vehicle.ts';
import { ChangedSince } from '../../http/frame/changed-since.ts';
import { ClearanceView } from '../../http/views/clearance-view.ts';
import { LookAlikeView } from '../../http/views/small-views.ts';
import {
  CarNumber,
  DECODED_WRONGLY,
  Id,
  isDecodedWrongly,
  InstantOut,
  line,
  named,
  Page,
  PersonId,
} from '../../http/frame/common-schemas.ts';

export const Entrant = z.strictObject({
  name: named(120).describe('Who enters the car'),
  personId: PersonId.optional(),
  // A text that is too long is not looked at further: that it is no address would take a third of a second to find.
  email: z
    .string()
    .max(200, { abort: true })
    .check(z.email())
    .optional()
    .describe('For messages about this entry; seen by organizers and the entrant'),
  phone: line(40).optional().describe('Seen by organizers and the entrant'),
  language: z.enum(['en', 'de']).optional().describe('In which messages about this entry are written'),
});
export const Person = z.strictObject({
  name: named(120).describe('Name'),
  role: z.enum(['driver', 'crew', 'preparer']).describe('What the person does with this car'),
  personId: PersonId.optional(),
});

const WrittenVehicle = Vehicle.refine(
  ({ description, colour = '', disconnectAt = '' }) => !isDecodedWrongly(description + colour + disconnectAt),
  { message: DECODED_WRONGLY, path: ['description'] },
);

const entryFields = {
  carNumber: CarNumber,
  runGroupId: Id.describe('A run group of the event'),
  entrant: Entrant.describe('Who enters the car, and how to reach them'),
  people: z.array(Person).max(20).describe('Everybody named on the entry; none of them may sign the car off'),
  vehicle: WrittenVehicle.describe('The record of the car'),
};

export const CreateEntry = z
  .strictObject({
    ...entryFields,
    people: entryFields.people.default([]),
    vehicle: entryFields.vehicle.optional().describe('The record of the car; leave it out to share a known car'),
    vehicleId: Id.optional().describe('A vehicle that is known already, for example from an earlier event'),
  })
  .refine((entry) => entry.vehicle === undefined || entry.vehicleId === undefined, {
    message: 'give either vehicle or vehicleId',
    path: ['vehicleId'],
  })
  .meta({ id: 'CreateEntry' });
export type CreateEntry = z.infer<typeof CreateEntry>;

export const UpdateEntry = z
  .strictObject({
    carNumber: entryFields.carNumber.optional(),
    runGroupId: entryFields.runGroupId.optional(),
    entrant: entryFields.entrant.optional(),
    people: entryFields.people.optional(),
    vehicle: entryFields.vehicle.optional().describe('Replaces the whole record of the car'),
    vehicleId: Id.optional().describe('Another car, which is known already, runs under this number from now on'),
    newVehicle: entryFields.vehicle.optional().describe('Another car runs under this number from now on: its record'),
  })
  .refine(({ vehicle, vehicleId, newVehicle }) => [vehicle, vehicleId, newVehicle].filter(Boolean).length < 2, {
    message: 'give one of vehicle, vehicleId and newVehicle',
    path: ['vehicleId'],
  })
  .meta({ id: 'UpdateEntry' });
export type UpdateEntry = z.infer<typeof UpdateEntry>;

export const NumberWarning = LookAlikeView.extend({
  detail: z.string().describe('What it can be taken for, as a sentence'),
}).meta({ id: 'NumberWarning' });
export type NumberWarning = z.infer<typeof NumberWarning>;

export const EntryView = z
  .object({
    entryId: Id.describe('Id of the entry'),
    eventId: Id.describe('Its event'),
    runGroupId: Id.describe('Its run group'),
    runGroup: z.string().describe('Name of the run group'),
    carNumber: z.string().describe('Exact text'),
    entrant: z
      .object({
        name: z.string(),
        personId: z.string().optional(),
        email: z.string().optional(),
        phone: z.string().optional(),
        language: z.string().optional(),
      })
      .describe('Who enters the car; address and telephone only for organizers and the entrant'),
    people: z
      .array(
        z.object({
          name: z.string().describe('Name'),
          role: z.string().describe('What the person does'),
          personId: z.string().optional().describe("The person's id in the organizer's own list"),
        }),
      )
      .describe('Everybody named on the entry'),
    vehicleId: Id.describe('The vehicle; entries of a shared car have the same'),
    vehicle: z.looseObject({}).describe('The record of the car'),
    shared: z.boolean().describe('Whether the car runs under this number in another run group of the event too'),
    clearance: ClearanceView.describe('What the gate says now'),
    holds: z
      .array(
        z.object({
          holdId: Id,
          reason: z.string().describe('Why the car is held'),
          about: z.enum(HOLD_SUBJECTS).describe('What it is about'),
          kind: z.enum(HOLD_KINDS).describe('Decides what must be looked at before it is lifted'),
          byEntrant: z.boolean().describe('Whether the entrant stopped his own car'),
          inspectAgain: z
            .array(
              z.object({
                item: z.string().describe('Key of a catalogue item'),
                label: z.string().describe('Its name'),
              }),
            )
            .describe('What must be looked at before it is lifted'),
          placedAt: InstantOut,
          placedBy: z.string().describe('Who placed it'),
        }),
      )
      .describe('Holds that stand'),
    concessions: z
      .array(
        z.object({
          concessionId: Id,
          ruleId: z.string().describe('The one rule it covers'),
          reason: z.string().describe('Why it was granted'),
          condition: z.string().optional().describe('What it asks for'),
          expiresAt: InstantOut,
        }),
      )
      .describe('Concessions that were granted, approved where that is needed, and not revoked; expired ones too'),
    createdAt: InstantOut,
    warnings: z
      .array(NumberWarning)
      .optional()
      .describe('Only where a number was given just now that can be taken for others of the event: those'),
  })
  .meta({ id: 'EntryView' });
export type EntryView = z.infer<typeof EntryView>;

export const EntryFilters = z.strictObject({
  carNumber: CarNumber.optional(),
  runGroupId: Id.optional().describe('Only entries of this run group'),
  vehicleId: Id.optional().describe('Only entries of this vehicle'),
  personId: z.string().max(60).optional().describe('Only entries that name this person, by id'),
  status: z.enum(CLEARANCE_STATUSES).optional().describe('Only entries of which the gate says this now'),
  changedSince: ChangedSince,
  ...Page,
});
export type EntryFilters = z.infer<typeof EntryFilters>;

/** The folded names of everybody on an entry, to find conflicts of interest by. */
export function personKeysOf(entry: { entrant: { name: string }; people: readonly { name: string }[] }): string[] {
  return [...new Set([entry.entrant.name, ...entry.people.map((person) => person.name)].map(personKey))];
}

/** The ids of everybody on an entry, to find what is said of a person by. */
export function personIdsOf(entry: {
  entrant: { personId?: string | undefined };
  people: readonly { personId?: string | undefined }[];
}): string[] {
  return [...new Set([entry.entrant, ...entry.people].flatMap(({ personId }) => personId ?? []))];
}

export const CREATE_ENTRY_EXAMPLE = {
  carNumber: '42',
  runGroupId: '019ab8f0-0000-7000-8000-0000000000c1',
  entrant: { name: 'Ines Haldorsen', email: 'ines@example.org' },
  people: [{ name: 'Ines Haldorsen', role: 'driver' as const, personId: 'ARC-2107' }],
  vehicle: {
    description: 'Club coupé 2.0, 2014',
    colour: 'white with a green stripe',
    massKg: 1210,
    drive: 'rear' as const,
    body: 'closed' as const,
    powertrain: 'combustion' as const,
    caliper: { front: 'fixed' as const, rear: 'floating' as const },
    rotor: { front: 'iron' as const, rear: 'iron' as const },
    rotorMinimumThicknessMm: { FL: 26, FR: 26, RL: 18, RR: 18 },
  },
};

export const ENTRY_EXAMPLE: EntryView = {
  entryId: '019ab8f0-0000-7000-8000-0000000000e1',
  eventId: '019ab8f0-0000-7000-8000-0000000000b1',
  runGroupId: CREATE_ENTRY_EXAMPLE.runGroupId,
  runGroup: 'Novice',
  carNumber: '42',
  entrant: CREATE_ENTRY_EXAMPLE.entrant,
  people: CREATE_ENTRY_EXAMPLE.people,
  vehicleId: '019ab8f0-0000-7000-8000-0000000000d1',
  vehicle: CREATE_ENTRY_EXAMPLE.vehicle,
  shared: false,
  clearance: {
    admit: false,
    status: 'no-declaration',
    reason: 'No declaration has been submitted.',
    validUntil: null,
    conditions: [],
  },
  holds: [],
  concessions: [],
  createdAt: '2026-06-06T08:12:00.000Z',
};
