import { z } from 'zod';
import { Id, InstantOut, line } from '../../http/common-schemas.ts';

/** Entrants get a link of their own; what is enrolled here is a device or a person of the staff. */
export const ENROLLED_ROLES = ['organizer', 'chief', 'inspector', 'marshal'] as const;
export type EnrolledRole = (typeof ENROLLED_ROLES)[number];

const Role = z.enum(ENROLLED_ROLES).describe('What the token may do');
const Holder = z.string().describe('The person or device the token is for');

export const CreateEnrolment = z
  .strictObject({
    role: Role,
    holder: line(80).describe('The person or device the token is for; for people their name as on entries'),
    minutes: z.int().min(1).max(1440).default(15).describe('How long the code can be redeemed; 15 unless told'),
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
  })
  .meta({ id: 'EnrolledToken' });
export type EnrolledToken = z.infer<typeof EnrolledToken>;

export const ENROLMENT_INPUT_EXAMPLE = { role: 'marshal', holder: 'Gate tablet 2', minutes: 15 } as const;
const CODE = 'an-example-of-a-code-x';

export const ENROLMENT_EXAMPLE: EnrolmentView = {
  enrolmentId: '019ab8f0-0000-7000-8000-000000000171',
  code: CODE,
  url: `https://tech.example.org/enrol#${CODE}`,
  role: 'marshal',
  holder: 'Gate tablet 2',
  expiresAt: '2026-06-13T05:15:00.000Z',
};

export const REDEEM_EXAMPLE: RedeemEnrolment = { code: CODE };

export const ENROLLED_EXAMPLE: EnrolledToken = {
  tokenId: '019ab8f0-0000-7000-8000-0000000000f2',
  token: 'gw_example-of-a-token-that-does-not-work',
  role: 'marshal',
  holder: 'Gate tablet 2',
};
