import type { FastifyInstance } from 'fastify';
import { photosBusy } from './convert.ts';

/** Each may hold a whole picture in memory while it arrives. */
const MOST_AT_ONCE = 16;

/** Lets only so many uploads of this plugin arrive at once; over it they are refused before their body is read. */
export function limitUploads(app: FastifyInstance): void {
  let open = 0;
  app.addHook('onRequest', async (_request, reply) => {
    if (open >= MOST_AT_ONCE) throw photosBusy();
    open += 1;
    // Comes in any case, also when the sender hangs up.
    reply.raw.once('close', () => {
      open -= 1;
    });
  });
}
