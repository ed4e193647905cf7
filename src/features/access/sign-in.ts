import cookies from '@fastify/cookie';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import type * as Oidc from 'openid-client';
import { z } from 'zod';
import type { Deps } from '../../deps.ts';
import type { Role } from '../../domain/actor.ts';
import { hashToken, newToken } from '../../http/access/auth.ts';
import { decisionTime } from '../../platform/clock.ts';
import { inTransaction, type Tx } from '../../platform/database/db.ts';
import { recordEventsChange, TOKEN_EVENTS, viewTokenEvents } from '../../records/history/event-history.ts';
import type { SignInPlan } from '../../settings/sign-in.ts';
import { insertToken } from './store.ts';

const HIDDEN = { config: { access: 'public' }, schema: { hide: true } } as const;
const BACK = '/sign-in/callback';
const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
/** How long somebody may take at the provider, in seconds. */
const PATIENCE = 600;
/** How long the provider may take to answer, in seconds. */
const TIMEOUT = 10;
/** Longest name of a holder, as tokens have it. */
const MAX_NAME = 80;

/** Why nobody was signed in, as the office's page says it. */
type Failure = 'refused' | 'nobody' | 'no-event' | 'again' | 'away';

/** What a browser keeps while its person is at the provider. */
const Waiting = z.strictObject({ state: z.string(), nonce: z.string(), verifier: z.string() });
type Waiting = z.infer<typeof Waiting>;

type Claims = Readonly<Record<string, unknown>>;
interface Person {
  role: Extract<Role, 'organizer' | 'chief'>;
  holder: string;
}

/**
 * Sign-in of people of the office by an account that they have elsewhere (OpenID Connect Core 1.0, authorization code with PKCE of
 * RFC 7636): it ends in a token like any other, which ends by itself after some hours. Off unless the configuration names a provider.
 */
export async function signInRoutes(app: FastifyInstance, deps: Deps): Promise<void> {
  const { signIn: plan, publicUrl = '' } = deps.config;
  app.get('/sign-in/offer', HIDDEN, async (_request, reply) =>
    reply.header('cache-control', 'no-store').send({ offered: plan !== undefined, name: plan?.name }),
  );
  if (plan === undefined) return;
  await app.register(cookies);
  const provider = providerOf(plan);
  const cookie = cookieOf(publicUrl);
  const toOffice = (reply: FastifyReply, rest: string) =>
    reply.header('cache-control', 'no-store').redirect(`${publicUrl}/office${rest}`, 302);
  const failed = (reply: FastifyReply, why: Failure) => toOffice(reply, `?sign-in=${why}`);

  app.get('/sign-in', HIDDEN, async (request, reply) => {
    try {
      const { address, waiting } = await begin(await provider(), plan, publicUrl + BACK);
      reply.setCookie(cookie.name, encode(waiting), cookie.options);
      return reply.header('cache-control', 'no-store').redirect(address, 302);
    } catch (error) {
      request.log.warn({ error }, 'the provider of accounts does not answer');
      return failed(reply, 'away');
    }
  });

  app.get(BACK, HIDDEN, async (request, reply) => {
    const waiting = decode(request.cookies[cookie.name]);
    reply.clearCookie(cookie.name, cookie.options);
    // Opened anew, or begun in another browser: there is nothing to compare with.
    if (waiting === undefined) return failed(reply, 'again');
    const claims = await claimsOf(request, { provider, plan, waiting, back: publicUrl + BACK });
    if (typeof claims === 'string') return failed(reply, claims);
    const person = personOf(plan, claims);
    if (person === undefined) return failed(reply, 'nobody');
    const token = await keepSignIn(deps, person, { hours: plan.hours, requestId: request.id });
    return token === undefined ? failed(reply, 'no-event') : toOffice(reply, `#${token}`);
  });
}

type Provider = () => Promise<{ oidc: typeof Oidc; configuration: Oidc.Configuration }>;

/** Finds the provider when somebody first wants to sign in; a start does not wait for it, and one that was away is asked again. */
function providerOf({ issuer, clientId, clientSecret }: SignInPlan): Provider {
  const find = async () => {
    const oidc = await import('openid-client');
    // Only on this machine itself: the settings let no other go by http.
    const plain = issuer.startsWith('http:') ? [oidc.allowInsecureRequests] : [];
    const configuration = await oidc.discovery(
      new URL(issuer),
      clientId,
      undefined,
      clientSecret === undefined ? oidc.None() : oidc.ClientSecretBasic(clientSecret),
      // The signature is looked at too, although the answer came from the provider itself.
      { execute: [...plain, oidc.enableNonRepudiationChecks], timeout: TIMEOUT },
    );
    return { oidc, configuration };
  };
  let found: ReturnType<typeof find> | undefined;
  return () => {
    found ??= find().catch((error: unknown) => {
      found = undefined;
      throw error;
    });
    return found;
  };
}

