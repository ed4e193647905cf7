import { z } from 'zod';
import { ROLES } from '../../domain/actor.ts';
import { Id, InstantOut, line, Page } from '../../http/common-schemas.ts';

const Role = z.enum(ROLES).describe('What the token may do');
const Holder = z.string().describe('The person or device it was given to');
const EntryId = Id.optional().describe('The one entry an entrant token is for');

export const MintToken = z
  .strictObject({
    role: Role,
    holder: line(80).describe('The person or device it is given to; for people their name as on entries'),
    entryId: EntryId,
  })
  .refine((token) => (token.role === 'entrant') === (token.entryId !== undefined), {
    message: 'an entrant token needs an entryId, and only an entrant token has one',
    path: ['entryId'],
  })
  .meta({ id: 'MintToken' });
export type MintToken = z.infer<typeof MintToken>;

export const MintedToken = z
  .object({
    tokenId: Id,
    token: z.string().describe('The secret. It is shown this once and cannot be read again'),
    role: Role,
    holder: Holder,
    entryId: EntryId,
    createdAt: InstantOut,
  })
  .meta({ id: 'MintedToken' });

export const TokenView = z
  .object({
    tokenId: Id,
    role: Role,
    holder: Holder,
    entryId: EntryId,
    createdAt: InstantOut,
    revoked: z.boolean().describe('Whether the token has stopped working'),
    revokedAt: InstantOut.optional(),
  })
  .meta({ id: 'TokenView' });
export type TokenView = z.infer<typeof TokenView>;

export const TokenList = z
  .object({
    tokens: z.array(TokenView).describe('Oldest first, revoked ones included'),
    next: z.string().optional().describe('`cursor` of the next page; absent on the last one'),
  })
  .meta({ id: 'TokenList' });

export const tokenParams = z.strictObject({ tokenId: Id });
export const tokenQuery = z.strictObject({ ...Page });
export type TokenQuery = z.infer<typeof tokenQuery>;
