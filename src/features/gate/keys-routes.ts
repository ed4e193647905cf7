import type { FastifyInstance } from 'fastify';
import type { Deps } from '../../deps.ts';
import { addRoute } from '../../http/frame/route.ts';
import {
  currentSigningKey,
  listHeadKeys,
  listPublishedKeys,
  rotateSigningKey,
} from '../../records/history/signing-keys.ts';
import { KEY_SET_EXAMPLE, KeySet, SIGNING_KEYS_EXAMPLE, SigningKeys } from './keys-schemas.ts';

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
