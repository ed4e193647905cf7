import { z } from 'zod';
import { InstantOut } from '../../http/frame/common-schemas.ts';

const PublicKey = z.object({
  kty: z.literal('EC').describe('Elliptic curve'),
  crv: z.literal('P-256').describe('The curve'),
  x: z.string().describe('base64url'),
  y: z.string().describe('base64url'),
  kid: z.string().describe('Named in the header of what it signed; its thumbprint (RFC 7638)'),
  alg: z.literal('ES256').describe('The only algorithm it is for'),
  use: z.literal('sig').describe('It verifies signatures'),
});

export const KeySet = z
  .object({ keys: z.array(PublicKey).describe('The newest first; each of them verifies') })
  .meta({ id: 'KeySet' });
export type KeySet = z.infer<typeof KeySet>;

export const SigningKeys = z
  .object({
    signs: z.string().describe('`kid` of the key that signs from now on'),
    keys: z
      .array(
        z.object({
          kid: z.string().describe('Thumbprint of the key'),
          createdAt: InstantOut.describe('When it was made'),
          retiredAt: InstantOut.optional().describe('Since when it signs no more'),
          publishedUntil: InstantOut.optional().describe('Until when it still verifies'),
        }),
      )
      .describe('The keys that verify, newest first'),
  })
  .meta({ id: 'SigningKeys' });
export type SigningKeys = z.infer<typeof SigningKeys>;

// The public key of the example in RFC 7515, appendix A.3, and its thumbprint.
export const KEY_SET_EXAMPLE: KeySet = {
  keys: [
    {
      kty: 'EC',
      crv: 'P-256',
      x: 'f83OJ3D2xF1Bg8vub9tLe1gHMzV76e8Tus9uPHvRVEU',
      y: 'x_FEzRu9m36HLN_tue659LNpXW6pCyStikYjKIWI5a0',
      kid: 'oKIywvGUpTVTyxMQ3bwIIeQUudfr_CkLMjCE19ECD-U',
      alg: 'ES256',
      use: 'sig',
    },
  ],
};

export const SIGNING_KEYS_EXAMPLE: SigningKeys = {
  signs: 'oKIywvGUpTVTyxMQ3bwIIeQUudfr_CkLMjCE19ECD-U',
  keys: [
    { kid: 'oKIywvGUpTVTyxMQ3bwIIeQUudfr_CkLMjCE19ECD-U', createdAt: '2026-06-13T05:00:00.000Z' },
    {
      kid: 'cn-I_WNMClehiVp51i_0VpOENW1upEerA8sEam5hn-s',
      createdAt: '2026-05-01T09:00:00.000Z',
      retiredAt: '2026-06-13T05:00:00.000Z',
      publishedUntil: '2026-06-20T05:00:00.000Z',
    },
  ],
};
