import type { Socket } from 'node:net';
import { v7 as uuidV7 } from 'uuid';
import { problemBody } from './problem.ts';
import { PROBLEMS, type ProblemSlug } from './problems.ts';
import { SECURITY_HEADERS } from './security-headers.ts';

/** Answers bytes that are not an HTTP request, or one with too large headers; there is no request object yet. */
export function answerBrokenRequest(error: NodeJS.ErrnoException, socket: Socket): void {
  if (error.code === 'ECONNRESET' || !socket.writable) {
    socket.destroy();
    return;
  }
  const slug: ProblemSlug = error.code === 'HPE_HEADER_OVERFLOW' ? 'headers-too-large' : 'invalid-request';
  const context = { base: '', instance: '', requestId: uuidV7() };
  const body = JSON.stringify(problemBody(slug, 'This is not a request that can be read.', context));
  const { status, title } = PROBLEMS[slug];
  socket.end(
    [
      `HTTP/1.1 ${status} ${title}`,
      'content-type: application/problem+json; charset=utf-8',
      `content-length: ${Buffer.byteLength(body)}`,
      'connection: close',
      'cache-control: no-store',
      `x-request-id: ${context.requestId}`,
      ...Object.entries(SECURITY_HEADERS).map(([name, value]) => `${name}: ${value}`),
      '',
      body,
    ].join('\r\n'),
  );
}
