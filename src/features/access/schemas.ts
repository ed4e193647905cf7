import { z } from 'zod';
import { MINTED_ROLES, OF_EVENTS, ROLES } from '../../domain/actor.ts';
import { Id, InstantIn, InstantOut, line, Page, PersonId } from '../../http/frame/common-schemas.ts';
import { EventIds, TokenEvents } from '../../http/views/small-views.ts';

const Role = z.enum(ROLES).describe('What the token may do');
const Holder = z.string().describe('The person or device it was given to');
const HolderId = PersonId.optional().describe(
  "The holder's id in the organizer's own list, as on entries: an entry that names it is the holder's own car",
);
const ExpiresAt = InstantOut.optional().describe(
  'From this instant on it no longer works; absent: until it is revoked',
);
const EndsAt = InstantOut.optional().describe(
  'From this instant on it works nowhere, as its events stand now: it moves with them. Absent: until it is revoked',
);
const EntryId = Id.optional().describe('The one entry an entrant token is for');

export const MintToken = z
  .strictObject({
    role: z.enum(MINTED_ROLES).describe('What the token may do'),
    holder: line(80).describe('The person or device it is given to; for people their name as on entries'),
    personId: HolderId,
    entryId: EntryId,
    eventIds: EventIds.optional(),
    expiresAt: InstantIn.optional().describe(
      'From this instant on it no longer works. Left out: tokens for events end the day after the last of them, tokens of ' +
        'entrants seven days after the last event day, tokens of organizers have no end',
    ),
  })
  .refine((token) => (token.role === 'entrant') === (token.entryId !== undefined), {
    message: 'an entrant token needs an entryId, and only an entrant token has one',
    path: ['entryId'],
  })
  .refine((token) => OF_EVENTS.includes(token.role) === (token.eventIds !== undefined), {
    message: `tokens of ${OF_EVENTS.join(', ')} need eventIds, the events they are for, and no other token has them`,
    path: ['eventIds'],
  })
  .refine((token) => token.role !== 'entrant' || token.personId === undefined, {
    message: 'only tokens of the staff have a personId; the people of an entrant are named on the entry',
    path: ['personId'],
  })
  .meta({ id: 'MintToken' });
export type MintToken = z.infer<typeof MintToken>;

export const MintedToken = z
  .object({
    tokenId: Id,
    token: z.string().describe('The secret. It is shown this once and cannot be read again'),
    role: z.enum(MINTED_ROLES).describe('What the token may do'),
    holder: Holder,
    personId: HolderId,
    entryId: EntryId,
    events: TokenEvents.optional(),
    createdAt: InstantOut,
    expiresAt: ExpiresAt,
    endsAt: EndsAt,
  })
  .meta({ id: 'MintedToken' });

export const TokenView = z
  .object({
    tokenId: Id,
    role: Role,
    holder: Holder,
    personId: HolderId,
    entryId: EntryId,
    createdBy: Id.optional().describe('The token that made it, or that made the code it was enrolled with'),
    createdAt: InstantOut,
    expiresAt: ExpiresAt,
    events: TokenEvents.optional(),
    endsAt: EndsAt,
    unbound: z
      .boolean()
      .describe('Of the staff, and from before tokens were for events: it works at every event until it is bound'),
    state: z.enum(['live', 'expired', 'revoked']).describe('Whether it works'),
    revoked: z.boolean().describe('Whether it was revoked'),
    revokedAt: InstantOut.optional(),
  })
  .meta({ id: 'TokenView' });
export type TokenView = z.infer<typeof TokenView>;

export const OwnToken = z
  .object({
    tokenId: Id,
    role: Role,
    holder: Holder,
    personId: HolderId,
    entryId: EntryId,
    vehicleId: Id.optional().describe('The one car that a link of a car is for'),
    shopId: Id.optional().describe('The shop that the link of a shop is of'),
    eventIds: z.array(Id).optional().describe('The events it is for and that are not over; absent: not bound to any'),
  })
  .meta({ id: 'OwnToken' });

export const BindToken = z.strictObject({ eventIds: EventIds }).meta({ id: 'BindToken' });

export const TokenList = z
  .object({
    tokens: z.array(TokenView).describe('Oldest first, expired and revoked ones included'),
    next: z.string().optional().describe('`cursor` of the next page; absent on the last one'),
  })
  .meta({ id: 'TokenList' });

export const tokenParams = z.strictObject({ tokenId: Id });
export const tokenQuery = z.strictObject({ ...Page });
export type TokenQuery = z.infer<typeof tokenQuery>;

/** Entrants get a link of their own; what is enrolled here is a device or a person of the staff. */
export const ENROLLED_ROLES = ['organizer', 'chief', 'inspector', 'marshal'] as const;
export type EnrolledRole = (typeof ENROLLED_ROLES)[number];

const StaffRole = z.enum(ENROLLED_ROLES).describe('What the token may do');

const EnrolledHolder = z.string().describe('The person or device the token is for');

export const CreateEnrolment = z
  .strictObject({
    role: StaffRole,
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
    role: StaffRole,
    holder: EnrolledHolder,
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
    role: StaffRole,
    holder: EnrolledHolder,
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
