import { connect, createServer, type Server, type Socket } from 'node:net';
import type { Cut } from './plan.ts';

/** A connection point between a server and what it depends on, that can be cut in several ways. */
export interface Proxy {
  port: number;
  /** Cuts; the function that is given back mends. */
  cut(how: Cut): () => void;
  close(): Promise<void>;
}

interface Pair {
  client: Socket;
  upstream: Socket;
}

/**
 * Opens a proxy on a free port of this machine. `portOf` is asked for every new connection, because what is behind it
 * may come back on another port.
 *
 * - `drop`: all connections are reset, new ones at once
 * - `hang`: nothing moves in either direction until it is mended, then everything does
 * - `half-open`: the far side is gone, and the near side is not told until it is mended
 * - `one-way`: questions arrive and are acted on, answers are lost
 */
export async function openProxy(portOf: () => number): Promise<Proxy> {
  const pairs = new Set<Pair>();
  let mode: Cut | 'pass' = 'pass';
  const server = createServer((client) => {
    if (mode === 'drop') {
      client.on('error', () => undefined);
      client.resetAndDestroy();
      return;
    }
    join(pairs, client, portOf(), () => mode);
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const setMode = (next: Cut | 'pass') => {
    mode = next;
    for (const pair of pairs) apply(pair, mode);
  };
  return {
    port: (server.address() as { port: number }).port,
    cut(how) {
      setMode(how);
      return () => {
        // What was lost in between cannot be made good: such connections are of no use any more.
        if (how === 'half-open' || how === 'one-way') for (const { client } of pairs) client.resetAndDestroy();
        setMode('pass');
      };
    },
    close: () => shut(server, pairs),
  };
}

function join(pairs: Set<Pair>, client: Socket, port: number, mode: () => Cut | 'pass'): void {
  const upstream = connect(port, '127.0.0.1');
  const pair = { client, upstream };
  pairs.add(pair);
  client.setNoDelay(true);
  upstream.setNoDelay(true);
  client.on('data', (data) => {
    if (!upstream.destroyed) upstream.write(data);
  });
  upstream.on('data', (data) => {
    if (mode() !== 'one-way' && mode() !== 'half-open') client.write(data);
  });
  for (const socket of [client, upstream]) socket.on('error', () => undefined);
  client.on('close', () => {
    pairs.delete(pair);
    upstream.destroy();
  });
  upstream.on('close', () => {
    if (mode() !== 'half-open') client.destroy();
  });
  apply(pair, mode());
}

function apply({ client, upstream }: Pair, mode: Cut | 'pass'): void {
  if (mode === 'drop') client.resetAndDestroy();
  else if (mode === 'half-open') upstream.destroy();
  else if (mode === 'hang') for (const socket of [client, upstream]) socket.pause();
  else for (const socket of [client, upstream]) socket.resume();
}

async function shut(server: Server, pairs: ReadonlySet<Pair>): Promise<void> {
  for (const { client } of pairs) client.destroy();
  await new Promise((resolve) => server.close(resolve));
}
