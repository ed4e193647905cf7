import type { FastifyRequest } from 'fastify';
import { tokenHashOf } from './auth.ts';

/** A paddock shares one address, so callers with a token are counted each by token and only others by address. */
export function callerKey(request: FastifyRequest): string {
  return tokenHashOf(request)?.toString('base64') ?? request.ip;
}
