import type { FastifyInstance } from 'fastify';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import { InstantOut } from '../../http/frame/common-schemas.ts';
import { addRoute } from '../../http/frame/route.ts';
import { currentSigningKey, listHeadKeys, listPublishedKeys, rotateSigningKey } from '../../records/history/signing.ts';

const JWK_SET = 'application/jwk-set+json';

/** The keys that verify gate lists, where devices and other programs look for them. Outside `/v1`. */
export async function keySetRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'GET',
    path: '/.well-known/jwks.json',
    operationId: 'getKeySet',
    summary: 'The keys that verify gate lists',
    description:
      'A JSON Web Key Set (RFC 7517). A device pins it when it is enrolled; a list that none of the pinned keys verifies is refused.',
    tag: 'Gate',
    access: 'public',
    success: {
      200: { description: 'The keys', schema: KeySet, contentType: JWK_SET, example: KEY_SET_EXAMPLE },
    },
    problems: [],
    handle: async () => {
      const keys = await listPublishedKeys(deps.db.prisma, deps.clock.now());
      const body = { keys: keys.map(({ publicJwk }) => publicJwk) };
      return { status: 200, body, headers: { 'content-type': JWK_SET, 'cache-control': 'public, max-age=300' } };
    },
  });
}

/** The keys that verify heads of histories: apart from those of gate lists, which must end. Outside `/v1`. */
export async function historyKeyRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'GET',
    path: '/.well-known/history-keys.json',
    operationId: 'getHistoryKeySet',
    summary: 'The keys that verify heads of histories',
    description:
      'A JSON Web Key Set (RFC 7517) of every key that ever signed the head of a history, for good: a head is checked ' +
      'years later. It is not for gate lists: what a key signed that is in this set only is no list to admit by.',
    tag: 'Clearance',
    access: 'public',
    success: {
      200: { description: 'The keys', schema: KeySet, contentType: JWK_SET, example: KEY_SET_EXAMPLE },
    },
    problems: [],
    handle: async () => {
      const body = { keys: await listHeadKeys(deps.db.prisma) };
      return { status: 200, body, headers: { 'content-type': JWK_SET, 'cache-control': 'public, max-age=300' } };
    },
  });
}

/** Rotation of the key that signs gate lists. */
export async function signingRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  addRoute(app, {
    method: 'POST',
    path: '/signing-keys/rotate',
    operationId: 'rotateSigningKey',
    summary: 'Sign gate lists with a new key',
    description:
      'The key before it signs no more and stays published for seven days, so lists that devices hold go on until they are stale. Devices must fetch the key set again before they can take a list that the new key signed.',
    tag: 'Gate',
    access: ['organizer'],
    success: { 200: { description: 'The keys now', schema: SigningKeys, example: SIGNING_KEYS_EXAMPLE } },
    problems: [],
    handle: async () => {
      await rotateSigningKey(deps.db.prisma, deps.clock.now());
      return { status: 200, body: await viewKeys(deps) };
    },
  });
}

async function viewKeys({ db, clock }: Deps): Promise<SigningKeys> {
  const now = clock.now();
  const { kid } = await currentSigningKey(db.prisma, now);
  const keys = await listPublishedKeys(db.prisma, now);
  return {
    signs: kid,
    keys: keys.map((key) => ({
      kid: key.kid,
      createdAt: key.createdAt.toISOString(),
      ...(key.retiredAt === null ? {} : { retiredAt: key.retiredAt.toISOString() }),
      ...(key.publishedUntil === null ? {} : { publishedUntil: key.publishedUntil.toISOString() }),
    })),
  };
}

const PublicKey = z.object({
  kty: z.literal('EC').describe('Elliptic curve'),
  crv: z.literal('P-256').describe('The curve'),
  x: z.string().describe('base64url'),
  y: z.string().describe('base64url'),
  kid: z.string().describe('Named in the header of what it signed; its thumbprint (RFC 7638)'),
  alg: z.literal('ES256').describe('The only algorithm it is for'),
  use: z.literal('sig').describe('It verifies signatures'),
});

const KeySet = z
  .object({ keys: z.array(PublicKey).describe('The newest first; each of them verifies') })
  .meta({ id: 'KeySet' });
type KeySet = z.infer<typeof KeySet>;

const SigningKeys = z
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
type SigningKeys = z.infer<typeof SigningKeys>;

// The public key of the example in RFC 7515, appendix A.3, and its thumbprint.
const KEY_SET_EXAMPLE: KeySet = {
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

const SIGNING_KEYS_EXAMPLE: SigningKeys = {
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
