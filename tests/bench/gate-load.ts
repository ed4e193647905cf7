import { fork } from 'node:child_process';
import { once } from 'node:events';
import { createRequire } from 'node:module';
import { fileURLToPath } from 'node:url';

/** One burst of requests, in turns over the paths. */
export interface LoadOrder {
  base: string;
  paths: readonly string[];
  token: string;
  connections: number;
  seconds: number;
}

export interface LoadResult {
  perSecond: number;
  p50Ms: number;
  p99Ms: number;
  /** answers that were not 2xx, and requests without an answer */
  failed: number;
}

export interface LoadMaker {
  run(order: LoadOrder): Promise<LoadResult>;
  stop(): Promise<void>;
}

/** Starts the process that makes the load, so that asking does not cost the process that answers. */
export function startLoadMaker(): LoadMaker {
  const child = fork(fileURLToPath(import.meta.url), [], { execArgv: [] });
  return {
    async run(order) {
      child.send(order);
      const [result] = (await once(child, 'message')) as [LoadResult];
      return result;
    },
    async stop() {
      const ended = once(child, 'exit');
      child.disconnect();
      await ended;
    },
  };
}

interface Measured {
  requests: { total: number };
  duration: number;
  latency: { p50: number; p99: number };
  non2xx: number;
  errors: number;
  timeouts: number;
}

// The package ships no types.
const autocannon = createRequire(import.meta.url)('autocannon') as (options: unknown) => Promise<Measured>;

async function makeLoad(order: LoadOrder): Promise<LoadResult> {
  const measured = await autocannon({
    url: order.base,
    connections: order.connections,
    duration: order.seconds,
    requests: order.paths.map((path) => ({ method: 'GET', path, headers: { authorization: `Bearer ${order.token}` } })),
  });
  return {
    perSecond: measured.requests.total / measured.duration,
    p50Ms: measured.latency.p50,
    p99Ms: measured.latency.p99,
    failed: measured.non2xx + measured.errors + measured.timeouts,
  };
}

if (process.argv[1] === fileURLToPath(import.meta.url) && process.send !== undefined) {
  process.on('message', (order: LoadOrder) => {
    void makeLoad(order).then((result) => process.send?.(result));
  });
}
