import type { FastifyRequest } from 'fastify';
import { tokenHashOf } from './auth.ts';

/**
 * A paddock shares one address, so callers are counted each by token and only others by address. The token is known to
 * be valid where a route has its caller found out first; elsewhere made-up ones are counted by `failed-auth.ts`.
 */
export function callerKey(request: FastifyRequest): string {
  const { access, authenticatesItself } = request.routeOptions.config;
  if (access === undefined || access === 'public') return request.ip;
  const { actor } = request;
  if (actor !== null) return actor.tokenId;
  return (authenticatesItself === true ? tokenHashOf(request)?.toString('base64') : undefined) ?? request.ip;
}
