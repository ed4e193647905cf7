import { isUtf8 } from 'node:buffer';
import type { FastifyInstance, FastifyRequest } from 'fastify';
import { ProblemError } from '../frame/problem.ts';

const LINE_FEED = 10;

/**
 * Makes the routes of this plugin read bodies of one text media type as UTF-8 and refuse every other. Bytes that are not
 * UTF-8 are refused, not replaced: a name must not lose its letters on the way in.
 */
export function installTextBody(app: FastifyInstance, mediaType: string): void {
  app.removeAllContentTypeParsers();
  addTextBody(app, mediaType);
}

/** The same beside what else the routes of this plugin read. */
export function addTextBody(app: FastifyInstance, mediaType: string): void {
  app.addContentTypeParser(mediaType, { parseAs: 'buffer' }, (request, body, done) => {
    const text = utf8Text(request, Buffer.from(body), mediaType);
    if (typeof text === 'string') done(null, text);
    else done(text);
  });
}

/** A body as text, or the problem with it: another charset is announced, or the bytes are no UTF-8. */
export function utf8Text(request: FastifyRequest, bytes: Buffer, mediaType: string): string | ProblemError {
  const charset = /;\s*charset="?([^";\s]+)/i.exec(request.headers['content-type'] ?? '')?.[1]?.toLowerCase();
  if (charset !== undefined && charset !== 'utf-8' && charset !== 'us-ascii') {
    return new ProblemError('unsupported-media-type', `Send ${mediaType} in UTF-8, not in ${charset}.`);
  }
  return isUtf8(bytes) ? bytes.toString('utf8') : notUtf8(bytes);
}

function notUtf8(bytes: Buffer): ProblemError {
  let line = 1;
  let start = 0;
  let end = bytes.indexOf(LINE_FEED);
  // No other character of UTF-8 has this byte in it, so the lines can be tested one by one.
  while (end !== -1 && isUtf8(bytes.subarray(start, end))) {
    line += 1;
    start = end + 1;
    end = bytes.indexOf(LINE_FEED, start);
  }
  const detail = `Line ${line} is not UTF-8. Save the file as UTF-8 and send it again.`;
  return new ProblemError('invalid-request', `In the body: ${detail}`, {
    errors: [{ pointer: '', code: 'not-utf-8', detail, in: 'body' }],
  });
}
