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
