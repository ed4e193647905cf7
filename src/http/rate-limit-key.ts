import type { FastifyRequest } from 'fastify';
import { bearerToken, hashToken } from './auth.ts';

/** A paddock shares one address, so callers with a token are counted each by token and only others by address. */
export function callerKey(request: FastifyRequest): string {
  const token = bearerToken(request.headers.authorization);
  return token === undefined ? request.ip : hashToken(token).toString('base64');
}
