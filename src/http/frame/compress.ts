import { constants } from 'node:zlib';
import compress from '@fastify/compress';
import type { FastifyInstance } from 'fastify';

/** An answer of less is not smaller in fewer packets. */
const LEAST_BYTES = 1024;

/** Up to here it is done at once, in less time than handing it to a thread takes; what is larger goes to one. */
const AT_ONCE_BYTES = 16 * 1024;

/** Text, but no stream of messages: what compresses would keep back what is new. */
const TEXT = /^(?:text\/(?!event-stream)|application\/(?:[\w.+-]+\+)?(?:json|xml|yaml)\b|image\/svg)/u;

/**
 * Compresses text for those who take it, with `Vary`. A route whose answer carries a secret says so (`secret`) and is left
 * alone: the length of secret and somebody's text compressed together tells of the secret.
 */
export async function installCompression(app: FastifyInstance): Promise<void> {
  await app.register(compress, {
    globalDecompression: false,
    encodings: ['br', 'gzip'],
    threshold: LEAST_BYTES,
    syncThreshold: AT_ONCE_BYTES,
    customTypes: TEXT,
    brotliOptions: {
      params: { [constants.BROTLI_PARAM_QUALITY]: 5, [constants.BROTLI_PARAM_MODE]: constants.BROTLI_MODE_TEXT },
    },
  });
}
