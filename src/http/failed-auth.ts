import { normalizeIP } from '@fastify/rate-limit';
import { ProblemError } from './problem.ts';

const WINDOW_MS = 60_000;
/** Addresses that are remembered; with more, those whose minute began first are forgotten. */
const MAX_ADDRESSES = 10_000;

/** Counts requests without a valid token. One that has a valid token is never counted here, nor refused. */
export interface FailedAuth {
  /** what to answer instead of 401 when this address has failed too often in this minute */
  refusalFor(address: string): ProblemError | undefined;
}

/**
 * Limits failed tries by address, however many made-up tokens they come with. A paddock shares one address, so the
 * token is looked up first, and only who failed waits.
 *
 * @param options `perMinute` failures that are answered as such; `nowMs` a clock that never goes back
 */
export function limitFailedAuth({ perMinute, nowMs }: { perMinute: number; nowMs(): number }): FailedAuth {
  const addresses = new Map<string, { failures: number; endsAt: number }>();
  const start = (key: string, endsAt: number) => {
    addresses.delete(key);
    const [oldest] = addresses.keys();
    if (addresses.size >= MAX_ADDRESSES && oldest !== undefined) addresses.delete(oldest);
    const fresh = { failures: 0, endsAt };
    addresses.set(key, fresh);
    return fresh;
  };
  return {
    refusalFor(address) {
      const now = nowMs();
      const key = keyOf(address);
      const known = addresses.get(key);
      const entry = known !== undefined && known.endsAt > now ? known : start(key, now + WINDOW_MS);
      entry.failures += 1;
      return entry.failures > perMinute ? tooMany(Math.ceil((entry.endsAt - now) / 1000)) : undefined;
    },
  };
}

/** All addresses of one IPv6 network count as one: whoever has one of them has them all. */
function keyOf(address: string): string {
  try {
    return normalizeIP(address);
  } catch {
    // A proxy may name something that is no address; it is still a name to count under.
    return address;
  }
}

function tooMany(seconds: number): ProblemError {
  const detail = `Too many requests without a valid token came from this address. Try again in ${seconds} seconds.`;
  return new ProblemError('too-many-requests', detail, {}, { 'retry-after': String(seconds) });
}
