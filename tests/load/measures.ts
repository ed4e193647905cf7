import type { Reply } from './http-client.ts';

export const KINDS = ['submit', 'claim', 'sign-off', 'lookup'] as const;
export type Kind = (typeof KINDS)[number];

/** What a phase came to for one kind of request. */
export interface Measured {
  /** answered as they should be */
  good: number;
  /** refused for the time being with 429 or 503 and `Retry-After` */
  shed: number;
  /** everything else: no answer, another 5xx, a refusal that says nothing of when to come back */
  failed: number;
  /** milliseconds, of the good ones */
  p50: number;
  p95: number;
  p99: number;
  longest: number;
  /** milliseconds, of the shed ones: a refusal is worth nothing when it takes long */
  shedP99: number;
}

export interface Measures {
  add(kind: Kind, reply: Reply): void;
  of(kind: Kind): Measured;
  /** of the failed ones: status and code, with how often each came */
  failures: ReadonlyMap<string, number>;
}

export function newMeasures(): Measures {
  const good = new Map<Kind, number[]>(KINDS.map((kind) => [kind, []]));
  const shed = new Map<Kind, number[]>(KINDS.map((kind) => [kind, []]));
  const failed = new Map<Kind, number>();
  const failures = new Map<string, number>();
  return {
    failures,
    add(kind, reply) {
      const { status, ms, retryAfter, body } = reply;
      if (status > 0 && status < 500 && status !== 429) good.get(kind)?.push(ms);
      else if (retryAfter && (status === 429 || status === 503)) shed.get(kind)?.push(ms);
      else {
        failed.set(kind, (failed.get(kind) ?? 0) + 1);
        const what = `${kind} ${status} ${typeof body['code'] === 'string' ? body['code'] : 'no answer'}`;
        failures.set(what, (failures.get(what) ?? 0) + 1);
      }
    },
    of(kind) {
      const sorted = (good.get(kind) ?? []).toSorted((a, b) => a - b);
      const refused = (shed.get(kind) ?? []).toSorted((a, b) => a - b);
      return {
        good: sorted.length,
        shed: refused.length,
        failed: failed.get(kind) ?? 0,
        p50: percentile(sorted, 0.5),
        p95: percentile(sorted, 0.95),
        p99: percentile(sorted, 0.99),
        longest: sorted.at(-1) ?? 0,
        shedP99: percentile(refused, 0.99),
      };
    },
  };
}

/** The smallest value that at least this share of all values does not exceed (nearest rank); 0 for none. */
export function percentile(sorted: readonly number[], share: number): number {
  return sorted[Math.max(0, Math.ceil(share * sorted.length) - 1)] ?? 0;
}

export function line(kind: Kind, { good, shed, failed, p50, p95, p99, longest, shedP99 }: Measured): string {
  const ms = (value: number) => `${Math.round(value)}`.padStart(5);
  const times = `p50 ${ms(p50)}  p95 ${ms(p95)}  p99 ${ms(p99)}  longest ${ms(longest)} ms`;
  const refused = shed === 0 ? '' : `, shed after p99 ${Math.round(shedP99)} ms`;
  return `  ${kind.padEnd(9)} ${String(good).padStart(6)} good, ${shed} shed, ${failed} failed  ${times}${refused}`;
}
