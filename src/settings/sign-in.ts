import type { z } from 'zod';
import type { Environment } from './environment.ts';

/** By whose accounts people of the office sign in, and who of them is what. */
export type SignInPlan = {
  /** the provider, as OpenID Connect Discovery 1.0 finds it */
  issuer: string;
  clientId: string;
  /** absent: a public client, which has PKCE only */
  clientSecret: string | undefined;
  /** what people call the account; absent: no name is said */
  name: string | undefined;
  scope: string;
  /** name of the claim that says who is what */
  claim: string;
  /** its values for each role; none: nobody has the role by his account */
  organizers: readonly string[];
  chiefs: readonly string[];
  /** how long a sign-in is good for */
  hours: number;
};

type Given = Record<string, string | undefined>;

const NEEDS = ['OIDC_CLIENT_ID', 'PUBLIC_URL'] as const;
const PREFIX = 'OIDC_';

/** What is missing for a sign-in that is asked for, or stands there without one. */
export function missingForSignIn(given: Given): string[] {
  if (given['OIDC_ISSUER'] === undefined) {
    const stray = Object.keys(given).filter((key) => key.startsWith(PREFIX) && !key.endsWith('_FILE'));
    return stray.map((key) => `${key}: needs OIDC_ISSUER`);
  }
  const missing = NEEDS.filter((key) => given[key] === undefined).map(
    (key) => `${key}: is required when OIDC_ISSUER is set`,
  );
  const nobody = given['OIDC_ORGANIZERS'] === undefined && given['OIDC_CHIEFS'] === undefined;
  return nobody
    ? [...missing, 'OIDC_ORGANIZERS: is required when OIDC_ISSUER is set, or OIDC_CHIEFS: nobody could sign in']
    : missing;
}

/** The sign-in that is asked for; undefined where none is. What is missing was refused before. */
export function toSignInPlan(env: z.infer<typeof Environment>): SignInPlan | undefined {
  if (env.OIDC_ISSUER === undefined || env.OIDC_CLIENT_ID === undefined) return undefined;
  return {
    issuer: env.OIDC_ISSUER,
    clientId: env.OIDC_CLIENT_ID,
    clientSecret: env.OIDC_CLIENT_SECRET,
    name: env.OIDC_NAME,
    scope: env.OIDC_SCOPE,
    claim: env.OIDC_CLAIM,
    organizers: env.OIDC_ORGANIZERS,
    chiefs: env.OIDC_CHIEFS,
    hours: env.OIDC_HOURS,
  };
}