async function begin(
  { oidc, configuration }: Awaited<ReturnType<Provider>>,
  { scope }: SignInPlan,
  back: string,
): Promise<{ address: string; waiting: Waiting }> {
  const waiting = { state: oidc.randomState(), nonce: oidc.randomNonce(), verifier: oidc.randomPKCECodeVerifier() };
  const address = oidc.buildAuthorizationUrl(configuration, {
    redirect_uri: back,
    scope,
    state: waiting.state,
    nonce: waiting.nonce,
    code_challenge: await oidc.calculatePKCECodeChallenge(waiting.verifier),
    code_challenge_method: 'S256',
  });
  return { address: address.href, waiting };
}

interface Return {
  provider: Provider;
  plan: SignInPlan;
  waiting: Waiting;
  back: string;
}

/** What the provider says of whoever came back, or why it says nothing. */
async function claimsOf(request: FastifyRequest, { provider, plan, waiting, back }: Return): Promise<Claims | Failure> {
  const answer = new URL(back);
  answer.search = request.url.split('?')[1] ?? '';
  if (answer.searchParams.get('error') === 'access_denied') return 'refused';
  try {
    const { oidc, configuration } = await provider();
    const answered = await oidc.authorizationCodeGrant(configuration, answer, {
      pkceCodeVerifier: waiting.verifier,
      expectedState: waiting.state,
      expectedNonce: waiting.nonce,
      idTokenExpected: true,
    });
    const claims = answered.claims();
    if (claims === undefined || plan.claim in claims) return claims ?? 'again';
    // Many keep what is not about the sign-in itself where it is asked for.
    const more = await oidc.fetchUserInfo(configuration, answered.access_token, claims.sub);
    return { ...claims, ...more };
  } catch (error) {
    // Its parts may be somebody's name; what went wrong is in its kind.
    const { name, code } = error as { name?: string; code?: string };
    request.log.warn({ error: name, code }, 'sign-in by an account failed');
    return 'again';
  }
}

/** Who of the office it is by the claim that says so; undefined for everybody else. */
function personOf({ claim, organizers, chiefs }: SignInPlan, claims: Claims): Person | undefined {
  // Whoever has not shown that an address is his may have typed another's.
  if (claim === 'email' && claims['email_verified'] !== true) return undefined;
  const said = [claims[claim]].flat();
  const has = (values: readonly string[]) => values.some((value) => said.includes(value));
  const role = has(organizers) ? 'organizer' : has(chiefs) ? 'chief' : undefined;
  return role === undefined ? undefined : { role, holder: nameIn(claims) };
}

function nameIn(claims: Claims): string {
  const named = ['name', 'preferred_username', 'email', 'sub'].map((key) => claims[key]);
  const name = named.find((one) => typeof one === 'string' && one.trim() !== '');
  // A name is one line, as everywhere.
  return [...String(name).replaceAll(/\s+/g, ' ').trim()].slice(0, MAX_NAME).join('');
}

/** Makes the token of a sign-in; undefined for a chief when no event is ahead: he would have nothing to open it for. */
async function keepSignIn(
  deps: Deps,
  { role, holder }: Person,
  { hours, requestId }: { hours: number; requestId: string },
): Promise<string | undefined> {
  const token = newToken();
  return inTransaction(deps.db.prisma, async (tx) => {
    const at = await decisionTime(tx, deps.clock);
    const eventIds = role === 'chief' ? await eventsAhead(tx, at) : undefined;
    if (eventIds?.length === 0) return undefined;
    const expiresAt = new Date(at.getTime() + hours * HOUR_MS);
    const { tokenId, endsAt } = await insertToken(
      tx,
      { hash: hashToken(token), role, holder, eventIds, expiresAt },
      at,
    );
    const data = { tokenId, role, endsAt };
    // Whoever signs in acts as himself, as one does who redeems a code.
    const actor = { tokenId, role, name: holder };
    await recordEventsChange(tx, eventIds ?? [], { actor, at, action: 'token.minted', data, requestId });
    return token;
  });
}

/** Events at which a token still works, in order of their days. */
async function eventsAhead(tx: Tx, now: Date): Promise<string[]> {
  const rows = await tx.event.findMany({
    // Wherever on earth it is: the last day of a token is decided below.
    where: { endsOn: { gte: new Date(now.getTime() - 3 * DAY_MS) } },
    ...TOKEN_EVENTS.select.event,
  });
  const events = viewTokenEvents(rows.map((event) => ({ event }))) ?? [];
  return events.filter(({ endsAt }) => Date.parse(endsAt) > now.getTime()).map(({ eventId }) => eventId);
}

/** Kept by the browser that began and sent to this server alone; with TLS under a name that no neighbour can set (RFC 6265bis). */
function cookieOf(publicUrl: string) {
  const secure = publicUrl.startsWith('https:');
  return {
    name: secure ? '__Host-gridworthy-sign-in' : 'gridworthy-sign-in',
    options: { httpOnly: true, secure, sameSite: 'lax', path: '/', maxAge: PATIENCE },
  } as const;
}

const encode = (waiting: Waiting): string => Buffer.from(JSON.stringify(waiting)).toString('base64url');

function decode(text: string | undefined): Waiting | undefined {
  try {
    return Waiting.parse(JSON.parse(Buffer.from(text ?? '', 'base64url').toString()));
  } catch {
    // None, or one that we did not make.
    return undefined;
  }
}
