import type { Socket } from 'node:net';
import type { FastifyInstance } from 'fastify';

/**
 * Lets go of connections when the server stops. Node.js waits for each one that has not sent a whole request yet, such as
 * those that browsers open in advance, and it stops timing them out. So: where nothing is being answered, the
 * connection ends at once; where something is, it ends with the answer, or when the time is up.
 *
 * @param options `graceMs` how long answers and half-sent requests may take
 */
export function closeConnectionsAtStop(app: FastifyInstance, { graceMs }: { graceMs: number }): void {
  const open = new Set<Socket>();
  const answering = new Set<Socket>();
  let stopping = false;
  app.server.on('connection', (socket: Socket) => {
    open.add(socket);
    socket.once('close', () => {
      open.delete(socket);
      answering.delete(socket);
    });
  });
  app.server.on('request', ({ socket }, response) => {
    answering.add(socket);
    response.once('close', () => {
      answering.delete(socket);
      if (stopping) socket.destroySoon();
    });
  });
  app.addHook('preClose', async () => {
    stopping = true;
    for (const socket of open) if (!answering.has(socket)) socket.destroy();
    const timer = setTimeout(() => app.server.closeAllConnections(), graceMs);
    app.server.once('close', () => clearTimeout(timer));
  });
}
