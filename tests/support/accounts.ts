import { createServer, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { Provider } from 'oidc-provider';

/** A person with an account elsewhere: what the provider says of him, beside `sub`. */
export type Account = Readonly<Record<string, unknown>>;

/** A provider of accounts on this machine, certified by the OpenID Foundation as a library: oidc-provider. */
export interface Accounts {
  issuer: string;
  clientId: string;
  clientSecret: string;
  /** `sub` of who signs in from now on; `says no`: whoever is asked does not want to */
  now(sub: string): void;
  close(): Promise<void>;
}

/**
 * @param options `people` by `sub`; `back` the address that the client comes back to; `inIdToken` whether claims stand in the
 *   ID token, not only where they are asked for
 */
export async function startAccounts({
  people,
  back,
  inIdToken = false,
}: {
  people: Readonly<Record<string, Account>>;
  back: string;
  inIdToken?: boolean;
}): Promise<Accounts> {
  const server = createServer();
  await new Promise<void>((done) => server.listen(0, '127.0.0.1', done));
  const issuer = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
  const client = { clientId: 'tech-office', clientSecret: 'a-secret-of-a-test-and-of-nothing-else' };
  const provider = makeProvider(issuer, { people, back, inIdToken, ...client });
  let who = '';
  const callback = provider.callback();
  server.on('request', (request, response) => {
    const result = who === 'says no' ? { error: 'access_denied' } : { login: { accountId: who, remember: false } };
    const asksWho = request.url?.startsWith('/interaction/') === true;
    void (asksWho ? provider.interactionFinished(request, response, result) : callback(request, response));
  });
  return { issuer, ...client, now: (sub) => (who = sub), close: () => closeServer(server) };
}

function makeProvider(
  issuer: string,
  given: {
    people: Readonly<Record<string, Account>>;
    back: string;
    inIdToken: boolean;
    clientId: string;
    clientSecret: string;
  },
): Provider {
  const { people, back, inIdToken, clientId, clientSecret } = given;
  return new Provider(issuer, {
    clients: [
      {
        client_id: clientId,
        client_secret: clientSecret,
        redirect_uris: [back],
        grant_types: ['authorization_code'],
        response_types: ['code'],
        token_endpoint_auth_method: 'client_secret_basic',
      },
    ],
    claims: { openid: ['sub'], profile: ['name'], email: ['email', 'email_verified'], groups: ['groups'] },
    scopes: ['openid', 'profile', 'email', 'groups'],
    conformIdTokenClaims: !inIdToken,
    pkce: { required: () => true },
    cookies: { keys: ['a-key-of-a-test'] },
    features: { devInteractions: { enabled: false } },
    interactions: { url: (_context, { uid }) => `/interaction/${uid}` },
    findAccount: (_context, sub) => ({ accountId: sub, claims: async () => ({ sub, ...people[sub] }) }),
    // Nobody is asked whether this server may know his name.
    loadExistingGrant: async (context) => {
      const { session, client } = context.oidc;
      const grant = new context.oidc.provider.Grant({ clientId: client?.clientId, accountId: session?.accountId });
      grant.addOIDCScope('openid profile email groups');
      await grant.save();
      return grant;
    },
  });
}

function closeServer(server: Server): Promise<void> {
  server.closeAllConnections();
  return new Promise((done) => server.close(() => done()));
}
