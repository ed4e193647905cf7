import { z } from 'zod';
import { OF_EVENTS } from '../../domain/actor.ts';
import { Id, InstantOut, line, PersonId } from '../../http/frame/common-schemas.ts';
import { EventIds } from '../../http/views/small-views.ts';

/** Entrants get a link of their own; what is enrolled here is a device or a person of the staff. */
export const ENROLLED_ROLES = ['organizer', 'chief', 'inspector', 'marshal'] as const;
export type EnrolledRole = (typeof ENROLLED_ROLES)[number];

const Role = z.enum(ENROLLED_ROLES).describe('What the token may do');
const HolderId = PersonId.optional().describe(
  "The holder's id in the organizer's own list, as on entries: an entry that names it is the holder's own car",
);
const Holder = z.string().describe('The person or device the token is for');

export const CreateEnrolment = z
  .strictObject({
    role: Role,
    holder: line(80).describe('The person or device the token is for; for people their name as on entries'),
    personId: HolderId,
    eventIds: EventIds.optional(),
    minutes: z.int().min(1).max(1440).default(15).describe('How long the code can be redeemed; 15 unless told'),
  })
  .refine(({ role, eventIds }) => OF_EVENTS.includes(role) === (eventIds !== undefined), {
    message: `devices of ${OF_EVENTS.join(', ')} need eventIds, the events they are for, and no other device has them`,
    path: ['eventIds'],
  })
  .meta({ id: 'CreateEnrolment' });
export type CreateEnrolment = z.infer<typeof CreateEnrolment>;

export const EnrolmentView = z
  .object({
    enrolmentId: Id,
    code: z.string().describe('The secret. It is shown this once and cannot be read again'),
    url: z.string().describe('To be shown as a QR code. The code stands behind `#`, which a browser sends to nobody'),
    role: Role,
    holder: Holder,
    personId: HolderId,
    eventIds: z.array(Id).optional().describe('The events that the token will be for; absent for an organizer'),
    expiresAt: InstantOut.describe('From this instant on it cannot be redeemed'),
  })
  .meta({ id: 'EnrolmentView' });
export type EnrolmentView = z.infer<typeof EnrolmentView>;

export const RedeemEnrolment = z
  .strictObject({ code: z.string().min(1).max(100).describe('The code, as it was shown') })
  .meta({ id: 'RedeemEnrolment' });
export type RedeemEnrolment = z.infer<typeof RedeemEnrolment>;

export const EnrolledToken = z
  .object({
    tokenId: Id,
    token: z.string().describe('The secret. It is shown this once and cannot be read again'),
    role: Role,
    holder: Holder,
    personId: HolderId,
    eventIds: z.array(Id).optional().describe('The events it is for; absent for an organizer'),
  })
  .meta({ id: 'EnrolledToken' });
export type EnrolledToken = z.infer<typeof EnrolledToken>;

const EVENT_IDS = ['019ab8f0-0000-7000-8000-0000000000d1'];

export const ENROLMENT_INPUT_EXAMPLE: CreateEnrolment = {
  role: 'marshal',
  holder: 'Gate tablet 2',
  eventIds: EVENT_IDS,
  minutes: 15,
};
const CODE = 'an-example-of-a-code-x';

export const ENROLMENT_EXAMPLE: EnrolmentView = {
  enrolmentId: '019ab8f0-0000-7000-8000-000000000171',
  code: CODE,
  url: `https://tech.example.org/enrol#${CODE}`,
  role: 'marshal',
  holder: 'Gate tablet 2',
  eventIds: EVENT_IDS,
  expiresAt: '2026-06-13T05:15:00.000Z',
};

export const REDEEM_EXAMPLE: RedeemEnrolment = { code: CODE };

export const ENROLLED_EXAMPLE: EnrolledToken = {
  tokenId: '019ab8f0-0000-7000-8000-0000000000f2',
  token: 'gw_example-of-a-token-that-does-not-work',
  role: 'marshal',
  holder: 'Gate tablet 2',
  eventIds: EVENT_IDS,
};
